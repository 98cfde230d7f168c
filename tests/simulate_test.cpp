#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <map>
#include <nlohmann/json.hpp>

#include "adjust/cradle_file.h"
#include "adjust/priors.h"
#include "job/corners_file.h"
#include "job/measure.h"
#include "job/sheet_text.h"
#include "render/render.h"
#include "simulate/practice_job.h"
#include "simulate/practice_photo.h"
#include "simulate/practice_readings.h"
#include "simulate/quiz.h"
#include "support/command.h"
#include "support/scratch.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing::Not;
namespace fs = std::filesystem;

const fs::path sources = SQUARESIGHT_SOURCE_DIR;
constexpr std::uint64_t seed = 20261125;
constexpr std::uint64_t turned_job = 8;  ///< of this seed: found with both screws to be turned

PracticeBay main_bay() { return load_practice_bay(sources / "samples/bays/main-bay.yaml"); }

PracticeOptions as_found() {
    PracticeOptions options;
    options.seed = seed;
    options.run = PracticeRun::as_found;
    return options;
}

PracticeOptions full_run() {
    PracticeOptions options;
    options.seed = seed;
    return options;
}

/// Every file below a folder, by its path in it.
std::map<std::string, std::string> contents(const fs::path& folder) {
    std::map<std::string, std::string> files;
    for (const auto& entry : fs::recursive_directory_iterator(folder)) {
        if (entry.is_regular_file()) {
            files[entry.path().lexically_relative(folder).string()] =
                read_file(entry.path(), 1 << 22);
        }
    }
    return files;
}

std::string refusal(const std::function<void()>& act) {
    try {
        act();
    } catch (const InputError& error) {
        return error.what();
    }
    return "accepted";
}

std::vector<std::string> codes_of(const JobResult& result) {
    std::vector<std::string> codes;
    const auto add = [&](const Findings& findings) {
        for (const auto& finding : findings) {
            codes.push_back(finding.code);
        }
    };
    add(result.findings);
    for (const auto& sighting : result.sightings) {
        add(sighting.all_findings());
    }
    return codes;
}

// --- bay files

TEST(BayFile, OfTheSampleShopTellsWhatStandsThere) {
    const Bay bay = load_bay(sources / "samples/bays/main-bay.yaml");
    EXPECT_EQ(bay.unit, LengthUnit::in);
    EXPECT_EQ(bay.upright_photos, 2);
    EXPECT_DOUBLE_EQ(bay.setup.readings.distance_mm.value, 5000);
    ASSERT_TRUE(bay.setup.line_marks);
    EXPECT_DOUBLE_EQ(bay.setup.line_marks->base_mm, 6000);
    EXPECT_EQ(bay.setup.tapes.size(), 2U);
    ASSERT_TRUE(bay.tape_and_level);
    EXPECT_DOUBLE_EQ(bay.tape_and_level->left_point_mm, 508);
    EXPECT_DOUBLE_EQ(bay.tape_and_level->pass_limit_mm, 25.4 / 32);
}

class BayText : public testing::Test {
  protected:
    std::string refused(const std::string& more) const {
        for (const char* name : {"mount.yaml", "camera.yaml", "target.yaml"}) {
            scratch.write(name, "schema: any\n");
        }
        const auto file = scratch.write(
            "bay.yaml",
            "schema: squaresight/bay/1\nname: b\nmount: mount.yaml\ncamera: camera.yaml\n"
            "target: target.yaml\n" +
                more);
        return refusal([&] { load_bay(file); });
    }
    Scratch scratch;
};

TEST_F(BayText, IsReadStrictly) {
    EXPECT_EQ(refused("setup: {distance: 4 m}\n"), "accepted");
    EXPECT_THAT(refused(""), HasSubstr("has no 'setup'"));
    EXPECT_THAT(refused("setup: {target_left: 0 mm}\n"), HasSubstr("has no distance"));
    EXPECT_THAT(refused("setup: {distance: 4}\n"), HasSubstr("has no unit"));
    EXPECT_THAT(refused("setup: {distance: 4 m}\nunits: cm\n"), HasSubstr("is 'cm'"));
    EXPECT_THAT(refused("setup: {distance: 4 m}\nphoto: {}\n"), HasSubstr("did you mean 'photos'"));
    EXPECT_THAT(refused("setup: {distance: 4 m}\nphotos: {upright: 0}\n"),
                HasSubstr("out of range"));
    EXPECT_THAT(refused("setup: {distance: 4 m}\ncradle: gone.yaml\n"),
                HasSubstr("there is no such file"));
    EXPECT_THAT(refused("setup: {distance: 4 m}\ntape_and_level: {left_point: 20 in}\n"),
                HasSubstr("has no 'right_point'"));
}

TEST(PracticeBay, TakesChangesOfItsSetup) {
    Bay bay = load_bay(sources / "samples/bays/main-bay.yaml");
    change_setup(bay, {"distance=4 m +/- 2 mm", "line={base: 3 m, plumb: 1 mm}"});
    EXPECT_DOUBLE_EQ(bay.setup.readings.distance_mm.value, 4000);
    EXPECT_DOUBLE_EQ(bay.setup.readings.distance_mm.standard_uncertainty, standard_from_limit(2));
    EXPECT_DOUBLE_EQ(bay.setup.line_marks->base_mm, 3000);
    EXPECT_DOUBLE_EQ(bay.setup.readings.target_height_mm.value, 900);
    EXPECT_THAT(refusal([&] { change_setup(bay, {"distanse=4 m"}); }),
                AllOf(HasSubstr("--setup"), HasSubstr("did you mean 'distance'")));
    EXPECT_THAT(refusal([&] { change_setup(bay, {"distance"}); }), HasSubstr("is not KEY=VALUE"));
}

// --- writing sheets

TEST(SheetText, ReadsBackAsTheSameSheet) {
    Scratch scratch;
    for (const auto unit : {LengthUnit::mm, LengthUnit::in}) {
        JobSheet sheet = load_job_sheet(sources / "samples/jobs/1042-full/job.yaml");
        sheet.file = scratch.folder() / "job.yaml";
        const std::string text = job_sheet_yaml(sheet, unit);
        const JobSheet read = load_job_sheet(scratch.write("job.yaml", text));
        EXPECT_EQ(job_sheet_yaml(read, unit), text);
        const Reading& line = read.sightings[0].setup->readings.line_left_deg;
        EXPECT_DOUBLE_EQ(line.standard_uncertainty,
                         sheet.sightings[0].setup->readings.line_left_deg.standard_uncertainty);
        EXPECT_DOUBLE_EQ(read.sightings[0].setup->readings.distance_mm.value, 4995);
        EXPECT_NEAR(read.sightings[0].setup->readings.distance_mm.standard_uncertainty,
                    standard_from_limit(3), 1e-8);
        EXPECT_EQ(read.sightings[0].setup->tapes[1].to.name, "left edge");
        EXPECT_EQ(read.sightings[0].turned_clockwise[0].second, -2.25);
        EXPECT_TRUE(read.sightings[1].same_setup);
        EXPECT_EQ(read.closing, sheet.closing);
        EXPECT_EQ(read.ready, sheet.ready);
    }
}

TEST(SheetText, WritesLengthsAsTheShopReadsThem) {
    EXPECT_EQ(length_text(25.4 * 7.3125, LengthUnit::in), "7 5/16 in");
    EXPECT_EQ(length_text(25.4 / 64, LengthUnit::in), "1/64 in");
    EXPECT_EQ(length_text(-25.4 / 2, LengthUnit::in), "-1/2 in");
    EXPECT_EQ(length_text(3, LengthUnit::in), "3 mm");
    EXPECT_EQ(length_text(25.4, LengthUnit::mm), "25.4 mm");
    EXPECT_EQ(sheet_turns_text(-0.625), "5/8 counter-clockwise");
    EXPECT_EQ(sheet_turns_text(1.3), "1.3 clockwise");
    EXPECT_EQ(sheet_turns_text(0), "0");
}

// --- readings

TEST(Readings, LieAnywhereWithinTheirLimitsAllAlike) {
    std::cout << "seed " << seed << '\n';
    Draw draw(seed);
    const double limit = 3;
    const double step = reading_step(limit, Dimension::length, LengthUnit::mm);
    const int count = 40000;
    double squares = 0;
    double largest = 0;
    for (int i = 0; i < count; ++i) {
        const double truth = 5000 + draw.rectangular(10);
        const double read = read_off(truth, limit, step, draw);
        EXPECT_DOUBLE_EQ(read, std::round(read));
        squares += (read - truth) * (read - truth);
        largest = std::max(largest, std::abs(read - truth));
    }
    EXPECT_LE(largest, limit + 1e-6);
    // A rectangular error's own standard deviation is known here to 0.45 u / sqrt(n): 0.4 %.
    EXPECT_NEAR(std::sqrt(squares / count), standard_from_limit(limit), 0.01 * limit);
}

TEST(Readings, AreTakenOnAShopsScale) {
    const auto inches = [](double limit_mm) {
        return reading_step(limit_mm, Dimension::length, LengthUnit::in) / mm_per_inch;
    };
    EXPECT_DOUBLE_EQ(inches(3), 1.0 / 16);
    EXPECT_DOUBLE_EQ(inches(25.4 / 32), 1.0 / 32);
    EXPECT_DOUBLE_EQ(reading_step(3, Dimension::length, LengthUnit::mm), 1);
    EXPECT_DOUBLE_EQ(reading_step(0.2, Dimension::angle, LengthUnit::in), 0.1);
    EXPECT_DOUBLE_EQ(reading_step(0.03, Dimension::angle, LengthUnit::mm), 0.01);
}

// --- jobs

TEST(PracticeJob, IsTheSameForTheSameSeedByteForByte) {
    const PracticeBay bay = main_bay();
    Scratch scratch;
    make_practice_job(bay, full_run(), 4, scratch.folder() / "a");
    make_practice_job(bay, full_run(), 4, scratch.folder() / "b");
    make_practice_job(bay, full_run(), 5, scratch.folder() / "c");
    const auto a = contents(scratch.folder() / "a");
    EXPECT_EQ(a, contents(scratch.folder() / "b"));
    EXPECT_NE(a.at("truth.yaml"), contents(scratch.folder() / "c").at("truth.yaml"));
    EXPECT_GE(a.size(), 11U);
}

/// Values over their stated standard uncertainty: their root mean square is 1 if drawn as stated.
class Scatter {
  public:
    void add(double value, double standard_uncertainty) {
        sum_ += std::pow(value / standard_uncertainty, 2);
        ++count_;
    }
    /// Four standard deviations of the root mean square of as many normal values.
    void expect_as_stated(const std::string& name) const {
        EXPECT_NEAR(std::sqrt(sum_ / count_), 1, 4 / std::sqrt(2.0 * count_)) << name;
    }

  private:
    double sum_ = 0;
    int count_ = 0;
};

/// A bay with a line laser, laid three times, every second time reversed.
PracticeBay bay_with_line_laser() {
    PracticeBay bay = main_bay();
    bay.bay.tape_and_level->laser = Laser::line;
    bay.bay.tape_and_level->layings = 3;
    bay.bay.tape_and_level->reversed = true;
    bay.camera.pointing_jitter_deg = 0;
    bay.cradle.emplace();
    bay.cradle->seating_deg = 0;
    bay.files.push_back({"cradle.yaml", cradle_yaml(*bay.cradle)});
    return bay;
}

TEST(PracticeJob, DrawsWhatPlacementsPrintAndToolsShareAsStated) {
    std::cout << "seed " << seed << '\n';
    Scratch scratch;
    const PracticeBay bay = bay_with_line_laser();
    const BayTape& tape = *bay.bay.tape_and_level;
    std::map<std::string, Scatter> of;
    for (std::uint64_t number = 1; number <= 300; ++number) {
        const PracticeTruth truth =
            make_practice_job(bay, as_found(), number, scratch.folder() / "job").truth;
        const PracticeSheet& sheet = truth.sheet;
        const double bend_u_mm = standard_from_limit(bay.target.flatness_mm);
        const double skew_u = bay.target.skew_checked ? print_skew_checked : print_skew_unchecked;
        of["skew"].add(sheet.skew - bay.target.printed_skew, skew_u);
        of["S-bends"].add(sheet.s_bend_across_mm, bend_u_mm);
        of["S-bends"].add(sheet.s_bend_down_mm, bend_u_mm);
        of["place"].add(truth.pose[place_left_mm], standard_from_limit(2));
        of["place"].add(truth.pose[place_up_mm], standard_from_limit(2));
        of["cradle sag"].add(truth.cradle_sag_deg, bay.cradle->sag_deg);
        for (const double deg : truth.face_form_deg) {
            of["face form"].add(deg, bay.mount.face_form_deg);
        }
        for (const auto& [label, seating_deg] : truth.way_up_deg) {
            of["way up"].add(seating_deg.x(), bay.cradle->way_up_deg);
            of["way up"].add(seating_deg.y(), bay.cradle->way_up_deg);
        }
        of["rail bow"].add(truth.rail_bow_mm,
                           standard_from_limit(bay.bay.setup.line_marks->bow_limit_mm));
        const Reading& line = bay.bay.setup.readings.line_left_deg;
        of["line"].add(truth.pose[line_left_deg],
                       std::hypot(line.standard_uncertainty, bay.bay.setup.readings.rail_bow_deg));
        of["inclinometer"].add(truth.inclinometer_off_deg,
                               standard_from_limit(tape.face_limit_deg));
        for (const double deg : truth.stages[0].warming_deg) {
            of["warming"].add(deg, bay.camera.warming_deg);
        }
        ASSERT_EQ(truth.stages[0].laser_seating_deg.size(), 3U);
        for (const auto& sides : truth.stages[0].laser_seating_deg) {
            of["laser seating"].add(sides.x(), standard_from_limit(tape.laser_seating_limit_deg));
            EXPECT_EQ(sides.x(), -sides.y());
        }
    }
    for (const auto& [name, scatter] : of) {
        scatter.expect_as_stated(name);
    }
}

TEST(PracticeJob, AddsWarmingByTheOrderOfPhotosAndSeatingByTheirWayUp) {
    Scratch scratch;
    const PracticeJob job =
        make_practice_job(bay_with_line_laser(), as_found(), 1, scratch.folder() / "job");
    const PracticeStage& stage = job.truth.stages[0];
    const JobSheet sheet = load_job_sheet(job.sheet);
    const auto& written = sheet.sightings[0].photos;
    ASSERT_EQ(written.size(), 4U);
    const CradleLabel ways_up[] = {CradleLabel::upright, CradleLabel::inverted,
                                   CradleLabel::inverted, CradleLabel::upright};
    const double times[] = {-1.0 / 2, -1.0 / 6, 1.0 / 6, 1.0 / 2};
    for (std::size_t i = 0; i < written.size(); ++i) {
        const PoseValues& q = stage.photos[i].pose;
        EXPECT_EQ(written[i].label, ways_up[i]);
        EXPECT_NEAR(q[jitter_left_deg], times[i] * stage.warming_deg.x(), 1e-12);
        EXPECT_NEAR(q[jitter_up_deg], times[i] * stage.warming_deg.y(), 1e-12);
        EXPECT_EQ(q[seating_left_deg], job.truth.way_up_deg.at(ways_up[i]).x());
        EXPECT_EQ(q[seating_up_deg], job.truth.way_up_deg.at(ways_up[i]).y());
    }
    const auto& passes = sheet.sightings[0].tape_and_level->passes;
    ASSERT_EQ(passes.size(), 6U);
    EXPECT_EQ(passes[2].laying, 2);
    EXPECT_TRUE(passes[2].reversed);
    EXPECT_FALSE(passes[4].reversed);
}

TEST(PracticePhoto, ErrorsOfCornersAreSharedWithinReach) {
    std::cout << "seed " << seed << '\n';
    const Pattern pattern = main_bay().target.pattern;
    const double standard_px = 0.02;
    const SharedCornerError shared(pattern, standard_px);
    Draw draw(seed);
    const int count = 20000;
    const int near = 4, far = pattern.corners_across() - 1;  ///< in the row of corner 0
    Eigen::Vector3d products(0, 0, 0);                       ///< of corner 0 with 0, near, far
    double across_axes = 0;
    for (int i = 0; i < count; ++i) {
        const Eigen::MatrixX2d px = shared.drawn(draw) / standard_px;
        products += px(0, 0) * Eigen::Vector3d(px(0, 0), px(near, 0), px(far, 0));
        across_axes += px(0, 0) * px(0, 1);
    }
    const double sigma = std::sqrt(2.0 / count);
    const auto correlation = [&](int columns) {
        const double apart_mm = columns * pattern.square_mm;
        return std::exp(-apart_mm * apart_mm / (2 * 200.0 * 200.0));
    };
    EXPECT_NEAR(products[0] / count, 1, 4 * sigma);
    EXPECT_NEAR(products[1] / count, correlation(near), 4 * sigma);
    EXPECT_NEAR(products[2] / count, correlation(far), 4 * sigma);
    EXPECT_NEAR(across_axes / count, 0, 4 * sigma);
}

TEST(PracticeJob, IsMeasuredToWithinItsUncertainty) {
    std::cout << "seed " << seed << '\n';
    const PracticeBay bay = main_bay();
    Scratch scratch;
    int as_left = 0;
    for (int number = 1; number <= 8; ++number) {
        const PracticeJob job = make_practice_job(bay, full_run(), static_cast<unsigned>(number),
                                                  scratch.folder() / std::to_string(number));
        const JobResult result = measure_job(job.sheet);
        ASSERT_EQ(result.sightings.size(), job.truth.stages.size());
        for (std::size_t i = 0; i < result.sightings.size(); ++i) {
            ASSERT_TRUE(result.sightings[i].vision && result.sightings[i].vision->solved);
            const AdjustedStage& stage = result.sightings[i].vision->stage;
            const PoseValues& truth = job.truth.stages[i].pose;
            // Four standard uncertainties: six in 100,000 of a normal error.
            EXPECT_NEAR(stage.yaw_left_deg.value, truth[yaw_left_deg],
                        4 * stage.yaw_left_deg.standard_uncertainty);
            EXPECT_NEAR(stage.pitch_up_deg.value, truth[pitch_up_deg],
                        4 * stage.pitch_up_deg.standard_uncertainty);
            as_left += stage.stage == "as-left" ? 1 : 0;
        }
    }
    EXPECT_GE(as_left, 6);
}

/// Nothing but the stored cradle tells where the camera looks: what is stored must be true in the
/// sense in which it is stored, the camera file's principal point included.
TEST(PracticeJob, WithAStoredCradleHoldsToWhatIsStored) {
    std::cout << "seed " << seed << '\n';
    Scratch scratch;
    PracticeBay bay = main_bay();
    bay.cradle.emplace();
    bay.cradle->name = "side";
    bay.cradle->camera = bay.camera.name;
    bay.cradle->phone_up = PhoneUp::clockwise;
    bay.cradle->offset_deg = Eigen::Vector2d(0.8, -0.5);
    bay.cradle->lens_mm = Eigen::Vector3d(20, -4, 43);
    bay.cradle->covariance =
        Eigen::Matrix<double, 5, 5>(Eigen::Matrix<double, 5, 1>(4e-4, 4e-4, 4, 4, 4).asDiagonal());
    bay.cradle->seating_deg = 0.01;
    bay.files.push_back({"cradle.yaml", cradle_yaml(*bay.cradle)});
    bay.bay.inverted_photos = 0;
    bay.bay.tape_and_level.reset();
    double squares = 0;
    const int jobs = 60;
    for (int number = 1; number <= jobs; ++number) {
        const PracticeJob job = make_practice_job(bay, as_found(), static_cast<unsigned>(number),
                                                  scratch.folder() / std::to_string(number));
        const JobResult result = measure_job(job.sheet);
        const Estimate& yaw = result.sightings[0].vision->stage.yaw_left_deg;
        const double off = yaw.value - job.truth.stages[0].pose[yaw_left_deg];
        squares += std::pow(off / yaw.standard_uncertainty, 2);
    }
    // The root mean square of 60 is known to 9 %; three of these.
    EXPECT_NEAR(std::sqrt(squares / jobs), 1, 0.27);
}

TEST(PracticeJob, IsTurnedAsTheProgramTells) {
    const PracticeBay bay = main_bay();
    Scratch scratch;
    const PracticeJob job =
        make_practice_job(bay, full_run(), turned_job, scratch.folder() / "job");
    const JobResult result = measure_job(job.sheet);
    ASSERT_GE(result.sightings.size(), 3U);
    const auto& told = result.sightings[0].corrections->corrections;
    for (const auto& [screw, turns] : result.sheet.sightings[0].turned_clockwise) {
        const auto one = std::find_if(told.begin(), told.end(),
                                      [&](const auto& each) { return each.screw == screw; });
        ASSERT_NE(one, told.end());
        EXPECT_NEAR(turns, one->clockwise ? one->turns : -one->turns, 0.26);
    }
    EXPECT_EQ(result.sheet.sightings.back().stage, "as-left");
    EXPECT_EQ(result.sheet.sightings.back().locked, true);
    EXPECT_EQ(result.sheet.sightings[1].photos.size(), 2U);
}

// --- human errors

TEST(HumanErrors, AreReadAsTheyAreWritten) {
    for (const auto& kind : human_error_kinds()) {
        for (const double size : kind.sizes) {
            HumanError error{kind.mistake, size, "", ""};
            const HumanError read = parse_human_error(error.text());
            EXPECT_EQ(read.mistake, kind.mistake);
            EXPECT_EQ(read.size, size) << error.text();
        }
        EXPECT_EQ(parse_human_error(std::string(kind.name)).size, kind.usual);
    }
    const HumanError error = parse_human_error("inch-misread=2@as-left/left_pass");
    EXPECT_EQ(error.stage, "as-left");
    EXPECT_EQ(error.place, "left_pass");
    EXPECT_THAT(refusal([] { parse_human_error("inch-misred=1"); }),
                HasSubstr("did you mean 'inch-misread'"));
    EXPECT_THAT(refusal([] { parse_human_error("inch-misread=one"); }),
                HasSubstr("write a number of inches"));
    EXPECT_THAT(refusal([] { parse_human_error("inch-misread=1@distence"); }),
                HasSubstr("did you mean 'distance'"));
    EXPECT_THAT(refusal([] { parse_human_error("board-on-head=2"); }), HasSubstr("made or not"));
}

/// A job with one human error beside the same job without.
struct Pair {
    PracticeJob clean, spoilt;
    JobSheet clean_sheet, spoilt_sheet;
};

class Spoilt : public testing::Test {
  protected:
    Pair with(const std::string& error, const PracticeOptions& options) {
        PracticeOptions spoilt = options;
        spoilt.errors.push_back(parse_human_error(error));
        const std::string number = std::to_string(++made_);
        Pair pair{
            make_practice_job(bay_, options, turned_job, scratch_.folder() / ("clean" + number)),
            make_practice_job(bay_, spoilt, turned_job, scratch_.folder() / ("spoilt" + number)),
            {},
            {}};
        pair.clean_sheet = load_job_sheet(pair.clean.sheet);
        pair.spoilt_sheet = load_job_sheet(pair.spoilt.sheet);
        return pair;
    }
    Pair as_found_with(const std::string& error) { return with(error, as_found()); }
    Pair full_with(const std::string& error) { return with(error, full_run()); }

    static const SheetSighting& first(const JobSheet& sheet) { return sheet.sightings.front(); }
    static const PoseValues& pose(const PracticeJob& job, std::size_t stage = 0) {
        return job.truth.stages.at(stage).pose;
    }
    /// Where a photo's corners lie, on the mean.
    Eigen::Vector2d seen_at(const PracticeJob& job, std::size_t photo) const {
        const auto file = job.sheet.parent_path() / job.truth.stages[0].photos[photo].file;
        Eigen::Vector2d sum(0, 0);
        const ReducedPhoto reduced = load_corners(file, bay_.target.pattern);
        for (const auto& corner : reduced.corners) {
            sum += corner.pixel;
        }
        return sum / static_cast<double>(reduced.corners.size());
    }

    PracticeBay bay_ = main_bay();
    Scratch scratch_;
    int made_ = 0;
};

TEST_F(Spoilt, ByAMisreadTapeDiffersInThatReadingAlone) {
    const auto distance = [](const JobSheet& sheet) {
        return first(sheet).setup->readings.distance_mm.value;
    };
    const Pair inch = as_found_with("inch-misread=2@distance");
    EXPECT_NEAR(distance(inch.spoilt_sheet) - distance(inch.clean_sheet), 50.8, 1e-6);
    EXPECT_EQ(pose(inch.spoilt), pose(inch.clean));
    const Pair sixteenth = as_found_with("sixteenth-misread@left_pass");
    const auto& passes = first(sixteenth.spoilt_sheet).tape_and_level->passes;
    const auto& clean = first(sixteenth.clean_sheet).tape_and_level->passes;
    for (std::size_t i = 0; i < passes.size(); ++i) {
        EXPECT_NEAR(passes[i].left_mm - clean[i].left_mm, 25.4 / 16, 1e-6);
        EXPECT_EQ(passes[i].right_mm, clean[i].right_mm);
    }
    const Pair tape = as_found_with("inch-misread@tape_2");
    EXPECT_NEAR(first(tape.spoilt_sheet).setup->tapes[1].length_mm.value -
                    first(tape.clean_sheet).setup->tapes[1].length_mm.value,
                25.4, 1e-6);
}

TEST_F(Spoilt, ByWrongUnitsIsOutByTheirRatio) {
    const Pair feet = as_found_with("feet-for-inches@right_pass");
    EXPECT_NEAR(first(feet.spoilt_sheet).tape_and_level->passes[0].right_mm,
                12 * first(feet.clean_sheet).tape_and_level->passes[0].right_mm, 1e-6);
    const Pair mm = as_found_with("inches-for-mm@mount_left");
    EXPECT_NEAR(first(mm.spoilt_sheet).setup->readings.mount_left_mm.value,
                25.4 * first(mm.clean_sheet).setup->readings.mount_left_mm.value, 1e-6);
}

TEST_F(Spoilt, ByMixedUpSidesOrSignsIsMirrored) {
    const Pair passes = as_found_with("left-right-swapped");
    EXPECT_EQ(first(passes.spoilt_sheet).tape_and_level->passes[0].left_mm,
              first(passes.clean_sheet).tape_and_level->passes[0].right_mm);
    const Pair tapes = as_found_with("left-right-swapped@tapes");
    EXPECT_EQ(first(tapes.spoilt_sheet).setup->tapes[0].length_mm.value,
              first(tapes.clean_sheet).setup->tapes[1].length_mm.value);
    const Pair offset = as_found_with("left-right-swapped@target_left");
    EXPECT_EQ(first(offset.spoilt_sheet).setup->readings.target_left_mm.value,
              -first(offset.clean_sheet).setup->readings.target_left_mm.value);
    const Pair nose = as_found_with("nose-sign-swapped");
    EXPECT_EQ(first(nose.spoilt_sheet).tape_and_level->face_level_deg[0],
              -first(nose.clean_sheet).tape_and_level->face_level_deg[0]);
}

TEST_F(Spoilt, ByAMisreadInclinometerOrOnePassDiffersInThatReadingAlone) {
    const Pair level = as_found_with("degree-misread=2@face_level");
    EXPECT_NEAR(first(level.spoilt_sheet).tape_and_level->face_level_deg[1] -
                    first(level.clean_sheet).tape_and_level->face_level_deg[1],
                2, 1e-9);
    const Pair roll = as_found_with("degree-misread=-1@target_roll_clockwise");
    EXPECT_NEAR(first(roll.spoilt_sheet).setup->readings.target_roll_clockwise_deg.value -
                    first(roll.clean_sheet).setup->readings.target_roll_clockwise_deg.value,
                -1, 1e-9);
    EXPECT_EQ(pose(roll.spoilt), pose(roll.clean));
    const Pair one = as_found_with("inch-misread@one_right_pass");
    const auto& passes = first(one.spoilt_sheet).tape_and_level->passes;
    const auto& clean = first(one.clean_sheet).tape_and_level->passes;
    EXPECT_NEAR(passes[0].right_mm - clean[0].right_mm, 25.4, 1e-6);
    EXPECT_EQ(passes[1].right_mm, clean[1].right_mm);
}

TEST_F(Spoilt, ByLineRailBumperOrPointsDiffersInTheTruth) {
    const Pair line = as_found_with("wrong-line=0.3");
    EXPECT_NEAR(pose(line.spoilt)[line_left_deg] - pose(line.clean)[line_left_deg], 0.3, 1e-12);
    EXPECT_EQ(first(line.spoilt_sheet).tape_and_level->passes[0].left_mm,
              first(line.clean_sheet).tape_and_level->passes[0].left_mm);
    const Pair zero = as_found_with("rail-zero-place=0.5");
    EXPECT_NEAR(pose(zero.spoilt)[rail_zero_deg] - pose(zero.clean)[rail_zero_deg], 0.5, 1e-12);
    EXPECT_EQ(first(zero.spoilt_sheet).setup->readings.floor_rise_deg.value,
              first(zero.clean_sheet).setup->readings.floor_rise_deg.value);
    EXPECT_NEAR(first(zero.spoilt_sheet).tape_and_level->face_level_deg[0] -
                    first(zero.clean_sheet).tape_and_level->face_level_deg[0],
                -0.5, 1e-9);
    const Pair bumper = as_found_with("bumper-unsquare=25");
    EXPECT_NEAR(bumper.spoilt.truth.bumper_square_mm - bumper.clean.truth.bumper_square_mm, 25,
                1e-9);
    EXPECT_NEAR(first(bumper.spoilt_sheet).tape_and_level->passes[0].left_mm -
                    first(bumper.clean_sheet).tape_and_level->passes[0].left_mm,
                -12.5, 2);
    const Pair points = as_found_with("tape-point-elsewhere=50@one_ahead");
    const auto& from = bay_.bay.setup.tapes[0].from.name;
    EXPECT_NEAR(
        points.spoilt.truth.points_mm.at(from).x() - points.clean.truth.points_mm.at(from).x(), 50,
        1e-9);
    EXPECT_LT(first(points.spoilt_sheet).setup->tapes[0].length_mm.value,
              first(points.clean_sheet).setup->tapes[0].length_mm.value - 40);
    EXPECT_EQ(first(points.spoilt_sheet).setup->tapes[1].length_mm.value,
              first(points.clean_sheet).setup->tapes[1].length_mm.value);
}

/// A bumper that was squared with the string goes wrong with the line, so that the tapes show it.
TEST_F(Spoilt, ByAWrongLineTurnsABumperSquaredWithIt) {
    bay_.bay.tape_and_level->squared_by = SquaredBy::line;
    const Pair line = as_found_with("wrong-line=1");
    const double base_mm = 2 * 508;
    EXPECT_NEAR(line.spoilt.truth.bumper_square_mm - line.clean.truth.bumper_square_mm,
                -base_mm * std::tan(1 * rad_per_deg), 0.01);
}

TEST_F(Spoilt, ByTwoErrorsHasBoth) {
    PracticeOptions options = as_found();
    options.errors = {parse_human_error("board-off-line=25")};
    const Pair both = with("inch-misread=2@distance", options);
    EXPECT_NEAR(pose(both.spoilt)[target_left_mm] - pose(both.clean)[target_left_mm], 0, 1e-9);
    EXPECT_NEAR(first(both.spoilt_sheet).setup->readings.distance_mm.value -
                    first(both.clean_sheet).setup->readings.distance_mm.value,
                50.8, 1e-6);
    EXPECT_EQ(both.spoilt.truth.errors.size(), 2U);
    EXPECT_THAT(read_file(both.spoilt.sheet.parent_path() / "truth.yaml", 1 << 20),
                AllOf(HasSubstr("board-off-line=25"), HasSubstr("inch-misread=2@distance")));
}

TEST_F(Spoilt, ByWhereTheBoardHangsDiffersInTheTruth) {
    const Pair off = as_found_with("board-off-line=25");
    EXPECT_NEAR(pose(off.spoilt)[target_left_mm] - pose(off.clean)[target_left_mm], 25, 1e-9);
    EXPECT_EQ(first(off.spoilt_sheet).setup->readings.target_left_mm.value,
              first(off.clean_sheet).setup->readings.target_left_mm.value);
    EXPECT_NE(first(off.spoilt_sheet).setup->tapes[0].length_mm.value,
              first(off.clean_sheet).setup->tapes[0].length_mm.value);
    const Pair head = as_found_with("board-on-head");
    EXPECT_NEAR(
        pose(head.spoilt)[target_roll_clockwise_deg] - pose(head.clean)[target_roll_clockwise_deg],
        180, 1e-9);
    EXPECT_EQ(first(head.spoilt_sheet).setup->tapes[0].length_mm.value,
              first(head.clean_sheet).setup->tapes[0].length_mm.value);
    EXPECT_THAT(codes_of(measure_job(head.spoilt.sheet)), testing::Contains("target-turned"));
}

TEST_F(Spoilt, ByPrintLensOrZoomDiffersInWhatThePhotosShow) {
    const Pair print = as_found_with("print-scale=-3");
    EXPECT_NEAR(print.spoilt.truth.sheet.scale_across / print.clean.truth.sheet.scale_across, 0.97,
                1e-12);
    EXPECT_THAT(codes_of(measure_job(print.spoilt.sheet)), testing::Contains("distance-mismatch"));
    const Pair file = as_found_with("wrong-camera-file=2");
    EXPECT_NEAR(file.spoilt.truth.lens.fx / file.clean.truth.lens.fx, 1.02, 1e-12);
    const Pair lens = as_found_with("wrong-lens=2");
    EXPECT_THAT(codes_of(measure_job(lens.spoilt.sheet)), testing::Contains("camera-mismatch"));
    EXPECT_THAT(codes_of(measure_job(as_found_with("wrong-lens=2@untold").spoilt.sheet)),
                Not(testing::Contains("camera-mismatch")));
    const Pair zoom = as_found_with("zoom=1.5");
    EXPECT_THAT(codes_of(measure_job(zoom.spoilt.sheet)), testing::Contains("photo-zoomed"));
}

TEST_F(Spoilt, ByTheCradleDiffersInLabelsOrPointing) {
    const Pair labels = as_found_with("cradle-labels=1");
    EXPECT_EQ(first(labels.spoilt_sheet).photos[0].label, CradleLabel::inverted);
    EXPECT_EQ(first(labels.spoilt_sheet).photos[1].label, CradleLabel::inverted);
    EXPECT_THAT(codes_of(measure_job(labels.spoilt.sheet)), testing::Contains("cradle-labels"));
    const Pair seat = as_found_with("cradle-not-seated=0.5");
    EXPECT_GT((seen_at(seat.spoilt, 0) - seen_at(seat.clean, 0)).norm(), 20);
    EXPECT_EQ(seen_at(seat.spoilt, 1), seen_at(seat.clean, 1));
    const Pair knock = full_with("cradle-knocked=0.5");
    EXPECT_EQ(pose(knock.spoilt, 0)[offset_left_deg], pose(knock.clean, 0)[offset_left_deg]);
    EXPECT_NEAR(pose(knock.spoilt, 1)[offset_left_deg] - pose(knock.clean, 1)[offset_left_deg], 0.5,
                1e-12);
}

TEST_F(Spoilt, BetweenStagesDiffersFromTheSecondOn) {
    const Pair moved = full_with("truck-moved=20");
    EXPECT_EQ(pose(moved.spoilt, 0), pose(moved.clean, 0));
    EXPECT_NEAR(pose(moved.spoilt, 1)[mount_left_mm] - pose(moved.clean, 1)[mount_left_mm], 20,
                1e-9);
    EXPECT_TRUE(moved.spoilt_sheet.sightings[1].same_setup);
    for (const char* place : {"copy", "earlier"}) {
        const Pair photo = full_with(std::string("wrong-photo@") + place);
        EXPECT_THAT(codes_of(measure_job(photo.spoilt.sheet)), testing::Contains("photo-reused"));
    }
}

TEST_F(Spoilt, ByTurningDiffersInWhatTheScrewsDid) {
    const auto& screws = bay_.mount.screws;
    const auto made = [](const PracticeJob& job, const std::string& screw) {
        double turns = 0;
        for (const auto& [name, value] : job.truth.stages[0].made_turns) {
            turns += name == screw ? value : 0;
        }
        return turns;
    };
    const auto told = [](const JobSheet& sheet, const std::string& screw) {
        double turns = 0;
        for (const auto& [name, value] : first(sheet).turned_clockwise) {
            turns += name == screw ? value : 0;
        }
        return turns;
    };
    const double by_hand = 0.126;
    const Pair way = full_with("wrong-way@both");
    const Pair half = full_with("half-turned=0.5");
    const Pair swapped = full_with("wrong-screw");
    for (std::size_t i = 0; i < screws.size(); ++i) {
        const double turns = told(way.clean_sheet, screws[i].name);
        ASSERT_NE(turns, 0);
        EXPECT_EQ(told(way.spoilt_sheet, screws[i].name), turns);
        EXPECT_NEAR(made(way.clean, screws[i].name), turns, by_hand);
        EXPECT_NEAR(made(way.spoilt, screws[i].name), -turns, by_hand);
        EXPECT_NEAR(made(half.spoilt, screws[i].name), turns / 2, by_hand);
        EXPECT_NEAR(made(swapped.spoilt, screws[1 - i].name), turns, by_hand);
    }
    const Pair profile = full_with("wrong-mount-profile=50");
    EXPECT_DOUBLE_EQ(profile.spoilt.truth.mount.screws[0].pitch_mm, 1.5);
    const auto yaw_change = [](const PracticeJob& job) {
        return pose(job, 1)[yaw_left_deg] - pose(job, 0)[yaw_left_deg];
    };
    const Pair sense = full_with("clockwise-sense");
    EXPECT_LT(yaw_change(sense.spoilt) * yaw_change(sense.clean), 0);
}

TEST_F(Spoilt, IsRefusedWhereTheJobCannotHaveTheError) {
    const auto refused = [&](const std::string& error, PracticeOptions options) {
        return refusal([&] { with(error, options); });
    };
    EXPECT_THAT(refused("wrong-way", as_found()), HasSubstr("--stages full"));
    EXPECT_THAT(refused("truck-moved", as_found()), HasSubstr("--stages full"));
    EXPECT_THAT(refused("print-scale=-3@as-left", full_run()), HasSubstr("from the start"));
    EXPECT_THAT(refused("zoom=90", as_found()), HasSubstr("size that no such error has"));
    bay_.bay.tape_and_level.reset();
    EXPECT_THAT(refused("inch-misread@left_pass", as_found()), HasSubstr("this bay does not use"));
    bay_.bay.setup.tapes.clear();
    EXPECT_THAT(refused("inch-misread@tape_1", as_found()), HasSubstr("about a tape"));
}

// --- pictures

TEST(Pictures, AreRenderedFromTheSameTruth) {
    const PracticeBay bay = main_bay();
    Scratch scratch;
    PracticeOptions options = full_run();
    const PracticeJob corners = make_practice_job(bay, options, turned_job, scratch.folder() / "a");
    options.pictures = true;
    const PracticeJob pictures =
        make_practice_job(bay, options, turned_job, scratch.folder() / "b");
    const Scene scene = load_scene(scratch.folder() / "b/scene.yaml");
    EXPECT_EQ(scene_yaml(scene), read_file(scratch.folder() / "b/scene.yaml", 1 << 20));
    ASSERT_EQ(scene.stages.size(), pictures.truth.stages.size());
    for (std::size_t i = 0; i < scene.stages.size(); ++i) {
        const PoseValues& truth = pictures.truth.stages[i].pose;
        EXPECT_NEAR(scene.stages[i].yaw_left_deg, truth[yaw_left_deg], 1e-9);
        EXPECT_NEAR(scene.stages[i].setup.floor_rise_deg,
                    truth[floor_rise_deg] + truth[rail_zero_deg], 1e-9);
        EXPECT_EQ(scene.stages[i].photos.size(), pictures.truth.stages[i].photos.size());
    }
    const auto told = scatter_of(scene)[0][1];
    EXPECT_NEAR(told.seating_up_deg, pictures.truth.stages[0].photos[1].pose[seating_up_deg], 1e-9);
    // The same job as with corners, but for what no scene has words for.
    EXPECT_EQ(pictures.truth.stages[0].pose[yaw_left_deg],
              corners.truth.stages[0].pose[yaw_left_deg]);
    EXPECT_NE(corners.truth.sheet.skew, 0);
    EXPECT_EQ(pictures.truth.sheet.skew, 0);
    EXPECT_EQ(pictures.truth.face_form_deg, Eigen::Vector2d(0, 0));
    EXPECT_TRUE(fs::is_empty(scratch.folder() / "b/photos"));
    EXPECT_THAT(read_file(pictures.sheet, 1 << 20), HasSubstr("photos/1-as-found-1-upright.jpg"));
    options.errors = {parse_human_error("wrong-photo")};
    EXPECT_THAT(refusal([&] { make_practice_job(bay, options, 1, scratch.folder() / "c"); }),
                HasSubstr("leave --render out"));
}

TEST(Pictures, AreRefusedInOneLineWithoutPovRay) {
    Scratch scratch;
    const fs::path out = scratch.folder() / "job";
    const Finished made = run_command(std::string("PATH=/nowhere '") + SQUARESIGHT_BINARY +
                                      "' simulate --render --out '" + out.string() + "'");
    EXPECT_EQ(made.exit_code, 3);
    EXPECT_THAT(made.output, HasSubstr("povray: is not installed"));
    EXPECT_TRUE(!fs::exists(out) || fs::is_empty(out));
}

// --- quiz

class QuizTest : public testing::Test {
  protected:
    QuizTest() {
        PracticeOptions options = as_found();
        job_ = make_practice_job(bay_, options, turned_job, scratch_.folder() / "job");
        truth_text_ = read_file(scratch_.folder() / "job/truth.yaml", 1 << 20);
    }
    std::string turns_text(double turns) { return sheet_turns_text(turns); }

    PracticeBay bay_ = main_bay();
    Scratch scratch_;
    PracticeJob job_;
    std::string truth_text_;
};

TEST_F(QuizTest, HidesTheTruthFromAGlanceAndBringsItBack) {
    const std::string hidden = hidden_truth(truth_text_);
    EXPECT_THAT(hidden, Not(HasSubstr("yaw")));
    const auto file = scratch_.write("truth.hidden", hidden);
    EXPECT_EQ(revealed_truth(file), truth_text_);
    std::string changed = hidden;
    const auto at = changed.rfind("'x") + 4;
    changed[at] = changed[at] == '0' ? '1' : '0';
    const auto spoilt = scratch_.write("changed.hidden", changed);
    EXPECT_THAT(refusal([&] { revealed_truth(spoilt); }), HasSubstr("was changed"));
}

TEST_F(QuizTest, ScoresARightAnswerAsRight) {
    const PoseValues& truth = job_.truth.stages[0].pose;
    const auto needed =
        exact_turns_clockwise(bay_.mount, truth[yaw_left_deg], truth[pitch_up_deg], 0, 0);
    QuizAnswer answer;
    read_answer("yaw_left=" + std::to_string(truth[yaw_left_deg] + 0.05) + " deg", bay_.mount,
                answer);
    for (std::size_t i = 0; i < 2; ++i) {
        const double eighths = std::round(8 * needed[i]) / 8;
        read_answer(bay_.mount.screws[i].name + "=" + sheet_turns_text(eighths), bay_.mount,
                    answer);
    }
    const QuizScore score = score_answer(answer, truth_text_, bay_.mount);
    EXPECT_NEAR(*score.yaw_off_deg, 0.05, 1e-5);
    EXPECT_FALSE(score.pitch_off_deg);
    EXPECT_EQ(score.in_tolerance_after, true);
    for (const auto& screw : score.screws) {
        EXPECT_EQ(screw.words, "right screw, right way, right size");
    }
    EXPECT_THAT(score.words.front(), HasSubstr("well measured"));
    EXPECT_THAT(score.words.back(), HasSubstr(": in tolerance"));
}

TEST_F(QuizTest, SaysWhatWasWrong) {
    const PoseValues& truth = job_.truth.stages[0].pose;
    const auto needed =
        exact_turns_clockwise(bay_.mount, truth[yaw_left_deg], truth[pitch_up_deg], 0, 0);
    QuizAnswer answer;
    answer.yaw_left_deg = -truth[yaw_left_deg];
    answer.turns_clockwise = {{bay_.mount.screws[1].name, -needed[1]}};
    const QuizScore score = score_answer(answer, truth_text_, bay_.mount);
    EXPECT_EQ(score.in_tolerance_after, false);
    EXPECT_THAT(score.screws[0].words, HasSubstr("left alone, which is within the limit"));
    EXPECT_THAT(score.screws[1].words, HasSubstr("wrong way"));
    answer.turns_clockwise = {{bay_.mount.screws[0].name, needed[0]}};
    EXPECT_THAT(score_answer(answer, truth_text_, bay_.mount).screws[1].words,
                HasSubstr("not turned, and it had to be"));
    EXPECT_THAT(score.words.front(), HasSubstr("measure again"));
    QuizAnswer unread;
    EXPECT_THAT(refusal([&] { read_answer("yaw_left=0.7", bay_.mount, unread); }),
                HasSubstr("has no unit"));
    EXPECT_THAT(refusal([&] { read_answer("lower=1 clockwise", bay_.mount, unread); }),
                HasSubstr("is no answer"));
}

// --- command line

TEST(SimulateCommand, MakesJobsThatMeasure) {
    Scratch scratch;
    const std::string out = (scratch.folder() / "jobs").string();
    const Finished made =
        run_squaresight("simulate --out '" + out + "' --jobs 2 --stages as-found --json");
    ASSERT_EQ(made.exit_code, 0) << made.output;
    const auto json = nlohmann::json::parse(made.output);
    EXPECT_EQ(json["jobs"].size(), 2U);
    EXPECT_TRUE(fs::exists(scratch.folder() / "jobs/0002/truth.yaml"));
    EXPECT_TRUE(fs::exists(scratch.folder() / "jobs/bay/bay.yaml"));
    EXPECT_EQ(run_squaresight("measure '" + out + "/0001/job.yaml'").exit_code, 0);
    const Finished again = run_squaresight("simulate --out '" + out + "'");
    EXPECT_EQ(again.exit_code, 3);
    EXPECT_THAT(again.output, HasSubstr("holds something already"));
}

TEST(SimulateCommand, LeavesNothingWhereItFails) {
    Scratch scratch;
    const fs::path out = scratch.folder() / "job";
    const Finished made = run_squaresight("simulate --out '" + out.string() +
                                          "' --stages as-found --error wrong-way");
    EXPECT_EQ(made.exit_code, 3);
    EXPECT_THAT(made.output, HasSubstr("--stages full"));
    EXPECT_TRUE(!fs::exists(out) || fs::is_empty(out));
    EXPECT_EQ(run_squaresight("simulate").exit_code, 2);
    EXPECT_EQ(run_squaresight("simulate --seed -1 --out '" + out.string() + "'").exit_code, 2);
    EXPECT_EQ(run_squaresight("simulate --noise nan --out '" + out.string() + "'").exit_code, 3);
    EXPECT_THAT(run_squaresight("simulate --errors").output, HasSubstr("clockwise-sense"));
    EXPECT_EQ(run_squaresight("simulate --out '" + out.string() + "' --setup distance=4").exit_code,
              3);
}

TEST(SimulateCommand, HidesAQuizUntilItIsAnswered) {
    Scratch scratch;
    const std::string out = (scratch.folder() / "quiz").string();
    ASSERT_EQ(run_squaresight("simulate --quiz --out '" + out + "'").exit_code, 0);
    EXPECT_FALSE(fs::exists(out + "/truth.yaml"));
    const Finished silent = run_squaresight("simulate --quiz --out '" + out + "' < /dev/null");
    EXPECT_EQ(silent.exit_code, 3);
    const Finished scored =
        run_squaresight("simulate --quiz --out '" + out +
                        "' --answer 'yaw_left=0.1 deg' --answer 'side=1 clockwise'");
    EXPECT_EQ(scored.exit_code, 0) << scored.output;
    EXPECT_THAT(scored.output, AllOf(HasSubstr("Side-to-side aim: you said 0.10 deg to the left"),
                                     HasSubstr("After these turns")));
    EXPECT_TRUE(fs::exists(out + "/truth.yaml"));
    EXPECT_EQ(run_squaresight("simulate --quiz --out '" + scratch.folder().string() +
                              "/none' --answer 'yaw_left=0 deg'")
                  .exit_code,
              3);
}

}  // namespace
}  // namespace squaresight

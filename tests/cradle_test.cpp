#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <iostream>
#include <regex>

#include "adjust/cradle_file.h"
#include "adjust/cradle_study.h"
#include "simulate/practice_job.h"
#include "support/command.h"
#include "support/cradle_shop.h"
#include "support/scratch.h"
#include "units/files.h"

/// What jobs tell of their cradle, and what a job with upright photos alone makes of it.
namespace squaresight {
namespace {

using test::CradleShop;
using test::full_set;
using test::joined;
using test::upright_only;
using testing::HasSubstr;

constexpr unsigned seed = 1821;

std::mt19937 seeded() {
    std::cout << "seed " << seed << '\n';
    return std::mt19937(seed);
}

bool has_code(const Findings& findings, const std::string& code) {
    return std::any_of(findings.begin(), findings.end(),
                       [&](const Finding& finding) { return finding.code == code; });
}

/// A seating study: one stage, its photos lifted and set down again.
std::vector<double> lifted(int placements) {
    std::vector<double> rolls_deg;
    for (int i = 0; i < placements; ++i) {
        rolls_deg.push_back(180 * (i % 2));
    }
    return rolls_deg;
}

Cradle stored_by(CradleShop& shop) {
    const CradleStudy study = study_cradle(joined(shop.job({full_set}), shop.job({full_set})));
    EXPECT_TRUE(study.solved);
    return study.cradle;
}

TEST(Cradle, UprightPhotosAloneErrAsMuchAsTheyStateWithWhatWasStored) {
    auto random = seeded();
    constexpr int shops = 25;
    double yaw = 0, pitch = 0;
    for (int i = 0; i < shops; ++i) {
        CradleShop shop(random);
        const Cradle stored = stored_by(shop);
        MeasuredJob job = shop.job({upright_only}, 4000);
        job.cradle = stored;
        const AdjustedStage stage = adjust(job).stages.at(0);
        const auto& truth = shop.true_stages.back();
        yaw += std::pow((stage.yaw_left_deg.value - truth[yaw_left_deg]) /
                            stage.yaw_left_deg.standard_uncertainty,
                        2);
        pitch += std::pow((stage.pitch_up_deg.value - truth[pitch_up_deg]) /
                              stage.pitch_up_deg.standard_uncertainty,
                          2);
    }
    // 1 +/- 3 / sqrt(2 n) for a root mean square of n.
    const double allowed = 3 / std::sqrt(2.0 * shops);
    EXPECT_NEAR(std::sqrt(yaw / shops), 1, allowed);
    EXPECT_NEAR(std::sqrt(pitch / shops), 1, allowed);
    std::cout << "rms(err/u) yaw " << std::sqrt(yaw / shops) << ", pitch "
              << std::sqrt(pitch / shops) << '\n';
}

int jobs_that_find_a_knock(double knock_left_deg, int shops) {
    auto random = seeded();
    int found = 0;
    for (int i = 0; i < shops; ++i) {
        CradleShop shop(random);
        const Cradle stored = stored_by(shop);
        shop.knock_left_deg = knock_left_deg;
        MeasuredJob job = shop.job({full_set});
        job.cradle = stored;
        found += has_code(adjust(job).findings, "cradle-moved");
    }
    return found;
}

TEST(Cradle, AKnockSinceItWasStoredIsFound) { EXPECT_GE(jobs_that_find_a_knock(0.15, 20), 19); }

TEST(Cradle, WithoutAKnockNoneIsImagined) { EXPECT_LE(jobs_that_find_a_knock(0, 20), 1); }

TEST(Cradle, SeatingIsFoundAsWellAsItSays) {
    auto random = seeded();
    for (const double true_deg : {0.03, 0.08}) {
        constexpr int studies = 8;
        double squares = 0, mean = 0;
        for (int i = 0; i < studies; ++i) {
            CradleShop shop(random);
            shop.seating_deg = true_deg;
            const CradleStudy study = study_cradle(shop.job({lifted(12)}));
            ASSERT_TRUE(study.solved);
            EXPECT_FALSE(study.seating.usual_kept);
            EXPECT_NEAR(study.seating.degrees_of_freedom, 20, 1);
            squares += std::pow(
                (study.seating.standard_deg - true_deg) / study.seating.standard_uncertainty_deg,
                2);
            mean += study.seating.standard_deg / studies;
        }
        std::cout << true_deg << ": rms(err/u) " << std::sqrt(squares / studies) << ", mean "
                  << mean << '\n';
        EXPECT_NEAR(std::sqrt(squares / studies), 1, 3 / std::sqrt(2.0 * studies)) << true_deg;
        EXPECT_NEAR(mean, true_deg, 0.25 * true_deg);
    }
}

TEST(Cradle, SeatingThatJitterHidesIsStoredAsALimit) {
    auto random = seeded();
    CradleShop shop(random);
    shop.seating_deg = 0;
    const CradleStudy study = study_cradle(shop.job({lifted(12)}));
    ASSERT_TRUE(study.solved);
    EXPECT_LT(study.seating.standard_deg, 0.02);
    EXPECT_GT(study.seating.standard_deg, 0.005);
}

TEST(Cradle, WithFewPlacementsTheUsualSeatingStandsAndItIsSaid) {
    auto random = seeded();
    CradleShop shop(random);
    shop.seating_deg = 0.08;
    const CradleStudy study = study_cradle(shop.job({full_set}));
    ASSERT_TRUE(study.solved);
    EXPECT_TRUE(study.seating.usual_kept);
    EXPECT_EQ(study.seating.standard_deg, 0.03);
    EXPECT_LT(study.seating.degrees_of_freedom, fewest_seating_freedom);
}

TEST(Cradle, OnePhotoThatDidNotSitIsNamedAndDoesNotSpoilTheSeating) {
    auto random = seeded();
    CradleShop shop(random);
    MeasuredJob job = shop.job({lifted(16)});
    shop.knock_left_deg = 0.8;
    job.sightings[0].photos[5] = shop.photo_of(shop.true_stages.back(), 180, job.target);
    job.sightings[0].photos[5].file = "sixth";
    const CradleStudy study = study_cradle(job);
    ASSERT_TRUE(study.solved);
    ASSERT_EQ(study.findings.size(), 1u);
    EXPECT_THAT(study.findings[0].text, HasSubstr("sixth"));
    EXPECT_LT(study.seating.standard_deg, 0.05);
}

TEST(Cradle, PhotosOneWayUpTellNothing) {
    auto random = seeded();
    CradleShop shop(random);
    const CradleStudy one = study_cradle(shop.job({upright_only}));
    EXPECT_FALSE(one.solved);
    EXPECT_TRUE(has_code(one.findings, "no-inverted-photo"));
    // Upright in one job and upside down in another is no pair: the mount points elsewhere.
    const CradleStudy apart =
        study_cradle(joined(shop.job({upright_only}), shop.job({{180, 180}})));
    EXPECT_FALSE(apart.solved);
    EXPECT_TRUE(has_code(apart.findings, "no-inverted-photo"));
}

TEST(Cradle, JobsFromBothSidesOfAKnockAreRefused) {
    auto random = seeded();
    CradleShop shop(random);
    const MeasuredJob before = joined(shop.job({full_set}), shop.job({full_set}));
    shop.knock_left_deg = 0.4;
    MeasuredJob after = shop.job({full_set});
    after.sightings[0].stage = "job 9, as-found";
    const CradleStudy study = study_cradle(joined(before, after));
    EXPECT_FALSE(study.solved);
    ASSERT_TRUE(has_code(study.findings, "cradle-moved"));
    EXPECT_THAT(study.findings.back().text, HasSubstr("job 9, as-found"));
}

TEST(Cradle, MoreJobsKnowItBetter) {
    auto random = seeded();
    CradleShop shop(random);
    MeasuredJob jobs = shop.job({full_set});
    const double one = study_cradle(jobs).pointing_u_deg.x();
    for (int i = 0; i < 3; ++i) {
        jobs = joined(jobs, shop.job({full_set}));
    }
    EXPECT_NEAR(study_cradle(jobs).pointing_u_deg.x() / one, 0.5, 0.2);
}

TEST(Cradle, TheFigureForUprightPhotosAloneIsWhatSuchAJobThenStates) {
    auto random = seeded();
    double ratio = 0;
    constexpr int shops = 8;
    for (int i = 0; i < shops; ++i) {
        CradleShop shop(random);
        const CradleStudy study = study_cradle(joined(shop.job({full_set}), shop.job({full_set})));
        MeasuredJob job = shop.job({upright_only});
        job.cradle = study.cradle;
        const double stated = adjust(job).stages.at(0).yaw_left_deg.standard_uncertainty;
        ratio += stated / study.upright_only_u_deg.value() / shops;
    }
    EXPECT_NEAR(ratio, 1, 0.1);
}

TEST(OneAdjustment, TheOffsetFoundAsFoundCarriesOverToUprightPhotosAlone) {
    auto random = seeded();
    CradleShop shop(random);
    const MeasuredJob job = shop.job({full_set, upright_only, upright_only});
    const Adjustment adjustment = adjust(job);
    const double as_found = adjustment.stages.at(0).yaw_left_deg.standard_uncertainty;
    for (std::size_t stage = 1; stage < 3; ++stage) {
        const Estimate& yaw = adjustment.stages.at(stage).yaw_left_deg;
        EXPECT_LT(yaw.standard_uncertainty, 1.3 * as_found);
        EXPECT_LT(std::abs(yaw.value - shop.true_stages[stage][yaw_left_deg]),
                  3.5 * yaw.standard_uncertainty);
        EXPECT_FALSE(has_code(adjustment.stages[stage].findings, "as-left-upright-only"));
    }
    EXPECT_FALSE(has_code(adjustment.findings, "no-inverted-photo"));
}

TEST(OneAdjustment, AsLeftAsksForAFullSetAgain) {
    auto random = seeded();
    CradleShop shop(random);
    MeasuredJob job = shop.job({full_set, upright_only});
    job.sightings[1].stage = "as-left";
    Adjustment adjustment = adjust(job);
    EXPECT_TRUE(has_code(adjustment.stages.at(1).findings, "as-left-upright-only"));
    EXPECT_FALSE(has_code(adjustment.stages.at(0).findings, "as-left-upright-only"));
    job = shop.job({full_set, full_set});
    job.sightings[1].stage = "as-left";
    adjustment = adjust(job);
    EXPECT_FALSE(has_code(adjustment.stages.at(1).findings, "as-left-upright-only"));
}

/// Practice jobs of one phone in one cradle, and the command on them.
class CradleCommand : public testing::Test {
  protected:
    static constexpr double left_deg = 0.8, up_deg = -0.5;

    CradleCommand() {
        const auto bay = scratch.folder() / "bay";
        std::filesystem::create_directories(bay);
        const auto file = write_built_in_bay(bay);
        write_file(bay / "cradle.yaml",
                   "schema: squaresight/cradle/1\nname: shop cradle\ncamera: practice phone\n"
                   "phone_up: native\noffset: {left: 0.8 deg, up: -0.5 deg}\n"
                   "lens: {ahead: 15 mm, left: 5 mm, up: 30 mm}\ncovariance:\n"
                   "  - [1e-8, 0, 0, 0, 0]\n  - [0, 1e-8, 0, 0, 0]\n  - [0, 0, 1e-4, 0, 0]\n"
                   "  - [0, 0, 0, 1e-4, 0]\n  - [0, 0, 0, 0, 1e-4]\n");
        write_file(file, std::regex_replace(read_file(file, 100000), std::regex("target: target"),
                                            "cradle: cradle.yaml\ntarget: target"));
        practice = load_practice_bay(file);
        // One phone, one board: what these have in common is not drawn anew for each job.
        practice.camera.covariance.setZero();
        practice.camera.lens_sag_deg = 0;
        practice.cradle->sag_deg = 0;
        practice.target.flatness_mm = 0;
        practice.target.skew_checked = true;
        for (std::uint64_t number = 1; number <= 3; ++number) {
            make(number);
        }
    }

    void make(std::uint64_t number) const {
        const auto folder = job_file(number).parent_path();
        std::filesystem::create_directories(folder);
        PracticeOptions options;
        options.run = PracticeRun::as_found;
        make_practice_job(practice, options, number, folder);
    }

    std::filesystem::path job_file(std::uint64_t number) const {
        return scratch.folder() / std::to_string(number) / "job.yaml";
    }
    std::string job(std::uint64_t number) const { return " '" + job_file(number).string() + "'"; }
    std::filesystem::path out() const { return scratch.folder() / "found.yaml"; }

    Finished run(const std::string& jobs, const std::string& more = "") const {
        return run_squaresight("cradle" + jobs + " --out '" + out().string() + "' " + more);
    }

    void change(const std::filesystem::path& file, const std::string& from,
                const std::string& to) const {
        const std::string text = read_file(file, 1000000);
        const std::string changed = std::regex_replace(text, std::regex(from), to);
        ASSERT_NE(text, changed);
        write_file(file, changed);
    }

    void expect_refused(const Finished& finished, const std::string& words) const {
        EXPECT_EQ(finished.exit_code, 3) << finished.output;
        EXPECT_THAT(finished.output, HasSubstr(words));
        EXPECT_FALSE(std::filesystem::exists(out()));
    }

    Scratch scratch;
    PracticeBay practice;
};

TEST_F(CradleCommand, WritesWhatTheJobsShowAndAJobWithUprightPhotosAloneUsesIt) {
    const Finished finished = run(job(1) + job(2) + job(3));
    ASSERT_EQ(finished.exit_code, 0) << finished.output;
    EXPECT_THAT(finished.output, HasSubstr("12 placements"));
    const Cradle found = load_cradle(out());
    EXPECT_EQ(found.name, "shop cradle");
    EXPECT_EQ(found.camera, "practice phone");
    EXPECT_EQ(found.phone_up, PhoneUp::native);
    EXPECT_TRUE(is_date(found.date));
    const Eigen::Matrix<double, 2, 5> pointing =
        (Eigen::Matrix<double, 2, 5>() << 1, 0, 0, deg_per_rad / 5000, 0, 0, 1, 0, 0,
         deg_per_rad / 5000)
            .finished();
    Eigen::Matrix<double, 5, 1> off;
    off << *found.offset_deg - Eigen::Vector2d(left_deg, up_deg),
        *found.lens_mm - Eigen::Vector3d(15, 5, 30);
    const Eigen::Matrix2d covariance = pointing * *found.covariance * pointing.transpose();
    for (int axis = 0; axis < 2; ++axis) {
        const double u = std::sqrt(covariance(axis, axis));
        EXPECT_LT(u, 0.03);
        EXPECT_LT(std::abs((pointing * off)[axis]), 3.5 * u);
    }
    make(4);
    std::filesystem::copy_file(out(), job_file(4).parent_path() / "cradle.yaml",
                               std::filesystem::copy_options::overwrite_existing);
    change(job_file(4), "\n[^\n]*inverted[^\n]*", "");
    const Finished measured = run_squaresight("measure --json" + job(4));
    EXPECT_EQ(measured.exit_code, 0);
    EXPECT_THAT(measured.output, HasSubstr("the stored offset of the cradle 'shop cradle'"));
}

TEST_F(CradleCommand, PrintsItsFiguresAsJson) {
    const Finished finished = run(job(1) + job(2) + job(3), "--json --date 2026-03-09");
    ASSERT_EQ(finished.exit_code, 0) << finished.output;
    for (const char* words :
         {"\"schema\": \"squaresight/cradle-study/1\"", "\"date\": \"2026-03-09\"", "\"jobs\": 3",
          "\"placements\": 12", "\"upright_only_yaw_standard_uncertainty_deg\": 0."}) {
        EXPECT_THAT(finished.output, HasSubstr(words));
    }
}

TEST_F(CradleCommand, ReplacesAFileOnlyWhenTold) {
    write_file(out(), "schema: squaresight/cradle/1\nname: dear to someone\n");
    Finished finished = run(job(1));
    EXPECT_EQ(finished.exit_code, 3);
    EXPECT_THAT(finished.output, HasSubstr("--replace"));
    EXPECT_EQ(load_cradle(out()).name, "dear to someone");
    finished = run(job(1), "--replace");
    EXPECT_EQ(finished.exit_code, 0) << finished.output;
    EXPECT_EQ(load_cradle(out()).name, "shop cradle");
    EXPECT_THAT(finished.output, HasSubstr("the usual figure"));
}

TEST_F(CradleCommand, RefusesJobsThatDoNotBelongTogether) {
    expect_refused(run(job(1) + job(1)), "was counted already");
    change(job_file(2).parent_path() / "camera.yaml", "fx: 3038", "fx: 3039");
    expect_refused(run(job(1) + job(2)), "2/job.yaml: was made with the camera file");
    change(job_file(3).parent_path() / "cradle.yaml", "name: shop cradle", "name: other");
    expect_refused(run(job(1) + job(3)), "3/job.yaml: names the cradle 'other'");
}

TEST_F(CradleCommand, RefusesWhatTellsNothing) {
    expect_refused(run(" nowhere.yaml"), "nowhere.yaml");
    expect_refused(run(job(1), "--date tomorrow"), "--date");
    change(job_file(1), "sightings:", "sitings:");
    expect_refused(run(job(1)), "sitings");
    change(job_file(2), "\n[^\n]*inverted[^\n]*", "");
    expect_refused(run(job(2)), "upside down");
    change(job_file(3), "distance: [^\n]*", "distance: 4000 mm +/- 3 mm");
    expect_refused(run(job(3)), "3/job.yaml: the job is stopped");
}

}  // namespace
}  // namespace squaresight

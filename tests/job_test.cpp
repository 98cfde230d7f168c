#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <regex>

#include "job/measure.h"
#include "report/report.h"
#include "report/summary.h"
#include "simulate/practice_job.h"
#include "support/command.h"
#include "support/job_folder.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight {
namespace {

using test::JobFolder;
using ::testing::AllOf;
using ::testing::HasSubstr;
using Json = nlohmann::json;

std::vector<std::string> codes_of(const Json& node) {
    std::vector<std::string> codes;
    if (node.is_object()) {
        if (node.contains("code")) {
            codes.push_back(node["code"]);
        }
    }
    if (node.is_structured()) {
        for (const auto& part : node) {
            const auto inner = codes_of(part);
            codes.insert(codes.end(), inner.begin(), inner.end());
        }
    }
    return codes;
}

Json measured(const JobFolder& job) {
    return Json::parse(result_json(measure_job(job.write_sheet())));
}

/// The sentence with which a sheet is refused; "was accepted" if it is not.
std::string refusal(const JobFolder& job) {
    try {
        measure_job(job.write_sheet());
    } catch (const InputError& error) {
        return error.what();
    }
    return "was accepted";
}

TEST(Job, PhotosBecomeAimCorrectionsAndAgreement) {
    JobFolder job;
    job.add_pair();
    const Json result = measured(job);
    const Json& sighting = result["sightings"][0];
    for (const auto& [key, truth] :
         {std::pair{"yaw_left_deg", 1.1}, std::pair{"pitch_up_deg", -0.8}}) {
        const Json& angle = sighting["vision"][key];
        const double u = angle["standard_uncertainty"];
        EXPECT_LT(std::abs(angle["value"].get<double>() - truth), 3.5 * u) << key;
        EXPECT_DOUBLE_EQ(angle["expanded_95"].get<double>(), 2 * u);
    }
    EXPECT_LT(sighting["vision"]["yaw_left_deg"]["standard_uncertainty"].get<double>(), 0.1);
    EXPECT_EQ(sighting["vision"]["verdict"]["yaw"]["call"], "out of tolerance");
    EXPECT_EQ(sighting["tape_and_level"]["service_limit"]["yaw"], "not met");
    EXPECT_EQ(sighting["agreement"]["yaw"]["call"], "agree");
    EXPECT_EQ(sighting["corrections"].size(), 2u);
    for (const auto& correction : sighting["corrections"]) {
        EXPECT_GE(correction["turns"].get<double>(), 0);
        EXPECT_GE(correction["exact_turns"].get<double>(), 0);
    }
    // Agreement says how far it tests, and what it cannot see.
    EXPECT_GT(sighting["agreement"]["yaw"]["shows_from_deg"].get<double>(), 0.1);
    EXPECT_THAT(sighting["agreement"]["pitch"]["shared"].get<std::vector<std::string>>(),
                ::testing::ElementsAre("rail zero", "twisted frame"));
    const auto probability = sighting["vision"]["verdict"]["probability"].get<double>();
    EXPECT_LT(probability, 0.05);
}

TEST(Job, NothingIsInToleranceWhileAReadingIsNotTakenAgain) {
    JobFolder job;
    job.add_pair();
    EXPECT_EQ(measured(job)["sightings"][0]["vision"]["verdict"]["pitch"]["call"], "in tolerance");
    job.change("floor_rise",
               "      floor_rise: 0 deg +/- 0.2 deg\n      target_lean_back: 6 deg +/- 0.2 deg");
    const Json result = measured(job);
    const Json& vision = result["sightings"][0]["vision"];
    ASSERT_FALSE(vision["suspects"].empty()) << vision["findings"];
    EXPECT_NE(vision["verdict"]["pitch"]["call"], "in tolerance");
    EXPECT_EQ(result["instruction"]["take_again"][0], vision["suspects"][0][0]);
}

TEST(Job, ResultHasEveryFieldOfItsSchema) {
    JobFolder job;
    job.add_pair();
    const Json result = measured(job);
    for (const auto key : {"schema", "job", "program", "findings", "sightings"}) {
        EXPECT_TRUE(result.contains(key)) << key;
    }
    const Json& sighting = result["sightings"][0];
    for (const auto key :
         {"stage", "findings", "vision", "tape_and_level", "agreement", "corrections"}) {
        EXPECT_TRUE(sighting.contains(key)) << key;
    }
    for (const auto key : {"yaw_left_deg", "pitch_up_deg", "correlation", "verdict", "photos",
                           "cradle_offset", "change", "readings", "budget", "findings"}) {
        EXPECT_TRUE(sighting["vision"].contains(key)) << key;
    }
    for (const auto key : {"name", "value", "residual", "w", "redundancy", "findable"}) {
        EXPECT_TRUE(sighting["vision"]["readings"][0].contains(key)) << key;
    }
    for (const auto key : {"difference_deg", "expanded_95", "en", "call"}) {
        EXPECT_TRUE(sighting["agreement"]["yaw"].contains(key)) << key;
    }
    for (const auto key : {"screw", "turns", "direction", "exact_turns", "uncertainty_turns"}) {
        EXPECT_TRUE(sighting["corrections"][0].contains(key)) << key;
    }
}

TEST(Job, InchesAndMillimetresGiveTheSameAnswer) {
    JobFolder job;
    job.add_pair();
    const Json metric = measured(job);
    job.change("distance:", "      distance: 118 1/8 in +/- 5 mm");  // 3000.375 mm
    job.change("target_height", "      target_height: 35.43307086614173 in +/- 5 mm");
    const Json mixed = measured(job);
    job.change("distance:", "      distance: 3000.375 mm +/- 5 mm");
    job.change("target_height", "      target_height: 900 mm");
    const Json again = measured(job);
    for (const auto key : {"yaw_left_deg", "pitch_up_deg"}) {
        const auto value = [&](const Json& result) {
            return result["sightings"][0]["vision"][key]["value"].get<double>();
        };
        EXPECT_NEAR(value(mixed), value(again), 1e-7);
        EXPECT_NEAR(value(mixed), value(metric), 1e-3);
    }
}

/// Gives a job much to say about lengths: print at 97 %, tapes that scatter, points too near.
void make_talkative(JobFolder& job) {
    job.add_photo("a.jpg", 0, {}, 0.97);
    test::PhotoTags inverted;
    inverted.orientation = 3;
    inverted.taken_at = "2026:03:02 08:17:30";
    job.add_photo("b.jpg", 180, inverted, 0.97);
    job.change("left_point", "      left_point: 10 in");
    job.change("passes",
               "      passes: [{left: 7 in, right: 7 3/4 in}, {left: 7 in, right: 17 in}]");
}

TEST(Job, FindingsAndReportSpeakTheUnitOfTheShopAlone) {
    const std::regex millimetres("[0-9]\\s?(\u00a0|&nbsp;)?mm\\b");
    const std::regex inches("[0-9]\\s?(\u00a0|&nbsp;)?(in|ft)\\b(?! rule)");
    const auto told = [](const JobResult& result) {
        std::string text;
        for (const auto& placed : placed_findings(result)) {
            text += placed.finding.text + "\n";
        }
        const std::string page = report_html(result);
        text += std::regex_replace(page, std::regex("data:image/jpeg;base64,[^\"]*"), "");
        return std::regex_replace(text, std::regex("<style>[^<]*</style>"), "");
    };
    JobFolder job;
    make_talkative(job);
    job.sheet.emplace_back("units: in");
    const std::string in_inches = told(measure_job(job.write_sheet()));
    EXPECT_FALSE(std::regex_search(in_inches, millimetres)) << in_inches;
    EXPECT_THAT(in_inches, AllOf(HasSubstr("by tape 9 ft 10 1/8 in"), HasSubstr("12 in or more")));
    job.sheet.back() = "units: mm";
    const std::string in_mm = told(measure_job(job.write_sheet()));
    EXPECT_FALSE(std::regex_search(in_mm, inches)) << in_mm;
    EXPECT_THAT(in_mm, AllOf(HasSubstr("by tape 3000 mm"), HasSubstr("305 mm or more")));
}

TEST(Job, ASheetWithoutUnitsIsToldInThoseOfItsDistance) {
    JobFolder job;
    const auto unit = [&] { return load_job_sheet(job.write_sheet()).unit; };
    EXPECT_EQ(unit(), LengthUnit::mm);
    job.change("distance:", "      distance: 9' 10\"");
    EXPECT_EQ(unit(), LengthUnit::in);
    EXPECT_NEAR(load_job_sheet(job.write_sheet()).sightings[0].setup->readings.distance_mm.value,
                25.4 * 118, 1e-9);
    job.change("passes", "      passes: [{left: 7 5/16\", right: 1' 8\"}]");
    EXPECT_NEAR(load_job_sheet(job.write_sheet()).sightings[0].tape_and_level->passes[0].right_mm,
                508, 1e-9);
    job.sheet.emplace_back("units: mm");
    EXPECT_EQ(unit(), LengthUnit::mm);
    job.sheet.back() = "units: ft";
    EXPECT_THAT(refusal(job), HasSubstr("units"));
    job.sheet.back() = "units: in";
    job.change("distance:", "      distance: 16 ft 14 in");
    EXPECT_THAT(refusal(job), HasSubstr("12 inches or more"));
}

TEST(Job, TheOrderOfKeysAndPhotosDoesNotMatter) {
    JobFolder job;
    job.add_pair();
    const Json before = measured(job);
    std::swap(job.sheet[8], job.sheet[12]);
    std::swap(job.sheet[17], job.sheet[18]);
    std::rotate(job.sheet.begin() + 1, job.sheet.begin() + 2, job.sheet.begin() + 5);
    const Json after = measured(job);
    EXPECT_NEAR(before["sightings"][0]["vision"]["yaw_left_deg"]["value"].get<double>(),
                after["sightings"][0]["vision"]["yaw_left_deg"]["value"].get<double>(), 1e-7);
}

TEST(JobPhotos, OneThatCannotBeReadIsAFindingAmongGoodOnes) {
    JobFolder job;
    job.add_pair();
    job.write("broken.jpg", "no photo at all");
    job.change("file: b.jpg",
               "      - {file: b.jpg, cradle: inverted}\n      - {file: broken.jpg}");
    const Json result = measured(job);
    EXPECT_THAT(codes_of(result), ::testing::Contains("photo-unreadable"));
    EXPECT_FALSE(result["sightings"][0]["vision"]["yaw_left_deg"].is_null());
}

TEST(JobPhotos, NoneThatCanBeReadAndNoTapeIsRefused) {
    JobFolder job;
    job.sheet.resize(19);  // without tape_and_level; the photos do not exist
    EXPECT_THAT(refusal(job), AllOf(HasSubstr("a.jpg"), HasSubstr("no such file")));
}

TEST(JobPhotos, TheSamePhotoTwiceStops) {
    JobFolder job;
    job.add_pair();
    job.write("c.jpg", read_file(job.file("a.jpg"), 1 << 24));
    job.change("file: b.jpg",
               "      - {file: b.jpg, cradle: inverted}\n      - {file: c.jpg, cradle: upright}");
    const Json result = measured(job);
    EXPECT_THAT(codes_of(result), ::testing::Contains("photo-reused"));
    EXPECT_NE(result["sightings"][0]["vision"]["verdict"]["pitch"]["call"], "in tolerance");
}

TEST(JobPhotos, AnOldPhotoInALaterStageStops) {
    JobFolder job;
    job.add_pair();
    test::PhotoTags old;
    old.taken_at = "2026:03:01 17:00:00";
    job.add_photo("old.jpg", 1, old);
    for (const auto line : {"  - stage: adjusted", "    setup: same",
                            "    photos:", "      - {file: old.jpg, cradle: upright}"}) {
        job.sheet.emplace_back(line);
    }
    EXPECT_THAT(codes_of(measured(job)), ::testing::Contains("photo-reused"));
}

TEST(JobPhotos, AToldZoomStops) {
    JobFolder job;
    job.add_pair();
    test::PhotoTags zoomed;
    zoomed.zoom = 1.12;
    job.add_photo("a.jpg", 0, zoomed);
    EXPECT_THAT(codes_of(measured(job)), ::testing::Contains("photo-zoomed"));
}

TEST(JobPhotos, AnotherPhoneStops) {
    JobFolder job;
    job.add_pair();
    test::PhotoTags other;
    other.model = "Bay 8";
    job.add_photo("a.jpg", 0, other);
    EXPECT_THAT(codes_of(measured(job)), ::testing::Contains("camera-mismatch"));
}

/// What is said of a photo by its file's name, and how grave it is.
std::string level_of(const Json& result, const std::string& code) {
    for (const auto& finding : result["sightings"][0]["findings"]) {
        if (finding["code"] == code) {
            return finding["level"];
        }
    }
    return "";
}

// Of four photos two are by another phone and zoomed, each far from what the others show: the
// answer is that of the other two, to the last digit, and nothing in it waits for them.
TEST(JobPhotos, OnesWithAStopOfTheirOwnAreSetAsideAndTheOthersAnswer) {
    JobFolder job;
    job.add_pair();
    const Json good = measured(job);
    job.truth[yaw_left_deg] = 9;
    job.truth[pitch_up_deg] = -9;
    test::PhotoTags zoomed, other;
    zoomed.zoom = 1.5;
    zoomed.taken_at = "2026:03:02 08:18:30";
    other.model = "Bay 8";
    other.taken_at = "2026:03:02 08:19:30";
    job.add_photo("zoomed.jpg", 0, zoomed);
    job.add_photo("other.jpg", 180, other, 1.1);
    job.change("file: b.jpg",
               "      - {file: b.jpg, cradle: inverted}\n"
               "      - {file: zoomed.jpg, cradle: upright}\n"
               "      - {file: other.jpg, cradle: inverted}");
    const Json result = measured(job);
    for (const auto* key : {"yaw_left_deg", "pitch_up_deg", "verdict", "photos"}) {
        EXPECT_EQ(result["sightings"][0]["vision"][key], good["sightings"][0]["vision"][key])
            << key;
    }
    EXPECT_EQ(level_of(result, "photo-set-aside"), "note");
    EXPECT_EQ(level_of(result, "photo-zoomed"), "warning");
    EXPECT_EQ(level_of(result, "camera-mismatch"), "warning");
}

TEST(JobPhotos, OfOnesThatAreAllSetAsideNoNumberIsGiven) {
    JobFolder job;
    test::PhotoTags zoomed, other;
    zoomed.zoom = 1.5;
    other.model = "Bay 8";
    other.taken_at = "2026:03:02 08:17:30";
    job.add_photo("a.jpg", 0, zoomed);
    job.add_photo("b.jpg", 180, other);
    const Json result = measured(job);
    EXPECT_TRUE(result["sightings"][0]["vision"]["yaw_left_deg"].is_null());
    EXPECT_EQ(level_of(result, "photo-set-aside"), "stop");
    EXPECT_EQ(level_of(result, "photo-zoomed"), "stop");
    EXPECT_THAT(codes_of(result), ::testing::Not(::testing::Contains("target-not-found")));
}

TEST(JobPhotos, OneThatIsUsedTwiceIsUsedOnceInTheAnswerAndStillStops) {
    JobFolder job;
    job.add_pair();
    const Json good = measured(job);
    job.write("c.jpg", read_file(job.file("a.jpg"), 1 << 24));
    job.change("file: b.jpg",
               "      - {file: b.jpg, cradle: inverted}\n      - {file: c.jpg, cradle: upright}");
    const Json result = measured(job);
    EXPECT_EQ(result["sightings"][0]["vision"]["yaw_left_deg"],
              good["sightings"][0]["vision"]["yaw_left_deg"]);
    EXPECT_EQ(level_of(result, "photo-reused"), "stop");
    EXPECT_EQ(level_of(result, "photo-set-aside"), "note");
}

// No word of the file tells of it: a picture that was cut out and blown up.
TEST(JobPhotos, OneThatContradictsTheTapeAloneIsSetAsideWhereOthersDoNot) {
    JobFolder job;
    job.add_pair();
    const Json good = measured(job);
    test::PhotoTags later;
    later.taken_at = "2026:03:02 08:18:30";
    job.add_photo("blown-up.jpg", 1, later, 1.04);
    job.change("file: b.jpg",
               "      - {file: b.jpg, cradle: inverted}\n"
               "      - {file: blown-up.jpg, cradle: upright}");
    const Json result = measured(job);
    EXPECT_EQ(result["sightings"][0]["vision"]["yaw_left_deg"],
              good["sightings"][0]["vision"]["yaw_left_deg"]);
    EXPECT_EQ(level_of(result, "distance-mismatch"), "warning");
    EXPECT_EQ(level_of(result, "photo-set-aside"), "note");
}

TEST(JobPhotos, AFaceThatPointsWhereNoMountDoesGivesNoNumber) {
    for (const double pitch_up : {12.0, 18.0}) {
        JobFolder job;
        job.truth[pitch_up_deg] = pitch_up;
        job.add_pair();
        const Json result = measured(job);
        const bool plausible = pitch_up < 15;
        EXPECT_EQ(result["sightings"][0]["vision"]["pitch_up_deg"].is_null(), !plausible);
        EXPECT_EQ(std::ranges::count(codes_of(result), "pose-implausible"), plausible ? 0 : 1);
    }
}

TEST(JobPhotos, WhereOnlyOriginalsCountACopyThatLostItsPhonesNameDoesNot) {
    JobFolder job;
    job.add_pair();
    const auto picture = test::raster_picture(job.truth);
    std::vector<unsigned char> bytes;
    cv::imencode(".jpg", picture, bytes);
    job.write("a.jpg", std::string(bytes.begin(), bytes.end()));
    EXPECT_EQ(level_of(measured(job), "camera-unverified"), "warning");
    EXPECT_EQ(level_of(measured(job), "photo-set-aside"), "");
    job.sheet.insert(job.sheet.begin() + 1, "originals_only: yes");
    EXPECT_EQ(level_of(measured(job), "photo-set-aside"), "note");
}

TEST(JobPhotos, AnOldPhoneCheckIsTold) {
    JobFolder job;
    job.add_pair();
    const std::string camera = read_file(job.file("camera.yaml"), 1 << 20);
    job.write("camera.yaml", camera + "date: 2025-03-02\n");
    EXPECT_THAT(codes_of(measured(job)), ::testing::Not(::testing::Contains("calibration-old")));
    job.write("camera.yaml", camera + "date: 2025-03-01\n");
    EXPECT_THAT(codes_of(measured(job)), ::testing::Contains("calibration-old"));
}

TEST(JobPhotos, AnotherSizeThanTheCameraFileStops) {
    JobFolder job;
    job.add_pair();
    std::string camera = read_file(job.file("camera.yaml"), 1 << 20);
    camera.replace(camera.find("1200"), 4, "1201");
    job.write("camera.yaml", camera);
    const Json result = measured(job);
    EXPECT_THAT(codes_of(result), ::testing::Contains("camera-mismatch"));
    EXPECT_TRUE(result["sightings"][0]["vision"]["yaw_left_deg"].is_null());
}

TEST(JobPhotos, ABoardOnItsHeadStops) {
    JobFolder job;
    job.truth[target_roll_clockwise_deg] = 180;
    job.add_pair();
    EXPECT_THAT(codes_of(measured(job)), ::testing::Contains("target-turned"));
}

TEST(JobPhotos, APrintAt97PercentStops) {
    JobFolder job;
    job.add_photo("a.jpg", 0, {}, 0.97);
    test::PhotoTags inverted;
    inverted.orientation = 3;
    inverted.taken_at = "2026:03:02 08:17:30";
    job.add_photo("b.jpg", 180, inverted, 0.97);
    EXPECT_THAT(codes_of(measured(job)), ::testing::Contains("distance-mismatch"));
}

TEST(JobStages, AsLeftAsksForLockedScrews) {
    JobFolder job;
    job.add_pair();
    job.change("stage:", "  - stage: as-left");
    EXPECT_THAT(codes_of(measured(job)), ::testing::Contains("not-locked"));
    job.sheet.emplace_back("    locked: yes");
    EXPECT_THAT(codes_of(measured(job)), ::testing::Not(::testing::Contains("not-locked")));
}

TEST(JobStages, TapeAndLevelAloneIsAJobToo) {
    JobFolder job;
    job.sheet = {"schema: squaresight/job/1",
                 "job: tape only",
                 "mount: mount.yaml",
                 "sightings:",
                 "  - stage: as-found",
                 "    tape_and_level:",
                 "      face_display: 89.4 deg",
                 "      left_point: 12 in",
                 "      right_point: 12 in",
                 "      passes: [{left: 7 in, right: 7 1/8 in}]"};
    const Json result = measured(job);
    const Json& tape = result["sightings"][0]["tape_and_level"];
    // Common practice, no source: 1/8 in on tapes 12 in each side of the centreline is 0.298 deg.
    EXPECT_NEAR(tape["yaw_left_deg"]["value"].get<double>(), 0.298, 0.0005);
    EXPECT_NEAR(tape["pitch_up_deg"]["value"].get<double>(), 0.6, 1e-9);
    EXPECT_TRUE(result["sightings"][0]["vision"].is_null());
    EXPECT_EQ(result["sightings"][0]["corrections"].size(), 2u);
}

TEST(JobStages, TapeStillAnswersWherePhotosFail) {
    JobFolder job;  // its photos do not exist
    const Json result = measured(job);
    const Json& sighting = result["sightings"][0];
    EXPECT_TRUE(sighting["vision"]["yaw_left_deg"].is_null());
    EXPECT_THAT(codes_of(result), ::testing::Contains("photo-unreadable"));
    EXPECT_EQ(sighting["tape_and_level"]["verdict"]["pitch"]["call"], "in tolerance");
    EXPECT_EQ(sighting["corrections"].size(), 2u);
}

TEST(JobStages, AStageOfTapeAloneMayComeBeforeAStageWithPhotos) {
    JobFolder job;
    job.add_pair();
    job.change("stage:", "  - stage: adjusted");
    job.sheet.insert(job.sheet.begin() + 6,
                     {"  - stage: as-found", "    tape_and_level:", "      face_level: -0.9 deg"});
    Json result = measured(job);
    EXPECT_TRUE(result["sightings"][0]["vision"].is_null());
    const double yaw_deg = result["sightings"][1]["vision"]["yaw_left_deg"]["value"];
    job.sheet.insert(job.sheet.begin() + 7, "    setup: {rail_zero: 0 deg +/- 0.1 deg}");
    result = measured(job);
    EXPECT_NEAR(result["sightings"][1]["vision"]["yaw_left_deg"]["value"].get<double>(), yaw_deg,
                1e-9);
}

TEST(JobStages, ADisagreementStandsUntilTheMethodsAreComparedAgain) {
    JobFolder job;
    job.add_pair();
    job.change("passes:", "      passes: [{left: 7 12/16 in, right: 7 in}]");  // sides swapped
    test::PhotoTags later;
    later.taken_at = "2026:03:02 09:00:00";
    job.truth[yaw_left_deg] = 0;
    job.add_photo("c.jpg", 1, later);
    for (const auto line : {"  - stage: adjusted", "    setup: same",
                            "    photos:", "      - {file: c.jpg, cradle: upright}"}) {
        job.sheet.emplace_back(line);
    }
    const JobResult result = measure_job(job.write_sheet());
    EXPECT_EQ(result.sightings[0].agreement->yaw->call, AgreementCall::disagree);
    EXPECT_THAT(codes_of(Json::parse(result_json(result))["sightings"][1]),
                ::testing::Contains("methods-disagree"));
    EXPECT_FALSE(answer_is_yes(result));
}

struct BadLine {
    const char* part;  ///< which line of the sheet is changed
    const char* line;
    const char* says;  ///< what the refusal must hold
};

class BadSheet : public ::testing::TestWithParam<BadLine> {};

TEST_P(BadSheet, IsRefusedWithFileLineAndWhatToDo) {
    JobFolder job;
    job.change(GetParam().part, GetParam().line);
    const std::string text = refusal(job);
    EXPECT_THAT(text, AllOf(HasSubstr("job.yaml"), HasSubstr(GetParam().says))) << text;
    EXPECT_EQ(std::count(text.begin(), text.end(), '\n'), 0);
}

INSTANTIATE_TEST_SUITE_P(
    Lines, BadSheet,
    ::testing::Values(
        BadLine{"distance:", "      distnace: 3000 mm", "did you mean 'distance'?"},
        BadLine{"distance:", "      distance: 3000", "job.yaml:10:"},
        BadLine{"distance:", "      distance: 3000", "no unit"},
        BadLine{"distance:", "      distance: 3 deg", "which is no length"},
        BadLine{"distance:", "      distance: 3000 furlongs", "unknown unit"},
        BadLine{"distance:", "      distance: nan mm", "not a number"},
        BadLine{"distance:", "      distance: -3000 mm", "out of range"},
        BadLine{"distance:", "      distance: 3000 km", "unknown unit"},
        BadLine{"distance:", "      distance: 1e30 mm", "number"},
        BadLine{"distance:", "      distance: 3000 mm +/- -3 mm", "negative limit"},
        BadLine{"distance:", "      distance: 3000\u00a0mm", "special sign"},
        BadLine{"floor_rise", "      floor_rise: 40 deg", "out of range"},
        BadLine{"schema:", "", "squaresight/job/1"},
        BadLine{"distance:", "      distance:", "no value"},
        BadLine{"distance:", "      {}", "not valid YAML"},
        BadLine{"distance:", "      distance: 3000 mm\n      distance: 3000 mm", "twice"},
        BadLine{"target_height", "", "one of target_height and mount_height"},
        BadLine{"stage:", "  - stage: as-fuond", "did you mean 'as-found'?"},
        BadLine{"schema:", "schema: squaresight/mount/1", "squaresight/job/1"},
        BadLine{"schema:", "schema: squaresight/job/9", "squaresight/job/1"},
        BadLine{"mount: ", "", "has no 'mount'"},
        BadLine{"mount: ", "mount: nothing.yaml", "job.yaml:3: mount: names 'nothing.yaml'"},
        BadLine{"camera: ", "", "photos but no 'camera'"},
        BadLine{"cradle: upright", "      - {file: a.jpg, cradle: sideways}", "upright, inverted"},
        BadLine{"passes:", "      passes: []", "empty list"},
        BadLine{"passes:", "      passes: [{left: 7 in}]", "has no 'right'"},
        BadLine{"left_point", "      left_point: 20 in +/- 1 in", "takes no limits"},
        BadLine{"face_level", "      face_level: [0.6 mm]", "which is no angle"},
        BadLine{"tape_and_level", "    locked: perhaps\n    tape_and_level:", "yes, no"}));

TEST(BadSheets, ZeroSightingsAndWrongOrderAreRefused) {
    JobFolder job;
    job.sheet.resize(5);
    job.sheet.emplace_back("sightings: []");
    EXPECT_THAT(refusal(job), HasSubstr("empty list"));
    JobFolder order;
    order.sheet.insert(order.sheet.begin() + 6,
                       {"  - stage: as-left", "    tape_and_level:", "      face_level: 0 deg"});
    EXPECT_THAT(refusal(order), HasSubstr("the order is as-found"));
}

TEST(BadSheets, FilesOfTheWrongKindAreRefused) {
    Scratch scratch;
    const auto says = [&](const std::filesystem::path& file) -> std::string {
        try {
            measure_job(file);
        } catch (const InputError& error) {
            return error.what();
        }
        return "was accepted";
    };
    EXPECT_THAT(says(scratch.folder() / "none.yaml"), HasSubstr("no such file"));
    EXPECT_THAT(says(scratch.folder()), HasSubstr("folder"));
    EXPECT_THAT(says(scratch.write("empty.yaml", "")), HasSubstr("empty"));
    EXPECT_THAT(says(scratch.write("binary.yaml", std::string("\x89PNG\0\x01", 6))),
                HasSubstr("not a text file"));
    EXPECT_THAT(says(scratch.write("list.yaml", "- a\n- b\n")), HasSubstr("schema"));
    EXPECT_THAT(says(scratch.write("cut.yaml", "schema: squaresight/job/1\njob: \"10")),
                HasSubstr("not valid YAML"));
    EXPECT_THAT(says(scratch.write("deep.yaml", std::string(100000, '['))),
                HasSubstr("not valid YAML"));
}

TEST(BadSheets, AScrewThatTheMountDoesNotHaveIsNamed) {
    JobFolder job;
    job.add_pair();
    job.sheet.emplace_back("    turned: {uper: 1 clockwise}");
    EXPECT_THAT(refusal(job), HasSubstr("did you mean 'upper'?"));
}

TEST(MeasureCommand, WritesBesideTheSheetAndPrintsTheSameBytes) {
    JobFolder job;
    job.add_pair();
    const auto sheet = job.write_sheet().string();
    const Finished words = run_squaresight("measure '" + sheet + "'");
    EXPECT_EQ(words.exit_code, 0) << words.output;
    EXPECT_THAT(words.output, ::testing::StartsWith("DO THIS"));
    const std::string written = read_file(job.file("job.result.json"), 1 << 24);
    EXPECT_TRUE(std::filesystem::exists(job.file("job.report.html")));
    EXPECT_TRUE(std::filesystem::exists(job.file("job.photos")));
    const Finished json = run_squaresight("measure --json '" + sheet + "'");
    EXPECT_EQ(json.output, written);
    EXPECT_EQ(run_squaresight("measure --gate --json '" + sheet + "'").exit_code, 1);
    EXPECT_EQ(run_squaresight("compare '" + sheet + "'").exit_code, 0);
}

TEST(MeasureCommand, ExitCodesTellUsageFromInput) {
    EXPECT_EQ(run_squaresight("measure").exit_code, 2);
    EXPECT_EQ(run_squaresight("measure --no-such-flag x").exit_code, 2);
    EXPECT_EQ(run_squaresight("no-such-command").exit_code, 2);
    EXPECT_EQ(run_squaresight("measure 'no such sheet.yaml'").exit_code, 3);
    EXPECT_EQ(run_squaresight("measure --help").exit_code, 0);
}

TEST(MeasureCommand, AResultThatCannotBeWrittenLeavesTheOldOne) {
    JobFolder job;
    job.add_pair();
    const auto sheet = job.write_sheet().string();
    ASSERT_EQ(run_squaresight("measure '" + sheet + "'").exit_code, 0);
    const std::string before = read_file(job.file("job.result.json"), 1 << 24);
    // A file-size limit stands in for a full disk: the write fails half-way.
    const Finished full =
        run_command("ulimit -f 1; trap '' XFSZ; '" + std::string(SQUARESIGHT_BINARY) +
                    "' measure '" + sheet + "'");
    EXPECT_EQ(full.exit_code, 3) << full.output;
    EXPECT_THAT(full.output, HasSubstr("cannot be written"));
    EXPECT_EQ(read_file(job.file("job.result.json"), 1 << 24), before);
}

TEST(Measure, SaysWhereNothingShowsThatTheTruckStayedUnderTheSameSetup) {
    const Scratch scratch;
    PracticeBay bay = load_practice_bay(std::filesystem::path(SQUARESIGHT_SOURCE_DIR) /
                                        "samples/bays/main-bay.yaml");
    const auto says_so = [](const SightingResult& sighting) {
        const Findings findings = sighting.all_findings();
        return std::any_of(findings.begin(), findings.end(), [](const Finding& finding) {
            return finding.code == "unchecked-reading" &&
                   finding.text.find("it is taken as said") != std::string::npos;
        });
    };
    const auto measured = [&](const char* folder) {
        PracticeOptions options;
        options.seed = 4;
        return measure_job(make_practice_job(bay, options, 1, scratch.folder() / folder).sheet);
    };
    const JobResult with_tape = measured("with");
    ASSERT_TRUE(with_tape.sightings.back().agreement);
    ASSERT_EQ(with_tape.sightings.back().agreement->yaw->call, AgreementCall::agree);
    EXPECT_FALSE(says_so(with_tape.sightings.back()));
    bay.bay.tape_and_level.reset();
    const JobResult without = measured("without");
    ASSERT_GT(without.sightings.size(), 1U);
    EXPECT_FALSE(says_so(without.sightings.front()));
    EXPECT_TRUE(says_so(without.sightings.back()));
}

}  // namespace
}  // namespace squaresight

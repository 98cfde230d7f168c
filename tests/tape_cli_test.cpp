#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "support/command.h"
#include "support/practice_mount.h"
#include "support/scratch.h"

namespace squaresight {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;

const std::string points = "--left-point '20 in' --right-point '20 in' ";
const std::string example =
    points + "--left '7 5/16 in' --right '7 1/2 in' --face-level '0.6 deg' ";

Finished tape(const std::string& arguments) { return run_squaresight("tape " + arguments); }

nlohmann::json tape_json(const std::string& arguments) {
    const auto done = tape(arguments + " --json");
    EXPECT_EQ(done.exit_code, 0) << done.output;
    return nlohmann::json::parse(done.output).at("sightings");
}

TEST(TapeCommand, SaysWhereTheFaceLooksAndHowSureThatIs) {
    const auto done = tape(example);
    EXPECT_EQ(done.exit_code, 0);
    // 3/16 in over 40 in is 0.269 deg.
    EXPECT_THAT(done.output,
                AllOf(HasSubstr("0.27 deg to the left"), HasSubstr("nose 0.60 deg up"),
                      HasSubstr("not sure"), HasSubstr("Service limit NOT MET side to side"),
                      HasSubstr("Service limit MET up-down"), HasSubstr("bumper square"),
                      HasSubstr("Laser")));
}

TEST(TapeCommand, JsonHoldsTheResultFilesShapes) {
    const auto stage = tape_json(example).at(0);
    const auto& yaw = stage.at("tape_and_level").at("yaw_left_deg");
    EXPECT_NEAR(yaw.at("value").get<double>(), std::atan(0.1875 / 40) * 180 / M_PI, 1e-9);
    EXPECT_NEAR(yaw.at("expanded_95").get<double>(),
                2 * yaw.at("standard_uncertainty").get<double>(), 1e-12);
    EXPECT_EQ(stage.at("tape_and_level").at("service_limit").at("yaw"), "not met");
    EXPECT_EQ(stage.at("tape_and_level").at("verdict").at("pitch").at("call"), "in tolerance");
    EXPECT_TRUE(stage.at("vision").is_null());
}

TEST(TapeCommand, InchesAndMillimetresGiveTheSame) {
    const auto inches = tape_json(example).at(0).at("tape_and_level");
    const auto millimetres =
        tape_json(
            "--left-point '508 mm' --right-point '50.8 cm' --left '185.7375 mm' --right "
            "'190.5 mm' --face-level '36 arcmin'")
            .at(0)
            .at("tape_and_level");
    for (const char* axis : {"yaw_left_deg", "pitch_up_deg"}) {
        for (const char* key : {"value", "standard_uncertainty"}) {
            EXPECT_NEAR(inches.at(axis).at(key).get<double>(),
                        millimetres.at(axis).at(key).get<double>(), 1e-9);
        }
    }
}

TEST(TapeCommand, AveragesPassesAndReadsTheDisplay) {
    const auto stage = tape_json(points +
                                 "--left 7in --right '7 1/4 in' --left 7in --right '7 1/2 "
                                 "in' --face-display '89.4 deg'")
                           .at(0)
                           .at("tape_and_level");
    EXPECT_NEAR(stage.at("yaw_left_deg").at("value").get<double>(),
                std::atan(0.375 / 40) * 180 / M_PI, 1e-9);
    EXPECT_NEAR(stage.at("pitch_up_deg").at("value").get<double>(), 0.6, 1e-9);
}

TEST(TapeCommand, WithAMountSaysWhatToTurn) {
    const Scratch scratch;
    const auto mount = scratch.write("mount.yaml", practice_mount).string();
    const auto done =
        tape(points + "--left 7in --right 8in --face-level '0 deg' --gate --mount " + mount);
    EXPECT_EQ(done.exit_code, 1);
    EXPECT_THAT(done.output, AllOf(HasSubstr("DO THIS: Turn the side screw 3 turns "
                                             "counter-clockwise"),
                                   HasSubstr("out of tolerance")));
}

TEST(TapeCommand, GateFollowsTheAnswer) {
    // 36 in each side with a bumper known to 1 mm: u = 0.03 deg, which can show 0.3 deg.
    const std::string fine =
        "--left-point '36 in' --right-point '36 in' --bumper-square '0 mm +/- 1 mm' "
        "--face-level '0 deg' --left 7in --gate --right ";
    EXPECT_EQ(tape(fine + "7in").exit_code, 0);
    EXPECT_EQ(tape(fine + "8in").exit_code, 1);
    EXPECT_EQ(tape(example + "--gate").exit_code, 1);
}

TEST(TapeCommand, SaysWhereItCannotDecide) {
    const auto done = tape(
        "--left-point '12 in' --right-point '12 in' --left 7in --right 7in "
        "--bumper-square '0 mm +/- 5 mm' --face-level '0 deg'");
    EXPECT_THAT(done.output, HasSubstr("cannot show the side-to-side aim within 0.30 deg"));
    EXPECT_THAT(done.output, HasSubstr("'bumper square'"));
}

TEST(TapeCommand, ReadsAJobSheetStageByStage) {
    const Scratch scratch;
    scratch.write("mount.yaml", practice_mount);
    const auto sheet = scratch.write("job.yaml", R"(schema: squaresight/job/1
job: "7"
mount: mount.yaml
sightings:
  - stage: as-found
    setup: {rail_zero: 0.1 deg +/- 0.05 deg}
    tape_and_level:
      face_level: [0.6 deg, 0.5 deg]
      left_point: 20 in
      right_point: 20 in
      passes: [{left: 7 in, right: 8 in}]
    turned: {side: 3 counter-clockwise}
  - stage: as-left
    setup: same
    tape_and_level:
      face_display: 90.1 deg
      left_point: 20 in
      right_point: 20 in
      passes: [{left: 7 in, right: 7 in}]
)");
    const auto stages = tape_json(sheet.string());
    ASSERT_EQ(stages.size(), 2u);
    EXPECT_NEAR(stages[0].at("tape_and_level").at("pitch_up_deg").at("value").get<double>(), 0.65,
                1e-9);
    EXPECT_NEAR(stages[1].at("tape_and_level").at("pitch_up_deg").at("value").get<double>(), 0.0,
                1e-9);
    EXPECT_EQ(stages[0].at("corrections").at(1).at("turns"), 3);
    EXPECT_THAT(tape(sheet.string()).output, AllOf(HasSubstr("as found"), HasSubstr("as left")));
}

TEST(TapeCommand, CountsTurnsAlreadyMadeAgainstTheTravel) {
    const Scratch scratch;
    scratch.write("mount.yaml", practice_mount);
    const std::string sheet = R"(schema: squaresight/job/1
job: "8"
mount: mount.yaml
sightings:
  - stage: as-found
    tape_and_level: {face_level: 0 deg, left_point: 20 in, right_point: 20 in, passes: [{left: 7 in, right: 8 in}]}
    turned: {side: 5 counter-clockwise}
  - stage: adjusted
    tape_and_level: {face_level: 0 deg, left_point: 20 in, right_point: 20 in, passes: [{left: 7 in, right: 8 in}]}
)";
    EXPECT_THAT(tape(scratch.write("job.yaml", sheet).string()).output,
                AllOf(HasSubstr("8 turns counter-clockwise"), HasSubstr("bent bracket")));
    std::string misspelt = sheet;
    misspelt.replace(misspelt.find("turned: {side"), 13, "turned: {sied");
    const auto done = tape(scratch.write("job.yaml", misspelt).string());
    EXPECT_EQ(done.exit_code, 3);
    EXPECT_THAT(done.output, HasSubstr("turned.sied"));
}

TEST(TapeCommand, RefusesInOneLine) {
    for (const std::string& arguments :
         {std::string(), points + "--left 7in", points + "--left 7 --right 7in",
          points + "--left -7in --right 7in", std::string("--left 7in --right 7in"),
          std::string("--left-point 0in --right-point 20in --left 7in --right 7in"),
          example + "--face-display '89 deg'", example + "--bumper-square '3 deg'",
          example + "--beam-level '500 deg'", example + "--mount no-such.yaml",
          std::string("no-such-job.yaml"), example + "no-such-job.yaml"}) {
        const auto done = tape(arguments);
        EXPECT_EQ(done.exit_code, 3) << arguments << done.output;
        EXPECT_EQ(std::count(done.output.begin(), done.output.end(), '\n'), 1) << done.output;
    }
    EXPECT_EQ(tape(example + "--beam above").exit_code, 2);
    EXPECT_EQ(tape(example + "--frobnicate").exit_code, 2);
}

TEST(TapeHelp, ShowsAnExample) {
    EXPECT_THAT(tape("--help").output, HasSubstr("Example: squaresight tape"));
}

}  // namespace
}  // namespace squaresight

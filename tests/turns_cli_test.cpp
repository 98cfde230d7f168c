#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "support/command.h"
#include "support/practice_mount.h"
#include "support/scratch.h"

namespace squaresight {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;
using ::testing::Not;

class TurnsCommand : public ::testing::Test {
  protected:
    Finished turns(const std::string& arguments, const std::string& mount = practice_mount) {
        return run_squaresight("turns '" + scratch_.write("mount.yaml", mount).string() + "' " +
                               arguments);
    }
    std::filesystem::path beside(const std::string& name) const { return scratch_.folder() / name; }

  private:
    Scratch scratch_;
};

TEST_F(TurnsCommand, SaysWhichScrewWhichWayAndHowFar) {
    const auto done = turns("--yaw-left '0.7 deg' --pitch-up '-0.6 deg'");
    EXPECT_EQ(done.exit_code, 0);
    EXPECT_THAT(
        done.output,
        AllOf(HasSubstr("0.70 deg to the left, nose 0.60 deg down"),
              HasSubstr("1 1/2 turns counter-clockwise"), HasSubstr("1 1/8 turns clockwise"),
              HasSubstr("facing the screw's head"), HasSubstr("come up to it again"),
              HasSubstr("should point 0.02 deg to the right, nose 0.01 deg up")));
}

TEST_F(TurnsCommand, TakesTheSensorsOwnReading) {
    std::string right = practice_mount;
    right.replace(right.find("positive: left"), 14, "positive: right");
    right.resize(right.find("turn_table"));
    EXPECT_THAT(turns("--yaw-reading '-0.7 deg'", right).output,
                AllOf(HasSubstr("0.70 deg to the left"), HasSubstr("counter-clockwise")));
    EXPECT_THAT(turns("--yaw-reading -0.7deg").output, HasSubstr("0.70 deg to the right"));
}

TEST_F(TurnsCommand, CarriesLimitsOfErrorIntoTheTurns) {
    // 0.1 deg on 120 mm is 0.21 turns; a rectangular limit, doubled: 2 / sqrt(3) of that.
    EXPECT_THAT(turns("--yaw-left '0.7 deg +/- 0.1 deg'").output, HasSubstr("give or take 0.24"));
}

TEST_F(TurnsCommand, JsonHoldsTheResultFilesShapes) {
    const auto done = turns("--yaw-left '-1.4 deg' --json");
    EXPECT_EQ(done.exit_code, 0);
    const auto json = nlohmann::json::parse(done.output);
    EXPECT_EQ(json.at("schema"), "squaresight/result/1");
    const auto& corrections = json.at("sightings").at(0).at("corrections");
    ASSERT_EQ(corrections.size(), 2u);
    EXPECT_EQ(corrections[1].at("screw"), "side");
    EXPECT_EQ(corrections[1].at("direction"), "clockwise");
    EXPECT_EQ(corrections[1].at("turns"), 2.875);
    EXPECT_EQ(corrections[0].at("turns"), 0);
}

TEST_F(TurnsCommand, StopsAtABentBracket) {
    const auto done = turns("--yaw-left '3.4 deg'");
    EXPECT_EQ(done.exit_code, 0);
    EXPECT_THAT(done.output, AllOf(HasSubstr("STOP: do not turn"), HasSubstr("bent bracket"),
                                   Not(HasSubstr("come up to it again"))));
}

TEST_F(TurnsCommand, DrawsACardOfOnePage) {
    const auto done = turns("--card '" + beside("card.pdf").string() + "'");
    EXPECT_EQ(done.exit_code, 0) << done.output;
    const auto info = run_command("pdfinfo '" + beside("card.pdf").string() + "'").output;
    EXPECT_THAT(info, AllOf(HasSubstr("Pages:           1"), HasSubstr("(A4)")));
    const auto words =
        run_command("pdftotext -layout '" + beside("card.pdf").string() + "' -").output;
    EXPECT_THAT(words, AllOf(HasSubstr("practice mount"), HasSubstr("LEFT (+)"),
                             HasSubstr("counter-clockwise"), HasSubstr("2 1/8"),
                             HasSubstr("Source: practice data"), HasSubstr("Card printed"),
                             HasSubstr("service information comes first")));
}

TEST_F(TurnsCommand, CardWarnsWhereTableAndGeometryDiffer) {
    std::string wrong = practice_mount;
    wrong.replace(wrong.find("2 counter"), 9, "3 counter");
    turns("--card '" + beside("card.pdf").string() + "'", wrong);
    EXPECT_THAT(run_command("pdftotext '" + beside("card.pdf").string() + "' -").output,
                HasSubstr("DO NOT USE"));
}

TEST_F(TurnsCommand, RefusesInOneLine) {
    for (const char* arguments :
         {"", "--yaw-left 5", "--yaw-left '5 mm'", "--yaw-left 'nan deg'", "--pitch-up '1e9 deg'",
          "--yaw-left ''", "--card /dev/null/card.pdf"}) {
        const auto done = turns(arguments);
        EXPECT_EQ(done.exit_code, 3) << arguments << done.output;
        EXPECT_EQ(std::count(done.output.begin(), done.output.end(), '\n'), 1) << done.output;
    }
    EXPECT_THAT(turns("--yaw-left 5").output, HasSubstr("--yaw-left"));
    EXPECT_EQ(turns("--yaw-left 1deg --yaw-reading 1deg").exit_code, 2);
    EXPECT_EQ(turns("--yawleft 1deg").exit_code, 2);
    EXPECT_EQ(run_squaresight("turns").exit_code, 2);
    EXPECT_EQ(run_squaresight("turns no-such.yaml --yaw-left 1deg").exit_code, 3);
}

TEST(TurnsHelp, ShowsAnExample) {
    const auto done = run_squaresight("turns --help");
    EXPECT_EQ(done.exit_code, 0);
    EXPECT_THAT(done.output, HasSubstr("Example: squaresight turns"));
}

}  // namespace
}  // namespace squaresight

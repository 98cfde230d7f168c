#include "job/words.h"

#include <gtest/gtest.h>

#include <limits>

namespace squaresight {
namespace {

constexpr double nan_value = std::numeric_limits<double>::quiet_NaN();

TEST(Words, SayWhereTheFaceLooksWithoutSigns) {
    EXPECT_EQ(aim_words(0.7, -0.6), "0.70 deg to the left, nose 0.60 deg down");
    EXPECT_EQ(aim_words(-1.234, 0.5), "1.23 deg to the right, nose 0.50 deg up");
    EXPECT_EQ(aim_words(0, 0), "straight ahead, nose level");
}

TEST(Words, NeverShowASideForAnAngleThatIsShownAsZero) {
    EXPECT_EQ(side_words(0.0049), "straight ahead");
    EXPECT_EQ(side_words(-0.0049), "straight ahead");
    EXPECT_EQ(side_words(0.0051), "0.01 deg to the left");
    EXPECT_EQ(nose_words(-0.0001), "nose level");
}

TEST(Words, SayUnknownForNumbersThatAreNone) {
    EXPECT_EQ(aim_words(nan_value, nan_value), "side-to-side aim unknown, up-down aim unknown");
    EXPECT_EQ(give_or_take(nan_value), "give or take unknown");
    EXPECT_EQ(percent_words(nan_value), "unknown");
}

TEST(Words, SayHowSureACallIs) {
    EXPECT_STREQ(sure_words(0.995, Call::in_tolerance), "very sure");
    EXPECT_STREQ(sure_words(0.96, Call::in_tolerance), "sure");
    EXPECT_STREQ(sure_words(0.04, Call::out_of_tolerance), "sure");
    EXPECT_STREQ(sure_words(0.001, Call::out_of_tolerance), "very sure");
    EXPECT_STREQ(sure_words(0.999, Call::too_close_to_call), "not sure");
}

TEST(Words, NeverRoundAProbabilityToCertainty) {
    EXPECT_EQ(percent_words(1), "more than 99.9 %");
    EXPECT_EQ(percent_words(0.996), "99.6 %");
    EXPECT_EQ(percent_words(0.5), "50 %");
    EXPECT_EQ(percent_words(0), "less than 0.1 %");
    EXPECT_EQ(give_or_take(0.11), "give or take 0.11 deg");
    Mount mount;
    EXPECT_EQ(limit_words(mount, Axis::pitch),
              "limit 1.50 deg either way (common practice, no source)");
    mount.tolerance_stated = true;
    EXPECT_EQ(limit_words(mount, Axis::yaw), "limit 0.30 deg either way");
}

TEST(Words, KeysOfTheJobSheetBecomeShopWords) {
    EXPECT_EQ(in_shop_words("misread: line, target_left, target_roll_clockwise."),
              "misread: line, board left or right of the line, board tilted.");
}

}  // namespace
}  // namespace squaresight

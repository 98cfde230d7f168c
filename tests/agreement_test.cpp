#include "agreement/agreement.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>

#include "agreement/culprit.h"

namespace squaresight {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

constexpr double nan_value = std::numeric_limits<double>::quiet_NaN();

// ---- E_n

/// A cause that moves both methods by as much.
std::vector<SharedCause> rail_zero(double deg) { return {{"rail zero", deg, deg}}; }

TEST(Agreement, EnIsTheDifferenceOverItsExpandedUncertainty) {
    // ISO 13528:2015, E_n = (x - X) / sqrt(U_x^2 + U_X^2), with U = 2 u (formula from memory).
    const auto agreement = compare_methods({0.9, 0.05}, {0.7, 0.12}, {}, 0.3);
    EXPECT_NEAR(agreement.difference_deg, 0.2, 1e-12);
    EXPECT_NEAR(agreement.expanded_95_deg, 0.26, 1e-12);
    EXPECT_NEAR(agreement.en, 0.2 / 0.26, 1e-12);
    EXPECT_EQ(agreement.call, AgreementCall::agree);
}

TEST(Agreement, CallsFollowEnAndWhatCanBeTold) {
    EXPECT_EQ(compare_methods({1, 0.05}, {0.7, 0.12}, {}, 0.3).call, AgreementCall::disagree);
    EXPECT_EQ(compare_methods({0.9, 0.05}, {0.7, 0.2}, {}, 0.3).call, AgreementCall::cannot_tell);
    // Far apart is far apart, however wide U(d).
    EXPECT_EQ(compare_methods({2, 0.05}, {0.7, 0.2}, {}, 0.3).call, AgreementCall::disagree);
}

TEST(Agreement, WhatBothShareDropsOut) {
    // The rail zero enters both pitches alike: only the rest of each can make them differ.
    const double shared = 0.0577;
    const Estimate vision{0.5, std::hypot(shared, 0.05)};
    const Estimate tape{0.4, std::hypot(shared, 0.06)};
    const auto agreement = compare_methods(vision, tape, rail_zero(shared), 1.5);
    EXPECT_NEAR(agreement.expanded_95_deg, 2 * std::hypot(0.05, 0.06), 1e-12);
    EXPECT_LT(agreement.expanded_95_deg, compare_methods(vision, tape, {}, 1.5).expanded_95_deg);
}

TEST(Agreement, AnErrorOfTheSizeItNamesShowsInFourOfFive) {
    const unsigned seed = 1502;
    SCOPED_TRACE(seed);
    std::mt19937 random(seed);
    std::normal_distribution<double> normal(0, 1);
    const Estimate exact{0, 0.05};
    const double from_deg = compare_methods(exact, {0, 0.12}, {}, 1).shows_from_deg;
    EXPECT_NEAR(from_deg, 2.84 * 0.13, 1e-12);
    int shown = 0;
    const int samples = 20000;
    for (int i = 0; i < samples; ++i) {
        const Estimate vision{from_deg + 0.05 * normal(random), 0.05};
        const Estimate tape{0.12 * normal(random), 0.12};
        shown += compare_methods(vision, tape, {}, 1).call == AgreementCall::disagree ? 1 : 0;
    }
    // Phi(0.84) = 0.7995; 20000 draws know it to 0.0028; 4 of these.
    EXPECT_NEAR(static_cast<double>(shown) / samples, 0.7995, 0.0115);
}

TEST(Agreement, EnExceedsOneInFivePercentOfHonestPairs) {
    const unsigned seed = 1501;
    SCOPED_TRACE(seed);
    std::mt19937 random(seed);
    std::normal_distribution<double> normal(0, 1);
    const double shared = 0.06;
    int beyond = 0;
    const int samples = 20000;
    for (int i = 0; i < samples; ++i) {
        const double common = shared * normal(random);
        const Estimate vision{common + 0.05 * normal(random), std::hypot(shared, 0.05)};
        const Estimate tape{common + 0.08 * normal(random), std::hypot(shared, 0.08)};
        beyond += compare_methods(vision, tape, rail_zero(shared), 1).en > 1 ? 1 : 0;
    }
    // P(|z| > 2) = 0.0455; 20000 draws know it to 0.0015; 4 of these.
    EXPECT_NEAR(static_cast<double>(beyond) / samples, 0.0455, 0.006);
}

TEST(Agreement, NumbersThatSayNothingCannotTell) {
    const Estimate bad[] = {{nan_value, 0.1}, {0, nan_value}, {0, 0}, {5, 0}};
    for (const auto& estimate : bad) {
        for (const auto& agreement : {compare_methods(estimate, {0, 0.1}, {}, 0.3),
                                      compare_methods({0, 0.1}, estimate, {}, 0.3)}) {
            EXPECT_EQ(agreement.call, AgreementCall::cannot_tell);
            EXPECT_TRUE(std::isfinite(agreement.en));
        }
    }
    EXPECT_EQ(compare_methods({0, 0.1}, {0, 0.1}, rail_zero(0.1), 0.3).call,
              AgreementCall::cannot_tell);
}

// ---- culprits

/// Readings of a face at 0.9 deg to the left, nose 0.8 deg up.
TapeAndLevel true_readings() {
    TapeAndLevel readings;
    readings.face_level_deg = {0.8, 0.8};
    readings.laser = Laser::beam;
    readings.bumper_square_limit_mm = measured_bumper_limit_mm;
    readings.left_point_mm = readings.right_point_mm = 20 * mm_per_inch;
    const double half_mm = std::tan(0.9 * rad_per_deg) * readings.left_point_mm;
    readings.passes = {{185 - half_mm, 185 + half_mm}, {185.3 - half_mm, 184.9 + half_mm}};
    return readings;
}

std::string culprit_of(const TapeAndLevel& readings) {
    return likely_culprit({{0.9, 0.05}}, {{0.8, 0.06}, rail_zero(0.0577)}, readings);
}

TEST(Culprit, IsSilentWhereTheMethodsAgree) { EXPECT_THAT(culprit_of(true_readings()), IsEmpty()); }

TEST(Culprit, AsksForSwappedSides) {
    auto readings = true_readings();
    for (auto& pass : readings.passes) {
        std::swap(pass.left_mm, pass.right_mm);
    }
    EXPECT_THAT(culprit_of(readings),
                HasSubstr("Swapping left and right makes both methods agree"));
    EXPECT_THAT(culprit_of(readings), HasSubstr("is the beam behind the points?"));
}

TEST(Culprit, AsksForTheBeamOnTheOtherSide) {
    auto readings = true_readings();
    readings.beam_ahead = false;
    EXPECT_THAT(culprit_of(readings), HasSubstr("is the beam ahead of the points?"));
}

TEST(Culprit, AsksForTheSwappedNose) {
    auto readings = true_readings();
    readings.face_level_deg = {-0.8, -0.8};
    EXPECT_THAT(culprit_of(readings),
                AllOf(HasSubstr("nose down instead of up"), Not(HasSubstr("left"))));
    readings.rail_zero_deg = -0.5;  // of the inclinometer, so it keeps its sign
    readings.face_level_deg = {-1.3, -1.3};
    EXPECT_THAT(culprit_of(readings), HasSubstr("nose down instead of up"));
}

TEST(Culprit, NamesThePassThatWasReadAnInchWrong) {
    auto readings = true_readings();
    readings.passes.resize(1);
    readings.passes[0].left_mm -= mm_per_inch;
    EXPECT_THAT(culprit_of(readings), HasSubstr("in pass 1, was left read an inch short"));
    readings = true_readings();
    readings.passes.resize(1);
    readings.passes[0].right_mm -= mm_per_inch;
    EXPECT_THAT(culprit_of(readings), HasSubstr("right an inch short"));
}

TEST(Culprit, AnInchInEveryPassMayAsWellBeTheBumper) {
    // Both passes show the same 25 mm: not one reading, but something both share.
    auto readings = true_readings();
    for (auto& pass : readings.passes) {
        pass.left_mm -= mm_per_inch;
    }
    EXPECT_THAT(culprit_of(readings),
                AllOf(HasSubstr("left read an inch short"), HasSubstr("in every pass"),
                      HasSubstr("left point further ahead")));
}

TEST(Culprit, SaysWhatBumperOrLineWouldExplainIt) {
    auto readings = true_readings();
    for (auto& pass : readings.passes) {
        pass.right_mm += 9;  // right point 9 mm behind where a square bumper has it
    }
    EXPECT_THAT(culprit_of(readings),
                AllOf(HasSubstr("by another 11/32 in,"), HasSubstr("left point further ahead"),
                      HasSubstr("0.50 deg off to the left"), HasSubstr("?")));
    readings.unit = LengthUnit::mm;
    EXPECT_THAT(culprit_of(readings), HasSubstr("by another 8.8 mm,"));
    for (auto& pass : readings.passes) {
        pass.right_mm -= 18;
    }
    EXPECT_THAT(culprit_of(readings),
                AllOf(HasSubstr("right point further ahead"), HasSubstr("off to the right")));
}

TEST(Culprit, ClaimsNothingOfASixteenth) {
    auto readings = true_readings();
    readings.passes.resize(1);
    readings.passes[0].left_mm -= mm_per_inch / 16;
    EXPECT_THAT(culprit_of(readings), IsEmpty());
}

TEST(Culprit, SaysSoWhereNothingSimpleExplainsIt) {
    auto readings = true_readings();
    for (auto& pass : readings.passes) {
        pass.right_mm += 120;
    }
    readings.face_level_deg = {2.5};
    EXPECT_THAT(culprit_of(readings), AllOf(HasSubstr("Side to side nothing simple"),
                                            HasSubstr("zero the inclinometer")));
}

TEST(Culprit, TakesNumbersThatSayNothing) {
    EXPECT_THAT(likely_culprit({{nan_value, 0.1}}, {{nan_value, 0.1}}, true_readings()), IsEmpty());
}

}  // namespace
}  // namespace squaresight

#include "adjust/decision.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <numbers>
#include <random>

namespace squaresight {
namespace {

constexpr double nan_value = std::numeric_limits<double>::quiet_NaN();
constexpr double infinite = std::numeric_limits<double>::infinity();

Call call_of(double value, double u) { return decide({value, u}, 0, 0.3).call; }

TEST(Decision, CallsTheYawToleranceOfTheTradeAtItsEdges) {
    // T = 0.3 deg, u = 0.055 deg: the guard is 1.645 u = 0.0905 deg.
    EXPECT_EQ(call_of(0.209, 0.055), Call::in_tolerance);
    EXPECT_EQ(call_of(0.210, 0.055), Call::too_close_to_call);
    EXPECT_EQ(call_of(0.390, 0.055), Call::too_close_to_call);
    EXPECT_EQ(call_of(0.391, 0.055), Call::out_of_tolerance);
    EXPECT_EQ(call_of(-0.209, 0.055), Call::in_tolerance);
    EXPECT_EQ(call_of(-0.391, 0.055), Call::out_of_tolerance);
}

// JCGM 106:2012, clause 7, the examples of a single measured item. Their inputs are from memory,
// the probabilities were computed from those inputs with scipy 1.10.1.
struct SingleItem {
    const char* name;
    double low, high, measured, u, conformance;
};

TEST(Decision, GivesTheConformanceProbabilityOfJcgm106) {
    // A limit on one side only is a tolerance whose other end is 50 u or more away.
    const SingleItem items[] = {
        {"Zener diode, upper limit -5.40 V", -7.40, -5.40, -5.47, 0.02, 0.9997673709209645},
        {"container, lower limit 490 kPa", 490, 1490, 509, 8.6, 0.9864231902243523},
        {"oil, 12.5 to 16.3 mm^2/s", 12.5, 16.3, 13.6, 1.8, 0.6626297864953079}};
    for (const auto& item : items) {
        const double middle = (item.low + item.high) / 2;
        const double half = (item.high - item.low) / 2;
        EXPECT_NEAR(decide({item.measured, item.u}, middle, half).probability, item.conformance,
                    1e-12)
            << item.name;
    }
}

// JCGM 106:2012, table 1: coverage factor z by conformance probability for one limit (printed 0.84,
// 1.28, 1.64, 2.33, 3.09; digits computed with scipy 1.10.1).
TEST(Decision, AgreesWithTheOneSidedTableOfJcgm106) {
    const double table[][2] = {{0.80, 0.8416212335729143},
                               {0.90, 1.2815515655446004},
                               {0.95, 1.6448536269514722},
                               {0.99, 2.3263478740408408},
                               {0.999, 3.090232306167813}};
    for (const auto& [probability, z] : table) {
        EXPECT_NEAR(decide({100 - z, 1}, 0, 100).probability, probability, 1e-12);
    }
}

// ISO 14253-1:2017: conformity is proved from 95 % on, which one-sided is a guard of 1.645 u.
TEST(Decision, MovesFromYesToNoAtTheGuardOfIso14253) {
    const double u = 0.01;  // the far limit is 60 u away
    const double guard = 1.6448536269514722 * u;
    EXPECT_EQ(call_of(0.3 - guard - 1e-9, u), Call::in_tolerance);
    EXPECT_EQ(call_of(0.3 - guard + 1e-9, u), Call::too_close_to_call);
    EXPECT_EQ(call_of(0.3 + guard - 1e-9, u), Call::too_close_to_call);
    EXPECT_EQ(call_of(0.3 + guard + 1e-9, u), Call::out_of_tolerance);
}

TEST(Decision, JudgesTheDistanceFromTheAim) {
    EXPECT_EQ(decide({0.5, 0.055}, 0.4, 0.3).call, Call::in_tolerance);
    EXPECT_EQ(decide({-0.1, 0.055}, 0.4, 0.3).call, Call::out_of_tolerance);
}

TEST(Decision, IsNeverInToleranceWhereUncertaintyIsTooLarge) {
    EXPECT_FALSE(cannot_decide(0.153, 0.3));
    EXPECT_TRUE(cannot_decide(0.154, 0.3));
    const unsigned seed = 20261125;
    SCOPED_TRACE(seed);
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> value(-1, 1);
    std::uniform_real_distribution<double> tolerance(0.05, 2);
    std::uniform_real_distribution<double> factor(1.0001, 100);
    for (int i = 0; i < 2000; ++i) {
        const double limit = tolerance(random);
        const double u = factor(random) * limit / 1.96;
        const Verdict verdict = decide({value(random), u}, 0, limit);
        EXPECT_NE(verdict.call, Call::in_tolerance) << u << " " << limit;
    }
}

TEST(Decision, NeverCallsAValueInsideTheLimitsOut) {
    // u = 10 deg leaves 2.4 % of the probability inside the limits: nothing is known, not "out".
    const Verdict verdict = decide({0, 10}, 0, 0.3);
    EXPECT_LT(verdict.probability, 0.05);
    EXPECT_EQ(verdict.call, Call::too_close_to_call);
}

TEST(Decision, TakesNumbersThatSayNothingAsTooCloseToCall) {
    const Estimate unusable[] = {{nan_value, 0.05}, {0, nan_value}, {0, 0},        {0, -0.05},
                                 {infinite, 0.05},  {0, infinite},  {nan_value, 0}};
    for (const auto& estimate : unusable) {
        const Verdict verdict = decide(estimate, 0, 0.3);
        EXPECT_EQ(verdict.call, Call::too_close_to_call);
        EXPECT_EQ(verdict.probability, 0);
    }
    for (const double tolerance : {0.0, -0.3, nan_value, infinite}) {
        EXPECT_EQ(decide({0, 0.05}, 0, tolerance).call, Call::too_close_to_call);
    }
    EXPECT_TRUE(cannot_decide(nan_value, 0.3));
    EXPECT_TRUE(cannot_decide(0.05, nan_value));
    EXPECT_TRUE(cannot_decide(0.05, 0));
}

TEST(Decision, WithholdsOnlyTheGoodNews) {
    EXPECT_EQ(withheld(Verdict{Call::in_tolerance, 0.99}).call, Call::too_close_to_call);
    EXPECT_EQ(withheld(Verdict{Call::in_tolerance, 0.99}).probability, 0.99);
    EXPECT_EQ(withheld(Verdict{Call::out_of_tolerance, 0.01}).call, Call::out_of_tolerance);
}

// ---- both angles together

/// Probability of the quadrant above zero in both: 1/4 + asin(rho) / (2 pi) (Sheppard 1899; from
/// memory).
TEST(Decision, TheJointProbabilityOfAQuadrantIsSheppards) {
    for (const double rho : {-0.95, -0.5, 0.0, 0.3, 0.5, 0.9}) {
        const double quadrant = 0.25 + std::asin(rho) / (2 * std::numbers::pi);
        // Limits that begin at the measured value and end 100 u away.
        EXPECT_NEAR(joint_probability({0, 1}, {0, 1}, rho, {50, 50}, {50, 50}), quadrant, 1e-9)
            << rho;
    }
}

TEST(Decision, UncorrelatedAnglesMultiply) {
    const AxisLimits limits{0, 0.3};
    const double yaw = decide({0.1, 0.1}, 0, 0.3).probability;
    const double pitch = decide({-0.15, 0.08}, 0, 0.3).probability;
    EXPECT_NEAR(joint_probability({0.1, 0.1}, {-0.15, 0.08}, 0, limits, limits), yaw * pitch,
                1e-12);
    // One and the same angle twice: no less likely than alone.
    EXPECT_NEAR(joint_probability({0.1, 0.1}, {0.1, 0.1}, 1, limits, limits), yaw, 1e-4);
}

TEST(Decision, APassNeedsBothAnglesTogether) {
    const AxisLimits limits{0, 0.3};
    const Estimate edge{0.3 - 1.7 * 0.05, 0.05};  // 0.955 each, 0.913 together
    const Estimate surer{0.1, 0.05};
    const AxisVerdicts both = decide_both(edge, {edge.value - 0.005, 0.05}, 0, limits, limits);
    EXPECT_EQ(both.yaw.call, Call::too_close_to_call);
    EXPECT_EQ(both.pitch.call, Call::in_tolerance);
    EXPECT_FALSE(both.passed());
    EXPECT_LT(both.probability, 0.95);
    EXPECT_TRUE(decide_both(edge, surer, 0, limits, limits).passed());
    // The same two angles pass where their errors are one.
    EXPECT_TRUE(decide_both(edge, edge, 1, limits, limits).passed());
}

TEST(Decision, NumbersThatSayNothingHaveNoJointProbability) {
    const AxisLimits limits{0, 0.3};
    for (const Estimate& bad : {Estimate{nan_value, 0.1}, Estimate{0, nan_value}, Estimate{0, 0}}) {
        const AxisVerdicts both = decide_both(bad, {0, 0.05}, 0, limits, limits);
        EXPECT_FALSE(both.passed());
        EXPECT_TRUE(std::isfinite(both.probability));
    }
}

}  // namespace
}  // namespace squaresight

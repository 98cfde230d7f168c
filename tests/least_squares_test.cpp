#include "adjust/least_squares.h"

#include <gtest/gtest.h>

#include <cmath>

#include "adjust/reliability.h"
#include "support/linear_term.h"

namespace squaresight {
namespace {

// Ghilani CD, Wolf PR, Adjustment Computations: Spatial Data Analysis, 4th ed. (Wiley 2006),
// example 12.1: levelling network, heights of B, C, D from A = 437.596 m, weights 1 / sigma^2.
// Printed: heights, vtWv 1.26976 from rounded residuals; redundancy numbers and test values were
// computed from its data with numpy 1.24. The S0 printed there (0.6575) does not fit its own data
// (sqrt(1.26976 / 3) = 0.6506) and is taken for a misprint.
class LevellingNetwork : public ::testing::Test {
  protected:
    void SetUp() override {
        constexpr double a = 437.596;
        const std::vector<Term> terms{
            linear({0}, {1}, a + 10.509, 0.006),     // A to B
            linear({1, 0}, {1, -1}, 5.360, 0.004),   // B to C
            linear({2, 1}, {1, -1}, -8.523, 0.005),  // C to D
            linear({2}, {-1}, -7.348 - a, 0.003),    // D to A
            linear({2, 0}, {1, -1}, -3.167, 0.004),  // B to D
            linear({1}, {1}, a + 15.881, 0.012),     // A to C
        };
        bool converged = false;
        const Eigen::VectorXd z = minimise(terms, Eigen::Vector3d(437, 437, 437), converged);
        ASSERT_TRUE(converged);
        solution_ = linearise(terms, z);
        ASSERT_TRUE(solution_.solved);
    }
    Solution solution_;
};

TEST_F(LevellingNetwork, HeightsAreThePublishedOnes) {
    EXPECT_NEAR(solution_.z[0], 448.1087, 5e-5);
    EXPECT_NEAR(solution_.z[1], 453.4685, 5e-5);
    EXPECT_NEAR(solution_.z[2], 444.9436, 5e-5);
    EXPECT_NEAR(solution_.chi_square(), 1.2721228285987907, 1e-6);
}

TEST_F(LevellingNetwork, StandardDeviationsScaledByS0) {
    const double s0 = std::sqrt(solution_.chi_square() / 3);
    EXPECT_NEAR(s0, 0.6511842618385856, 1e-7);
    EXPECT_NEAR(s0 * std::sqrt(solution_.covariance(0, 0)), 0.00229534, 1e-8);
    EXPECT_NEAR(s0 * std::sqrt(solution_.covariance(1, 1)), 0.00263628, 1e-8);
    EXPECT_NEAR(s0 * std::sqrt(solution_.covariance(2, 2)), 0.00176069, 1e-8);
}

TEST_F(LevellingNetwork, RedundancyAndTestValuesOfEachReading) {
    const double redundancy[] = {0.65486935, 0.32944845, 0.5091747,
                                 0.18770491, 0.43262081, 0.88618178};
    const double w[] = {0.76444748, -0.1062524, -0.52201347, 0.3036502, 0.71973917, -0.75529953};
    double sum = 0;
    for (int row = 0; row < 6; ++row) {
        const double r = solution_.residual_covariance(row, row);
        EXPECT_NEAR(r, redundancy[row], 1e-7);
        EXPECT_NEAR(solution_.residuals[row] / std::sqrt(r), w[row], 1e-5);
        sum += r;
    }
    EXPECT_NEAR(sum, 3, 1e-9);
}

// JCGM 100:2008 (GUM), annex H.1, end-gauge calibration: contributions 25, 5.8, 3.9, 6.7, 2.9, 16.6
// and u_c = 32 nm to first order. Each input is an observation of its own; the budget of the length
// comes from the same code as the budget of an angle.
TEST(Budget, EndGaugeOfTheGum) {
    constexpr double length_nm = 50000623, theta = -0.1, alpha = 11.5e-6;
    // Unknowns: standard's length, four parts of the difference, alpha's difference, theta's.
    const std::vector<Term> terms{
        linear({0}, {1}, 0, 25, "standard"),
        linear({1}, {1}, 0, 5.8, "observed difference"),
        linear({2}, {1}, 0, 3.9, "comparator, random"),
        linear({3}, {1}, 0, 6.7, "comparator, systematic"),
        linear({4}, {1}, 0, 0.58e-6, "difference of expansion"),
        linear({5}, {1}, 0, 0.029, "difference of temperature"),
    };
    const Solution solution = linearise(terms, Eigen::VectorXd::Zero(6));
    ASSERT_TRUE(solution.solved);
    Eigen::VectorXd gradient(6);
    gradient << 1, 1, 1, 1, -length_nm * theta, -length_nm * alpha;
    const auto budget = budget_of(solution, gradient, gradient, 1);
    const auto share = [&](const std::string& source) {
        for (const auto& line : budget) {
            if (line.source == source) {
                return line.yaw_deg;
            }
        }
        return -1.0;
    };
    EXPECT_NEAR(share("standard"), 25, 1e-9);
    EXPECT_NEAR(share("observed difference"), 5.8, 1e-9);
    EXPECT_NEAR(share("comparator, random"), 3.9, 1e-9);
    EXPECT_NEAR(share("comparator, systematic"), 6.7, 1e-9);
    EXPECT_NEAR(share("difference of expansion"), 2.90004, 1e-5);
    EXPECT_NEAR(share("difference of temperature"), 16.67521, 1e-5);  // printed as 16.6
    EXPECT_NEAR(std::sqrt(solution.variance(gradient)), 31.705090502439024, 1e-6);  // printed 32
    EXPECT_EQ(budget.front().source, "standard");
}

TEST(LeastSquares, WhatIsNotDeterminedIsNotSolved) {
    const std::vector<Term> terms{linear({0, 1}, {1, 1}, 3, 1)};
    EXPECT_FALSE(linearise(terms, Eigen::Vector2d(1, 2)).solved);
}

}  // namespace
}  // namespace squaresight

#include "adjust/reliability.h"

#include <gtest/gtest.h>

#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/non_central_chi_squared.hpp>
#include <boost/math/distributions/normal.hpp>
#include <cmath>

#include "adjust/least_squares.h"
#include "simulate/draw.h"
#include "support/linear_term.h"

namespace squaresight {
namespace {

// Baarda W (1968), A testing procedure for use in geodetic networks, Netherlands Geodetic
// Commission, Publications on Geodesy 2(5): at alpha = 0.001 (two-sided) and a power of 0.80 the
// critical value is 3.29, the noncentrality lambda_0 = 17.07 and its root 4.13 (figures from
// memory; here computed from alpha and power).
constexpr double alpha = 0.001, power = 0.80;

TEST(Reliability, BaardasLimitsAreThoseOfTheNormalDistribution) {
    const boost::math::normal normal;
    const double k = quantile(normal, 1 - alpha / 2);
    EXPECT_NEAR(k, 3.29, 0.005);
    EXPECT_NEAR(k + quantile(normal, power), 4.13, 0.005);
    EXPECT_EQ(test_limit, 3.29);
    EXPECT_EQ(findable_factor, 4.13);
}

TEST(Reliability, BaardasNoncentralityIsThatOfTheNoncentralChiSquare) {
    const double critical = quantile(boost::math::chi_squared(1), 1 - alpha);
    EXPECT_NEAR(std::sqrt(critical), test_limit, 0.005);
    const double lambda =
        boost::math::non_central_chi_squared::find_non_centrality(1, critical, 1 - power);
    EXPECT_NEAR(lambda, 17.07, 0.005);
    // 4.13 is the rounded root: 4.13^2 is 17.06. As a power that is 79.94 %.
    EXPECT_NEAR(std::sqrt(lambda), findable_factor, 0.005);
    const boost::math::non_central_chi_squared of_ours(1, findable_factor * findable_factor);
    EXPECT_NEAR(cdf(complement(of_ours, test_limit * test_limit)), power, 0.001);
    EXPECT_NEAR(std::erfc(test_limit / std::sqrt(2)), alpha, 1e-5);
}

// The levelling network of Ghilani CD, Wolf PR, Adjustment Computations, 4th ed. (Wiley 2006),
// example 12.1 (its design and weights; redundancies from 0.19 to 0.89): each reading in turn is
// made wrong by its smallest findable error, all others with errors of their own.
TEST(Reliability, ReadingWrongByItsSmallestFindableErrorIsFoundInFourOfFive) {
    const std::vector<std::vector<double>> design = {{1, 0, 0},  {-1, 1, 0}, {0, -1, 1},
                                                     {0, 0, -1}, {-1, 0, 1}, {0, 1, 0}};
    const double u[] = {0.006, 0.004, 0.005, 0.003, 0.004, 0.012};  // m
    std::vector<Term> terms;
    for (std::size_t row = 0; row < design.size(); ++row) {
        terms.push_back(linear({0, 1, 2}, design[row], 0, u[row]));
    }
    const Solution solution = linearise(terms, Eigen::Vector3d::Zero());
    ASSERT_TRUE(solution.solved);
    constexpr std::uint64_t seed = 20261125;
    constexpr int count = 20000;
    SCOPED_TRACE(seed);
    for (int wrong = 0; wrong < 6; ++wrong) {
        Draw draw(seed, static_cast<std::uint64_t>(wrong));
        const double root = std::sqrt(solution.residual_covariance(wrong, wrong));
        const auto w = [&](const Eigen::VectorXd& errors) {
            double residual = 0;
            for (int row = 0; row < 6; ++row) {
                residual -= solution.residual_covariance(wrong, row) * errors[row];
            }
            return residual / root;
        };
        int found = 0, false_alarms = 0;
        for (int i = 0; i < count; ++i) {
            Eigen::VectorXd errors = draw.jointly(Eigen::MatrixXd::Identity(6, 6));
            false_alarms += std::abs(w(errors)) > test_limit;
            errors[wrong] += findable_factor / root;
            found += std::abs(w(errors)) > test_limit;
        }
        // 4 standard deviations of these counts.
        EXPECT_NEAR(found, power * count, 4 * std::sqrt(power * (1 - power) * count)) << wrong;
        EXPECT_NEAR(false_alarms, alpha * count, 4 * std::sqrt(alpha * count)) << wrong;
    }
}

// NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4, upper critical values of chi-square
// at 0.001 for 1 to 10 degrees of freedom (from memory).
TEST(Reliability, GlobalTestHasTheCriticalValuesOfTheHandbook) {
    const double table[] = {10.828, 13.816, 16.266, 18.467, 20.515,
                            22.458, 24.322, 26.125, 27.877, 29.588};
    int degrees_of_freedom = 0;
    for (const double critical : table) {
        ++degrees_of_freedom;
        const auto test = [&](double chi_square) {
            // Readings of redundancy 1 that share the sum of squares.
            ReadingCheck check;
            check.standard_uncertainty = 0.5;
            check.shown.redundancy = 1;
            check.shown.residual =
                0.5 * std::sqrt(chi_square / static_cast<double>(degrees_of_freedom));
            return global_test(
                std::vector<ReadingCheck>(static_cast<std::size_t>(degrees_of_freedom), check));
        };
        EXPECT_TRUE(test(critical - 0.0015).passed) << degrees_of_freedom;
        EXPECT_EQ(test(critical - 0.0015).inflation(), 1);
        EXPECT_FALSE(test(critical + 0.0015).passed) << degrees_of_freedom;
        EXPECT_NEAR(test(critical + 0.0015).inflation(),
                    std::sqrt((critical + 0.0015) / degrees_of_freedom), 1e-9);
    }
}

}  // namespace
}  // namespace squaresight

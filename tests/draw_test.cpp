#include "simulate/draw.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numeric>
#include <set>
#include <stdexcept>

namespace squaresight {
namespace {

constexpr std::uint64_t seed = 20261125;

TEST(Draw, IsTheSameForTheSameSeedAndStream) {
    Draw a(seed, 3), b(seed, 3);
    for (int i = 0; i < 100; ++i) {
        EXPECT_EQ(a.normal(1), b.normal(1));
    }
}

TEST(Draw, StreamsAndSeedsBesideEachOtherShareNothing) {
    // Correlation of 20,000 pairs of independent draws: its standard deviation is 0.007.
    constexpr int count = 20000;
    SCOPED_TRACE(seed);
    const std::pair<Draw, Draw> pairs[] = {{Draw(seed, 0), Draw(seed, 1)},
                                           {Draw(seed, 0), Draw(seed + 1, 0)},
                                           {Draw(seed, 1), Draw(seed + 1, 0)},
                                           {Draw(0, 1), Draw(1, 0)}};
    for (auto [a, b] : pairs) {
        double sum = 0;
        for (int i = 0; i < count; ++i) {
            sum += a.normal(1) * b.normal(1);
        }
        EXPECT_LT(std::abs(sum / count), 4 / std::sqrt(count));
    }
}

TEST(Draw, KeepsWithinItsLimitsAndReachesThem) {
    SCOPED_TRACE(seed);
    Draw draw(seed);
    std::set<int> seen;
    int often = 0;
    double least = 1, most = -1;
    for (int i = 0; i < 10000; ++i) {
        const double value = draw.rectangular(0.5);
        ASSERT_LE(std::abs(value), 0.5);
        least = std::min(least, value);
        most = std::max(most, value);
        seen.insert(draw.whole(-2, 3));
        often += draw.chance(0.3);
        ASSERT_FALSE(draw.chance(0));
        ASSERT_TRUE(draw.chance(1));
    }
    EXPECT_LT(least, -0.499);
    EXPECT_GT(most, 0.499);
    EXPECT_EQ(seen, (std::set<int>{-2, -1, 0, 1, 2, 3}));
    EXPECT_NEAR(often, 3000, 4 * std::sqrt(10000 * 0.3 * 0.7));
    EXPECT_EQ(draw.normal(0), 0);
    EXPECT_EQ(draw.rectangular(0), 0);
    EXPECT_EQ(draw.whole(4, 4), 4);
}

TEST(Draw, NormalHasTheMomentsAndTailsOfTheNormalDistribution) {
    // Expected counts of 200,000 beyond 1, 2, 3 and 4 standard deviations.
    SCOPED_TRACE(seed);
    Draw draw(seed);
    constexpr int count = 200000;
    double sum = 0, squares = 0;
    int beyond[4] = {};
    for (int i = 0; i < count; ++i) {
        const double value = draw.normal(2) / 2;
        sum += value;
        squares += value * value;
        for (int k = 0; k < 4; ++k) {
            beyond[k] += std::abs(value) > k + 1;
        }
    }
    EXPECT_NEAR(sum / count, 0, 4 / std::sqrt(count));
    EXPECT_NEAR(squares / count, 1, 4 * std::sqrt(2.0 / count));
    for (int k = 0; k < 4; ++k) {
        const double expected = count * std::erfc((k + 1) / std::sqrt(2.0));
        EXPECT_NEAR(beyond[k], expected, 4 * std::sqrt(expected)) << k + 1;
    }
}

TEST(Draw, JointlyHasTheCovarianceEvenWhereItIsSingularAndUnitsDiffer) {
    // The third is the sum of the first two, the fourth is exact, the fifth in a tiny unit and
    // correlated with the first.
    Eigen::MatrixXd make = Eigen::MatrixXd::Zero(5, 3);
    make << 1, 0, 0,  //
        0.5, 2, 0,    //
        1.5, 2, 0,    //
        0, 0, 0,      //
        6e-9, 0, 8e-9;
    const Eigen::MatrixXd covariance = make * make.transpose();
    SCOPED_TRACE(seed);
    Draw draw(seed);
    constexpr int count = 50000;
    Eigen::MatrixXd seen = Eigen::MatrixXd::Zero(5, 5);
    for (int i = 0; i < count; ++i) {
        const Eigen::VectorXd value = draw.jointly(covariance);
        ASSERT_EQ(value.size(), 5);
        ASSERT_NEAR(value[0] + value[1], value[2], 1e-6);
        ASSERT_EQ(value[3], 0);
        seen += value * value.transpose() / count;
    }
    for (int i = 0; i < 5; ++i) {
        for (int j = 0; j < 5; ++j) {
            const double scale = std::sqrt(covariance(i, i) * covariance(j, j));
            EXPECT_NEAR(seen(i, j), covariance(i, j), 4 * scale * std::sqrt(2.0 / count));
        }
    }
}

// JCGM 101:2008, 7.7.1 to 7.7.4: with M sorted values and q = pM (rounded), an interval runs from
// the r-th value to the (r + q)-th; r = (M - q) / 2 for the symmetric one.
TEST(Spread, TakesItsIntervalsFromTheSortedValuesAsJcgm101Says) {
    std::vector<double> values(100);
    std::iota(values.begin(), values.end(), 1);
    std::swap(values[0], values[99]);
    const Spread spread = spread_of(values, 0.9);  // q = 90, r = 5 and counting from 1
    EXPECT_DOUBLE_EQ(spread.mean, 50.5);
    EXPECT_NEAR(spread.standard_deviation, std::sqrt(100 * 101 / 12.0), 1e-12);
    EXPECT_EQ(spread.high - spread.low, 90);
    EXPECT_NEAR((spread.high + spread.low) / 2, 50.5, 0.5);
}

TEST(Spread, ShortestLiesWhereTheValuesAreDense) {
    std::vector<double> values;
    for (int i = 0; i < 1000; ++i) {
        values.push_back(-std::log(1 - (i + 0.5) / 1000));  // exponential: densest at zero
    }
    const Spread shortest = shortest_spread_of(values, 0.95);
    EXPECT_EQ(shortest.low, values.front());
    EXPECT_NEAR(shortest.high, -std::log(0.05), 0.02);
    EXPECT_NEAR(spread_of(values, 0.95).high, -std::log(0.025), 0.04);
}

TEST(Spread, RefusesWhatTellsNothing) {
    EXPECT_THROW(spread_of({}, 0.95), std::invalid_argument);
    EXPECT_THROW(spread_of({1}, 0.95), std::invalid_argument);
    EXPECT_THROW(spread_of({1, 2, 3}, 0.95), std::invalid_argument);
    EXPECT_THROW(spread_of({1, 2, 3, std::nan("")}, 0.5), std::invalid_argument);
    EXPECT_THROW(shortest_spread_of({1, 2, 3, 4}, 0), std::invalid_argument);
    EXPECT_THROW(shortest_spread_of({1, 2, 3, 4}, 1), std::invalid_argument);
    EXPECT_THROW(shortest_spread_of({1, 2, 3, 4}, std::nan("")), std::invalid_argument);
}

}  // namespace
}  // namespace squaresight

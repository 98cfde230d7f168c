#include "agreement/variance_components.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace squaresight {
namespace {

constexpr unsigned seed = 21;        ///< of all random readings here
constexpr double test_limit = 3.29;  ///< beyond it the adjustment sets a reading aside

/// Readings that scatter `factor` times what they state; those beyond the test were set aside.
class Shop {
  public:
    explicit Shop(double factor) : factor_(factor) {}

    ScatterSums readings(std::size_t count, bool set_aside = false) {
        ScatterSums sums;
        for (std::size_t i = 0; i < count; ++i) {
            const double w = factor_ * normal_(random_);
            if (!set_aside || std::abs(w) <= test_limit) {
                sums.add(w, 1);
            }
        }
        return sums;
    }

  private:
    double factor_;
    std::mt19937 random_{seed};
    std::normal_distribution<double> normal_;
};

TEST(VarianceComponent, IsTheRootOfSquaresOverRedundancies) {
    ScatterSums sums;
    sums.add(2, 0.25);  // v / sigma = 1
    sums.add(-1, 0.75);
    EXPECT_DOUBLE_EQ(sums.squares, 4 * 0.25 + 0.75);
    EXPECT_DOUBLE_EQ(sums.redundancy, 1);
    ScatterSums all;
    for (int i = 0; i < 12; ++i) {
        all.add(sums);
    }
    EXPECT_EQ(all.readings, 24U);
    const auto test = variance_component(all);
    ASSERT_TRUE(test);
    EXPECT_DOUBLE_EQ(test->degrees_of_freedom, 12);
    EXPECT_DOUBLE_EQ(test->factor.value, std::sqrt(1.75));
    // Chi-square on 12 degrees of freedom: 4.404 and 23.337 (any printed table).
    EXPECT_NEAR(test->factor.interval_95.low, std::sqrt(21 / 23.337), 1e-4);
    EXPECT_NEAR(test->factor.interval_95.high, std::sqrt(21 / 4.404), 1e-4);
}

TEST(VarianceComponent, AReadingThatNothingChecksSaysNothing) {
    ScatterSums sums;
    sums.add(0, 0.01);
    EXPECT_EQ(sums.readings, 0U);
    EXPECT_EQ(sums.redundancy, 0);
}

TEST(VarianceComponent, IsNotCalledTooEarlyAndTakesFreedomThatIsNotWhole) {
    ScatterSums sums{40, 9.99, 9.99};
    EXPECT_FALSE(variance_component(sums));
    sums.redundancy = 10.5;
    ASSERT_TRUE(variance_component(sums));
    // Between those of 10 and of 11 degrees of freedom.
    const double high = variance_component(sums)->factor.interval_95.high;
    EXPECT_LT(high, std::sqrt(9.99 / chi_square_quantile(0.025, 10)));
    EXPECT_GT(high, std::sqrt(9.99 / chi_square_quantile(0.025, 11)));
}

TEST(VarianceComponent, IntervalCoversTheTruthAndACleanShopIsCalledAsStated) {
    for (const double factor : {1.0, 2.0}) {
        Shop shop(factor);
        int covered = 0, as_stated = 0;
        constexpr int shops = 1000;
        for (int i = 0; i < shops; ++i) {
            const auto test = variance_component(shop.readings(60));
            covered +=
                test->factor.interval_95.low <= factor && factor <= test->factor.interval_95.high
                    ? 1
                    : 0;
            as_stated += test->call == StatedUncertainty::as_stated ? 1 : 0;
        }
        // 950 of 1000, four standard deviations of the binomial either way.
        EXPECT_NEAR(covered, 950, 4 * std::sqrt(1000 * 0.95 * 0.05)) << factor;
        if (factor == 1) {
            EXPECT_NEAR(as_stated, 950, 4 * std::sqrt(1000 * 0.95 * 0.05));
        } else {
            EXPECT_EQ(as_stated, 0);
        }
    }
}

TEST(VarianceComponent, OfAJobsReadingsThatShareItsUnknownsTheIntervalIsNotTooNarrow) {
    // Each job: three lengths, one unknown: r = 2/3 each, residuals correlated by -1/2.
    std::mt19937 random(seed);
    std::normal_distribution<double> normal;
    int covered = 0;
    for (int shop = 0; shop < 1000; ++shop) {
        ScatterSums sums;
        for (int job = 0; job < 30; ++job) {
            const double read[] = {2 * normal(random), 2 * normal(random), 2 * normal(random)};
            const double mean = (read[0] + read[1] + read[2]) / 3;
            for (const double one : read) {
                sums.add((one - mean) / std::sqrt(2.0 / 3), 2.0 / 3);
            }
        }
        const Interval interval = variance_component(sums)->factor.interval_95;
        covered += interval.low <= 2 && 2 <= interval.high ? 1 : 0;
    }
    EXPECT_NEAR(covered, 950, 4 * std::sqrt(1000 * 0.95 * 0.05));
}

TEST(VarianceComponent, WhatWasSetAsideIsMissedAndLimitsInUseBringTheRest) {
    // Twice the stated: one in ten is beyond the test and gone. The rest scatters as a normal
    // quantity cut off at 3.29 / 2 of its standard deviations: 1.58; then at 3.29 / (2 / 1.58), ...
    double stated = 1;
    for (const double expected : {1.58, 1.92, 1.98}) {
        Shop shop(2 / stated);
        const auto test = variance_component(shop.readings(4000, true));
        stated *= test->factor.value;
        EXPECT_NEAR(stated, expected, 0.06);
    }
}

TEST(VarianceComponent, CautiousLimitsAreFoundTooLarge) {
    Shop shop(0.5);
    EXPECT_EQ(variance_component(shop.readings(200))->call, StatedUncertainty::too_large);
}

}  // namespace
}  // namespace squaresight

#include "agreement/en_calibration.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include "agreement/agreement.h"
#include "agreement/call_table.h"
#include "agreement/deming.h"
#include "published/method_comparisons.h"
#include "support/digits.h"

namespace squaresight {
namespace {

using test::expect_digits;

// E_n of the laboratories of CCQM-K30 (Hearn et al. 2008, Metrologia 45: 08001) against 2.99 mg/kg,
// U = 0.06: an arithmetic check by R 4.2.2, not the published degrees of equivalence. The reference
// value is the mean of nine of them, which E_n leaves aside here.
TEST(En, OfLeadInWine) {
    for (const auto& row : test::lead_in_wine) {
        const Agreement agreement =
            compare_methods({row.value, row.expanded_uncertainty / 2}, {2.99, 0.03}, {}, 1);
        expect_digits(std::string("en_") + row.laboratory, agreement.en, std::abs(row.en), 10);
        EXPECT_EQ(agreement.difference_deg < 0, row.en < 0) << row.laboratory;
    }
}

std::vector<double> drawn_z(int count, double bias, double factor, unsigned seed) {
    std::mt19937_64 engine(seed);
    std::normal_distribution<double> normal(bias, factor);
    std::vector<double> z;
    for (int k = 0; k < count; ++k) {
        z.push_back(normal(engine));
    }
    return z;
}

TEST(EnCalibration, TellsUncertaintiesAsStatedFromTooSmallAndTooLarge) {
    const auto as_stated = calibrate_en(drawn_z(500, 0, 1, 2));
    const auto too_small = calibrate_en(drawn_z(500, 0, 1.3, 2));
    const auto too_large = calibrate_en(drawn_z(500, 0, 0.7, 2));
    ASSERT_TRUE(as_stated && too_small && too_large);
    EXPECT_EQ(as_stated->about_zero.call, StatedUncertainty::as_stated);
    EXPECT_EQ(too_small->about_zero.call, StatedUncertainty::too_small);
    EXPECT_EQ(too_large->about_zero.call, StatedUncertainty::too_large);
    EXPECT_NEAR(too_small->about_zero.factor.value, 1.3, 0.1);
    EXPECT_NEAR(too_large->about_zero.factor.value, 0.7, 0.1);
    EXPECT_LT(too_small->about_zero.factor.interval_95.low, 1.3);
    EXPECT_GT(too_small->about_zero.factor.interval_95.high, 1.3);
}

TEST(EnCalibration, ABiasAloneIsNoFaultOfTheScatter) {
    const auto biased = calibrate_en(drawn_z(500, 0.7, 1, 3));
    ASSERT_TRUE(biased);
    EXPECT_EQ(biased->about_zero.call, StatedUncertainty::too_small);
    EXPECT_EQ(biased->about_mean.call, StatedUncertainty::as_stated);
    EXPECT_GT(biased->mean_z.interval_95.low, 0);
    EXPECT_NEAR(biased->mean_z.value, 0.7, 0.15);
}

// By the definition of p, 5 % of sets as stated are called otherwise; 2,000 sets, three standard
// errors 1.5 %.
TEST(EnCalibration, CallsWhatIsAsStatedOtherwiseInOneOfTwenty) {
    int called = 0;
    for (unsigned set = 0; set < 2000; ++set) {
        called += calibrate_en(drawn_z(30, 0, 1, 100 + set))->about_zero.call !=
                  StatedUncertainty::as_stated;
    }
    EXPECT_GT(called, 70);
    EXPECT_LT(called, 130);
}

// Two standard deviations: 4.55 % lie beyond (normal distribution, NIST/SEMATECH e-Handbook,
// 1.3.6.7.1: 0.97725 below two).
TEST(EnCalibration, BinsHoldAllAndExpectWhatTheNormalDistributionHas) {
    const std::vector<double> z{0, 0.4999, 0.5, -0.5, 1.99, 2, 2.01, -6, 100, 0.1};
    const auto calibration = calibrate_en(z);
    ASSERT_TRUE(calibration);
    ASSERT_EQ(calibration->bins.size(), 13u);
    EXPECT_EQ(calibration->bins[0].count, 3u);  // 0, 0.4999, 0.1
    EXPECT_EQ(calibration->bins[1].count, 2u);  // |E_n| = 0.25
    EXPECT_EQ(calibration->bins[3].count, 1u);
    EXPECT_EQ(calibration->bins[4].count, 2u);  // E_n = 1 and more
    EXPECT_EQ(calibration->bins[12].count, 2u);
    EXPECT_EQ(calibration->beyond_one, 3u);
    EXPECT_NEAR(calibration->expected_beyond_one, 10 * 2 * (1 - 0.97725), 1e-4);
    double expected = 0;
    std::size_t count = 0;
    for (const auto& bin : calibration->bins) {
        expected += bin.expected;
        count += bin.count;
    }
    EXPECT_NEAR(expected, 10, 1e-12);
    EXPECT_EQ(count, 10u);
}

TEST(EnCalibration, NothingIsSaidOfFewOrOfWhatIsNoNumber) {
    std::vector<double> z(fewest_en - 1, 0.5);
    EXPECT_FALSE(calibrate_en(z));
    z.push_back(std::numeric_limits<double>::infinity());
    EXPECT_FALSE(calibrate_en(z));
    z.back() = 0.4;
    EXPECT_TRUE(calibrate_en(z));
}

constexpr Call calls[3] = {Call::in_tolerance, Call::out_of_tolerance, Call::too_close_to_call};

CallTable table_of(const int (&counts)[3][3]) {
    CallTable table;
    for (int v = 0; v < 3; ++v) {
        for (int t = 0; t < 3; ++t) {
            for (int k = 0; k < counts[v][t]; ++k) {
                table.add(calls[v], calls[t]);
            }
        }
    }
    return table;
}

// Two judges on 200 cases, the table of Fleiss, Cohen & Everitt (1969), Psychological Bulletin 72:
// 323-327, from memory: kappa 0.429, standard error 0.054. The jackknife, which knows no formula,
// gives the same error.
TEST(CallTable, KappaOfAPublishedTable) {
    const int counts[3][3] = {{106, 10, 4}, {22, 28, 10}, {2, 12, 6}};
    const CallTable table = table_of(counts);
    EXPECT_EQ(table.total(), 200u);
    EXPECT_EQ(table.same(), 140u);
    EXPECT_EQ(table.differing(), 60u);
    EXPECT_EQ(table.contradicting(), 32u);
    EXPECT_EQ(table.count(Call::in_tolerance, Call::out_of_tolerance), 10u);
    const auto kappa = table.kappa();
    ASSERT_TRUE(kappa);
    EXPECT_NEAR(kappa->value, 0.429, 5e-4);
    EXPECT_NEAR(kappa->standard_error, 0.054, 5e-4);
    std::vector<double> left_one_out;
    for (int v = 0; v < 3; ++v) {
        for (int t = 0; t < 3; ++t) {
            int fewer[3][3];
            std::copy(&counts[0][0], &counts[0][0] + 9, &fewer[0][0]);
            --fewer[v][t];
            const double without = table_of(fewer).kappa()->value;
            left_one_out.insert(left_one_out.end(), static_cast<std::size_t>(counts[v][t]),
                                without);
        }
    }
    EXPECT_NEAR(kappa->standard_error, jackknife_standard_error(left_one_out), 5e-4);
}

TEST(CallTable, AtItsEnds) {
    EXPECT_FALSE(CallTable().kappa());
    EXPECT_FALSE(table_of({{7, 0, 0}, {0, 0, 0}, {0, 0, 0}}).kappa());
    const auto perfect = table_of({{7, 0, 0}, {0, 3, 0}, {0, 0, 2}}).kappa();
    ASSERT_TRUE(perfect);
    EXPECT_DOUBLE_EQ(perfect->value, 1);
    EXPECT_NEAR(perfect->standard_error, 0, 1e-7);
    // Every pair of calls equally often: no more than chance.
    EXPECT_NEAR(table_of({{5, 5, 5}, {5, 5, 5}, {5, 5, 5}}).kappa()->value, 0, 1e-12);
}

}  // namespace
}  // namespace squaresight

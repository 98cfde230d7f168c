#include "agreement/control_charts.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <stdexcept>
#include <vector>

#include "agreement/check_standard.h"
#include "support/digits.h"

namespace squaresight {
namespace {

using test::expect_digits;
using test::expect_printed;

// Definitions: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.1, and ISO 7870-2. Figures:
// R 4.2.2, d2 and d3 by integrating ptukey(., n, Inf), the rest from them, nine digits; printed
// tables (Montgomery, "Introduction to Statistical Quality Control", appendix VI) are these
// rounded.
struct Constants {
    int values;
    double d2, d3, lower, upper, d2_star;
};

// clang-format off
const Constants constants[] = {
    {2, 1.12837917, 0.852502466, 0.0000000000, 3.26653192, 1.41421356},
    {3, 1.69256875, 0.888368004, 0.0000000000, 2.57459129, 1.91154040},
    {4, 2.05875075, 0.879808203, 0.0000000000, 2.28205156, 2.23886514},
    {5, 2.32592895, 0.864081941, 0.0000000000, 2.11449915, 2.48124627},
    {6, 2.53441272, 0.848039686, 0.0000000000, 2.00382982, 2.67253048},
    {7, 2.70435675, 0.833205336, 0.0757077424, 1.92429226, 2.82980151},
    {8, 2.84720061, 0.819831490, 0.1361709957, 1.86382900, 2.96288289},
    {9, 2.97002632, 0.807834275, 0.1840130154, 1.81598698, 3.07792992},
    {10, 3.07750546, 0.797050674, 0.2230226553, 1.77697734, 3.17904540},
    {11, 3.17287270, 0.787314621, 0.2555819020, 1.74441810, 3.26909552},
    {12, 3.25845528, 0.778478341, 0.2832692723, 1.71673073, 3.35015811},
    {13, 3.33598036, 0.770416201, 0.3071755955, 1.69282440, 3.42378534},
    {14, 3.40676311, 0.763023093, 0.3280808785, 1.67191912, 3.49116587},
    {15, 3.47182690, 0.756211424, 0.3465589337, 1.65344107, 3.55322920},
    {16, 3.53198280, 0.749908079, 0.3630421311, 1.63695787, 3.61071525},
    {17, 3.58788398, 0.744051770, 0.3778630192, 1.62213698, 3.66422223},
    {18, 3.64006378, 0.738590836, 0.3912819561, 1.60871804, 3.71424027},
    {19, 3.68896305, 0.733481476, 0.4035059725, 1.59649403, 3.76117581},
    {20, 3.73495015, 0.728686328, 0.4147019645, 1.58529804, 3.80536941},
    {21, 3.77833585, 0.724173329, 0.4250061210, 1.57499388, 3.84710915},
    {22, 3.81938466, 0.719914808, 0.4345307896, 1.56546921, 3.88664077},
    {23, 3.85832342, 0.715886753, 0.4433695613, 1.55663044, 3.92417551},
    {24, 3.89534813, 0.712068215, 0.4516010954, 1.54839890, 3.95989623},
    {25, 3.93062918, 0.708440834, 0.4592920352, 1.54070796, 3.99396221}};
// clang-format on

TEST(ControlChartConstants, AreThoseOfThePublishedTables) {
    for (const auto& row : constants) {
        SCOPED_TRACE(row.values);
        const RangeConstants ours = range_constants(row.values);
        const bool well_known = row.values < 13;
        EXPECT_NEAR(ours.d2, row.d2, well_known ? 5.1e-9 : 1e-7);
        EXPECT_NEAR(ours.d3, row.d3, well_known ? 6e-10 : 1e-7);
        EXPECT_NEAR(ours.lower, row.lower, well_known ? 6e-10 : 1e-7);
        EXPECT_NEAR(ours.upper, row.upper, well_known ? 5.1e-9 : 1e-7);
        EXPECT_NEAR(ours.d2_star, row.d2_star, well_known ? 5.1e-9 : 1e-7);
    }
    EXPECT_NEAR(range_constants(16).d2, 3.5319827861095767, 1e-13);
    EXPECT_NEAR(range_constants(25).d2, 3.9306292195071160, 1e-13);
    // Tippett (1925), table for a thousand values, from memory: 6.48287.
    EXPECT_NEAR(range_constants(most_values_in_range).d2, 6.48287, 1e-5);
}

// Three decimals as printed: d2 1.128, 1.693, 2.326; D4 3.267, 2.114 (five values). The 2.58 of
// some tables for three values is 2.574 rounded from rounded figures.
TEST(ControlChartConstants, RoundToThePrintedDecimals) {
    expect_printed("d2", range_constants(2).d2, 1.128, 1e-3);
    expect_printed("d2", range_constants(3).d2, 1.693, 1e-3);
    expect_printed("d2", range_constants(5).d2, 2.326, 1e-3);
    expect_printed("D4", range_constants(2).upper, 3.267, 1e-3);
    expect_printed("D4", range_constants(3).upper, 2.574, 2e-3);
    expect_printed("D4", range_constants(5).upper, 2.114, 1e-3);
}

// Tippett (1925), Biometrika 17: 364-387, and Hojo (1931), Biometrika 23: 315-360, from memory.
TEST(ControlChartConstants, AreExactWhereAFormulaIsKnown) {
    const double pi = std::acos(-1);
    EXPECT_NEAR(range_constants(2).d2, 2 / std::sqrt(pi), 1e-13);
    EXPECT_NEAR(range_constants(2).d3, std::sqrt(2 - 4 / pi), 1e-12);
    EXPECT_NEAR(range_constants(3).d2, 3 / std::sqrt(pi), 1e-13);
    EXPECT_NEAR(range_constants(4).d2, 12 * std::atan(std::sqrt(2)) / std::pow(pi, 1.5), 1e-13);
    EXPECT_NEAR(range_constants(5).d2,
                10 / std::sqrt(pi) * (3 * std::atan(std::sqrt(2)) / pi - 0.5), 1e-13);
    EXPECT_NEAR(range_constants(3).d2_star, std::sqrt(2 + 3 * std::sqrt(3) / pi), 1e-12);
    EXPECT_THROW(range_constants(1), std::invalid_argument);
    EXPECT_THROW(range_constants(most_values_in_range + 1), std::invalid_argument);
}

// NIST/SEMATECH e-Handbook, 6.3.2.2: flow rate of ten batches. Mean 50.81, mean moving
// range 1.8778, limits 55.8041 and 45.8159 with d2 = 1.128, in control. The unrounded d2, 1.12838,
// gives 55.8024 and 45.8176; the upper limit of the ranges is 6.1347 with D4 = 3.267, 6.1338
// unrounded.
TEST(IndividualsChart, FlowRateOfTheNistHandbook) {
    const std::vector<double> flow{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};
    const auto chart = individuals_chart(flow);
    ASSERT_TRUE(chart);
    expect_printed("mean", chart->mean, 50.81, 0.01);
    expect_printed("mean_moving_range", chart->mean_moving_range, 1.8778, 1e-4);
    const double rounded = range_constants(2).d2 / 1.128;
    expect_printed("upper", chart->mean + (chart->upper - chart->mean) * rounded, 55.8041, 1e-4);
    expect_printed("lower", chart->mean - (chart->mean - chart->lower) * rounded, 45.8159, 1e-4);
    expect_digits("upper_unrounded", chart->upper, 55.80241168, 9);
    expect_digits("lower_unrounded", chart->lower, 45.81758832, 9);
    expect_printed("range_upper", chart->mean_moving_range * 3.267, 6.1347, 1e-4);
    expect_digits("range_upper_unrounded", chart->moving_range_upper, 6.133821048, 9);
    EXPECT_TRUE(chart->breaks.empty());
}

// NIST/SEMATECH e-Handbook, 6.3.2.4: 20 points, weight 0.3, centre 50, sigma 2.0539; averages as
// printed, limits 52.5884 and 47.4115 (the latter cut off, 47.41157), no signal. The handbook
// prints 50.60 first and 0.4200 (sqrt(0.3 / 1.7) rounded: 0.42008) for the limits, which are those
// far on.
TEST(EwmaChart, TwentyPointsOfTheNistHandbook) {
    const std::vector<double> values{52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
                                     49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};
    const std::vector<double> printed{50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75,
                                      49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05,
                                      49.38, 49.92, 50.73, 51.23, 51.94, 51.99};
    const std::vector<double> computed{
        50.6000, 49.5200, 50.5640, 50.1848, 50.1594, 49.2116, 49.7481, 49.8537, 50.2576, 50.3303,
        50.1112, 49.3578, 49.5205, 50.0543, 49.3780, 49.9246, 50.7272, 51.2291, 51.9403, 51.9882};
    const auto chart = ewma_chart(values, 50, 2.0539, {0.3, 3});
    ASSERT_TRUE(chart);
    for (std::size_t i = 0; i < values.size(); ++i) {
        expect_printed("average", chart->average[i], printed[i], 0.01);
        expect_printed("average", chart->average[i], computed[i], 1e-4);
    }
    expect_printed("upper", chart->centre + chart->last_limit, 52.5884, 1e-4);
    EXPECT_NEAR(chart->centre - chart->last_limit, 47.4115, 1e-4);
    expect_digits("upper", chart->centre + chart->last_limit, 52.58843174, 9);
    expect_digits("lower", chart->centre - chart->last_limit, 47.41156826, 9);
    EXPECT_TRUE(chart->breaks.empty());
}

// The first average is weight times the first point: its limit is width * sigma * weight.
TEST(EwmaChart, LimitsWidenFromTheFirstPointOn) {
    const std::vector<double> values(30, 0.0);
    const auto chart = ewma_chart(values, 0, 2, {0.25, 3});
    ASSERT_TRUE(chart);
    EXPECT_NEAR(chart->limit[0], 3 * 2 * 0.25, 1e-12);
    EXPECT_NEAR(chart->limit[1], 3 * 2 * 0.25 * std::sqrt(1 + 0.75 * 0.75), 1e-12);
    EXPECT_NEAR(chart->limit.back(), chart->last_limit, 1e-6);
}

TEST(EwmaChart, SeesADriftThatSinglePointsHide) {
    std::mt19937_64 engine(6);
    std::normal_distribution<double> scatter(0, 0.02);
    std::vector<double> values;
    for (int k = 0; k < 80; ++k) {
        values.push_back(scatter(engine) + (k < 40 ? 0 : 0.025));
    }
    const auto chart = ewma_chart(values, 0, 0.02);
    ASSERT_TRUE(chart);
    ASSERT_FALSE(chart->breaks.empty());
    EXPECT_GE(chart->breaks[0].point, 40u);
    EXPECT_LT(chart->breaks[0].point, 60u);
}

/// Ten points by turns above and below 0, sigma near 1, so that later ones can break one rule.
std::vector<double> quiet() { return {0.55, -0.55, 0.6, -0.6, 0.5, -0.5, 0.6, -0.55, 0.5, -0.55}; }

std::vector<RuleBreak> breaks_after(std::vector<double> values, const std::vector<double>& more) {
    values.insert(values.end(), more.begin(), more.end());
    return individuals_chart(values)->breaks;
}

bool broken_at(const std::vector<RuleBreak>& breaks, ChartRule rule, std::size_t point) {
    for (const auto& one : breaks) {
        if (one.rule == rule && one.point == point) {
            return true;
        }
    }
    return false;
}

int broken(const std::vector<RuleBreak>& breaks, ChartRule rule) {
    int count = 0;
    for (const auto& one : breaks) {
        count += one.rule == rule;
    }
    return count;
}

TEST(IndividualsChart, NamesThePointThatBrokeARule) {
    EXPECT_TRUE(breaks_after(quiet(), {}).empty());
    std::vector<double> long_quiet = quiet();
    for (int k = 0; k < 4; ++k) {
        const auto again = quiet();
        long_quiet.insert(long_quiet.end(), again.begin(), again.end());
    }
    const auto far = breaks_after(long_quiet, {5});
    EXPECT_TRUE(broken_at(far, ChartRule::beyond_three_sigma, 50));
    EXPECT_TRUE(broken_at(far, ChartRule::moving_range, 50));
    EXPECT_EQ(broken(far, ChartRule::nine_on_one_side), 0);

    const auto side =
        breaks_after(quiet(), {-0.4, 0.2, 0.5, 0.2, 0.5, 0.2, 0.5, 0.2, 0.5, 0.2, 0.5});
    EXPECT_EQ(broken(side, ChartRule::nine_on_one_side), 2);
    EXPECT_TRUE(broken_at(side, ChartRule::nine_on_one_side, 19));
    EXPECT_TRUE(broken_at(side, ChartRule::nine_on_one_side, 20));

    const auto rising = breaks_after(quiet(), {-0.4, -0.3, -0.2, 0.1, 0.3, -0.2});
    EXPECT_TRUE(broken_at(rising, ChartRule::six_rising_or_falling, 14));
    EXPECT_EQ(broken(rising, ChartRule::six_rising_or_falling), 1);

    const auto two = breaks_after(long_quiet, {2.4, -0.5, 2.4});
    EXPECT_TRUE(broken_at(two, ChartRule::two_of_three_beyond_two_sigma, 52));
    EXPECT_EQ(broken(two, ChartRule::two_of_three_beyond_two_sigma), 1);
    EXPECT_EQ(broken(two, ChartRule::beyond_three_sigma), 0);
    EXPECT_EQ(broken(breaks_after(long_quiet, {2.4, -0.5, -2.4}),
                     ChartRule::two_of_three_beyond_two_sigma),
              0);
}

TEST(IndividualsChart, EqualReadingsBreakNothingButTheRowsOnOneSide) {
    const auto chart = individuals_chart(std::vector<double>(20, 0.1));
    ASSERT_TRUE(chart);
    EXPECT_EQ(chart->sigma, 0);
    EXPECT_TRUE(chart->breaks.empty());
}

TEST(IndividualsChart, ThereIsNoneOfFewPointsOrOfNumbersThatAreNone) {
    std::vector<double> values(fewest_chart_points - 1, 1.0);
    EXPECT_FALSE(individuals_chart(values));
    EXPECT_FALSE(ewma_chart(values, 1, 1));
    values.push_back(std::numeric_limits<double>::quiet_NaN());
    EXPECT_FALSE(individuals_chart(values));
    EXPECT_FALSE(ewma_chart(values, 1, 1));
    values.back() = 1;
    EXPECT_TRUE(individuals_chart(values));
    EXPECT_TRUE(ewma_chart(values, 1, 1));
    EXPECT_FALSE(ewma_chart(values, 1, 0));
    EXPECT_FALSE(ewma_chart(values, 1, 1, {0, 3}));
    EXPECT_FALSE(ewma_chart(values, 1, 1, {1.5, 3}));
}

// Nelson (1984): nine on one side by chance about once in 256 rows of nine, six rising or falling
// about once in 360 / 2; 3 sigma once in 370. Of steady points few break a rule.
TEST(IndividualsChart, SteadyPointsSeldomBreakARule) {
    std::mt19937_64 engine(12);
    std::normal_distribution<double> scatter;
    std::vector<double> values(20'000);
    for (double& value : values) {
        value = scatter(engine);
    }
    const auto breaks = individuals_chart(values)->breaks;
    const auto share = [&](ChartRule rule) { return broken(breaks, rule) / 20'000.0; };
    EXPECT_NEAR(share(ChartRule::beyond_three_sigma), 0.0027, 0.0012);
    EXPECT_NEAR(share(ChartRule::nine_on_one_side), 1 / 256.0, 0.003);
    EXPECT_NEAR(share(ChartRule::six_rising_or_falling), 2 / 720.0, 0.002);
    EXPECT_LT(share(ChartRule::two_of_three_beyond_two_sigma), 0.005);
    EXPECT_LT(share(ChartRule::moving_range), 0.02);
}

TEST(ChartRules, AreNamed) {
    EXPECT_EQ(chart_rule_name(ChartRule::nine_on_one_side), "nine in a row on one side");
    EXPECT_EQ(chart_rule_name(ChartRule::six_rising_or_falling), "six in a row rising or falling");
}

/// `steady` weeks about 0.4 with u 0.05, then `moved` weeks off by `step`.
struct Weeks {
    std::vector<double> values, u;

    Weeks(std::mt19937& random, int steady, int moved = 0, double step = 0) {
        std::normal_distribution<double> normal;
        for (int week = 0; week < steady + moved; ++week) {
            values.push_back(0.4 + 0.05 * normal(random) + (week < steady ? 0 : step));
            u.push_back(0.05);
        }
    }
    CheckStandard check() const { return check_standard(values, u).value(); }
};

TEST(CheckStandard, IsAcceptedFromItsFirstMeasurementsWhichStay) {
    const std::vector<double> u(12, 0.1);
    const std::vector<double> four(4, 1.0);
    EXPECT_FALSE(check_standard(four, std::span(u).first(4)));
    const std::vector<double> values{1, 2, 3, 2, 2, 1, 2, 3, 2, 2, 50, 2};
    const auto five = check_standard(std::span(values).first(5), std::span(u).first(5));
    ASSERT_TRUE(five);
    EXPECT_EQ(five->accepted_from, 5U);
    const auto check = check_standard(values, u);
    ASSERT_TRUE(check);
    EXPECT_EQ(check->accepted_from, 10U);
    EXPECT_DOUBLE_EQ(check->accepted, 2);
    EXPECT_NEAR(check->standard_deviation, 2.0 / 3, 1e-12);
    // Student's t of 0.99865 and 9 degrees of freedom: 4.09 (printed tables: 99.73 %, two-sided).
    EXPECT_NEAR(check->upper - 2, 4.09 * 2 / 3 * std::sqrt(1.1), 0.005);
    EXPECT_DOUBLE_EQ(check->upper + check->lower, 4);
    ASSERT_FALSE(check->breaks.empty());
    EXPECT_EQ(check->breaks.front().point, 10U);
    EXPECT_EQ(check->breaks.front().rule, ChartRule::beyond_three_sigma);
}

TEST(CheckStandard, OfASteadyProcessSeldomLeavesItsLimits) {
    std::mt19937 random(21);
    int beyond = 0;
    constexpr int checks = 4000;
    for (int i = 0; i < checks; ++i) {
        const CheckStandard check = Weeks(random, 11).check();
        beyond +=
            !check.breaks.empty() && check.breaks.front().rule == ChartRule::beyond_three_sigma ? 1
                                                                                                : 0;
    }
    // 27 of 10,000, as of 3 sigma; four standard deviations of the binomial above.
    const double expected = 0.0027 * checks;
    EXPECT_LT(beyond, expected + 4 * std::sqrt(expected));
    EXPECT_GT(beyond, 0);
}

TEST(CheckStandard, ThatMovedIsFoundAndTheLastGoodOneIsNamed) {
    std::mt19937 random(22);
    const Weeks weeks(random, 20, 3, 0.5);  // ten times its scatter
    const CheckStandard check = weeks.check();
    EXPECT_TRUE(check.left_its_limits(23));
    EXPECT_EQ(check.last_good(23), 19U);
    EXPECT_EQ(check.scatter->call, StatedUncertainty::too_small);
    const Weeks steady(random, 20);
    EXPECT_FALSE(steady.check().left_its_limits(20));
    EXPECT_EQ(steady.check().last_good(20), 18U);
    EXPECT_EQ(steady.check().scatter->call, StatedUncertainty::as_stated);
}

TEST(CheckStandard, ASmallDriftIsFoundByTheWeightedMean) {
    std::mt19937 random(23);
    const CheckStandard check = Weeks(random, 10, 30, 0.1).check();  // twice its scatter
    EXPECT_TRUE(std::any_of(check.breaks.begin(), check.breaks.end(), [](const RuleBreak& one) {
        return one.rule == ChartRule::weighted_mean;
    }));
}

TEST(CheckStandard, ScatterAgainstUnequalStatedUncertainties) {
    // Two values of u 1 and two of u 2 about their weighted mean (0 * 2 + 2 * 0.5) / 2.5 = 0.4:
    // 2 * 0.16 + (1.6^2 + 1.6^2) / 4 = 1.6; and a fifth of u 1 on that mean adds nothing.
    const std::vector<double> values{0, 0, 2, 2, 0.4};
    const std::vector<double> u{1, 1, 2, 2, 1};
    const auto check = check_standard(values, u);
    ASSERT_TRUE(check && check->scatter);
    EXPECT_NEAR(check->scatter->chi_square, 1.6, 1e-12);
    EXPECT_EQ(check->scatter->degrees_of_freedom, 4);
    const std::vector<double> none(5, std::nan(""));
    EXPECT_FALSE(check_standard(values, none)->scatter);
}

}  // namespace
}  // namespace squaresight

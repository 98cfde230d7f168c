#include "agreement/descriptive.h"

#include <gtest/gtest.h>

#include <boost/multiprecision/cpp_dec_float.hpp>
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "published/nist_strd_sets.h"
#include "support/digits.h"

// Against NIST/ITL Statistical Reference Datasets (StRD), https://www.itl.nist.gov/div898/strd/:
// certified values as published, log relative errors in the tests' properties.
namespace squaresight {
namespace {

using test::expect_digits;

template <std::size_t count>
std::vector<double> values_of(const double (&table)[count]) {
    return {table, table + count};
}

struct CertifiedMoments {
    double mean, standard_deviation, autocorrelation;
    double least_digits_sd, least_digits_autocorrelation;
};

void expect_certified(const std::string& name, const std::vector<double>& values,
                      const CertifiedMoments& certified) {
    const auto of = moments(values);
    ASSERT_TRUE(of);
    expect_digits(name + "_mean", of->mean, certified.mean, 13);
    expect_digits(name + "_sd", of->standard_deviation, certified.standard_deviation,
                  certified.least_digits_sd);
    expect_digits(name + "_autocorrelation", of->lag_1_autocorrelation, certified.autocorrelation,
                  certified.least_digits_autocorrelation);
}

// NIST prints 15 digits, 14 of which can be asked for.
TEST(NistUnivariate, ObservedSets) {
    expect_certified("Lew", values_of(test::strd_lew),
                     {-177.435000000000, 277.332168044316, -0.307304800605679, 14, 14});
    expect_certified("Lottery", values_of(test::strd_lottery),
                     {518.958715596330, 291.699727470969, -0.120948622967393, 14, 14});
    std::vector<double> pi;
    for (const char* figure = test::strd_pi_digits; *figure != '\0'; ++figure) {
        pi.push_back(*figure - '0');
    }
    ASSERT_EQ(pi.size(), 5000u);
    expect_certified("PiDigits", pi,
                     {4.53480000000000, 2.86733906028871, -0.00355099287237972, 14, 13});
}

// 2.0018 is no double: of digits that all values share, four here, so many are lost to its
// rounding.
TEST(NistUnivariate, SetsOfAverageDifficulty) {
    expect_certified("Mavro", values_of(test::strd_mavro),
                     {2.00185600000000, 0.000429123454003053, 0.937989183438248, 12, 12});
    expect_certified("Michelso", values_of(test::strd_michelso),
                     {299.852400000000, 0.0790105478190518, 0.535199668621283, 12, 12});
}

/// Origin plus 0.2, then by turns 0.1 and 0.3, 1001 values in all.
std::vector<double> alternating(double middle, double low, double high) {
    std::vector<double> values{middle};
    for (int k = 0; k < 500; ++k) {
        values.push_back(low);
        values.push_back(high);
    }
    return values;
}

// NumAcc3 and NumAcc4: rounding of the data themselves to doubles leaves 10 and 9 digits of 0.1.
TEST(NistUnivariate, ConstructedSets) {
    expect_certified("NumAcc1", {10000001, 10000003, 10000002}, {10000002, 1, -0.5, 15, 15});
    expect_certified("NumAcc2", alternating(1.2, 1.1, 1.3), {1.2, 0.1, -0.999, 14, 14});
    expect_certified("NumAcc3", alternating(1000000.2, 1000000.1, 1000000.3),
                     {1000000.2, 0.1, -0.999, 9, 9});
    expect_certified("NumAcc4", alternating(10000000.2, 10000000.1, 10000000.3),
                     {10000000.2, 0.1, -0.999, 8, 8});
}

struct Grouped {
    std::vector<double> values;
    std::vector<std::size_t> groups;
};

template <std::size_t rows, std::size_t columns>
Grouped grouped(const double (&table)[rows][columns]) {
    Grouped data;
    for (std::size_t row = 0; row < rows; ++row) {
        for (std::size_t column = 0; column < columns; ++column) {
            data.values.push_back(table[row][column]);
            data.groups.push_back(row);
        }
    }
    return data;
}

/// SmLs01 above 1, SmLs07 above 1e12.
Grouped simon_lesage(double origin) {
    Grouped data;
    std::size_t group = 0;
    for (const auto& row : test::strd_smls_tenths) {
        for (const int tenths : row) {
            // The double next to the printed number, as reading it gives.
            data.values.push_back((origin * 10 + tenths) / 10);
            data.groups.push_back(group);
        }
        ++group;
    }
    return data;
}

struct CertifiedAnova {
    double between_dof, between_ss, f, within_dof, within_ss, r_squared;
};

void expect_certified(const std::string& name, const Grouped& data, const CertifiedAnova& certified,
                      double least_digits) {
    const auto anova = one_way_anova(data.values, data.groups);
    ASSERT_TRUE(anova);
    EXPECT_EQ(anova->between_dof, certified.between_dof);
    EXPECT_EQ(anova->within_dof, certified.within_dof);
    expect_digits(name + "_between", anova->between_sum_of_squares, certified.between_ss,
                  least_digits);
    expect_digits(name + "_within", anova->within_sum_of_squares, certified.within_ss,
                  least_digits);
    expect_digits(name + "_f", anova->f, certified.f, least_digits);
    expect_digits(name + "_r_squared", anova->r_squared, certified.r_squared, least_digits);
}

const CertifiedAnova smls{8, 1.68, 21, 180, 1.8, 4.82758620689655e-01};

TEST(NistAnova, SetsOfLowerDifficulty) {
    expect_certified("SiRstv", grouped(test::strd_sirstv),
                     {4, 5.11462616e-02, 1.18046237440255, 20, 2.1663656e-01, 1.90999039051129e-01},
                     12);
    expect_certified("SmLs01", simon_lesage(1), smls, 14);
}

TEST(NistAnova, SetOfAverageDifficulty) {
    expect_certified(
        "AtmWtAg", grouped(test::strd_atmwtag),
        {1, 3.638341875e-09, 15.9467335677930, 46, 1.04951729166667e-08, 2.57426544538321e-01}, 8);
}

// Thirteen leading digits are the same in all values. Next to 1000000000000.4 doubles lie 0.00012
// apart, so that reading alone leaves three or four digits of what differs, whatever is done after:
// the second test says so. An analysis of variance does not see where its values count from; read
// as what they are above 1000000000000 the values lose nothing.
TEST(NistAnova, SetOfHigherDifficultyReadFromItsOrigin) {
    expect_certified("SmLs07_from_origin", simon_lesage(0), smls, 13);
}

using Exact = boost::multiprecision::cpp_dec_float_100;

Exact exact_f(const Grouped& data) {
    const std::size_t groups = data.groups.back() + 1;
    std::vector<Exact> sums(groups, 0), counts(groups, 0);
    Exact total = 0;
    for (std::size_t i = 0; i < data.values.size(); ++i) {
        sums[data.groups[i]] += data.values[i];
        counts[data.groups[i]] += 1;
        total += data.values[i];
    }
    const Exact mean = total / data.values.size();
    Exact within = 0, between = 0;
    for (std::size_t i = 0; i < data.values.size(); ++i) {
        const Exact off = data.values[i] - sums[data.groups[i]] / counts[data.groups[i]];
        within += off * off;
    }
    for (std::size_t k = 0; k < groups; ++k) {
        const Exact off = sums[k] / counts[k] - mean;
        between += counts[k] * off * off;
    }
    return between / (groups - 1) / (within / (data.values.size() - groups));
}

TEST(NistAnova, SetOfHigherDifficultyAsDoublesLosesOnlyWhatReadingLost) {
    const Grouped data = simon_lesage(1e12);
    expect_certified("SmLs07_as_doubles", data, smls, 3);
    const auto anova = one_way_anova(data.values, data.groups);
    ASSERT_TRUE(anova);
    expect_digits("SmLs07_against_exact_arithmetic_of_the_same_doubles", anova->f,
                  exact_f(data).convert_to<double>(), 12);
}

TEST(NistRegression, Norris) {
    std::vector<double> x, y;
    for (const auto& row : test::strd_norris) {
        y.push_back(row[0]);
        x.push_back(row[1]);
    }
    const auto line = fit_line(x, y);
    ASSERT_TRUE(line);
    expect_digits("intercept", line->intercept.value, -0.262323073774029, 12);
    expect_digits("intercept_sd", line->intercept.standard_error, 0.232818234301152, 13);
    expect_digits("slope", line->slope.value, 1.00211681802045, 14);
    expect_digits("slope_sd", line->slope.standard_error, 0.429796848199937e-03, 13);
    expect_digits("residual_sd", line->residual_standard_deviation, 0.884796396144373, 13);
    expect_digits("r_squared", line->r_squared, 0.999993745883712, 14);
    expect_digits("regression_ss", line->regression_sum_of_squares, 4255954.13232369, 14);
    expect_digits("residual_ss", line->residual_sum_of_squares, 26.6173985294224, 13);
    const double t = line->slope.value / line->slope.standard_error;
    expect_digits("f", t * t, 5436385.54079785, 12);
}

TEST(Descriptive, AnswersNothingWhereThereIsNothingToAnswer) {
    const double not_a_number = std::numeric_limits<double>::quiet_NaN();
    EXPECT_FALSE(moments(std::vector<double>{}));
    EXPECT_FALSE(moments(std::vector<double>{1}));
    EXPECT_FALSE(moments(std::vector<double>{1, not_a_number}));
    EXPECT_FALSE(median(std::vector<double>{}));
    EXPECT_FALSE(fit_line(std::vector<double>{1, 1, 1}, std::vector<double>{1, 2, 3}));
    EXPECT_FALSE(fit_line(std::vector<double>{1, 2}, std::vector<double>{1, 2}));
    const std::vector<std::size_t> one_group{0, 0, 0}, gap{0, 2, 2}, each_its_own{0, 1, 2};
    const std::vector<double> three{1, 2, 3};
    EXPECT_FALSE(one_way_anova(three, one_group));
    EXPECT_FALSE(one_way_anova(three, gap));
    EXPECT_FALSE(one_way_anova(three, each_its_own));
    EXPECT_FALSE(one_way_anova({}, {}));
}

TEST(Descriptive, EqualValuesHaveNoScatterAndNoAutocorrelation) {
    const auto of = moments(std::vector<double>(10, 0.1));
    ASSERT_TRUE(of);
    EXPECT_EQ(of->mean, 0.1);
    EXPECT_EQ(of->standard_deviation, 0);
    EXPECT_EQ(of->lag_1_autocorrelation, 0);
}

TEST(Descriptive, GroupsThatDifferWithoutScatterWithinDifferSurely) {
    const std::vector<double> values{1, 1, 2, 2};
    const std::vector<std::size_t> groups{0, 0, 1, 1};
    const auto anova = one_way_anova(values, groups);
    ASSERT_TRUE(anova);
    EXPECT_EQ(anova->p, 0);
}

TEST(Descriptive, TheMedianIsTheMiddleOrTheMeanOfTwo) {
    EXPECT_EQ(median(std::vector<double>{5, 1, 3}), 3);
    EXPECT_EQ(median(std::vector<double>{5, 1, 3, 4}), 3.5);
    EXPECT_EQ(median(std::vector<double>{7}), 7);
}

}  // namespace
}  // namespace squaresight

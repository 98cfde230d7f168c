#include <gtest/gtest.h>

#include <algorithm>
#include <boost/math/distributions/gamma.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <boost/math/tools/roots.hpp>
#include <cmath>
#include <functional>

#include "adjust/decision.h"
#include "adjust/least_squares.h"
#include "simulate/draw.h"
#include "support/linear_term.h"

// Published risks of deciding by measurement, with the probabilities taken from our own decision
// and, where a process is known beforehand, our own adjustment. Consumer's risk R_C: accepted
// though not conforming. Producer's risk R_P: rejected though conforming.
namespace squaresight {
namespace {

constexpr std::uint64_t seed = 20261125;

double integral(const std::function<double(double)>& f, double low, double high) {
    return boost::math::quadrature::gauss_kronrod<double, 61>::integrate(f, low, high, 12, 1e-12);
}

struct Interval {
    double low, high;
    double middle() const { return (low + high) / 2; }
    double half() const { return (high - low) / 2; }
    bool holds(double value) const { return low <= value && value <= high; }
};

/// That a normal quantity lies in the interval, by the decision's own formula.
double probability_in(const Interval& interval, double value, double u) {
    return decide({value, u}, interval.middle(), interval.half()).probability;
}

struct Risks {
    double consumer, producer;
};

// JCGM 106:2012, 9.5, resistors: 1500 ohm, made with a standard deviation of 0.12, measured with
// u = 0.04, to be within 0.2 ohm. Inputs and acceptance limits as in the example; the risks were
// computed from them with scipy 1.10.1 (quad), where the publication prints two digits.
constexpr double nominal = 1500, process_sd = 0.12, measurement_u = 0.04;
constexpr Interval resistor_tolerance{1499.8, 1500.2};

struct ResistorCase {
    const char* rule;
    Interval acceptance;
    Risks risks;
};
const ResistorCase resistor_cases[] = {
    {"guarded acceptance", {1499.82, 1500.18}, {0.009878291521774326, 0.06902651046158728}},
    {"simple acceptance", {1499.8, 1500.2}, {0.01894220671702177, 0.037207800177953596}},
    {"guarded rejection", {1499.78, 1500.22}, {0.031144552273250574, 0.01755416872798012}},
};

/// What is known of a resistor after it was measured: process and measurement adjusted together.
Estimate adjusted_resistor(double measured) {
    const std::vector<Term> terms{linear({0}, {1}, nominal, process_sd),
                                  linear({0}, {1}, measured, measurement_u)};
    bool converged = false;
    const Eigen::VectorXd start = Eigen::VectorXd::Constant(1, nominal);
    const Solution solution = linearise(terms, minimise(terms, start, converged));
    EXPECT_TRUE(converged && solution.solved);
    return {solution.z[0], std::sqrt(solution.covariance(0, 0))};
}

TEST(Jcgm106Resistors, MostConformBeforeInspection) {
    EXPECT_NEAR(probability_in(resistor_tolerance, nominal, process_sd), 0.9044192954543706, 1e-12);
}

TEST(Jcgm106Resistors, RisksFollowFromTheConformanceProbabilityOfTheAdjustedValue) {
    const boost::math::normal measured(nominal, std::hypot(process_sd, measurement_u));
    // The adjusted value is linear in the measured one.
    const double u = adjusted_resistor(nominal).standard_uncertainty;
    const double slope = adjusted_resistor(nominal + 1).value - adjusted_resistor(nominal).value;
    const auto conforming = [&](double y) {
        return probability_in(resistor_tolerance, nominal + slope * (y - nominal), u);
    };
    const auto accepted_wrongly = [&](double y) { return pdf(measured, y) * (1 - conforming(y)); };
    const auto rejected_wrongly = [&](double y) { return pdf(measured, y) * conforming(y); };
    for (const auto& [rule, acceptance, risks] : resistor_cases) {
        // Not to rounding: the solver stops 3e-9 of the correction short of the minimum.
        EXPECT_NEAR(integral(accepted_wrongly, acceptance.low, acceptance.high), risks.consumer,
                    2e-9)
            << rule;
        EXPECT_NEAR(integral(rejected_wrongly, nominal - 2, acceptance.low) +
                        integral(rejected_wrongly, acceptance.high, nominal + 2),
                    risks.producer, 2e-9)
            << rule;
    }
}

TEST(Jcgm106Resistors, RisksAreThoseOfSimulatedResistors) {
    SCOPED_TRACE(seed);
    Draw draw(seed);
    constexpr int count = 1000000;
    Risks seen[3] = {};
    for (int i = 0; i < count; ++i) {
        const double made = nominal + draw.normal(process_sd);
        const double measured = made + draw.normal(measurement_u);
        const bool conforms = resistor_tolerance.holds(made);
        for (std::size_t k = 0; k < 3; ++k) {
            const bool accepted = resistor_cases[k].acceptance.holds(measured);
            seen[k].consumer += accepted && !conforms ? 1.0 / count : 0;
            seen[k].producer += !accepted && conforms ? 1.0 / count : 0;
        }
    }
    for (std::size_t k = 0; k < 3; ++k) {
        const Risks& risks = resistor_cases[k].risks;
        EXPECT_NEAR(seen[k].consumer, risks.consumer, 4 * std::sqrt(risks.consumer / count));
        EXPECT_NEAR(seen[k].producer, risks.producer, 4 * std::sqrt(risks.producer / count));
    }
}

// JCGM 106:2012, 9.5.4, ball bearings: radial error motion at most 2 um, made with a gamma
// distribution of mean 1 um and standard deviation 0.5 um, measured with u = 0.25 um. 4.238 % do
// not conform, R_C = 0.80 % where all measured within 2 um are accepted; the limit for R_C = 0.1 %
// is 1.6718 um (further digits and R_P computed with scipy 1.10.1).
class Jcgm106Bearings : public ::testing::Test {
  protected:
    static constexpr double limit = 2, u = 0.25, far = 12;  // um
    const boost::math::gamma_distribution<> made_{4, 0.25};

    /// A bearing of this error motion is measured below the acceptance limit.
    static double accepted(double error_motion, double acceptance) {
        return probability_in({acceptance - 100, acceptance}, error_motion, u);
    }
    Risks risks(double acceptance) const {
        return {
            integral([&](double x) { return pdf(made_, x) * accepted(x, acceptance); }, limit, far),
            integral([&](double x) { return pdf(made_, x) * (1 - accepted(x, acceptance)); }, 0,
                     limit)};
    }
};

TEST_F(Jcgm106Bearings, RisksOfSimpleAcceptance) {
    EXPECT_NEAR(cdf(complement(made_, limit)), 0.04238011199168396, 1e-12);
    EXPECT_NEAR(risks(limit).consumer, 0.008019111884287177, 1e-10);
    EXPECT_NEAR(risks(limit).producer, 0.017444569229783605, 1e-10);
}

TEST_F(Jcgm106Bearings, GuardBandForARiskOfOneInAThousand) {
    std::uintmax_t steps = 100;
    const auto [low, high] = boost::math::tools::toms748_solve(
        [&](double acceptance) { return risks(acceptance).consumer - 0.001; }, 1.0, 2.0,
        boost::math::tools::eps_tolerance<double>(40), steps);
    EXPECT_NEAR(low, 1.6718, 5e-5);
    EXPECT_NEAR(low, 1.6718287715556535, 1e-8);
    EXPECT_NEAR(high, low, 1e-9);
    EXPECT_NEAR(risks(low).producer, 0.07549387610257931, 1e-8);
}

// ILAC-G8:09/2019, table 1: guard band w = r U with U = 2 u, and the risk that a value accepted at
// its very edge does not conform, as printed ("< 1 ppm" and so on) and as the normal distribution
// has it (computed with scipy 1.10.1).
struct GuardBand {
    const char* rule;
    double w_over_u_expanded;
    double printed_risk, risk;
    Call ours;
};

TEST(IlacG8, GuardBandsHaveTheirPrintedRisks) {
    const GuardBand table[] = {
        {"6 sigma", 3, 1e-6, 9.865876450376946e-10, Call::in_tolerance},
        {"3 sigma", 1.5, 0.0016, 0.0013498980316300933, Call::in_tolerance},
        {"ILAC-G8:2009", 1, 0.025, 0.022750131948179195, Call::in_tolerance},
        {"ISO 14253-1:2017", 0.83, 0.05, 0.04845722626672282, Call::in_tolerance},
        {"simple acceptance", 0, 0.5, 0.5, Call::too_close_to_call},
        {"uncritical", -1, 0.98, 0.977249868051820805, Call::out_of_tolerance},
    };
    const double u = 0.01, tolerance = 1;  // the other limit is 200 u away
    for (const auto& band : table) {
        for (const double side : {1.0, -1.0}) {
            const double edge = side * (tolerance - band.w_over_u_expanded * 2 * u);
            const Verdict verdict = decide({edge, u}, 0, tolerance);
            EXPECT_NEAR(1 - verdict.probability, band.risk, 1e-12) << band.rule;
            EXPECT_LE(1 - verdict.probability, band.printed_risk) << band.rule;
            // Ours is the rule of ISO 14253-1:2017 with a guard of 1.645 u, of which 0.83 U is
            // the rounded one: in tolerance wherever that or a stricter rule accepts.
            EXPECT_EQ(verdict.call, band.ours) << band.rule;
        }
    }
}

// ISO 14253-1: conformity is proved from T_L + g to T_U - g, non-conformity beyond T_L - g and
// T_U + g, neither otherwise. g = 1.65 u (2017, by default, one-sided 95 %), in the editions of
// 1998 and 2013 U = 2 u.
Call by_iso_14253(double value, const Interval& tolerance, double g) {
    if (tolerance.low + g <= value && value <= tolerance.high - g) {
        return Call::in_tolerance;
    }
    return value < tolerance.low - g || value > tolerance.high + g ? Call::out_of_tolerance
                                                                   : Call::too_close_to_call;
}

TEST(Iso14253, OurCallsAreThoseOfItsRule) {
    const double u = 0.02;
    const Interval tolerance{-0.3, 0.3};
    int counts[3] = {};
    for (int i = 0; i <= 1000; ++i) {
        // 1.65 for 1.645 moves the edges by 0.0001; no value lies between.
        const double value = -0.5005 + 0.001 * i;
        const Call ours = decide({value, u}, 0, 0.3).call;
        EXPECT_EQ(ours, by_iso_14253(value, tolerance, 1.65 * u)) << value;
        counts[static_cast<int>(ours)]++;
        const Call older = by_iso_14253(value, tolerance, 2 * u);
        if (older != Call::too_close_to_call) {
            EXPECT_EQ(ours, older) << "what the stricter editions prove, ours proves: " << value;
        }
    }
    EXPECT_GT(*std::min_element(counts, counts + 3), 50);
}

TEST(Iso14253, GuardGrowsToTheTwoSidedOneWhereBothLimitsAreNear) {
    // The rule with 1.65 u holds for u small against the tolerance; p >= 95 % asks for more where
    // both limits matter, up to 1.96 u in the middle of a tolerance of +/- 1.96 u.
    const auto guard = [](double tolerance_over_u) {
        double inside = 0, outside = tolerance_over_u;
        for (int i = 0; i < 60; ++i) {
            const double value = (inside + outside) / 2;
            const bool in = decide({value, 1}, 0, tolerance_over_u).call == Call::in_tolerance;
            (in ? inside : outside) = value;
        }
        return tolerance_over_u - inside;
    };
    EXPECT_NEAR(guard(10), 1.644853626951, 1e-9);
    EXPECT_NEAR(guard(4), 1.645, 1e-3);
    EXPECT_GT(guard(2), 1.7);
    EXPECT_LT(guard(1.961), 1.961 + 1e-9);
    EXPECT_EQ(decide({0, 1}, 0, 1.959).call, Call::too_close_to_call);
}

}  // namespace
}  // namespace squaresight

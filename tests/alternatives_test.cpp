#include "adjust/alternatives.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "simulate/draw.h"
#include "support/linear_term.h"

namespace squaresight {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::IsEmpty;
using ::testing::Not;

/// The levelling network of Ghilani CD, Wolf PR, Adjustment Computations, 4th ed. (Wiley 2006),
/// example 12.1: three heights, six differences.
const std::vector<std::vector<double>> network = {{1, 0, 0},  {-1, 1, 0}, {0, -1, 1},
                                                  {0, 0, -1}, {-1, 0, 1}, {0, 1, 0}};
const std::vector<double> network_u = {0.006, 0.004, 0.005, 0.003, 0.004, 0.012};

/// Two readings of which the rest sees the sum alone, as of a bearing whose two offsets are taped:
/// their tests correlate by 1.
const std::vector<std::vector<double>> offsets = {{1, 0}, {0, 1}, {1, 1}, {1, 1}};
const std::vector<double> offsets_u = {2, 2, 1, 1};

struct Tested {
    Solution solution;
    std::vector<ReadingCheck> checks;
};

/// Readings, in mm, named by their rows.
Tested tested(const std::vector<std::vector<double>>& design, const std::vector<double>& u,
              const std::vector<double>& observed) {
    std::vector<Term> terms;
    std::vector<int> unknowns;
    for (int k = 0; k < static_cast<int>(design.front().size()); ++k) {
        unknowns.push_back(k);
    }
    for (std::size_t row = 0; row < design.size(); ++row) {
        terms.push_back(linear(unknowns, design[row], observed[row], u[row]));
    }
    bool converged = false;
    const Eigen::VectorXd start = Eigen::VectorXd::Zero(static_cast<Eigen::Index>(unknowns.size()));
    Tested result{linearise(terms, minimise(terms, start, converged)), {}};
    for (std::size_t row = 0; row < design.size(); ++row) {
        ReadingCheck check;
        check.row = static_cast<int>(row);
        check.standard_uncertainty = u[row];
        check.shown.name = std::to_string(row);
        check.shown.unit = "mm";
        check.shown.redundancy = result.solution.residual_covariance(check.row, check.row);
        check.shown.w = result.solution.residuals[check.row] / std::sqrt(check.shown.redundancy);
        result.checks.push_back(check);
    }
    return result;
}

std::vector<std::vector<std::string>> sets_of(const std::vector<Suspects>& suspects) {
    std::vector<std::vector<std::string>> sets;
    for (const auto& one : suspects) {
        sets.emplace_back();
        for (const auto& key : one.keys) {
            sets.back().push_back(reading_name(key));
        }
    }
    return sets;
}

TEST(Alternatives, AClearBlunderHasNone) {
    std::vector<double> observed(6, 0.0);
    observed[1] = 0.1;  // 25 u
    const auto result = tested(network, network_u, observed);
    EXPECT_THAT(alternatives_to(result.solution, result.checks, {"0/1"}), IsEmpty());
}

TEST(Alternatives, ReadingsThatCannotBeToldApartAreEachOthers) {
    const auto result = tested(offsets, offsets_u, {40, 0, 0, 0});
    const auto* worst = worst_blunder(result.checks);
    ASSERT_NE(worst, nullptr);
    const auto sets = sets_of(alternatives_to(result.solution, result.checks, {"0/0"}));
    EXPECT_THAT(sets, Contains(ElementsAre("1")));
    EXPECT_THAT(sets, Not(Contains(ElementsAre("0"))));
}

TEST(Alternatives, TwoReadingsAtOnceMayBeTheWrongOnes) {
    std::vector<double> observed(6, 0.0);
    observed[1] = 0.1;
    observed[3] = 0.06;
    const auto result = tested(network, network_u, observed);
    const auto* worst = worst_blunder(result.checks);
    ASSERT_NE(worst, nullptr);
    EXPECT_THAT(sets_of(alternatives_to(result.solution, result.checks, {worst->key()})),
                Contains(ElementsAre("1", "3")));
}

TEST(Alternatives, WithoutAReadingIsTheSolutionThatNeverHadIt) {
    const std::vector<double> observed{0.01, -0.004, 0.02, 0.003, -0.011, 0.03};
    const auto all = tested(network, network_u, observed);
    const Eigen::Vector3d gradient(0.3, -1, 2);
    for (std::size_t left_out = 0; left_out < 6; ++left_out) {
        auto design = network;
        auto u = network_u;
        auto rest = observed;
        design.erase(design.begin() + static_cast<std::ptrdiff_t>(left_out));
        u.erase(u.begin() + static_cast<std::ptrdiff_t>(left_out));
        rest.erase(rest.begin() + static_cast<std::ptrdiff_t>(left_out));
        const auto one_less = tested(design, u, rest);
        const Without found =
            without(all.solution, all.checks, {"0/" + std::to_string(left_out)}, gradient);
        EXPECT_NEAR(found.change_deg, gradient.dot(one_less.solution.z - all.solution.z), 1e-7);
        EXPECT_NEAR(found.standard_uncertainty_deg, std::sqrt(one_less.solution.variance(gradient)),
                    1e-7);
    }
}

/// Of `count` draws with one blunder each, those in which neither the blamed reading nor one of its
/// alternatives is the wrong one, among those where any was blamed.
struct Blamed {
    int found = 0;
    int missed = 0;
};

Blamed blamed_among(const std::vector<std::vector<double>>& design, const std::vector<double>& u,
                    int wrong, double size_u, int count) {
    Draw draw(20261201, static_cast<std::uint64_t>(wrong));
    Blamed blamed;
    for (int i = 0; i < count; ++i) {
        std::vector<double> observed;
        for (const double one : u) {
            observed.push_back(draw.normal(one));
        }
        const auto at = static_cast<std::size_t>(wrong);
        observed[at] += size_u * u[at];
        const auto result = tested(design, u, observed);
        const ReadingCheck* worst = worst_blunder(result.checks);
        if (worst == nullptr) {
            continue;
        }
        ++blamed.found;
        auto sets = sets_of(alternatives_to(result.solution, result.checks, {worst->key()}));
        sets.push_back({worst->shown.name});
        const bool named = std::any_of(sets.begin(), sets.end(), [&](const auto& names) {
            return std::find(names.begin(), names.end(), std::to_string(wrong)) != names.end();
        });
        blamed.missed += named ? 0 : 1;
    }
    return blamed;
}

TEST(Alternatives, TheWrongReadingIsAmongThoseNamed) {
    SCOPED_TRACE("seed 20261201");
    for (int wrong = 0; wrong < 6; ++wrong) {
        const auto clean = tested(network, network_u, std::vector<double>(6, 0.0));
        const double redundancy = clean.checks[static_cast<std::size_t>(wrong)].shown.redundancy;
        for (const double times : {1.0, 2.0, 4.0}) {
            const double size_u = times * findable_factor / std::sqrt(redundancy);
            const Blamed blamed = blamed_among(network, network_u, wrong, size_u, 400);
            // A difference of 9 in chi-square in favour of another: 3 standard deviations.
            EXPECT_GT(blamed.found, 250);
            EXPECT_LE(blamed.missed, 2 + blamed.found / 100) << wrong << " by " << size_u;
        }
    }
    for (int wrong = 0; wrong < 2; ++wrong) {
        const Blamed blamed = blamed_among(offsets, offsets_u, wrong, 20, 400);
        EXPECT_GT(blamed.found, 380);
        EXPECT_EQ(blamed.missed, 0) << wrong;
    }
}

}  // namespace
}  // namespace squaresight

#include "adjust/reliability.h"

#include <algorithm>
#include <boost/math/distributions/gamma.hpp>
#include <cmath>
#include <limits>
#include <map>

namespace squaresight {
namespace {

constexpr double global_test_level = 0.999;

ReadingCheck check(const Solution& solution, int setup, int row, const std::string& name,
                   double value, const std::string& unit, double standard_uncertainty,
                   const std::set<std::string>& set_aside) {
    ReadingCheck found{setup, row, -1, standard_uncertainty, {}};
    found.shown.name = name;
    found.shown.value = value;
    found.shown.unit = unit;
    found.shown.set_aside = set_aside.contains(found.key());
    found.shown.redundancy = std::clamp(solution.residual_covariance(row, row), 0.0, 1.0);
    const double whitened = solution.residuals[row];
    found.shown.residual = whitened * standard_uncertainty;
    const double r = found.shown.redundancy;
    if (r > 1e-9) {
        found.shown.w = r > least_redundancy ? whitened / std::sqrt(r) : 0;
        found.shown.findable = findable_factor * standard_uncertainty / std::sqrt(r);
    } else {
        found.shown.findable = std::numeric_limits<double>::infinity();
    }
    return found;
}

}  // namespace

std::vector<ReadingCheck> check_readings(const Model& model, const Solution& solution,
                                         const std::set<std::string>& set_aside) {
    std::vector<ReadingCheck> checks;
    for (std::size_t k = 0; k < model.unknowns.size(); ++k) {
        const Unknown& unknown = model.unknowns[k];
        if (unknown.role == Role::reading && unknown.standard_uncertainty > 0) {
            checks.push_back(check(
                solution, unknown.setup, row_of_unknown(model, static_cast<int>(k)), unknown.name,
                unknown.read, unknown.unit, unknown.standard_uncertainty, set_aside));
        }
    }
    for (std::size_t t = 0; t < model.tapes.size(); ++t) {
        const TapeTerm& tape = model.tapes[t];
        checks.push_back(check(solution, tape.setup, row_of_tape(model, static_cast<int>(t)),
                               tape.name, tape.length_mm, "mm", tape.standard_uncertainty_mm,
                               set_aside));
    }
    for (std::size_t k = 0; solution.witnessed && k < model.witnesses.size(); ++k) {
        const WitnessTerm& witness = model.witnesses[k];
        checks.push_back(check(solution, witness.setup,
                               row_of_witness(model, solution, static_cast<int>(k)), witness.name,
                               witness.value_deg, "deg", witness.own_deg, set_aside));
        checks.back().sighting = witness.sighting;
    }
    return checks;
}

const ReadingCheck* worst_blunder(const std::vector<ReadingCheck>& checks) {
    const ReadingCheck* worst = nullptr;
    for (const auto& one : checks) {
        if (one.testable() && std::abs(one.shown.w) > test_limit &&
            (worst == nullptr || std::abs(one.shown.w) > std::abs(worst->shown.w))) {
            worst = &one;
        }
    }
    return worst;
}

double GlobalTest::inflation() const {
    return passed ? 1 : std::sqrt(chi_square / degrees_of_freedom);
}

GlobalTest global_test(const std::vector<ReadingCheck>& checks) {
    GlobalTest test;
    for (const auto& one : checks) {
        if (!one.shown.set_aside) {
            test.chi_square += std::pow(one.shown.residual / one.standard_uncertainty, 2);
            test.degrees_of_freedom += one.shown.redundancy;
        }
    }
    if (test.degrees_of_freedom > least_redundancy) {
        const boost::math::gamma_distribution<> expected(test.degrees_of_freedom / 2, 2);
        test.passed = test.chi_square <= boost::math::quantile(expected, global_test_level);
    }
    return test;
}

void by_yaw(std::vector<BudgetLine>& budget) {
    std::stable_sort(budget.begin(), budget.end(), [](const BudgetLine& a, const BudgetLine& b) {
        return a.yaw_deg > b.yaw_deg;
    });
}

std::vector<BudgetLine> budget_of(const Solution& solution, const Eigen::VectorXd& yaw_gradient,
                                  const Eigen::VectorXd& pitch_gradient, double inflation) {
    const Eigen::VectorXd yaw = solution.jacobian * (solution.covariance * yaw_gradient);
    const Eigen::VectorXd pitch = solution.jacobian * (solution.covariance * pitch_gradient);
    std::map<std::string, BudgetLine> lines;
    for (Eigen::Index row = 0; row < yaw.size(); ++row) {
        auto& line = lines[solution.row_source[static_cast<std::size_t>(row)]];
        line.yaw_deg += yaw[row] * yaw[row];
        line.pitch_deg += pitch[row] * pitch[row];
    }
    std::vector<BudgetLine> budget;
    for (auto& [source, line] : lines) {
        budget.push_back(
            {source, inflation * std::sqrt(line.yaw_deg), inflation * std::sqrt(line.pitch_deg)});
    }
    by_yaw(budget);
    return budget;
}

}  // namespace squaresight

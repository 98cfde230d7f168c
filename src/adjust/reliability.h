#pragma once
#include <Eigen/Core>
#include <string>
#include <vector>

#include "adjust/adjustment.h"
#include "adjust/solution.h"

/// Baarda's reliability of the readings of a solved model. Internal to `adjust`.
namespace squaresight {

inline constexpr double test_limit = 3.29;       ///< |w| at alpha = 0.001, two-sided
inline constexpr double findable_factor = 4.13;  ///< noncentrality at alpha = 0.001, power 0.80
inline constexpr double least_redundancy = 0.01;

/// A reading with its row in the solution.
struct ReadingCheck {
    int setup = 0;
    int row = 0;
    int sighting = -1;  ///< of a witness: its stage; -1: every stage of the setup
    double standard_uncertainty = 0;
    CheckedReading shown;
    std::string key() const { return reading_key(setup, shown.name); }
    bool testable() const { return shown.redundancy > least_redundancy && !shown.set_aside; }
};

/// All readings that were taken: direct ones, then tapes, then, in a solution of `with_witnesses`,
/// witnesses.
std::vector<ReadingCheck> check_readings(const Model& model, const Solution& solution,
                                         const std::set<std::string>& set_aside);

/// The reading with the largest |w| beyond the limit; nothing if all pass.
const ReadingCheck* worst_blunder(const std::vector<ReadingCheck>& checks);

/// Joint test of the readings that were not set aside.
struct GlobalTest {
    double chi_square = 0;
    double degrees_of_freedom = 0;
    bool passed = true;
    double inflation() const;  ///< of u: sqrt(chi2 / dof) where the test failed, else 1
};
GlobalTest global_test(const std::vector<ReadingCheck>& checks);

/// Largest share of yaw first.
void by_yaw(std::vector<BudgetLine>& budget);

/// Shares of the inputs in two quantities, largest share of the first on top.
std::vector<BudgetLine> budget_of(const Solution& solution, const Eigen::VectorXd& yaw_gradient,
                                  const Eigen::VectorXd& pitch_gradient, double inflation);

}  // namespace squaresight

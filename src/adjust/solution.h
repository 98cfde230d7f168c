#pragma once
#include <Eigen/Core>
#include <string>
#include <vector>

#include "adjust/model.h"

/// Solving a Model and reading uncertainty off its solution. Internal to `adjust`.
namespace squaresight {

/// The least-squares solution from one start, and what its Jacobian says. Starts as failure.
struct Solution {
    bool solved = false;
    Eigen::VectorXd z;
    double chi_square = 0;  ///< all rows
    /// Whitened rows: one for each unknown that is not free (in order), then tapes, then corners.
    Eigen::VectorXd residuals;
    Eigen::MatrixXd jacobian;
    Eigen::MatrixXd covariance;           ///< of z
    std::vector<std::string> row_source;  ///< budget line of each row
    std::vector<int> prior_row;           ///< row of an unknown's prior or reading; -1 where free
    int first_tape_row = 0;

    double variance(const Eigen::VectorXd& gradient) const {
        return gradient.dot(covariance * gradient);
    }
};

/// Minimises from `start` with Ceres. With `robust` corners count by a robust loss.
/// Not solved when the solver fails or z is not finite; the Jacobian is then empty.
Eigen::VectorXd minimise(const Model& model, const Eigen::VectorXd& start, bool robust,
                         bool& converged);

/// Jacobian, residuals (without loss) and covariance at `z`; not solved where the normal matrix is
/// singular, that is, where something is not determined at all.
Solution linearise(const Model& model, const Eigen::VectorXd& z);

/// Solves the model: robust first, drops corners that do not fit, estimates each photo's corner
/// noise, and solves again. Changes the model's corners and noise factors.
Solution solve(Model& model, const Eigen::VectorXd& start);

/// Gradient of one quantity by z.
Eigen::VectorXd gradient_of(const Dependent& quantity, Eigen::Index unknowns);

}  // namespace squaresight

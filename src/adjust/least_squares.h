#pragma once
#include <ceres/cost_function.h>

#include <Eigen/Core>
#include <memory>
#include <string>
#include <vector>

/// Weighted least squares over plain numbers, solved with Ceres: what the adjustment of a job is
/// built on, and what published adjustments are checked against. Internal to `adjust`.
namespace squaresight {

/// Observations that are whitened: each residual (computed minus observed) has standard deviation 1
/// and they are independent. The cost's parameter blocks are the listed unknowns, one number each.
struct Term {
    std::shared_ptr<ceres::CostFunction> cost;
    std::vector<int> unknowns;
    std::string source;  ///< its line in the budget
};

/// An error that some observations share beyond their own. Their weights allow for it as if it were
/// noise of each by itself; what it does to the solution is propagated as it is.
struct SharedError {
    Eigen::MatrixXd response;    ///< d observation / d unknowns, each row over its variance
    Eigen::MatrixXd covariance;  ///< of the shared error of these observations
    Eigen::VectorXd allowed;     ///< variance that their weights allow for it
};

/// A solution and what its Jacobian says. Starts as failure.
struct Solution {
    bool solved = false;
    bool witnessed = false;     ///< holds the rows of a model's witnesses too
    Eigen::VectorXd z;          ///< the unknowns
    Eigen::VectorXd residuals;  ///< one row an observation, in the order of the terms
    Eigen::MatrixXd jacobian;
    Eigen::MatrixXd covariance;  ///< of z
    std::vector<int> first_row;  ///< of each term
    std::vector<std::string> row_source;
    double chi_square() const { return residuals.squaredNorm(); }
    std::shared_ptr<const std::vector<SharedError>> shared_errors;  ///< null: none
    /// Of two quantities, what observations share included.
    double covariance_of(const Eigen::VectorXd& a, const Eigen::VectorXd& b) const;
    double variance(const Eigen::VectorXd& gradient) const {
        return covariance_of(gradient, gradient);
    }
    /// The parts of a variance that come from what observations share: as it is, and as their
    /// weights allow for it, which the covariance holds.
    struct SharedVariance {
        double real = 0;
        double allowed = 0;
    };
    SharedVariance shared_variance(const Eigen::VectorXd& a, const Eigen::VectorXd& b) const;
    /// Covariance of the residuals of two rows; of a row with itself its redundancy number.
    double residual_covariance(int a, int b) const;
    /// How far a quantity moves when the observation of a row is one standard deviation larger.
    double pull(const Eigen::VectorXd& gradient, int row) const;
};

/// Minimises the sum of squares from `start`. `converged` is false where the solver gave up or z is
/// not finite.
Eigen::VectorXd minimise(const std::vector<Term>& terms, const Eigen::VectorXd& start,
                         bool& converged);

/// Jacobian, residuals and covariance at z. Not solved where a term cannot be evaluated or the
/// normal matrix is singular, that is, where something is not determined at all.
Solution linearise(const std::vector<Term>& terms, const Eigen::VectorXd& z);

}  // namespace squaresight

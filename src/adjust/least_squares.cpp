#include "adjust/least_squares.h"

#include <ceres/ceres.h>

#include <Eigen/Cholesky>

namespace squaresight {
namespace {

constexpr Eigen::Index few_unknowns = 30;

/// Evaluates one term at the solution's z into rows of the dense system.
bool add_rows(const Term& term, int first_row, Solution& solution) {
    const int rows = term.cost->num_residuals();
    std::vector<const double*> parameters;
    std::vector<Eigen::VectorXd> columns(term.unknowns.size(), Eigen::VectorXd::Zero(rows));
    std::vector<double*> jacobians;
    for (std::size_t k = 0; k < term.unknowns.size(); ++k) {
        parameters.push_back(&solution.z[term.unknowns[k]]);
        jacobians.push_back(columns[k].data());
    }
    if (!term.cost->Evaluate(parameters.data(), solution.residuals.data() + first_row,
                             jacobians.data())) {
        return false;
    }
    for (std::size_t k = 0; k < term.unknowns.size(); ++k) {
        solution.jacobian.col(term.unknowns[k]).segment(first_row, rows) = columns[k];
    }
    return true;
}

}  // namespace

double Solution::residual_covariance(int a, int b) const {
    return (a == b ? 1 : 0) - jacobian.row(a).dot(covariance * jacobian.row(b).transpose());
}

Solution::SharedVariance Solution::shared_variance(const Eigen::VectorXd& a,
                                                   const Eigen::VectorXd& b) const {
    SharedVariance sum;
    if (shared_errors == nullptr) {
        return sum;
    }
    const Eigen::VectorXd by_a = covariance * a;
    const Eigen::VectorXd by_b = covariance * b;
    for (const auto& error : *shared_errors) {
        const Eigen::VectorXd moved_a = error.response * by_a;
        const Eigen::VectorXd moved_b = error.response * by_b;
        sum.real += moved_a.dot(error.covariance * moved_b);
        sum.allowed += moved_a.dot(error.allowed.cwiseProduct(moved_b));
    }
    return sum;
}

double Solution::covariance_of(const Eigen::VectorXd& a, const Eigen::VectorXd& b) const {
    const SharedVariance shared = shared_variance(a, b);
    return a.dot(covariance * b) + shared.real - shared.allowed;
}

double Solution::pull(const Eigen::VectorXd& gradient, int row) const {
    return jacobian.row(row).dot(covariance * gradient);
}

Eigen::VectorXd minimise(const std::vector<Term>& terms, const Eigen::VectorXd& start,
                         bool& converged) {
    Eigen::VectorXd z = start;
    ceres::Problem::Options ownership;
    ownership.cost_function_ownership = ceres::DO_NOT_TAKE_OWNERSHIP;
    ceres::Problem problem(ownership);
    for (const auto& term : terms) {
        std::vector<double*> blocks;
        for (const int unknown : term.unknowns) {
            blocks.push_back(&z[unknown]);
        }
        problem.AddResidualBlock(term.cost.get(), nullptr, blocks);
    }
    ceres::Solver::Options options;
    // QR keeps the most digits; a job's many unknowns share little, and the sparse solver sees it.
    options.linear_solver_type =
        z.size() <= few_unknowns ? ceres::DENSE_QR : ceres::SPARSE_NORMAL_CHOLESKY;
    options.initial_trust_region_radius = 1e8;  // nearly Gauss-Newton: starts are near
    options.min_lm_diagonal = 1;                // what the start says little of is not flung away
    options.max_num_iterations = 200;
    options.function_tolerance = 1e-13;
    options.gradient_tolerance = 1e-12;
    options.parameter_tolerance = 1e-12;
    options.logging_type = ceres::SILENT;
    ceres::Solver::Summary summary;
    ceres::Solve(options, &problem, &summary);
    converged = summary.IsSolutionUsable() && z.allFinite();
    return z;
}

Solution linearise(const std::vector<Term>& terms, const Eigen::VectorXd& z) {
    Solution solution;
    solution.z = z;
    int rows = 0;
    for (const auto& term : terms) {
        solution.first_row.push_back(rows);
        const int count = term.cost->num_residuals();
        rows += count;
        solution.row_source.insert(solution.row_source.end(), count, term.source);
    }
    solution.jacobian = Eigen::MatrixXd::Zero(rows, z.size());
    solution.residuals = Eigen::VectorXd::Zero(rows);
    for (std::size_t t = 0; t < terms.size(); ++t) {
        if (!add_rows(terms[t], solution.first_row[t], solution)) {
            return solution;
        }
    }
    const Eigen::MatrixXd normal = solution.jacobian.transpose() * solution.jacobian;
    const Eigen::LLT<Eigen::MatrixXd> factor(normal);
    if (factor.info() == Eigen::Success) {
        solution.covariance = factor.solve(Eigen::MatrixXd::Identity(normal.rows(), normal.cols()));
        solution.solved = solution.covariance.allFinite();
    }
    return solution;
}

}  // namespace squaresight

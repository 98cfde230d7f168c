#include "adjust/solution.h"

#include <ceres/ceres.h>

#include <Eigen/Cholesky>
#include <algorithm>
#include <memory>

#include "adjust/costs.h"

namespace squaresight {
namespace {

constexpr double noise_floor_px = 0.03;
constexpr double outlier_sigmas = 5;
/// Unknowns that one photo's corners determine by themselves, roughly: its pose.
constexpr double photo_freedom = 6;

/// An unknown in its own standard uncertainties was observed to be zero.
struct PriorCost : ceres::SizedCostFunction<1, 1> {
    bool Evaluate(double const* const* parameters, double* residuals,
                  double** jacobians) const override {
        residuals[0] = parameters[0][0];
        if (jacobians != nullptr && jacobians[0] != nullptr) {
            jacobians[0][0] = 1;
        }
        return true;
    }
};

std::vector<double*> pointers(Eigen::VectorXd& z, const std::vector<int>& unknowns) {
    std::vector<double*> list;
    for (const int unknown : unknowns) {
        list.push_back(&z[unknown]);
    }
    return list;
}

/// Evaluates one cost at `z` into rows of the dense system from `first_row`.
template <class Cost>
bool add_rows(const Cost& cost, const Eigen::VectorXd& z, int first_row, Solution& solution) {
    const int rows = cost.num_residuals();
    const auto& unknowns = cost.unknowns();
    std::vector<const double*> parameters;
    std::vector<Eigen::VectorXd> columns(unknowns.size(), Eigen::VectorXd::Zero(rows));
    std::vector<double*> jacobians;
    for (std::size_t k = 0; k < unknowns.size(); ++k) {
        parameters.push_back(&z[unknowns[k]]);
        jacobians.push_back(columns[k].data());
    }
    if (!cost.Evaluate(parameters.data(), solution.residuals.data() + first_row,
                       jacobians.data())) {
        return false;
    }
    for (std::size_t k = 0; k < unknowns.size(); ++k) {
        solution.jacobian.col(unknowns[k]).segment(first_row, rows) = columns[k];
    }
    return true;
}

double median(std::vector<double> values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

/// Squared residual of each corner in its own stated covariance, noise factor aside.
std::vector<double> corner_squares(const Model& model, const PhotoTerm& photo,
                                   const Eigen::VectorXd& z) {
    const auto residuals = corner_residuals_px(model, photo, z);
    std::vector<double> squares;
    for (std::size_t c = 0; c < residuals.size(); ++c) {
        squares.push_back(
            residuals[c].dot(photo.corners[c].covariance_px2.llt().solve(residuals[c])));
    }
    return squares;
}

double stated_rms_px(const PhotoTerm& photo) {
    double sum = 0;
    for (const auto& corner : photo.corners) {
        sum += corner.covariance_px2.trace() / 2;
    }
    return std::sqrt(sum / static_cast<double>(photo.corners.size()));
}

/// Median of a chi-square variable with two degrees of freedom: 2 ln 2.
constexpr double chi_square_2_median = 1.386294;

/// Drops corners that do not fit the rest of their photo.
void drop_outliers(const Model& model, PhotoTerm& photo, const Eigen::VectorXd& z) {
    const auto squares = corner_squares(model, photo, z);
    if (squares.empty()) {
        return;
    }
    const double scale2 = std::max(median(squares) / chi_square_2_median,
                                   std::pow(noise_floor_px / stated_rms_px(photo), 2));
    std::vector<Corner> kept;
    for (std::size_t c = 0; c < squares.size(); ++c) {
        if (squares[c] <= outlier_sigmas * outlier_sigmas * scale2) {
            kept.push_back(photo.corners[c]);
        }
    }
    if (kept.size() >= fewest_corners) {
        photo.corners = std::move(kept);
    }
}

/// Noise of the photo's corners from its own residuals, as a factor on what the finder stated.
double estimated_noise_factor(const Model& model, const PhotoTerm& photo,
                              const Eigen::VectorXd& z) {
    const auto squares = corner_squares(model, photo, z);
    double sum = 0;
    for (const double square : squares) {
        sum += square;
    }
    const double freedom = 2 * static_cast<double>(photo.corners.size()) - photo_freedom;
    return std::max(std::sqrt(sum / freedom), noise_floor_px / stated_rms_px(photo));
}

}  // namespace

Eigen::VectorXd gradient_of(const Dependent& quantity, Eigen::Index unknowns) {
    Eigen::VectorXd gradient = Eigen::VectorXd::Zero(unknowns);
    for (const auto& [index, coefficient] : quantity.parts) {
        gradient[index] += coefficient;
    }
    return gradient;
}

Eigen::VectorXd minimise(const Model& model, const Eigen::VectorXd& start, bool robust,
                         bool& converged) {
    Eigen::VectorXd z = start;
    ceres::Problem problem;
    for (std::size_t k = 0; k < model.unknowns.size(); ++k) {
        if (model.unknowns[k].role != Role::free) {
            problem.AddResidualBlock(new PriorCost, nullptr, &z[static_cast<int>(k)]);
        }
    }
    for (const auto& tape : model.tapes) {
        auto cost = std::make_unique<TapeCost>(model, tape);
        const auto blocks = pointers(z, cost->unknowns());
        problem.AddResidualBlock(cost.release(), nullptr, blocks);
    }
    for (const auto& photo : model.photos) {
        auto cost = std::make_unique<PhotoCost>(model, photo, robust);
        const auto blocks = pointers(z, cost->unknowns());
        problem.AddResidualBlock(cost.release(), nullptr, blocks);
    }
    ceres::Solver::Options options;
    options.linear_solver_type = ceres::DENSE_QR;
    options.max_num_iterations = 100;
    options.function_tolerance = 1e-12;
    options.gradient_tolerance = 1e-12;
    options.parameter_tolerance = 1e-11;
    options.logging_type = ceres::SILENT;
    ceres::Solver::Summary summary;
    ceres::Solve(options, &problem, &summary);
    converged = summary.IsSolutionUsable() && z.allFinite();
    return z;
}

Solution linearise(const Model& model, const Eigen::VectorXd& z) {
    Solution solution;
    solution.z = z;
    int rows = 0;
    for (const auto& unknown : model.unknowns) {
        solution.prior_row.push_back(unknown.role == Role::free ? -1 : rows++);
    }
    solution.first_tape_row = rows;
    rows += static_cast<int>(model.tapes.size());
    for (const auto& photo : model.photos) {
        rows += 2 * static_cast<int>(photo.corners.size());
    }
    solution.jacobian = Eigen::MatrixXd::Zero(rows, z.size());
    solution.residuals = Eigen::VectorXd::Zero(rows);
    for (std::size_t k = 0; k < model.unknowns.size(); ++k) {
        if (const int row = solution.prior_row[k]; row >= 0) {
            solution.residuals[row] = z[static_cast<int>(k)];
            solution.jacobian(row, static_cast<int>(k)) = 1;
            solution.row_source.push_back(model.unknowns[k].source);
        }
    }
    int row = solution.first_tape_row;
    for (const auto& tape : model.tapes) {
        if (!add_rows(TapeCost(model, tape), z, row++, solution)) {
            return solution;
        }
        solution.row_source.push_back(tape.name);
    }
    for (const auto& photo : model.photos) {
        if (!add_rows(PhotoCost(model, photo, false), z, row, solution)) {
            return solution;
        }
        const auto count = 2 * photo.corners.size();
        row += static_cast<int>(count);
        solution.row_source.insert(solution.row_source.end(), count, "corner noise");
    }
    solution.chi_square = solution.residuals.squaredNorm();
    const Eigen::MatrixXd normal = solution.jacobian.transpose() * solution.jacobian;
    const Eigen::LLT<Eigen::MatrixXd> factor(normal);
    if (factor.info() != Eigen::Success) {
        return solution;
    }
    solution.covariance = factor.solve(Eigen::MatrixXd::Identity(normal.rows(), normal.cols()));
    solution.solved = solution.covariance.allFinite();
    return solution;
}

Solution solve(Model& model, const Eigen::VectorXd& start) {
    bool converged = false;
    Eigen::VectorXd z = minimise(model, start, false, converged);
    if (!converged) {
        return {};
    }
    z = minimise(model, z, true, converged);
    for (auto& photo : model.photos) {
        drop_outliers(model, photo, z);
    }
    for (int round = 0; round < 2; ++round) {
        for (auto& photo : model.photos) {
            photo.noise_factor = estimated_noise_factor(model, photo, z);
        }
        z = minimise(model, z, false, converged);
    }
    return converged ? linearise(model, z) : Solution{};
}

}  // namespace squaresight

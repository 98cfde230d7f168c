#include "adjust/solution.h"

#include <ceres/sized_cost_function.h>

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <memory>

#include "adjust/corner_noise.h"
#include "adjust/costs.h"
#include "adjust/priors.h"

namespace squaresight {
namespace {

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

/// Drops corners that do not fit the rest of their photo; whether there were any.
bool drop_outliers(const Model& model, PhotoTerm& photo, const Eigen::VectorXd& z) {
    auto kept = without_outliers(photo.corners, corner_residuals_px(model, photo, z));
    if (!kept) {
        return false;
    }
    photo.corners = std::move(*kept);
    return true;
}

/// Of the error that a photo's corners share, along one axis.
Eigen::MatrixXd shared_covariance_px2(const Model& model, const std::vector<Corner>& corners) {
    const auto place_mm = [&](std::size_t c) {
        return model.corners_mm[static_cast<std::size_t>(corners[c].index)];
    };
    Eigen::MatrixXd covariance(corners.size(), corners.size());
    for (std::size_t a = 0; a < corners.size(); ++a) {
        for (std::size_t b = 0; b <= a; ++b) {
            covariance(static_cast<Eigen::Index>(a), static_cast<Eigen::Index>(b)) = covariance(
                static_cast<Eigen::Index>(b), static_cast<Eigen::Index>(a)) =
                std::pow(model.corner_field_px, 2) * corner_correlation(place_mm(a), place_mm(b));
        }
    }
    return covariance;
}

double estimated_noise_factor(const Model& model, const PhotoTerm& photo,
                              const Eigen::VectorXd& z) {
    return noise_factor(photo.corners, corner_residuals_px(model, photo, z));
}

}  // namespace

Eigen::VectorXd start_at_readings(const Model& model) {
    return Eigen::VectorXd::Zero(static_cast<Eigen::Index>(model.unknowns.size()));
}

Eigen::VectorXd gradient_of(const Dependent& quantity, Eigen::Index unknowns) {
    Eigen::VectorXd gradient = Eigen::VectorXd::Zero(unknowns);
    for (const auto& [index, coefficient] : quantity.parts) {
        gradient[index] += coefficient;
    }
    return gradient;
}

CradleEstimate cradle_estimate(const Model& model, const Solution& solution) {
    CradleEstimate cradle;
    Eigen::MatrixXd gradients(solution.z.size(), 5);
    for (int i = 0; i < 5; ++i) {
        const Dependent& part = model.cradle[offset_left_deg + i];
        cradle.values[i] = part.at(solution.z);
        gradients.col(i) = gradient_of(part, solution.z.size());
    }
    cradle.covariance = gradients.transpose() * solution.covariance * gradients;
    return cradle;
}

Pointing pointing_of(const CradleEstimate& cradle, double target_at_mm) {
    const double deg_per_mm = deg_per_rad / target_at_mm;
    Eigen::Matrix<double, 2, 5> map;
    map << 1, 0, 0, deg_per_mm, 0, 0, 1, 0, 0, deg_per_mm;
    return {map * cradle.values, map * cradle.covariance * map.transpose()};
}

std::vector<Term> terms_of(const Model& model, bool robust) {
    std::vector<Term> terms;
    for (std::size_t k = 0; k < model.unknowns.size(); ++k) {
        if (model.unknowns[k].role != Role::free) {
            terms.push_back(
                {std::make_shared<PriorCost>(), {static_cast<int>(k)}, model.unknowns[k].source});
        }
    }
    for (const auto& tape : model.tapes) {
        auto cost = std::make_shared<TapeCost>(model, tape);
        const auto unknowns = cost->unknowns();
        terms.push_back({std::move(cost), unknowns, tape.name});
    }
    for (const auto& photo : model.photos) {
        auto cost = std::make_shared<PhotoCost>(model, photo, robust);
        const auto unknowns = cost->unknowns();
        terms.push_back({std::move(cost), unknowns, "corner noise"});
    }
    return terms;
}

int row_of_unknown(const Model& model, int unknown) {
    return static_cast<int>(
        std::count_if(model.unknowns.begin(), model.unknowns.begin() + unknown,
                      [](const Unknown& one) { return one.role != Role::free; }));
}

int row_of_tape(const Model& model, int tape) {
    return row_of_unknown(model, static_cast<int>(model.unknowns.size())) + tape;
}

void add_shared_corner_errors(const Model& model, Solution& solution) {
    if (model.corner_field_px <= 0) {
        return;
    }
    std::vector<SharedError> errors;
    for (const auto& photo : model.photos) {
        const Eigen::MatrixXd by_unknowns = corner_derivatives_px(model, photo, solution.z);
        const Eigen::MatrixXd covariance = shared_covariance_px2(model, photo.corners);
        const double weighed = std::pow(photo.spread_factor(), 2);
        const double own = std::pow(photo.noise_factor, 2);
        SharedError across{Eigen::MatrixXd(photo.corners.size(), solution.z.size()), covariance,
                           Eigen::VectorXd(photo.corners.size())};
        SharedError down = across;
        for (std::size_t c = 0; c < photo.corners.size(); ++c) {
            const auto row = static_cast<Eigen::Index>(c);
            const Eigen::Matrix2d& stated = photo.corners[c].covariance_px2;
            const Eigen::MatrixXd weighted =
                (weighed * stated).llt().solve(by_unknowns.middleRows<2>(2 * row));
            across.response.row(row) = weighted.row(0);
            down.response.row(row) = weighted.row(1);
            across.allowed[row] = (weighed - own) * stated(0, 0);
            down.allowed[row] = (weighed - own) * stated(1, 1);
        }
        errors.push_back(std::move(across));
        errors.push_back(std::move(down));
    }
    solution.shared_errors = std::make_shared<const std::vector<SharedError>>(std::move(errors));
}

Solution with_witnesses(const Model& model, const Solution& solution) {
    const auto count = static_cast<Eigen::Index>(model.witnesses.size());
    if (!solution.solved || count == 0) {
        return solution;
    }
    Eigen::MatrixXd rows = Eigen::MatrixXd::Zero(count, solution.z.size());
    Eigen::VectorXd misfits(count);
    for (Eigen::Index i = 0; i < count; ++i) {
        const WitnessTerm& witness = model.witnesses[static_cast<std::size_t>(i)];
        for (const auto& [index, coefficient] : witness.predicted_deg.parts) {
            rows(i, index) += coefficient / witness.own_deg;
        }
        misfits[i] = (witness.predicted_deg.at(solution.z) - witness.value_deg) / witness.own_deg;
    }
    const Eigen::MatrixXd seen = solution.covariance * rows.transpose();
    const Eigen::MatrixXd innovation = Eigen::MatrixXd::Identity(count, count) + rows * seen;
    const Eigen::MatrixXd gain = innovation.llt().solve(seen.transpose()).transpose();
    Solution updated = solution;
    updated.witnessed = true;
    const Eigen::VectorXd step = -gain * misfits;
    updated.z += step;
    updated.covariance -= gain * seen.transpose();
    updated.residuals.conservativeResize(solution.residuals.size() + count);
    updated.residuals.head(solution.residuals.size()) += solution.jacobian * step;
    updated.residuals.tail(count) = misfits + rows * step;
    updated.jacobian.conservativeResize(solution.jacobian.rows() + count, Eigen::NoChange);
    updated.jacobian.bottomRows(count) = rows;
    for (Eigen::Index i = 0; i < count; ++i) {
        updated.first_row.push_back(static_cast<int>(solution.residuals.size() + i));
        updated.row_source.emplace_back("tape-and-level");
    }
    return updated;
}

int row_of_witness(const Model& model, const Solution& witnessed, int witness) {
    return static_cast<int>(witnessed.residuals.size()) - static_cast<int>(model.witnesses.size()) +
           witness;
}

Solution solve(Model& model, const Eigen::VectorXd& start) {
    bool converged = false;
    Eigen::VectorXd z = minimise(terms_of(model, false), start, converged);
    if (!converged) {
        return {};
    }
    z = minimise(terms_of(model, true), z, converged);
    bool dropped = false;
    for (auto& photo : model.photos) {
        dropped = drop_outliers(model, photo, z) || dropped;
    }
    if (dropped) {
        z = minimise(terms_of(model, false), z, converged);
    }
    for (auto& photo : model.photos) {
        photo.noise_factor = estimated_noise_factor(model, photo, z);
    }
    return solve_with_known_noise(model, z);
}

Solution solve_with_known_noise(const Model& model, const Eigen::VectorXd& start) {
    bool converged = false;
    const auto terms = terms_of(model, false);
    const Eigen::VectorXd z = minimise(terms, start, converged);
    return converged ? linearise(terms, z) : Solution{};
}

void take_corners(Model& model, const Model& solved) {
    for (std::size_t i = 0; i < model.photos.size(); ++i) {
        model.photos[i].corners = solved.photos[i].corners;
        model.photos[i].noise_factor = solved.photos[i].noise_factor;
    }
}

}  // namespace squaresight

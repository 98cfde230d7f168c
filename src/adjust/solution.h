#pragma once
#include "adjust/least_squares.h"
#include "adjust/model.h"

/// Solving a Model: corners that do not fit, noise of each photo. Internal to `adjust`.
namespace squaresight {

/// The observations of a model: priors and direct readings of all unknowns that are not free (in
/// their order), then tapes, then photos. With `robust` corners count by a robust loss. The model
/// must outlive the terms.
std::vector<Term> terms_of(const Model& model, bool robust);

/// Row of an unknown's prior or reading, and of a tape, in a solution of `terms_of`.
int row_of_unknown(const Model& model, int unknown);
int row_of_tape(const Model& model, int tape);

/// Gives a solution the error that neighbouring corners of each photo share: of standard
/// uncertainty Model::corner_field_px, with correlation exp(-d^2 / 2 L^2) over the board.
void add_shared_corner_errors(const Model& model, Solution& solution);

/// The same solution with the model's witnesses observed too, by linear update: their rows come
/// last, in the model's order. A witness is linear in the unknowns, so that this is the solution
/// that it would have had from the start, but for the curvature of the photos.
Solution with_witnesses(const Model& model, const Solution& solution);

/// Row of a witness in such a solution.
int row_of_witness(const Model& model, const Solution& witnessed, int witness);

/// Solves the model: robust first, drops corners that do not fit, estimates each photo's corner
/// noise, and solves again without loss. Changes the model's corners and noise factors.
Solution solve(Model& model, const Eigen::VectorXd& start);

/// Solves with corners and noise factors as they are: all converged at the start already, or found
/// by `solve` in a model of the same photos.
Solution solve_with_known_noise(const Model& model, const Eigen::VectorXd& start);

/// Gives a model the corners in use and the noise that were found in another one of the same
/// photos.
void take_corners(Model& model, const Model& solved);

/// The readings themselves as a start: every z zero.
Eigen::VectorXd start_at_readings(const Model& model);

/// Gradient of one quantity by z.
Eigen::VectorXd gradient_of(const Dependent& quantity, Eigen::Index unknowns);

/// Offset and lens position of a cradle, in the order of Cradle::covariance.
struct CradleEstimate {
    Eigen::Matrix<double, 5, 1> values;
    Eigen::Matrix<double, 5, 5> covariance;
};
CradleEstimate cradle_estimate(const Model& model, const Solution& solution);

/// Where a cradle points the phone, at the board's distance: offset and lens position together,
/// which only distances that differ tell apart. Degrees left and up.
struct Pointing {
    Eigen::Vector2d deg;
    Eigen::Matrix2d covariance;
};
Pointing pointing_of(const CradleEstimate& cradle, double target_at_mm);

}  // namespace squaresight

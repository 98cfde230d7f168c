#pragma once
#include <ceres/cost_function.h>

#include <array>
#include <vector>

#include "adjust/corner_rows.h"
#include "adjust/model.h"

/// Whitened residuals with their Jacobians, by the unknowns that they depend on. Internal.
namespace squaresight {

/// All corners of one photo, in standard deviations (stated covariance times the photo's noise
/// factor), condensed: what hundreds of corners say about pose, lens and sheet has the same sum of
/// squares, gradient and normal matrix in 21 rows. Without Jacobians only the sum of squares is
/// right. The points of the board are nominal ones, scaled, bowed and twisted.
/// With `robust` each corner's residual is shrunk so that its square is the pseudo-Huber loss.
/// Evaluation fails, and the solver steps back, when a corner would lie behind the camera.
class PhotoCost : public ceres::CostFunction {
  public:
    PhotoCost(const Model& model, const PhotoTerm& photo, bool robust);
    bool Evaluate(double const* const* parameters, double* residuals,
                  double** jacobians) const override;
    const std::vector<int>& unknowns() const { return unknowns_; }

  private:
    const Model& model_;
    const PhotoTerm& photo_;
    ViewedBoard board_;
    static constexpr int lens_at = pose_input_count;
    static constexpr int sheet_at = lens_at + Lens::parameter_count;
    static constexpr int input_count = sheet_at + sheet_input_count;
    std::vector<int> unknowns_;
    std::vector<std::pair<int, double>> parts_of_[input_count];
};

/// Length of a tape, one row in standard deviations.
class TapeCost : public ceres::CostFunction {
  public:
    TapeCost(const Model& model, const TapeTerm& tape);
    bool Evaluate(double const* const* parameters, double* residuals,
                  double** jacobians) const override;
    const std::vector<int>& unknowns() const { return unknowns_; }

  private:
    const Model& model_;
    const TapeTerm& tape_;
    static constexpr int input_count = pose_input_count + sheet_input_count + 3;
    std::vector<int> unknowns_;
    std::vector<std::pair<int, double>> parts_of_[input_count];
};

/// How the corners of one photo move in pixels with each unknown at `z`: rows x and y of each
/// corner, columns the model's unknowns.
Eigen::MatrixXd corner_derivatives_px(const Model& model, const PhotoTerm& photo,
                                      const Eigen::VectorXd& z);

/// Residuals of one photo's corners in pixels, seen minus predicted, at `z`.
std::vector<Eigen::Vector2d> corner_residuals_px(const Model& model, const PhotoTerm& photo,
                                                 const Eigen::VectorXd& z);

}  // namespace squaresight

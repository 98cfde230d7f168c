#pragma once
#include <ceres/cost_function.h>

#include <array>
#include <utility>
#include <vector>

#include "adjust/corner_rows.h"
#include "calibrate/calibration.h"

/// Whitened residuals of a calibration with their Jacobians. Internal to `calibrate`.
namespace squaresight {

/// A quantity by its unknown: mean + unit * z. `unknown` is -1 where it is held at its mean.
struct Scaled {
    double mean = 0;
    double unit = 1;
    int unknown = -1;
    double at(const Eigen::VectorXd& z) const {
        return unknown < 0 ? mean : mean + unit * z[unknown];
    }
};

/// What a photo's corners depend on: terms of the lens, sag (deg), focal scale, sheet, turn of the
/// pose (rad, about the camera's axes) and its displacement (mm).
inline constexpr int sag_input = Lens::term_count;
inline constexpr int scale_input = sag_input + 1;
inline constexpr int sheet_inputs_at = scale_input + 1;
inline constexpr int turn_input = sheet_inputs_at + sheet_input_count;
inline constexpr int shift_input = turn_input + 3;
inline constexpr int view_input_count = shift_input + 3;
using ViewInputs = std::array<Scaled, view_input_count>;
using ViewValues = std::array<double, view_input_count>;

ViewValues values_at(const ViewInputs& inputs, const Eigen::VectorXd& z);

/// The lens as it was in that photo. `down` as in BoardView, zero where it is not known.
Lens lens_of_view(const ViewValues& values, const Eigen::Vector2d& down);
Pose<double> pose_of_view(const ViewValues& values, const Pose<double>& start);
SheetInputs sheet_of_view(const ViewValues& values);

/// All corners of one photo, condensed. Without Jacobians only the sum of squares is right.
class ViewCost : public ceres::CostFunction {
  public:
    /// Turns and displacements count from `start`.
    ViewCost(ViewedBoard board, const ViewInputs& inputs, const Pose<double>& start,
             const Eigen::Vector2d& down);
    bool Evaluate(double const* const* parameters, double* residuals,
                  double** jacobians) const override;
    const std::vector<int>& unknowns() const { return unknowns_; }

  private:
    ViewedBoard board_;
    ViewInputs inputs_;
    Pose<double> start_;
    Eigen::Vector2d down_;
    std::vector<int> unknowns_;
    std::vector<int> input_of_unknown_;
};

/// Parameters of the lens were known before: nine rows.
class KnownLensCost : public ceres::CostFunction {
  public:
    /// `parameters` by their unknowns.
    KnownLensCost(const KnownLens& known, const std::array<Scaled, Lens::term_count>& parameters);
    bool Evaluate(double const* const* parameters, double* residuals,
                  double** jacobians) const override;
    std::vector<int> unknowns() const;

  private:
    Eigen::Matrix<double, 9, 9> whitening_;
    Eigen::Matrix<double, 9, 1> known_;
    std::array<Scaled, Lens::parameter_count> inputs_;
};

/// The covariance with a little added to what it calls certain, so that it has an inverse.
Eigen::Matrix<double, 9, 9> invertible(const Eigen::Matrix<double, 9, 9>& covariance);

}  // namespace squaresight

#include "calibrate/view_cost.h"

#include <Eigen/Cholesky>
#include <Eigen/Geometry>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>

namespace squaresight {
namespace {

constexpr int cx_column = lens_column + 2;
constexpr int cy_column = lens_column + 3;

Eigen::Vector3d turn_of(const ViewValues& values) {
    return {values[turn_input], values[turn_input + 1], values[turn_input + 2]};
}

/// The small turn that follows when a turn by `turn` grows (left Jacobian of SO(3)).
Eigen::Matrix3d left_jacobian(const Eigen::Vector3d& turn) {
    const double angle = turn.norm();
    const Eigen::Matrix3d cross = cross_matrix(turn);
    if (angle < 1e-6) {
        return Eigen::Matrix3d::Identity() + 0.5 * cross;
    }
    return Eigen::Matrix3d::Identity() + (1 - std::cos(angle)) / (angle * angle) * cross +
           (angle - std::sin(angle)) / (angle * angle * angle) * cross * cross;
}

using InputRows = Eigen::Matrix<double, Eigen::Dynamic, view_input_count>;

/// Derivatives by the inputs of a photo, from those by pose, lens and sheet.
InputRows by_inputs(const CornerRows& rows, const ViewValues& values, const Eigen::Vector2d& down) {
    InputRows by(rows.rows(), view_input_count);
    const double fx = values[0];
    const double fy = values[1];
    const double scale = values[scale_input];
    const double sag_rad = values[sag_input] * rad_per_deg;
    const Eigen::VectorXd by_fx =
        rows.col(lens_column) - std::tan(sag_rad) * down.x() * rows.col(cx_column);
    const Eigen::VectorXd by_fy =
        rows.col(lens_column + 1) - std::tan(sag_rad) * down.y() * rows.col(cy_column);
    by.col(0) = scale * by_fx;
    by.col(1) = scale * by_fy;
    by.middleCols<Lens::term_count - 2>(2) = rows.middleCols<Lens::term_count - 2>(lens_column + 2);
    by.col(sag_input) = -scale * rad_per_deg / std::pow(std::cos(sag_rad), 2) *
                        (fx * down.x() * rows.col(cx_column) + fy * down.y() * rows.col(cy_column));
    by.col(scale_input) = fx * by_fx + fy * by_fy;
    by.middleCols<sheet_input_count>(sheet_inputs_at) =
        rows.middleCols<sheet_input_count>(sheet_column);
    by.middleCols<3>(turn_input) = rows.leftCols<3>() * left_jacobian(turn_of(values));
    by.middleCols<3>(shift_input) = rows.middleCols<3>(3);
    return by;
}

}  // namespace

ViewValues values_at(const ViewInputs& inputs, const Eigen::VectorXd& z) {
    ViewValues values;
    std::transform(inputs.begin(), inputs.end(), values.begin(),
                   [&](const Scaled& input) { return input.at(z); });
    return values;
}

Lens lens_of_view(const ViewValues& values, const Eigen::Vector2d& down) {
    std::array<double, Lens::term_count> terms;
    std::copy_n(values.begin(), Lens::term_count, terms.begin());
    Lens lens = Lens::from_terms(terms);
    lens.fx *= values[scale_input];
    lens.fy *= values[scale_input];
    // A lens that hangs lower moves what it sees up in the picture.
    const double sag = std::tan(values[sag_input] * rad_per_deg);
    lens.cx -= lens.fx * sag * down.x();
    lens.cy -= lens.fy * sag * down.y();
    return lens;
}

Pose<double> pose_of_view(const ViewValues& values, const Pose<double>& start) {
    const Eigen::Vector3d turn = turn_of(values);
    const double angle = turn.norm();
    Pose<double> pose = start;
    if (angle > 0) {
        pose.rotation = Eigen::AngleAxisd(angle, turn / angle).toRotationMatrix() * pose.rotation;
    }
    pose.translation_mm +=
        Eigen::Vector3d(values[shift_input], values[shift_input + 1], values[shift_input + 2]);
    return pose;
}

SheetInputs sheet_of_view(const ViewValues& values) {
    SheetInputs sheet;
    std::copy_n(values.begin() + sheet_inputs_at, sheet_input_count, sheet.begin());
    return sheet;
}

ViewCost::ViewCost(ViewedBoard board, const ViewInputs& inputs, const Pose<double>& start,
                   const Eigen::Vector2d& down)
    : board_(std::move(board)), inputs_(inputs), start_(start), down_(down) {
    for (int i = 0; i < view_input_count; ++i) {
        if (inputs_[i].unknown >= 0) {
            unknowns_.push_back(inputs_[i].unknown);
            input_of_unknown_.push_back(i);
        }
    }
    set_num_residuals(std::min(int{corner_columns}, static_cast<int>(2 * board_.count())));
    mutable_parameter_block_sizes()->assign(unknowns_.size(), 1);
}

bool ViewCost::Evaluate(double const* const* parameters, double* residuals,
                        double** jacobians) const {
    ViewValues values;
    for (int i = 0; i < view_input_count; ++i) {
        values[i] = inputs_[i].mean;
    }
    for (std::size_t k = 0; k < unknowns_.size(); ++k) {
        const int input = input_of_unknown_[k];
        values[input] += inputs_[input].unit * parameters[k][0];
    }
    const Lens lens = lens_of_view(values, down_);
    const Pose<double> pose = pose_of_view(values, start_);
    const SheetInputs sheet = sheet_of_view(values);
    if (jacobians == nullptr) {
        const auto square = board_.sum_of_squares(lens, pose, sheet);
        std::fill_n(residuals, num_residuals(), 0.0);
        residuals[0] = std::sqrt(square.value_or(0));
        return square.has_value();
    }
    const auto rows = board_.rows(lens, pose, sheet);
    if (!rows) {
        return false;
    }
    const CornerRows few = condensed(*rows);
    Eigen::Map<Eigen::VectorXd>(residuals, num_residuals()) = few.rightCols<1>();
    const InputRows by = by_inputs(few, values, down_);
    for (std::size_t k = 0; k < unknowns_.size(); ++k) {
        if (jacobians[k] != nullptr) {
            const int input = input_of_unknown_[k];
            Eigen::Map<Eigen::VectorXd>(jacobians[k], num_residuals()) =
                inputs_[input].unit * by.col(input);
        }
    }
    return true;
}

Eigen::Matrix<double, 9, 9> invertible(const Eigen::Matrix<double, 9, 9>& covariance) {
    // A thousandth of what no calibration tells better than.
    Eigen::Matrix<double, 9, 1> least;
    least << 0.1, 0.1, 0.1, 0.1, 1e-4, 1e-4, 1e-5, 1e-5, 1e-4;
    return covariance + Eigen::Matrix<double, 9, 9>(least.cwiseAbs2().asDiagonal());
}

KnownLensCost::KnownLensCost(const KnownLens& known,
                             const std::array<Scaled, Lens::term_count>& parameters) {
    const Eigen::Matrix<double, 9, 9> lower = invertible(known.covariance).llt().matrixL();
    whitening_ = lower.inverse();
    const auto values = known.lens.parameters();
    known_ = Eigen::Map<const Eigen::Matrix<double, 9, 1>>(values.data());
    std::copy_n(parameters.begin(), Lens::parameter_count, inputs_.begin());
    set_num_residuals(Lens::parameter_count);
    mutable_parameter_block_sizes()->assign(Lens::parameter_count, 1);
}

std::vector<int> KnownLensCost::unknowns() const {
    std::vector<int> unknowns;
    for (const auto& input : inputs_) {
        unknowns.push_back(input.unknown);
    }
    return unknowns;
}

bool KnownLensCost::Evaluate(double const* const* parameters, double* residuals,
                             double** jacobians) const {
    Eigen::Matrix<double, 9, 1> off;
    for (int i = 0; i < Lens::parameter_count; ++i) {
        off[i] = inputs_[i].mean + inputs_[i].unit * parameters[i][0] - known_[i];
    }
    Eigen::Map<Eigen::Matrix<double, 9, 1>>(residuals, 9, 1) = whitening_ * off;
    for (int i = 0; jacobians != nullptr && i < Lens::parameter_count; ++i) {
        if (jacobians[i] != nullptr) {
            Eigen::Map<Eigen::Matrix<double, 9, 1>>(jacobians[i], 9, 1) =
                whitening_.col(i) * inputs_[i].unit;
        }
    }
    return true;
}

}  // namespace squaresight

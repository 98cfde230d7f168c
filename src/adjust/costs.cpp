#include "adjust/costs.h"

#include <ceres/jet.h>

#include <Eigen/Cholesky>
#include <Eigen/LU>

#include <algorithm>

namespace squaresight {
namespace {

using PoseJet = ceres::Jet<double, pose_input_count>;

/// Collects the unknowns that quantities depend on, and gives each quantity's parts in terms of
/// positions within that list.
class Wiring {
  public:
    template <class Range>
    void add(const Range& quantities) {
        for (const auto& quantity : quantities) {
            quantities_.push_back(&quantity);
        }
    }

    template <std::size_t count>
    std::vector<int> connect(std::vector<std::pair<int, double>> (&parts_of)[count]) const {
        std::vector<int> unknowns;
        for (const auto* quantity : quantities_) {
            for (const auto& part : quantity->parts) {
                unknowns.push_back(part.first);
            }
        }
        std::sort(unknowns.begin(), unknowns.end());
        unknowns.erase(std::unique(unknowns.begin(), unknowns.end()), unknowns.end());
        for (std::size_t i = 0; i < quantities_.size(); ++i) {
            for (const auto& [unknown, coefficient] : quantities_[i]->parts) {
                const auto at = std::lower_bound(unknowns.begin(), unknowns.end(), unknown);
                parts_of[i].emplace_back(static_cast<int>(at - unknowns.begin()), coefficient);
            }
        }
        return unknowns;
    }

  private:
    std::vector<const Dependent*> quantities_;
};

double value_of(const Dependent& quantity, const std::vector<std::pair<int, double>>& parts,
                double const* const* parameters) {
    double value = quantity.mean;
    for (const auto& [position, coefficient] : parts) {
        value += coefficient * parameters[position][0];
    }
    return value;
}

/// A nominal point of the sheet (mm right and down of the centre) as it really lies in T, and its
/// derivatives by the five inputs of the sheet.
struct SheetPoint {
    Eigen::Vector3d in_target;
    Eigen::Matrix<double, 3, sheet_input_count> by_sheet;
};

SheetPoint sheet_point(const Eigen::Vector2d& nominal_mm, const Eigen::Vector2d& half_mm,
                       const double* sheet) {
    const double a = nominal_mm.x() / half_mm.x();
    const double b = nominal_mm.y() / half_mm.y();
    const double shapes[3] = {a * a - 1.0 / 3, b * b - 1.0 / 3, a * b};
    SheetPoint point;
    point.in_target = {nominal_mm.x() * sheet[0], nominal_mm.y() * sheet[1],
                       shapes[0] * sheet[2] + shapes[1] * sheet[3] + shapes[2] * sheet[4]};
    point.by_sheet << nominal_mm.x(), 0, 0, 0, 0,  //
        0, nominal_mm.y(), 0, 0, 0,                //
        0, 0, shapes[0], shapes[1], shapes[2];
    return point;
}

/// Pseudo-Huber: the shrunk residual f r with |f r|^2 = rho(|r|^2), and d(f r)/dr.
constexpr double robust_width = 2.5;

Eigen::Matrix2d shrink(Eigen::Vector2d& residual) {
    const double s = residual.squaredNorm();
    const double width2 = robust_width * robust_width;
    if (s < 1e-12 * width2) {
        return Eigen::Matrix2d::Identity();
    }
    const double root = std::sqrt(1 + s / width2);
    const double rho = 2 * width2 * (root - 1);
    const double f = std::sqrt(rho / s);
    const double f_by_s = (s / root - rho) / (2 * f * s * s);
    Eigen::Matrix2d by_residual =
        f * Eigen::Matrix2d::Identity() + 2 * f_by_s * residual * residual.transpose();
    residual *= f;
    return by_residual;
}

Eigen::Matrix2d whitening_of(const Eigen::Matrix2d& covariance_px2) {
    const Eigen::Matrix2d lower = covariance_px2.llt().matrixL();
    return lower.inverse();
}

Pose<PoseJet> pose_with_derivatives(const std::array<double, pose_input_count>& inputs,
                                    double image_turn_deg) {
    std::array<PoseJet, pose_input_count> jets;
    for (int i = 0; i < pose_input_count; ++i) {
        jets[i] = PoseJet(inputs[i], i);
    }
    return camera_from_target(jets.data(), image_turn_deg);
}

/// d (rotation * point + translation) / d inputs, and the value itself.
Eigen::Matrix<double, 3, pose_input_count> moved(const Pose<PoseJet>& pose,
                                                 const Eigen::Vector3d& point,
                                                 Eigen::Vector3d& value) {
    Eigen::Matrix<double, 3, pose_input_count> by_inputs;
    for (int row = 0; row < 3; ++row) {
        PoseJet sum = pose.translation_mm[row];
        for (int column = 0; column < 3; ++column) {
            sum += pose.rotation(row, column) * point[column];
        }
        value[row] = sum.a;
        by_inputs.row(row) = sum.v.transpose();
    }
    return by_inputs;
}

Eigen::Matrix3d rotation_value(const Pose<PoseJet>& pose) {
    return pose.rotation.unaryExpr([](const PoseJet& jet) { return jet.a; });
}

}  // namespace

PhotoCost::PhotoCost(const Model& model, const PhotoTerm& photo, bool robust)
    : model_(model), photo_(photo), robust_(robust) {
    Wiring wiring;
    wiring.add(photo.pose);
    wiring.add(model.lens);
    wiring.add(model.sheet);
    unknowns_ = wiring.connect(parts_of_);
    for (const auto& corner : photo.corners) {
        whitening_.push_back(whitening_of(corner.covariance_px2) / photo.noise_factor);
    }
    set_num_residuals(static_cast<int>(2 * photo.corners.size()));
    mutable_parameter_block_sizes()->assign(unknowns_.size(), 1);
}

bool PhotoCost::Evaluate(double const* const* parameters, double* residuals,
                         double** jacobians) const {
    constexpr int lens_at = pose_input_count;
    constexpr int sheet_at = lens_at + Lens::parameter_count;
    constexpr int input_count = sheet_at + sheet_input_count;
    std::array<double, pose_input_count> pose_inputs;
    for (int i = 0; i < pose_input_count; ++i) {
        pose_inputs[i] = value_of(photo_.pose[i], parts_of_[i], parameters);
    }
    std::array<double, Lens::parameter_count> lens_inputs;
    for (int i = 0; i < Lens::parameter_count; ++i) {
        lens_inputs[i] = value_of(model_.lens[i], parts_of_[lens_at + i], parameters);
    }
    std::array<double, sheet_input_count> sheet_inputs;
    for (int i = 0; i < sheet_input_count; ++i) {
        sheet_inputs[i] = value_of(model_.sheet[i], parts_of_[sheet_at + i], parameters);
    }
    const Lens lens = Lens::from_parameters(lens_inputs);
    const auto pose = pose_with_derivatives(pose_inputs, photo_.image_turn_deg);
    const Eigen::Matrix3d rotation = rotation_value(pose);

    if (jacobians != nullptr) {
        for (std::size_t k = 0; k < unknowns_.size(); ++k) {
            if (jacobians[k] != nullptr) {
                std::fill_n(jacobians[k], num_residuals(), 0.0);
            }
        }
    }
    for (std::size_t c = 0; c < photo_.corners.size(); ++c) {
        const Corner& corner = photo_.corners[c];
        const SheetPoint point = sheet_point(corner_in_target_mm(model_.pattern, corner.index),
                                             model_.sheet_half_mm, sheet_inputs.data());
        Eigen::Vector3d in_camera;
        const auto camera_by_inputs = moved(pose, point.in_target, in_camera);
        Eigen::Matrix<double, 2, 3> by_point;
        LensJacobian by_lens;
        const auto pixel = project(lens, in_camera, &by_point, &by_lens);
        if (!pixel) {
            return false;
        }
        Eigen::Vector2d residual = whitening_[c] * (*pixel - corner.pixel);
        Eigen::Matrix2d scale = whitening_[c];
        if (robust_) {
            scale = shrink(residual) * scale;
        }
        residuals[2 * c] = residual.x();
        residuals[2 * c + 1] = residual.y();
        if (jacobians == nullptr) {
            continue;
        }
        Eigen::Matrix<double, 2, input_count> by_inputs;
        by_inputs << by_point * camera_by_inputs, by_lens, by_point * rotation * point.by_sheet;
        by_inputs = scale * by_inputs;
        for (int i = 0; i < input_count; ++i) {
            for (const auto& [position, coefficient] : parts_of_[i]) {
                if (jacobians[position] != nullptr) {
                    jacobians[position][2 * c] += coefficient * by_inputs(0, i);
                    jacobians[position][2 * c + 1] += coefficient * by_inputs(1, i);
                }
            }
        }
    }
    return true;
}

TapeCost::TapeCost(const Model& model, const TapeTerm& tape) : model_(model), tape_(tape) {
    Wiring wiring;
    wiring.add(tape.pose);
    wiring.add(model.sheet);
    wiring.add(tape.from_mm);
    unknowns_ = wiring.connect(parts_of_);
    set_num_residuals(1);
    mutable_parameter_block_sizes()->assign(unknowns_.size(), 1);
}

bool TapeCost::Evaluate(double const* const* parameters, double* residuals,
                        double** jacobians) const {
    constexpr int sheet_at = pose_input_count;
    constexpr int from_at = sheet_at + sheet_input_count;
    using Jet = ceres::Jet<double, input_count>;
    std::array<Jet, input_count> inputs;
    const auto read = [&](const auto& quantities, int at) {
        for (std::size_t i = 0; i < quantities.size(); ++i) {
            const int input = at + static_cast<int>(i);
            inputs[input] = Jet(value_of(quantities[i], parts_of_[input], parameters), input);
        }
    };
    read(tape_.pose, 0);
    read(model_.sheet, sheet_at);
    read(tape_.from_mm, from_at);
    const Pose<Jet> target = vehicle_from_target(inputs.data());
    const Vector3<Jet> to_in_target(tape_.to_in_target_mm.x() * inputs[sheet_at],
                                    tape_.to_in_target_mm.y() * inputs[sheet_at + 1], Jet(0.0));
    const Vector3<Jet> from(inputs[from_at], inputs[from_at + 1], inputs[from_at + 2]);
    const Vector3<Jet> span = target.rotation * to_in_target + target.translation_mm - from;
    const Jet length = sqrt(span.squaredNorm());
    const Jet residual = (length - tape_.length_mm) / tape_.standard_uncertainty_mm;
    residuals[0] = residual.a;
    if (jacobians == nullptr) {
        return true;
    }
    for (std::size_t k = 0; k < unknowns_.size(); ++k) {
        if (jacobians[k] != nullptr) {
            jacobians[k][0] = 0;
        }
    }
    for (int i = 0; i < input_count; ++i) {
        for (const auto& [position, coefficient] : parts_of_[i]) {
            if (jacobians[position] != nullptr) {
                jacobians[position][0] += coefficient * residual.v[i];
            }
        }
    }
    return true;
}

std::vector<Eigen::Vector2d> corner_residuals_px(const Model& model, const PhotoTerm& photo,
                                                 const Eigen::VectorXd& z) {
    PhotoTerm plain = photo;
    plain.noise_factor = 1;
    for (auto& corner : plain.corners) {
        corner.covariance_px2 = Eigen::Matrix2d::Identity();
    }
    const PhotoCost cost(model, plain, false);
    std::vector<const double*> parameters;
    for (const int unknown : cost.unknowns()) {
        parameters.push_back(&z[unknown]);
    }
    std::vector<double> residuals(2 * plain.corners.size());
    if (!cost.Evaluate(parameters.data(), residuals.data(), nullptr)) {
        return {};
    }
    std::vector<Eigen::Vector2d> pairs;
    for (std::size_t c = 0; c < plain.corners.size(); ++c) {
        pairs.emplace_back(-residuals[2 * c], -residuals[2 * c + 1]);
    }
    return pairs;
}

}  // namespace squaresight

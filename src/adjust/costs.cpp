#include "adjust/costs.h"

#include <ceres/jet.h>

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <Eigen/QR>

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

/// Cross product as a matrix: cross_matrix(a) b = a x b.
Eigen::Matrix3d cross_matrix(const Eigen::Vector3d& a) {
    Eigen::Matrix3d m;
    m << 0, -a.z(), a.y(), a.z(), 0, -a.x(), -a.y(), a.x(), 0;
    return m;
}

/// A pose with what the corners need of it: small turns (rad, about the camera's axes) and
/// displacement (mm) by the inputs.
struct MovingPose {
    Pose<double> pose;
    Eigen::Matrix<double, 6, pose_input_count> by_inputs;
};

MovingPose moving_pose(const std::array<double, pose_input_count>& inputs, double image_turn_deg) {
    const Pose<PoseJet> jets = pose_with_derivatives(inputs, image_turn_deg);
    MovingPose moving;
    moving.pose.rotation = jets.rotation.unaryExpr([](const PoseJet& jet) { return jet.a; });
    moving.pose.translation_mm =
        jets.translation_mm.unaryExpr([](const PoseJet& jet) { return jet.a; });
    for (int input = 0; input < pose_input_count; ++input) {
        const Eigen::Matrix3d turning = jets.rotation.unaryExpr([&](const PoseJet& jet) {
            return jet.v[input];
        }) * moving.pose.rotation.transpose();
        moving.by_inputs.col(input) << turning(2, 1), turning(0, 2), turning(1, 0),
            jets.translation_mm[0].v[input], jets.translation_mm[1].v[input],
            jets.translation_mm[2].v[input];
    }
    return moving;
}

/// Columns of a corner's rows before they are condensed: pose, lens, sheet, and the residual.
constexpr int lens_column = 6;
constexpr int sheet_column = lens_column + Lens::parameter_count;
constexpr int residual_column = sheet_column + sheet_input_count;
constexpr int condensed_rows = residual_column + 1;
using CornerRows = Eigen::Matrix<double, Eigen::Dynamic, condensed_rows>;

/// The same sum of squares, gradient and normal matrix in as many rows as there are columns: the
/// triangle of a QR decomposition. The last row holds what no column can change.
CornerRows condensed(const CornerRows& rows) {
    if (rows.rows() <= condensed_rows) {
        return rows;
    }
    const Eigen::HouseholderQR<CornerRows> qr(rows);
    return qr.matrixQR().topRows<condensed_rows>().triangularView<Eigen::Upper>();
}

/// Predicted minus seen, px; nothing where a corner would lie behind the camera.
std::optional<Eigen::Vector2d> corner_misfit_px(
    const Model& model, const Corner& corner, const Lens& lens, const Pose<double>& pose,
    const std::array<double, sheet_input_count>& sheet) {
    const SheetPoint point = sheet_point(corner_in_target_mm(model.pattern, corner.index),
                                         model.sheet_half_mm, sheet.data());
    const auto pixel = project(lens, pose.rotation * point.in_target + pose.translation_mm);
    return pixel ? std::optional<Eigen::Vector2d>(*pixel - corner.pixel) : std::nullopt;
}

template <class Quantities>
auto values_of(const Quantities& quantities, const std::vector<std::pair<int, double>>* parts,
               double const* const* parameters) {
    std::array<double, std::tuple_size_v<Quantities>> values;
    for (std::size_t i = 0; i < values.size(); ++i) {
        values[i] = value_of(quantities[i], parts[i], parameters);
    }
    return values;
}

template <class Quantities>
auto values_at(const Quantities& quantities, const Eigen::VectorXd& z) {
    std::array<double, std::tuple_size_v<Quantities>> values;
    for (std::size_t i = 0; i < values.size(); ++i) {
        values[i] = quantities[i].at(z);
    }
    return values;
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
    set_num_residuals(std::min(condensed_rows, static_cast<int>(2 * photo.corners.size())));
    mutable_parameter_block_sizes()->assign(unknowns_.size(), 1);
}

bool PhotoCost::Evaluate(double const* const* parameters, double* residuals,
                         double** jacobians) const {
    const auto pose_inputs = values_of(photo_.pose, parts_of_, parameters);
    const auto lens_inputs = values_of(model_.lens, parts_of_ + lens_at, parameters);
    const auto sheet_inputs = values_of(model_.sheet, parts_of_ + sheet_at, parameters);
    const Lens lens = Lens::from_parameters(lens_inputs);
    if (jacobians == nullptr) {
        const auto pose = camera_from_target(pose_inputs.data(), photo_.image_turn_deg);
        const auto square = sum_of_squares(lens, pose, sheet_inputs);
        std::fill_n(residuals, num_residuals(), 0.0);
        residuals[0] = std::sqrt(square.value_or(0));
        return square.has_value();
    }
    const MovingPose moving = moving_pose(pose_inputs, photo_.image_turn_deg);
    CornerRows rows(2 * photo_.corners.size(), condensed_rows);
    for (std::size_t c = 0; c < photo_.corners.size(); ++c) {
        const Corner& corner = photo_.corners[c];
        const SheetPoint point = sheet_point(corner_in_target_mm(model_.pattern, corner.index),
                                             model_.sheet_half_mm, sheet_inputs.data());
        const Eigen::Vector3d arm = moving.pose.rotation * point.in_target;
        Eigen::Matrix<double, 2, 3> by_point;
        LensJacobian by_lens;
        const auto pixel = project(lens, arm + moving.pose.translation_mm, &by_point, &by_lens);
        if (!pixel) {
            return false;
        }
        Eigen::Vector2d residual = whitening_[c] * (*pixel - corner.pixel);
        Eigen::Matrix2d scale = whitening_[c];
        if (robust_) {
            scale = shrink(residual) * scale;
        }
        auto two = rows.middleRows<2>(2 * static_cast<Eigen::Index>(c));
        two << -by_point * cross_matrix(arm), by_point, by_lens,
            by_point * moving.pose.rotation * point.by_sheet, Eigen::Vector2d::Zero();
        two = (scale * two).eval();
        two.col(residual_column) = residual;
    }
    const CornerRows few = condensed(rows);
    Eigen::Map<Eigen::VectorXd>(residuals, num_residuals()) = few.col(residual_column);
    Eigen::Matrix<double, Eigen::Dynamic, input_count> by_inputs(few.rows(), input_count);
    by_inputs << few.leftCols<lens_column>() * moving.by_inputs,
        few.middleCols<Lens::parameter_count + sheet_input_count>(lens_column);
    for (std::size_t k = 0; k < unknowns_.size(); ++k) {
        if (jacobians[k] != nullptr) {
            std::fill_n(jacobians[k], num_residuals(), 0.0);
        }
    }
    for (int i = 0; i < input_count; ++i) {
        for (const auto& [position, coefficient] : parts_of_[i]) {
            if (jacobians[position] != nullptr) {
                Eigen::Map<Eigen::VectorXd>(jacobians[position], num_residuals()) +=
                    coefficient * by_inputs.col(i);
            }
        }
    }
    return true;
}

std::optional<double> PhotoCost::sum_of_squares(const Lens& lens, const Pose<double>& pose,
                                                const SheetInputs& sheet) const {
    double sum = 0;
    for (std::size_t c = 0; c < photo_.corners.size(); ++c) {
        const auto misfit = corner_misfit_px(model_, photo_.corners[c], lens, pose, sheet);
        if (!misfit) {
            return std::nullopt;
        }
        Eigen::Vector2d residual = whitening_[c] * *misfit;
        if (robust_) {
            shrink(residual);
        }
        sum += residual.squaredNorm();
    }
    return sum;
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
    const Lens lens = Lens::from_parameters(values_at(model.lens, z));
    const auto sheet = values_at(model.sheet, z);
    const auto pose = camera_from_target(values_at(photo.pose, z).data(), photo.image_turn_deg);
    std::vector<Eigen::Vector2d> residuals;
    for (const auto& corner : photo.corners) {
        const auto misfit = corner_misfit_px(model, corner, lens, pose, sheet);
        if (!misfit) {
            return {};
        }
        residuals.push_back(-*misfit);
    }
    return residuals;
}

}  // namespace squaresight

#include "adjust/costs.h"

#include <ceres/jet.h>

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

Pose<PoseJet> pose_with_derivatives(const std::array<double, pose_input_count>& inputs,
                                    double image_turn_deg) {
    std::array<PoseJet, pose_input_count> jets;
    for (int i = 0; i < pose_input_count; ++i) {
        jets[i] = PoseJet(inputs[i], i);
    }
    return camera_from_target(jets.data(), image_turn_deg);
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

/// Columns of a job's rows: pose, the lens's parameters, sheet, residual.
constexpr int job_columns = lens_column + Lens::parameter_count + sheet_input_count + 1;
using JobRows = Eigen::Matrix<double, Eigen::Dynamic, job_columns>;

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
    : model_(model),
      photo_(photo),
      board_(model.corners_mm, model.sheet_half_mm, photo.corners, photo.spread_factor(), robust) {
    Wiring wiring;
    wiring.add(photo.pose);
    wiring.add(model.lens);
    wiring.add(model.sheet);
    unknowns_ = wiring.connect(parts_of_);
    set_num_residuals(std::min(int{job_columns}, static_cast<int>(2 * photo.corners.size())));
    mutable_parameter_block_sizes()->assign(unknowns_.size(), 1);
}

bool PhotoCost::Evaluate(double const* const* parameters, double* residuals,
                         double** jacobians) const {
    const auto pose_inputs = values_of(photo_.pose, parts_of_, parameters);
    const auto lens_inputs = values_of(model_.lens, parts_of_ + lens_at, parameters);
    const auto sheet_inputs = values_of(model_.sheet, parts_of_ + sheet_at, parameters);
    const Lens lens = model_.further_terms.with_parameters(lens_inputs);
    if (jacobians == nullptr) {
        const auto pose = camera_from_target(pose_inputs.data(), photo_.image_turn_deg);
        const auto square = board_.sum_of_squares(lens, pose, sheet_inputs);
        std::fill_n(residuals, num_residuals(), 0.0);
        residuals[0] = std::sqrt(square.value_or(0));
        return square.has_value();
    }
    const MovingPose moving = moving_pose(pose_inputs, photo_.image_turn_deg);
    const auto rows = board_.rows(lens, moving.pose, sheet_inputs);
    if (!rows) {
        return false;
    }
    JobRows of_job(rows->rows(), job_columns);  // further terms of the lens are held
    of_job << rows->leftCols<lens_column + Lens::parameter_count>(),
        rows->rightCols<sheet_input_count + 1>();
    const JobRows few = condensed(of_job);
    Eigen::Map<Eigen::VectorXd>(residuals, num_residuals()) = few.rightCols<1>();
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
    const Vector3<Jet> to_in_target(tape_.to_in_target_mm.x() * inputs[sheet_at] +
                                        tape_.to_in_target_mm.y() * inputs[sheet_at + 7],
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

Eigen::MatrixXd corner_derivatives_px(const Model& model, const PhotoTerm& photo,
                                      const Eigen::VectorXd& z) {
    auto in_px = photo.corners;
    for (auto& corner : in_px) {
        corner.covariance_px2.setIdentity();
    }
    const ViewedBoard board(model.corners_mm, model.sheet_half_mm, in_px, 1, false);
    const MovingPose moving = moving_pose(values_at(photo.pose, z), photo.image_turn_deg);
    const auto rows = board.rows(model.further_terms.with_parameters(values_at(model.lens, z)),
                                 moving.pose, values_at(model.sheet, z));
    Eigen::MatrixXd by_unknowns =
        Eigen::MatrixXd::Zero(2 * static_cast<Eigen::Index>(in_px.size()), z.size());
    if (!rows) {
        return by_unknowns;
    }
    const auto add = [&](const auto& quantities, const auto& by_inputs) {
        for (std::size_t i = 0; i < quantities.size(); ++i) {
            for (const auto& [unknown, coefficient] : quantities[i].parts) {
                by_unknowns.col(unknown) +=
                    coefficient * by_inputs.col(static_cast<Eigen::Index>(i));
            }
        }
    };
    add(photo.pose, (rows->leftCols<lens_column>() * moving.by_inputs).eval());
    add(model.lens, rows->middleCols<Lens::parameter_count>(lens_column));
    add(model.sheet, rows->middleCols<sheet_input_count>(sheet_column));
    return by_unknowns;
}

std::vector<Eigen::Vector2d> corner_residuals_px(const Model& model, const PhotoTerm& photo,
                                                 const Eigen::VectorXd& z) {
    const ViewedBoard board(model.corners_mm, model.sheet_half_mm, photo.corners, 1, false);
    const auto misfits =
        board.misfits_px(model.further_terms.with_parameters(values_at(model.lens, z)),
                         camera_from_target(values_at(photo.pose, z).data(), photo.image_turn_deg),
                         values_at(model.sheet, z));
    std::vector<Eigen::Vector2d> residuals;
    for (const auto& misfit : misfits.value_or(std::vector<Eigen::Vector2d>{})) {
        residuals.emplace_back(-misfit);
    }
    return residuals;
}

}  // namespace squaresight

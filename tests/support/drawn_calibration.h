#pragma once
#include <cmath>
#include <random>

#include "calibrate/calibration.h"
#include "frames/rotations.h"
#include "support/phone_check.h"

namespace squaresight::test {

/// A shop that calibrates a phone again and again: everything that the calibration supposes is
/// drawn anew, from the distributions that it supposes.
class DrawnCalibrations {
  public:
    explicit DrawnCalibrations(unsigned seed) : random_(seed) {}

    struct Drawn {
        CalibrationData data;
        Lens truth;  ///< at the working distance, as the phone lies level
        double lens_mm = 0;
    };

    Drawn draw(int near_photos, int taped_photos) {
        Drawn drawn;
        CalibrationData& data = drawn.data;
        data.width_px = 4000;
        data.height_px = 3000;
        data.lens_mm = 5;
        data.boards = {calibration_board(near_checkerboard()), calibration_board(a1_target())};
        drawn.truth = simulated_phone_lens();
        drawn.lens_mm = 5 + normal(1);
        sag_deg_ = normal(usual_lens_sag_deg);
        sheets_ = {sheet(data.boards[0]), sheet(data.boards[1])};
        if (taped_photos > 0) {
            data.tapes = {{5000, 3}};
        }
        const double board_at_mm = 5000 + normal(3);
        const FocusBreathing focus{5000, drawn.lens_mm, 0};
        for (int i = 0; i < near_photos + taped_photos; ++i) {
            const bool taped = i >= near_photos;
            const double roll_rad = 90.0 * (i % 4) * rad_per_deg;
            const Pose<double> pose =
                taped ? far_pose(board_at_mm + normal(1), roll_rad) : near_pose(roll_rad);
            data.views.push_back(
                photograph(data, taped ? 1 : 0, pose, roll_rad, drawn.truth, focus));
            data.views.back().tape = taped ? 0 : -1;
        }
        return drawn;
    }

  private:
    double normal(double standard) { return standard * gauss_(random_); }
    double within(double limit) { return limit * uniform_(random_); }

    SheetInputs sheet(const CalibrationBoard& board) {
        const double scale = normal(0.0005);
        const double bow_u = standard_from_limit(board.flatness_mm);
        return {1 + scale, 1 + scale + normal(0.0003), normal(bow_u), normal(bow_u), normal(bow_u)};
    }

    Pose<double> near_pose(double roll_rad) {
        const double distance_mm = 650 + within(150);
        return {rotation_y<double>(within(40) * rad_per_deg) *
                    rotation_x<double>(within(40) * rad_per_deg) * rotation_z<double>(roll_rad),
                distance_mm * Eigen::Vector3d(within(0.3), within(0.2), 1)};
    }

    Pose<double> far_pose(double distance_mm, double roll_rad) {
        return {rotation_y<double>(within(5) * rad_per_deg) *
                    rotation_x<double>(within(5) * rad_per_deg) * rotation_z<double>(roll_rad),
                distance_mm * Eigen::Vector3d(within(0.1), within(0.1), 1).normalized()};
    }

    BoardView photograph(const CalibrationData& data, int board, const Pose<double>& pose,
                         double roll_rad, const Lens& truth, const FocusBreathing& focus) {
        const CalibrationBoard& printed = data.boards[static_cast<std::size_t>(board)];
        const SheetInputs& sheet = sheets_[static_cast<std::size_t>(board)];
        BoardView view;
        view.board = board;
        view.down = Eigen::Vector2d(std::round(std::sin(roll_rad)), std::round(std::cos(roll_rad)));
        const double focal_scale =
            focus.scale_at(pose.translation_mm.norm()) * (1 + normal(focus_repeats_share));
        Lens lens = truth;
        lens.fx *= focal_scale;
        lens.fy *= focal_scale;
        // A lens that hangs lower moves what it sees up in the picture.
        lens.cx -= lens.fx * std::tan(sag_deg_ * rad_per_deg) * view.down->x();
        lens.cy -= lens.fy * std::tan(sag_deg_ * rad_per_deg) * view.down->y();
        for (std::size_t i = 0; i < printed.corners_mm.size(); ++i) {
            const Eigen::Vector2d& mm = printed.corners_mm[i];
            const double a = mm.x() / printed.half_mm.x();
            const double b = mm.y() / printed.half_mm.y();
            const Eigen::Vector3d bowed(
                mm.x() * sheet[0], mm.y() * sheet[1],
                (a * a - 1.0 / 3) * sheet[2] + (b * b - 1.0 / 3) * sheet[3] + a * b * sheet[4]);
            const auto pixel = project(lens, pose.rotation * bowed + pose.translation_mm);
            if (pixel && pixel->minCoeff() > 0 &&
                (Eigen::Vector2d(data.width_px - 1, data.height_px - 1) - *pixel).minCoeff() > 0) {
                view.corners.push_back(
                    {static_cast<int>(i),
                     *pixel + Eigen::Vector2d(normal(noise_px), normal(noise_px)),
                     noise_px * noise_px * Eigen::Matrix2d::Identity()});
            }
        }
        return view.corners.size() < 20
                   ? photograph(data, board, near_pose(roll_rad), roll_rad, truth, focus)
                   : view;
    }

    static constexpr double noise_px = 0.05;
    std::mt19937 random_;
    std::normal_distribution<double> gauss_;
    std::uniform_real_distribution<double> uniform_{-1, 1};
    std::array<SheetInputs, 2> sheets_;
    double sag_deg_ = 0;
};

}  // namespace squaresight::test

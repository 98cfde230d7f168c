#include "calibrate/next_photo.h"

#include <fmt/format.h>
#include <Eigen/Cholesky>
#include <Eigen/LU>

#include <algorithm>
#include <cmath>

#include "calibrate/pointing.h"
#include "frames/rotations.h"

namespace squaresight {
namespace {

constexpr double least_gain = 0.1;
constexpr int enough_taped = 2;
constexpr double tilt_deg = 40;
constexpr double alike_deg = 15;      // between the board's faces in two photos held alike
constexpr double alike_share = 0.15;  // of the distance, between its places in them

/// How a board can be held before the phone.
struct Holding {
    double fill = 0;                ///< of the picture's height or width, whichever is less
    Eigen::Vector2d towards{0, 0};  ///< where its middle lies: -1 left or top, 1 right or bottom
    Eigen::Vector2d farther{0, 0};  ///< the edge that is tilted away: as above; zero: square-on
};

std::vector<Holding> all_holdings() {
    std::vector<Holding> all;
    const Eigen::Vector2d places[] = {{0, 0}, {-1, -1}, {1, -1}, {-1, 1}, {1, 1}};
    const Eigen::Vector2d tilts[] = {{0, 0}, {-1, 0}, {1, 0}, {0, -1}, {0, 1}};
    for (const double fill : {0.55, 0.9}) {
        for (const auto& place : places) {
            for (const auto& tilt : tilts) {
                all.push_back({fill, place, tilt});
            }
        }
    }
    return all;
}

std::string side_words(const Eigen::Vector2d& side, const char* middle) {
    const char* down = side.y() < 0 ? "upper" : "lower";
    const char* right = side.x() < 0 ? "left" : "right";
    if (side.x() != 0 && side.y() != 0) {
        return fmt::format("{} {}", down, right);
    }
    return side.x() != 0 ? right : side.y() != 0 ? (side.y() < 0 ? "top" : "bottom") : middle;
}

std::string words_of(const Holding& holding) {
    const std::string tilt =
        holding.farther.isZero()
            ? "Hold the board square to the phone"
            : fmt::format("Tilt the board {:.0f} deg, its {} edge away from the phone", tilt_deg,
                          side_words(holding.farther, ""));
    const std::string place =
        holding.towards.isZero()
            ? "in the middle of the picture"
            : fmt::format("in the {} of the picture", side_words(holding.towards, ""));
    return fmt::format("{}, {}, so that it fills {} of it.", tilt, place,
                       holding.fill > 0.7 ? "nearly all" : "about half");
}

Pose<double> pose_of(const Holding& holding, const CalibrationBoard& board, const Lens& lens,
                     const Eigen::Vector2d& picture_px) {
    Eigen::Vector2d half_mm(0, 0);
    for (const auto& corner : board.corners_mm) {
        half_mm = half_mm.cwiseMax(corner.cwiseAbs());
    }
    const double z_mm = std::max(2 * half_mm.x() * lens.fx / (holding.fill * picture_px.x()),
                                 2 * half_mm.y() * lens.fy / (holding.fill * picture_px.y()));
    // Towards a corner until the board touches it.
    const Eigen::Vector2d room_px =
        (picture_px - 2 * Eigen::Vector2d(half_mm.x() * lens.fx, half_mm.y() * lens.fy) / z_mm) / 2;
    const Eigen::Vector2d off_px = holding.towards.cwiseProduct(room_px.cwiseMax(0));
    Pose<double> pose;
    pose.translation_mm = {off_px.x() / lens.fx * z_mm, off_px.y() / lens.fy * z_mm, z_mm};
    pose.rotation = rotation_y<double>(-tilt_deg * rad_per_deg * holding.farther.x()) *
                    rotation_x<double>(tilt_deg * rad_per_deg * holding.farther.y());
    return pose;
}

/// Whether a photo holds the board much like that already: advised once more it would only repeat
/// itself.
bool is_like(const Pose<double>& photo, const Pose<double>& advised) {
    const double turned_deg =
        deg_per_rad *
        std::acos(std::clamp(photo.rotation.col(2).dot(advised.rotation.col(2)), -1.0, 1.0));
    const double z_mm = advised.translation_mm.z();
    return turned_deg < alike_deg &&
           (photo.translation_mm - advised.translation_mm).norm() < alike_share * z_mm;
}

bool is_there_already(const Pose<double>& advised, const CalibrationSolution& solution) {
    return std::any_of(
        solution.views.begin(), solution.views.end(),
        [&](const CalibratedView& view) { return is_like(view.camera_from_board, advised); });
}

/// What the photo would tell of the lens, whatever its pose and focus: a normal matrix.
LensCovariance information_of(const Pose<double>& pose, const CalibrationBoard& board,
                              const Lens& lens, const Eigen::Vector2d& picture_px,
                              double noise_px) {
    std::vector<Corner> corners;
    for (std::size_t i = 0; i < board.corners_mm.size(); ++i) {
        const Eigen::Vector3d on_board(board.corners_mm[i].x(), board.corners_mm[i].y(), 0);
        const auto pixel = project(lens, pose.rotation * on_board + pose.translation_mm);
        if (pixel && pixel->minCoeff() >= 0 && (picture_px - *pixel).minCoeff() >= 0) {
            corners.push_back(
                {static_cast<int>(i), *pixel, noise_px * noise_px * Eigen::Matrix2d::Identity()});
        }
    }
    const ViewedBoard view(board.corners_mm, board.half_mm, corners, 1, false);
    const auto rows = view.rows(lens, pose, {1, 1, 0, 0, 0});
    if (corners.size() < 8 || !rows) {
        return LensCovariance::Zero();
    }
    const auto by_lens = rows->middleCols<Lens::term_count>(lens_column);
    Eigen::MatrixXd nuisance(rows->rows(), lens_column + 1);
    nuisance << rows->leftCols<lens_column>(),
        lens.fx * by_lens.col(0) + lens.fy * by_lens.col(1);  // its own focal scale
    Eigen::MatrixXd normal = nuisance.transpose() * nuisance;
    normal(lens_column, lens_column) += 1 / (focus_repeats_share * focus_repeats_share);
    const Eigen::MatrixXd shared = nuisance.transpose() * by_lens;
    return by_lens.transpose() * by_lens - shared.transpose() * normal.ldlt().solve(shared);
}

/// Covariance with more information; terms without any stay without.
LensCovariance after(const LensCovariance& covariance, const LensCovariance& information) {
    // (C^-1 + I)^-1 = C - C (I^-1 + C)^-1 C, written so that neither need be invertible.
    const LensCovariance inner = LensCovariance::Identity() + information * covariance;
    return covariance * inner.partialPivLu().inverse();
}

double mean_pointing_u(const Lens& lens, const LensCovariance& covariance,
                       const Eigen::Vector2d& picture_px) {
    constexpr int steps = 6;
    double squares = 0;
    for (int i = 0; i < steps * steps; ++i) {
        const Eigen::Vector2d pixel((i % steps + 0.5) / steps * picture_px.x(),
                                    (i / steps + 0.5) / steps * picture_px.y());
        const double u = pointing_u_deg(lens, covariance, pixel).value_or(0);
        squares += u * u / (steps * steps);
    }
    return std::sqrt(squares);
}

std::ptrdiff_t taped_photos(const CalibrationData& data) {
    return std::count_if(data.views.begin(), data.views.end(),
                         [](const BoardView& view) { return view.tape >= 0; });
}

double typical_noise_px(const CalibrationSolution& solution) {
    std::vector<double> noise;
    for (const auto& view : solution.views) {
        noise.push_back(view.rms_px());
    }
    std::nth_element(noise.begin(), noise.begin() + static_cast<std::ptrdiff_t>(noise.size() / 2),
                     noise.end());
    return std::max(0.03, noise[noise.size() / 2]);
}

}  // namespace

bool tells_working_focus(const CalibrationData& data) { return taped_photos(data) >= enough_taped; }

std::optional<NextPhoto> next_photo(const CalibrationData& data,
                                    const CalibrationSolution& solution) {
    if (!tells_working_focus(data)) {
        return NextPhoto{
            fmt::format("Photograph the bay's board square-on from the distance at which it is "
                        "used, tape from the phone's lens to the middle of the board, and give "
                        "the photo with that distance ({} more).",
                        enough_taped - taped_photos(data)),
            true};
    }
    const Eigen::Vector2d picture_px(data.width_px, data.height_px);
    const double before = mean_pointing_u(solution.lens, solution.covariance, picture_px);
    const double noise_px = typical_noise_px(solution);
    std::optional<NextPhoto> best;
    for (const auto& holding : all_holdings()) {
        const Pose<double> pose = pose_of(holding, data.boards.front(), solution.lens, picture_px);
        if (is_there_already(pose, solution)) {
            continue;
        }
        const auto information =
            information_of(pose, data.boards.front(), solution.lens, picture_px, noise_px);
        const double gain =
            1 -
            mean_pointing_u(solution.lens, after(solution.covariance, information), picture_px) /
                before;
        if (gain >= least_gain && (!best || gain > best->gain)) {
            best = NextPhoto{words_of(holding), false, gain, pose};
        }
    }
    return best;
}

}  // namespace squaresight

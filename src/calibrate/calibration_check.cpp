#include "calibrate/calibration_check.h"

#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <Eigen/LU>
#include <boost/math/distributions/chi_squared.hpp>
#include <cmath>

#include "calibrate/pointing.h"
#include "calibrate/view_cost.h"
#include "job/photo_identity.h"
#include "units/error.h"

namespace squaresight {
namespace {

constexpr double changed_level = 0.001;
/// A direction in which the photos tell less than this share of what was known is no test.
constexpr double least_told = 0.1;
/// Changes of pointing below this do no harm to a tolerance of tenths of a degree.
constexpr double harmless_deg = 0.01;
/// Photos that would not find a change of this do not show that a calibration holds.
constexpr double worth_finding_deg = 0.05;
constexpr double surely_found = 4.13;  ///< standard deviations: 80 % power at 0.001 (Baarda)
constexpr std::size_t fewest_photos = 2;
constexpr double unknown_lens_mm = 5;
constexpr double unknown_lens_u_mm = 6;

/// The lens and focus of the camera file. Its focal length at other distances is the thin lens's
/// where the file does not say.
KnownLens known_lens(const Camera& camera) {
    KnownLens known{camera.lens, camera.covariance, {}};
    if (camera.focus) {
        known.focus = *camera.focus;
    } else {
        known.focus.lens_mm = camera.identity.focal_length_mm.value_or(unknown_lens_mm);
        known.focus.standard_uncertainty_mm = unknown_lens_u_mm;
    }
    return known;
}

void hold_against(const Camera& camera, const std::vector<BoardPhoto>& photos) {
    for (const auto& photo : photos) {
        PhotoResult facts;
        facts.file = photo.file;
        facts.facts = photo.facts;
        facts.width_px = photo.width_px;
        facts.height_px = photo.height_px;
        for (const auto& finding : check_identity(facts, camera)) {
            if (photo.width_px > 0 && finding.level == Level::stop) {
                throw InputError(finding.text);
            }
        }
    }
}

struct Innovation {
    double chi_square = 0;
    int degrees_of_freedom = 0;
};

/// How far the photos moved the lens, in what they could move it by: their own share of the
/// uncertainty of before.
Innovation innovation_of(const Eigen::Matrix<double, 9, 1>& moved,
                         const Eigen::Matrix<double, 9, 9>& before,
                         const Eigen::Matrix<double, 9, 9>& after) {
    const Eigen::Matrix<double, 9, 9> lower = before.llt().matrixL();
    const Eigen::Matrix<double, 9, 9> whitening = lower.inverse();
    const Eigen::SelfAdjointEigenSolver<Eigen::Matrix<double, 9, 9>> parts(whitening * after *
                                                                           whitening.transpose());
    const Eigen::Matrix<double, 9, 1> steps = parts.eigenvectors().transpose() * whitening * moved;
    Innovation innovation;
    for (int i = 0; i < 9; ++i) {
        const double told = 1 - parts.eigenvalues()[i];
        if (told > least_told) {
            innovation.chi_square += steps[i] * steps[i] / told;
            ++innovation.degrees_of_freedom;
        }
    }
    return innovation;
}

std::array<Eigen::Vector2d, 9> inner_pixels(const Camera& camera) {
    std::array<Eigen::Vector2d, 9> pixels;
    for (int i = 0; i < 9; ++i) {
        pixels[static_cast<std::size_t>(i)] = {(0.2 + 0.3 * (i % 3)) * camera.width_px,
                                               (0.2 + 0.3 * (i / 3)) * camera.height_px};
    }
    return pixels;
}

/// Where a pixel looks against where the middle pixel looks: what a moved principal point alone
/// does not change, and reversal does not remove.
void compare_pointing(const Camera& camera, const Lens& now,
                      const Eigen::Matrix<double, 9, 9>& covariance, CalibrationCheck& check) {
    LensCovariance all = LensCovariance::Zero();
    all.topLeftCorner<9, 9>() = covariance;
    const Eigen::Vector2d middle(camera.width_px / 2.0, camera.height_px / 2.0);
    Lens centred = now;
    centred.cx = camera.lens.cx;
    centred.cy = camera.lens.cy;
    for (const auto& pixel : inner_pixels(camera)) {
        check.pointing_change_deg =
            std::max(check.pointing_change_deg,
                     pointing_difference_deg(camera.lens, centred, pixel).value_or(0));
        const auto here = pointing_by_lens(now, pixel);
        const auto there = pointing_by_lens(now, middle);
        if (here && there) {
            const LensJacobian relative = *here - *there;
            const Eigen::Matrix2d angles = relative * all * relative.transpose();
            check.smallest_change_deg =
                std::max(check.smallest_change_deg,
                         surely_found * std::sqrt(angles.trace() / 2) * deg_per_rad);
        }
    }
}

std::string words_of(const CalibrationCheck& check, const Camera& camera) {
    const std::string change = fmt::format(
        "focal length {}{:.2f} % (give or take {:.2f} %), principal point {:.1f} px, pointing "
        "within the picture up to {:.3f} deg",
        check.focal_change < 0 ? "-" : "+", 100 * std::abs(check.focal_change),
        200 * check.focal_change_u, check.principal_moved_px, check.pointing_change_deg);
    switch (check.standing) {
        case CalibrationStanding::changed:
            return fmt::format(
                "The phone check of '{}' no longer holds ({}). Calibrate the phone again before "
                "it measures.",
                camera.name, change);
        case CalibrationStanding::cannot_tell:
            return fmt::format(
                "These photos are too few or too alike to tell whether the phone check of '{}' "
                "holds: a change of {:.2f} deg within the picture could hide. Take four, near, "
                "tilted to different sides, reaching the picture's corners.",
                camera.name, check.smallest_change_deg);
        case CalibrationStanding::holds:
            break;
    }
    return fmt::format("The phone check of '{}' still holds ({}{}).", camera.name, change,
                       check.p < changed_level ? ": a change, too small to matter" : "");
}

}  // namespace

CalibrationCheck check_calibration(const Camera& camera, const std::vector<Target>& boards,
                                   const std::vector<BoardPhotoFile>& files,
                                   const std::vector<TapedDistance>& tapes,
                                   const PhotoProgress& begin) {
    const auto photos = read_board_photos(files, boards, begin);
    hold_against(camera, photos);
    CalibrationCheck check;
    CalibrationData data;
    for (const auto& board : boards) {
        data.boards.push_back(calibration_board(board));
    }
    data.tapes = tapes;
    data.width_px = camera.width_px;
    data.height_px = camera.height_px;
    data.known = known_lens(camera);
    for (const auto& photo : photos) {
        if (photo.problem.empty()) {
            data.views.push_back(photo.view);
        } else {
            check.left_out.push_back(photo.file + ": " + photo.problem);
        }
    }
    if (data.views.size() < fewest_photos) {
        throw InputError(
            "--check",
            fmt::format("{} of {} photos can be used{}", data.views.size(), photos.size(),
                        check.left_out.empty() ? "" : " (" + check.left_out.front() + ")"),
            "take four of a board, near, tilted to different sides");
    }
    CalibrationModel model;
    model.sag = false;
    const CalibrationSolution solution = solve_calibration(data, model);
    if (!solution.solved) {
        throw InputError("--check", "the photos and the camera file do not fit together at all",
                         "check that it is the file of this phone and lens; if it is, calibrate "
                         "again");
    }
    check.photos = static_cast<int>(data.views.size());
    const auto now = solution.lens.parameters();
    const auto then = camera.lens.parameters();
    Eigen::Matrix<double, 9, 1> moved;
    for (int i = 0; i < 9; ++i) {
        moved[i] = now[static_cast<std::size_t>(i)] - then[static_cast<std::size_t>(i)];
    }
    const Eigen::Matrix<double, 9, 9> after = solution.covariance.topLeftCorner<9, 9>();
    const Innovation innovation = innovation_of(moved, invertible(camera.covariance), after);
    check.chi_square = innovation.chi_square;
    check.degrees_of_freedom = innovation.degrees_of_freedom;
    if (innovation.degrees_of_freedom > 0) {
        check.p = cdf(complement(boost::math::chi_squared(innovation.degrees_of_freedom),
                                 innovation.chi_square));
    }
    check.focal_change = (moved[0] / camera.lens.fx + moved[1] / camera.lens.fy) / 2;
    check.focal_change_u = std::sqrt(after(0, 0)) / camera.lens.fx;
    check.principal_moved_px = moved.segment<2>(2).norm();
    compare_pointing(camera, solution.lens, after, check);
    if (check.p < changed_level && check.pointing_change_deg > harmless_deg) {
        check.standing = CalibrationStanding::changed;
    } else if (innovation.degrees_of_freedom > 0 && check.smallest_change_deg < worth_finding_deg) {
        check.standing = CalibrationStanding::holds;
    }
    check.words = words_of(check, camera);
    return check;
}

}  // namespace squaresight

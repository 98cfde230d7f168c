#pragma once
#include <cmath>
#include <random>
#include <stdexcept>
#include <string>

#include "calibrate/phone_check.h"
#include "frames/rotations.h"
#include "support/simulated_job.h"

/// Phone checks at the level of corners, with known truth: for tests of what is said about them.
namespace squaresight::test {

inline Lens simulated_phone_lens() {
    return {3050, 3052, 2010, 1490, 0.09, -0.21, 0.0004, -0.0003, 0.11};
}

inline Target near_checkerboard() {
    Target target;
    target.name = "checkerboard A3";
    target.sheet_width_mm = 420;
    target.sheet_height_mm = 297;
    target.pattern = {14, 10, 27, 0, "", 0, SquareColour::black};
    target.centre_mm = {210, 148.5};
    target.print_checked = true;
    target.flatness_mm = 1;
    return target;
}

/// Where a board is held before the phone.
struct HeldBoard {
    int board = 0;
    int tape = -1;
    double distance_mm = 600;
    Eigen::Vector2d towards{0, 0};  ///< its middle: a ray, right and down
    double turned_deg = 0, leaning_deg = 0, rolled_deg = 0;
};

/// Poses that go round the picture with all tilts; the last two are of the bay's board, taped.
inline std::vector<HeldBoard> held_boards(int count) {
    std::vector<HeldBoard> held;
    for (int i = 0; i < count - 2; ++i) {
        const double round = 2.4 * i;  // rad: every photo elsewhere
        HeldBoard one;
        one.distance_mm = 480 + 25 * (i % 7);
        one.towards = Eigen::Vector2d(0.34 * std::cos(round), 0.22 * std::sin(round)) *
                      (i % 3 == 0 ? 0.3 : 1);
        one.turned_deg = 35 * std::sin(1.7 * i);
        one.leaning_deg = 30 * std::cos(2.9 * i);
        one.rolled_deg = i % 4 == 3 ? 90 : 4 * std::sin(i);
        held.push_back(one);
    }
    for (int i = 0; i < 2; ++i) {
        held.push_back({1, 0, 5000, {0.02 * i, 0.01}, 4.0 - 6 * i, 2, 0});
    }
    return held;
}

inline BoardView view_of(const HeldBoard& held, const CalibrationBoard& board, const Lens& lens,
                         const Eigen::Vector2d& picture_px, double noise_px, std::mt19937& random) {
    std::normal_distribution<double> noise(0, noise_px);
    const Pose<double> pose{
        rotation_z<double>(held.rolled_deg * rad_per_deg) *
            rotation_y<double>(held.turned_deg * rad_per_deg) *
            rotation_x<double>(held.leaning_deg * rad_per_deg),
        held.distance_mm * Eigen::Vector3d(held.towards.x(), held.towards.y(), 1).normalized()};
    BoardView view;
    view.board = held.board;
    view.tape = held.tape;
    for (std::size_t i = 0; i < board.corners_mm.size(); ++i) {
        const Eigen::Vector3d flat(board.corners_mm[i].x(), board.corners_mm[i].y(), 0);
        const auto pixel = project(lens, pose.rotation * flat + pose.translation_mm);
        if (pixel && pixel->minCoeff() > 0 && (picture_px - *pixel).minCoeff() > 1) {
            view.corners.push_back({static_cast<int>(i),
                                    *pixel + Eigen::Vector2d(noise(random), noise(random)),
                                    noise_px * noise_px * Eigen::Matrix2d::Identity()});
        }
    }
    return view;
}

/// Photos of both boards, taken with that lens; near photos with the focal length that their focus
/// gives.
inline CalibrationData simulated_photos(int count, unsigned seed, double noise_px = 0.05) {
    std::mt19937 random(seed);
    CalibrationData data;
    data.width_px = 4000;
    data.height_px = 3000;
    data.lens_mm = 5;
    data.boards = {calibration_board(near_checkerboard()), calibration_board(a1_target())};
    data.tapes = {{5000, 1.5}};
    const FocusBreathing focus{5000, 5, 0};
    for (const auto& held : held_boards(count)) {
        Lens lens = simulated_phone_lens();
        lens.fx *= focus.scale_at(held.distance_mm);
        lens.fy *= focus.scale_at(held.distance_mm);
        data.views.push_back(view_of(held, data.boards[static_cast<std::size_t>(held.board)], lens,
                                     {data.width_px, data.height_px}, noise_px, random));
        data.views.back().file = "photos/board-" + std::to_string(data.views.size()) + ".jpg";
    }
    return data;
}

/// A check as it would stand for these photos. The lens is solved for; verdict, next photo, jitter
/// and identity are made up.
inline PhoneCheck phone_check_of(const CalibrationData& data) {
    PhoneCheck check;
    check.data = data;
    check.boards = {near_checkerboard(), a1_target()};
    check.solution = solve_calibration(data, check.model);
    if (!check.solution.solved) {
        throw std::logic_error("a simulated phone could not be calibrated");
    }
    for (std::size_t v = 0; v < data.views.size(); ++v) {
        const CalibratedView& view = check.solution.views[v];
        PhotoUse use;
        use.file = data.views[v].file;
        use.board = data.views[v].board;
        use.solution_view = static_cast<int>(v);
        use.corners = static_cast<int>(view.corners.size());
        use.taped = data.views[v].tape >= 0;
        use.distance_mm = view.camera_from_board.translation_mm.norm();
        use.tilt_deg = std::acos(std::abs(view.camera_from_board.rotation(2, 2))) * deg_per_rad;
        use.rms_px = view.rms_px();
        use.held_out_rms_px = 1.1 * use.rms_px;
        check.photos.push_back(use);
    }
    Camera& camera = check.camera;
    camera.name = "bay phone";
    camera.date = "2026-03-05";
    camera.width_px = data.width_px;
    camera.height_px = data.height_px;
    camera.lens = check.solution.lens;
    camera.covariance = check.solution.covariance.topLeftCorner<9, 9>();
    camera.covariance_given = true;
    camera.focus = check.solution.focus;
    camera.identity = {"Lumora", "P7", "wide 5 mm", 5.0, 26.0};
    check.held_out_rms_px = 1.1 * check.solution.rms_px();
    check.seen_share = 0.83;
    check.still = StillScatter{12, {}, 0.0123, 0.0131, 0.0094, 0.0179};
    check.next = NextPhoto{
        "Tilt the board 40 deg, its left edge away from the phone, in the lower right of the "
        "picture, so that it fills about half of it.",
        false, 0.17};
    check.verdict.fit = true;
    check.verdict.distance_mm = 5000;
    check.verdict.aim = {0.041, 0.062};
    check.verdict.from_lens = {0.0113, 0.0208};
    check.verdict.limit = {0.0383, 0.1913};
    check.verdict.words =
        "Fit for use: with the board at 5.0 m the lens makes up 0.023 deg side to side and 0.042 "
        "deg up and down of the give-or-take; up to 0.077 deg side to side and 0.383 deg up and "
        "down is well.";
    return check;
}

/// The same, with a photo that was left out, a warning and no taped photos told.
inline PhoneCheck unfit_phone_check(const CalibrationData& data) {
    PhoneCheck check = phone_check_of(data);
    check.verdict.fit = false;
    check.verdict.from_lens = {0.0713, 0.0908};
    check.verdict.aim = {0.083, 0.112};
    check.verdict.words =
        "Not yet: with the board at 5.0 m the lens makes up 0.143 deg side to side and 0.182 deg "
        "up and down of the give-or-take; up to 0.077 deg side to side and 0.383 deg up and down "
        "is well.";
    check.verdict.cost_of_no_tape =
        "No photos at a taped distance: the give-or-take of a measurement is 0.17 deg side to "
        "side; with two taped photos it would be 0.08 deg.";
    PhotoUse blurred;
    blurred.file = "photos/blurred.jpg";
    blurred.left_out = "the photo is blurred; hold the phone still and take it again";
    check.photos.insert(check.photos.begin() + 1, blurred);
    check.findings = {
        {Level::note, "photo-left-out", "photos/blurred.jpg was left out: the photo is blurred."},
        {Level::warning, "board-bent",
         "The board 'checkerboard A3' is not flat: its corners lie up to 1.3 mm off a plane. Mount "
         "the print on glass and take the photos again."}};
    return check;
}

}  // namespace squaresight::test

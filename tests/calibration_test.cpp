#include "calibrate/calibration.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <Eigen/Geometry>
#include <filesystem>
#include <opencv2/calib3d.hpp>
#include <opencv2/imgproc.hpp>
#include <set>
#include <string>

#include "calibrate/board_bend.h"
#include "calibrate/calibration_check.h"
#include "calibrate/held_out.h"
#include "calibrate/next_photo.h"
#include "calibrate/pointing.h"
#include "photo/photo.h"
#include "published/zhang_corners.h"
#include "sight/checkerboard.h"
#include "support/drawn_calibration.h"

namespace squaresight::test {
namespace {

/// As published calibrations are solved: every corner counts alike, boards are as drawn, the focus
/// does not move.
CalibrationModel plain_model() {
    CalibrationModel model;
    model.focus = false;
    model.sag = false;
    model.board_shape = false;
    model.weighted = false;
    return model;
}

CalibrationData zhang_data() {
    CalibrationData data;
    data.width_px = 640;
    data.height_px = 480;
    data.boards.emplace_back();
    data.boards[0].half_mm = {100, 100};
    data.views.resize(5);
    for (const auto& corner : zhang_corners) {
        const int index = static_cast<int>(data.boards[0].corners_mm.size());
        data.boards[0].corners_mm.emplace_back(mm_per_inch * corner.x_in,
                                               mm_per_inch * corner.y_in);
        for (std::size_t view = 0; view < 5; ++view) {
            Corner seen;
            seen.index = index;
            seen.pixel = {corner.seen_px[view][0], corner.seen_px[view][1]};
            data.views[view].corners.push_back(seen);
        }
    }
    return data;
}

// Zhang's published result for his data (skew on, k1 and k2 only): alpha 832.5, beta 832.53,
// gamma 0.204494, u0 303.959, v0 206.585, k1 -0.228601, k2 0.190353. A Levenberg-Marquardt fit by
// SciPy 1.10.1 of the same data gives alpha 832.499753 and beta 832.529593, to which it is held.
TEST(Calibration, SolvesZhangsDataAsPublished) {
    CalibrationModel model = plain_model();
    model.tangential = false;
    model.radial_terms = 2;
    model.skew = true;
    const auto solution = solve_calibration(zhang_data(), model);
    ASSERT_TRUE(solution.solved);
    EXPECT_NEAR(solution.lens.fx, 832.499753, 1e-3);
    EXPECT_NEAR(solution.lens.fy, 832.529593, 1e-3);
    EXPECT_NEAR(solution.lens.skew, 0.204494, 5e-5);
    EXPECT_NEAR(solution.lens.cx, 303.959, 1e-3);
    EXPECT_NEAR(solution.lens.cy, 206.585, 1e-3);
    EXPECT_NEAR(solution.lens.k1, -0.228601, 5e-6);
    EXPECT_NEAR(solution.lens.k2, 0.190353, 2e-5);
    // SciPy: root mean square per coordinate 0.23789486 px, standard deviations of alpha 1.40666
    // and u0 0.711825 px, for corners that scatter as the residuals do.
    EXPECT_NEAR(solution.rms_px(), 0.23789486, 1e-6);
    const double noise_px = std::sqrt(144.8805479 / (2 * 5 * 256 - 7 - 5 * 6));
    EXPECT_NEAR(noise_px * std::sqrt(solution.covariance(0, 0)), 1.40666, 2e-3);
    EXPECT_NEAR(noise_px * std::sqrt(solution.covariance(2, 2)), 0.711825, 1e-3);
}

// The same data without skew by OpenCV 4.6.0 (CALIB_ZERO_TANGENT_DIST | CALIB_FIX_K3).
TEST(Calibration, SolvesZhangsDataAsOpenCv) {
    CalibrationModel model = plain_model();
    model.tangential = false;
    model.radial_terms = 2;
    const auto solution = solve_calibration(zhang_data(), model);
    ASSERT_TRUE(solution.solved);
    EXPECT_NEAR(solution.lens.fx, 832.206941, 1e-3);
    EXPECT_NEAR(solution.lens.fy, 832.242516, 1e-3);
    EXPECT_NEAR(solution.lens.k1, -0.228531, 1e-6);
    EXPECT_NEAR(solution.lens.k2, 0.191011, 1e-5);
}

Pattern opencv_board() {
    Pattern pattern;
    pattern.across = 10;
    pattern.down = 7;
    pattern.square_mm = 25;
    return pattern;
}

/// OpenCV's own photos of a checkerboard (samples/data/left01.jpg ... left14.jpg without left10;
/// Debian package opencv-doc), with our corners or cornerSubPix's.
struct OpenCvPhotos {
    CalibrationData data;
    std::vector<cv::Mat> grey;
};

OpenCvPhotos opencv_photos() {
    OpenCvPhotos photos;
    Target target;
    target.name = "opencv";
    target.pattern = opencv_board();
    target.sheet_width_mm = 250;
    target.sheet_height_mm = 175;
    photos.data.width_px = 640;
    photos.data.height_px = 480;
    photos.data.boards = {calibration_board(target)};
    for (int i = 1; i <= 14; ++i) {
        if (i == 10) {
            continue;
        }
        const std::filesystem::path file =
            fmt::format("/usr/share/doc/opencv-doc/examples/data/left{:02}.jpg", i);
        photos.grey.push_back(load_photo(file).grey);
        BoardView view;
        view.file = file.filename().string();
        view.corners = find_checkerboard(photos.grey.back(), target.pattern).sight.corners;
        photos.data.views.push_back(view);
    }
    return photos;
}

void refine_by_subpix(const cv::Mat& grey, int half_window, std::vector<cv::Point2f>& at) {
    cv::cornerSubPix(grey, at, {half_window, half_window}, {-1, -1},
                     {cv::TermCriteria::EPS | cv::TermCriteria::COUNT, 30, 1e-4});
}

/// The same places, measured by cv::cornerSubPix.
CalibrationData with_subpix_corners(const OpenCvPhotos& photos, int half_window) {
    CalibrationData data = photos.data;
    for (std::size_t v = 0; v < data.views.size(); ++v) {
        std::vector<cv::Point2f> at;
        for (const auto& corner : data.views[v].corners) {
            at.emplace_back(static_cast<float>(corner.pixel.x()),
                            static_cast<float>(corner.pixel.y()));
        }
        refine_by_subpix(photos.grey[v], half_window, at);
        for (std::size_t c = 0; c < at.size(); ++c) {
            data.views[v].corners[c].pixel = {at[c].x, at[c].y};
            data.views[v].corners[c].covariance_px2.setIdentity();
        }
    }
    return data;
}

/// All 54 corners of each photo as OpenCV finds and measures them.
CalibrationData with_opencv_corners(const OpenCvPhotos& photos, int half_window) {
    CalibrationData data = photos.data;
    for (std::size_t v = 0; v < data.views.size(); ++v) {
        std::vector<cv::Point2f> at;
        EXPECT_TRUE(cv::findChessboardCorners(photos.grey[v], {9, 6}, at));
        refine_by_subpix(photos.grey[v], half_window, at);
        data.views[v].corners.clear();
        for (std::size_t c = 0; c < at.size(); ++c) {
            Corner corner;
            corner.index = static_cast<int>(c);
            corner.pixel = {at[c].x, at[c].y};
            data.views[v].corners.push_back(corner);
        }
    }
    return data;
}

// cv::calibrateCamera of OpenCV 4.6.0 on these photos with findChessboardCorners and cornerSubPix
// (half window 5, no flags): rms 0.195420011 px, fx 532.827209, fy 532.945968, cx 342.486817,
// cy 233.855715, k1 -0.280881925, k2 0.0251775122, p1 0.00121651642, p2 -0.00013552585,
// k3 0.163435008; standard deviations of fx and cx 0.640808709 and 0.676131367. Computed from
// OpenCV's published photos.
TEST(Calibration, SolvesOpenCvsPhotosAsOpenCv) {
    const auto solution = solve_calibration(with_opencv_corners(opencv_photos(), 5), plain_model());
    ASSERT_TRUE(solution.solved);
    EXPECT_NEAR(solution.rms_px() * std::sqrt(2.0), 0.195420011, 1e-6);
    EXPECT_NEAR(solution.lens.fx, 532.827209, 1e-3);
    EXPECT_NEAR(solution.lens.fy, 532.945968, 1e-3);
    EXPECT_NEAR(solution.lens.cx, 342.486817, 1e-3);
    EXPECT_NEAR(solution.lens.cy, 233.855715, 1e-3);
    EXPECT_NEAR(solution.lens.k1, -0.280881925, 1e-5);
    EXPECT_NEAR(solution.lens.k2, 0.0251775122, 1e-4);
    EXPECT_NEAR(solution.lens.p1, 0.00121651642, 1e-6);
    EXPECT_NEAR(solution.lens.p2, -0.00013552585, 1e-6);
    EXPECT_NEAR(solution.lens.k3, 0.163435008, 2e-4);
    // OpenCV takes the scatter from all residuals and counts corners, not their two coordinates,
    // less the unknowns (calibration.cpp of 4.6.0); ours is for corners of 1 px.
    const double noise_px = solution.rms_px() * std::sqrt(2 * 13 * 54 / (13.0 * 54 - 9 - 6 * 13));
    EXPECT_NEAR(noise_px * std::sqrt(solution.covariance(0, 0)), 0.640808709, 5e-3);
    EXPECT_NEAR(noise_px * std::sqrt(solution.covariance(2, 2)), 0.676131367, 5e-3);
}

/// The peer: cv::calibrateCamera on exactly the same corners.
struct Peer {
    cv::Mat matrix = cv::Mat::eye(3, 3, CV_64F);
    cv::Mat distortion;
    double rms_px = 0;
};

Peer solved_by_opencv(const CalibrationData& data) {
    std::vector<std::vector<cv::Point3f>> boards;
    std::vector<std::vector<cv::Point2f>> pictures;
    for (const auto& view : data.views) {
        boards.emplace_back();
        pictures.emplace_back();
        for (const auto& corner : view.corners) {
            const auto& mm = data.boards[0].corners_mm[static_cast<std::size_t>(corner.index)];
            boards.back().emplace_back(static_cast<float>(mm.x()), static_cast<float>(mm.y()), 0);
            pictures.back().emplace_back(static_cast<float>(corner.pixel.x()),
                                         static_cast<float>(corner.pixel.y()));
        }
    }
    Peer peer;
    std::vector<cv::Mat> turns, shifts;
    peer.rms_px = cv::calibrateCamera(
        boards, pictures, {data.width_px, data.height_px}, peer.matrix, peer.distortion, turns,
        shifts, 0, {cv::TermCriteria::EPS | cv::TermCriteria::COUNT, 200, 1e-15});
    return peer;
}

TEST(Calibration, AgreesWithCalibrateCameraOnTheSameCorners) {
    CalibrationData data = opencv_photos().data;
    for (auto& view : data.views) {
        for (auto& corner : view.corners) {
            corner.covariance_px2.setIdentity();
        }
    }
    const Peer peer = solved_by_opencv(data);
    const auto solution = solve_calibration(data, plain_model());
    ASSERT_TRUE(solution.solved);
    EXPECT_NEAR(solution.rms_px() * std::sqrt(2.0), peer.rms_px, 1e-5);
    EXPECT_NEAR(solution.lens.fx, peer.matrix.at<double>(0, 0), 5e-3);
    EXPECT_NEAR(solution.lens.fy, peer.matrix.at<double>(1, 1), 5e-3);
    EXPECT_NEAR(solution.lens.cx, peer.matrix.at<double>(0, 2), 5e-3);
    EXPECT_NEAR(solution.lens.cy, peer.matrix.at<double>(1, 2), 5e-3);
    const auto parameters = solution.lens.parameters();
    for (int k = 0; k < 5; ++k) {
        EXPECT_NEAR(parameters[static_cast<std::size_t>(4 + k)], peer.distortion.at<double>(k),
                    2e-4)
            << k;
    }
}

TEST(Calibration, OurCornersFitBetterThanCornerSubPix) {
    const auto photos = opencv_photos();
    const auto ours = solve_calibration(photos.data, plain_model());
    const auto theirs = solve_calibration(with_subpix_corners(photos, 5), plain_model());
    ASSERT_TRUE(ours.solved && theirs.solved);
    EXPECT_LT(ours.rms_px(), theirs.rms_px());
}

TEST(Calibration, FindsTheTruth) {
    DrawnCalibrations shop(7);
    RecordProperty("seed", 7);
    const auto drawn = shop.draw(12, 3);
    const auto solution = solve_calibration(drawn.data, {});
    ASSERT_TRUE(solution.solved);
    const auto found = solution.lens.parameters();
    const auto truth = drawn.truth.parameters();
    for (int k = 0; k < Lens::parameter_count; ++k) {
        const auto at = static_cast<std::size_t>(k);
        EXPECT_LT(std::abs(found[at] - truth[at]), 4 * std::sqrt(solution.covariance(k, k))) << k;
    }
    EXPECT_NEAR(solution.rms_px(), 0.05, 0.004);
}

TEST(Calibration, OrderOfPhotosDoesNotMatter) {
    DrawnCalibrations shop(9);
    const auto drawn = shop.draw(10, 2);
    CalibrationData turned = drawn.data;
    std::reverse(turned.views.begin(), turned.views.end());
    const auto one = solve_calibration(drawn.data, {});
    const auto other = solve_calibration(turned, {});
    EXPECT_NEAR(one.lens.fx, other.lens.fx, 1e-3);
    EXPECT_NEAR(one.lens.k1, other.lens.k1, 1e-6);
}

TEST(Calibration, BadCornersAreDropped) {
    DrawnCalibrations shop(10);
    auto drawn = shop.draw(12, 2);
    for (std::size_t v = 0; v < 6; ++v) {
        drawn.data.views[v].corners[v + 3].pixel += Eigen::Vector2d(4, -7);
    }
    const auto solution = solve_calibration(drawn.data, {});
    ASSERT_TRUE(solution.solved);
    EXPECT_LT(std::abs(solution.lens.fx - drawn.truth.fx),
              4 * std::sqrt(solution.covariance(0, 0)));
    for (std::size_t v = 0; v < 6; ++v) {
        EXPECT_EQ(solution.views[v].corners.size() + 1, drawn.data.views[v].corners.size());
    }
}

TEST(Calibration, HeldOutPhotosFitAlmostAsWell) {
    DrawnCalibrations shop(11);
    const auto drawn = shop.draw(12, 3);
    const auto all = solve_calibration(drawn.data, {});
    const auto held_out = hold_out(drawn.data, {}, all);
    EXPECT_GT(held_out.total_rms_px, 0.047);
    EXPECT_LT(held_out.total_rms_px, 0.056);
    for (const double rms : held_out.rms_px) {
        EXPECT_TRUE(std::isfinite(rms));
    }
}

TEST(Calibration, WithoutAPhotoIsTheSameWhereverItStarts) {
    DrawnCalibrations shop(14);
    auto drawn = shop.draw(12, 3);
    CalibrationSolution start = solve_calibration(drawn.data, {});
    drawn.data.views.erase(drawn.data.views.begin() + 4);
    start.views.erase(start.views.begin() + 4);
    const auto afresh = solve_calibration(drawn.data, {});
    const auto again = solve_again(drawn.data, {}, start);
    ASSERT_TRUE(afresh.solved && again.solved);
    const double u_px = std::sqrt(afresh.covariance(0, 0));
    EXPECT_NEAR(again.lens.fx, afresh.lens.fx, 0.01 * u_px);
    EXPECT_NEAR(again.lens.cx, afresh.lens.cx, 0.01 * std::sqrt(afresh.covariance(2, 2)));
    EXPECT_NEAR(std::sqrt(again.covariance(0, 0)), u_px, 0.01 * u_px);
}

TEST(Calibration, FurtherTermsOnlyWhereHeldOutPhotosAskForThem) {
    DrawnCalibrations shop(12);
    auto drawn = shop.draw(15, 3);
    CalibrationModel wider;
    wider.further_terms = true;
    const auto more_predict_better = [&] {
        const auto all = solve_calibration(drawn.data, {});
        return predicts_better(hold_out(drawn.data, wider, all), hold_out(drawn.data, {}, all));
    };
    EXPECT_FALSE(more_predict_better());
    // A lens that bends as no five terms can: the same poses, seen through denominators.
    Lens strange = drawn.truth;
    strange.k1 = 0.9;
    strange.k2 = -0.4;
    strange.k4 = 0.9;
    strange.k5 = -0.9;
    strange.k6 = 1.5;
    for (auto& view : drawn.data.views) {
        for (auto& corner : view.corners) {
            const auto ray = ray_of_pixel(drawn.truth, corner.pixel);
            const auto bent = ray ? project(strange, {ray->x(), ray->y(), 1}) : std::nullopt;
            ASSERT_TRUE(bent.has_value());
            corner.pixel = *bent;
        }
    }
    EXPECT_TRUE(more_predict_better());
}

TEST(Calibration, BentBoardIsTold) {
    DrawnCalibrations shop(13);
    auto drawn = shop.draw(14, 2);
    const auto flat = board_bends(drawn.data, solve_calibration(drawn.data, {}));
    EXPECT_LT(flat[0].explained, 0.15);
    // Cardboard: a wave of 1.5 mm, seen by every photo of the first board.
    const auto first = solve_calibration(drawn.data, {});
    for (std::size_t v = 0; v < drawn.data.views.size(); ++v) {
        if (drawn.data.views[v].board != 0) {
            continue;
        }
        const auto& pose = first.views[v].camera_from_board;
        for (auto& corner : drawn.data.views[v].corners) {
            const auto& mm =
                drawn.data.boards[0].corners_mm[static_cast<std::size_t>(corner.index)];
            const double wave_mm = 1.5 * std::sin(mm.x() / 40) * std::cos(mm.y() / 50);
            const Eigen::Vector3d on_plane(mm.x(), mm.y(), 0);
            const Eigen::Vector3d off_plane(mm.x(), mm.y(), wave_mm);
            corner.pixel += *project(first.lens, pose.rotation * off_plane + pose.translation_mm) -
                            *project(first.lens, pose.rotation * on_plane + pose.translation_mm);
        }
    }
    const auto bent = board_bends(drawn.data, solve_calibration(drawn.data, {}));
    EXPECT_GT(bent[0].explained, 0.6);
    EXPECT_GT(bent[0].largest_mm, 0.7);
}

TEST(Calibration, NextPhotoGainsWhatItSays) {
    DrawnCalibrations shop(14);
    const auto few = shop.draw(6, 2);
    const auto solution = solve_calibration(few.data, {});
    ASSERT_TRUE(solution.solved);
    const auto next = next_photo(few.data, solution);
    ASSERT_TRUE(next.has_value());
    EXPECT_FALSE(next->taped);
    EXPECT_GT(next->gain, 0.1);
    EXPECT_LT(next->gain, 1);
    // Taken as told, the same is not told again.
    CalibrationSolution taken = solution;
    std::set<std::string> told{next->words};
    auto last = next;
    for (int i = 0; i < 3; ++i) {
        taken.views.push_back(taken.views.front());
        taken.views.back().camera_from_board = last->camera_from_board;
        last = next_photo(few.data, taken);
        if (!last) {
            break;
        }
        EXPECT_TRUE(told.insert(last->words).second) << last->words;
    }
    EXPECT_GT(told.size(), 1U);
    const auto untaped = shop.draw(6, 0);
    EXPECT_TRUE(next_photo(untaped.data, solve_calibration(untaped.data, {}))->taped);
}

TEST(Pointing, DerivativesEqualNumericOnes) {
    const Lens lens = simulated_phone_lens();
    const Eigen::Vector2d pixel(3300, 700);
    const auto by_lens = pointing_by_lens(lens, pixel);
    ASSERT_TRUE(by_lens.has_value());
    for (int k = 0; k < Lens::term_count; ++k) {
        auto terms = lens.terms();
        const double step = 1e-5 * std::max(1.0, std::abs(terms[static_cast<std::size_t>(k)]));
        terms[static_cast<std::size_t>(k)] += step;
        const double numeric =
            *pointing_difference_deg(lens, Lens::from_terms(terms), pixel) * rad_per_deg / step;
        EXPECT_NEAR(by_lens->col(k).norm(), numeric, 1e-4 * numeric + 1e-10) << k;
    }
}

TEST(Pointing, NineParametersCarryTheUncertaintyOfAllTerms) {
    DrawnCalibrations shop(15);
    const auto drawn = shop.draw(15, 3);
    CalibrationModel wider;
    wider.further_terms = true;
    const auto solution = solve_calibration(drawn.data, wider);
    ASSERT_TRUE(solution.solved);
    LensCovariance nine = LensCovariance::Zero();
    nine.topLeftCorner<9, 9>() = parameter_covariance(solution, 4000, 3000);
    for (const double x : {500.0, 2000.0, 3500.0}) {
        const double all = *pointing_u_deg(solution.lens, solution.covariance, {x, 1200});
        const double stand_in = *pointing_u_deg(solution.lens, nine, {x, 1200});
        EXPECT_GT(stand_in, 0.95 * all);
        EXPECT_LT(stand_in, 2.5 * all);
    }
}

}  // namespace
}  // namespace squaresight::test

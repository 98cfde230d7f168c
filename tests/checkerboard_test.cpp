#include "sight/checkerboard.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>
#include <filesystem>
#include <fstream>
#include <opencv2/calib3d.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <string>

#include "support/board_raster.h"
#include "support/sight_errors.h"

namespace squaresight {
namespace {

using raster::Scene;
using test::CornerErrors;
using testing::HasSubstr;

Pattern plain(int across, int down, SquareColour first = SquareColour::black) {
    Pattern pattern;
    pattern.across = across;
    pattern.down = down;
    pattern.square_mm = 30;
    pattern.first_square = first;
    return pattern;
}

Target sheet_with(const Pattern& pattern) {
    Target target;
    target.name = "board";
    target.pattern = pattern;
    target.sheet_width_mm = pattern.across * pattern.square_mm + 60;
    target.sheet_height_mm = pattern.down * pattern.square_mm + 60;
    return target;
}

/// At `distance_mm` = 30000 / s a square of the board measures s px.
Scene board_scene(const raster::Pose& pose, const Pattern& pattern = plain(10, 7)) {
    Scene scene;
    scene.target = sheet_with(pattern);
    scene.with_markers = pattern.has_markers();
    scene.width_px = 1000;
    scene.height_px = 750;
    scene.lens.fx = scene.lens.fy = 1000;
    scene.lens.cx = 503;
    scene.lens.cy = 372;
    scene.pose = pose;
    scene.noise = 2;
    return scene;
}

CheckerboardSight look(const Scene& scene) {
    return find_checkerboard(raster::photo_of(scene), scene.target.pattern);
}

/// Looks for the board and holds every corner against the truth.
CheckerboardSight checked(const Scene& scene, CornerErrors* errors = nullptr) {
    CheckerboardSight seen = look(scene);
    test::expect_true_corners(scene, seen.sight, errors);
    return seen;
}

std::size_t all_corners(const Scene& scene) {
    return static_cast<std::size_t>(scene.target.pattern.corner_count());
}

TEST(Checkerboard, EveryCornerIsWhereGeometryPutsIt) {
    // 600 mm ahead at f = 1000 px a square of 30 mm is 50 px.
    Scene scene = board_scene(raster::pose(600, 0));
    scene.noise = 0;
    const CheckerboardSight seen = checked(scene);
    ASSERT_EQ(seen.sight.corners.size(), 54U);
    EXPECT_EQ(seen.sight.problem, SightProblem::none) << seen.sight.advice;
    EXPECT_TRUE(seen.sight.advice.empty());
    EXPECT_EQ(seen.across_seen, 9);
    EXPECT_EQ(seen.down_seen, 6);
    EXPECT_FALSE(seen.layout_differs);
    EXPECT_NEAR(seen.sight.pixels_per_square, 50, 0.05);
    for (const auto& corner : seen.sight.corners) {
        const Eigen::Vector2d analytic(503 + 50 * (corner.index % 9 - 4),
                                       372 + 50 * (corner.index / 9 - 2.5));
        EXPECT_LT((corner.pixel - analytic).norm(), 0.01) << corner.index;
    }
}

TEST(Checkerboard, IsFoundTurnedByAnyAngleWithTheRightTop) {
    CornerErrors errors;
    for (int roll_deg = 0; roll_deg < 360; roll_deg += 20) {
        Scene scene = board_scene(raster::pose(750, roll_deg, 8, -5, {3, -2}));
        scene.seed = static_cast<unsigned>(roll_deg) + 1;
        const CheckerboardSight seen = checked(scene, &errors);
        EXPECT_EQ(seen.sight.corners.size(), 54U) << roll_deg << " deg " << seen.sight.advice;
    }
    EXPECT_LT(errors.rms_px(), 0.015);
}

TEST(Checkerboard, IsFoundTiltedUpTo60Deg) {
    CornerErrors errors;
    for (const double tilt_deg : {20.0, 40.0, 50.0, 60.0}) {
        for (const double roll_deg : {0.0, 40.0, 200.0}) {
            for (const bool sideways : {false, true}) {
                Scene scene = board_scene(
                    raster::pose(650, roll_deg, sideways ? 0 : tilt_deg, sideways ? -tilt_deg : 0));
                const CheckerboardSight seen = checked(scene, &errors);
                EXPECT_EQ(seen.sight.corners.size(), 54U)
                    << tilt_deg << " deg, roll " << roll_deg << ": " << seen.sight.advice;
            }
        }
    }
    EXPECT_LT(errors.rms_px(), 0.03);
}

TEST(Checkerboard, IsFoundThroughWideAngleLensesOutToTheCornersOfTheImage) {
    for (const double k1 : {-0.3, -0.1, 0.1}) {
        CornerErrors errors;
        for (const auto& aside :
             std::array<Eigen::Vector2d, 3>{Eigen::Vector2d{0, 0}, {-60, -45}, {70, 50}}) {
            Scene scene = board_scene(raster::pose(330, 2, 12, 9, aside));
            scene.lens.fx = scene.lens.fy = 700;
            scene.lens.k1 = k1;
            scene.lens.k2 = -k1 / 4;
            scene.lens.p1 = 0.001;
            scene.lens.p2 = -0.0007;
            const CheckerboardSight seen = checked(scene, &errors);
            EXPECT_EQ(seen.sight.corners.size(), 54U)
                << "k1 " << k1 << " aside " << aside.transpose() << ": " << seen.sight.advice;
        }
        EXPECT_LT(errors.rms_px(), 0.015) << "k1 " << k1;
    }
}

TEST(Checkerboard, IsFoundWithSquaresOf12To400Px) {
    for (const double square_px : {12.0, 20.0, 100.0, 400.0}) {
        const double larger = std::max(1.0, square_px / 80);
        Scene scene = board_scene(raster::pose(30000 * larger / square_px, 3, 4, -6));
        scene.width_px = static_cast<int>(1000 * larger);
        scene.height_px = static_cast<int>(750 * larger);
        scene.lens.fx = scene.lens.fy = 1000 * larger;
        scene.lens.cx = scene.width_px / 2.0;
        scene.lens.cy = scene.height_px / 2.0;
        scene.finer = larger > 1 ? 1 : 2;
        const CheckerboardSight seen = checked(scene);
        EXPECT_EQ(seen.sight.corners.size(), 54U) << square_px << " px: " << seen.sight.advice;
    }
}

TEST(Checkerboard, CornersHaveNoBiasAndAreAsSureAsTheySay) {
    CornerErrors errors;
    for (unsigned seed = 1; seed <= 14; ++seed) {
        Scene scene = board_scene(raster::pose(750 + 2.7 * seed, 11.0 * seed, 1.5 * seed, -8,
                                               {0.37 * seed, 0.61 * seed}));
        scene.seed = seed;
        scene.noise = 3;
        EXPECT_EQ(checked(scene, &errors).sight.corners.size(), 54U);
    }
    RecordProperty("rms_px", std::to_string(errors.rms_px()));
    RecordProperty("rms_sigmas", std::to_string(errors.rms_sigmas()));
    EXPECT_LT(errors.rms_px(), 0.01);
    EXPECT_LT(errors.bias_px().cwiseAbs().maxCoeff(), 0.001);
    EXPECT_GT(errors.rms_sigmas(), 0.9);
    EXPECT_LT(errors.rms_sigmas(), 1.1);
}

TEST(Checkerboard, IsAsSureAsItSaysWithBlurNoiseAndUnevenLight) {
    struct Case {
        double square_px, blur_px, noise, light_falloff, k1;
    };
    for (const auto& c : {Case{40, 2, 3, 0, 0}, Case{40, 0.7, 8, 0.6, 0}, Case{20, 1, 3, 0, -0.2},
                          Case{60, 1, 2, 0.5, -0.3}}) {
        CornerErrors errors;
        for (unsigned seed = 1; seed <= 10; ++seed) {
            Scene scene = board_scene(raster::pose(30000 / c.square_px, 37.0 * seed, 6, 9));
            scene.blur_px = c.blur_px;
            scene.noise = c.noise;
            scene.light_falloff = c.light_falloff;
            scene.lens.k1 = c.k1;
            scene.seed = seed;
            const auto corners = checked(scene, &errors).sight.corners.size();
            EXPECT_GE(corners, 53U) << c.square_px << " px, blur " << c.blur_px;
        }
        RecordProperty("rms_sigmas_" + std::to_string(static_cast<int>(c.square_px)),
                       std::to_string(errors.rms_sigmas()));
        EXPECT_GT(errors.rms_sigmas(), 0.9) << c.square_px << " px, blur " << c.blur_px;
        EXPECT_LT(errors.rms_sigmas(), 1.1) << c.square_px << " px, blur " << c.blur_px;
    }
}

TEST(Checkerboard, OneThatLooksTheSameTurnedIsTakenAsNearestToUpright) {
    for (const auto& pattern : {plain(9, 7), plain(8, 8, SquareColour::white), plain(9, 9)}) {
        const bool square = pattern.across == pattern.down;
        for (const double roll_deg : {-30.0, 0.0, 40.0}) {
            const Scene scene = board_scene(raster::pose(850, roll_deg, 10, 5), pattern);
            EXPECT_EQ(checked(scene).sight.corners.size(), all_corners(scene)) << roll_deg;
            // Turned half round it is the same to the eye, and counted from the other end.
            if (!square || pattern.across % 2 == 0) {
                const Scene turned = board_scene(raster::pose(850, roll_deg + 180, 10, 5), pattern);
                const Sight seen = look(turned).sight;
                ASSERT_EQ(seen.corners.size(), all_corners(turned));
                const Eigen::Vector2d last =
                    raster::true_corner(turned, pattern.corner_count() - 1);
                EXPECT_LT((seen.corners.front().pixel - last).norm(), 0.1);
            }
        }
    }
}

TEST(Checkerboard, ContradictingColoursAreTold) {
    for (const auto& [across, down] : {std::pair{9, 7}, {10, 8}}) {
        const Scene scene = board_scene(raster::pose(850, 12, 10, 5), plain(across, down));
        const CheckerboardSight seen =
            find_checkerboard(raster::photo_of(scene), plain(across, down, SquareColour::white));
        EXPECT_TRUE(seen.layout_differs);
        EXPECT_TRUE(seen.sight.corners.empty());
        EXPECT_THAT(seen.sight.advice, HasSubstr("begins with a black square"));
        EXPECT_EQ(seen.across_seen, across - 1);
    }
    // With an odd number of squares across and down together the other colours are the same print
    // held the other way up: nothing is wrong, and corner 0 is where the file's colours say.
    const Scene scene = board_scene(raster::pose(850, 12, 10, 5), plain(10, 7));
    Scene other_way = scene;
    other_way.target.pattern.first_square = SquareColour::white;
    other_way.pose = raster::pose(850, 192, 10, 5);
    const CheckerboardSight seen =
        find_checkerboard(raster::photo_of(scene), other_way.target.pattern);
    EXPECT_FALSE(seen.layout_differs);
    EXPECT_EQ(seen.sight.corners.size(), 54U);
    test::expect_true_corners(other_way, seen.sight);
}

TEST(Checkerboard, ABoardOfAnotherSizeIsToldByItsSize) {
    struct Case {
        Pattern in_photo;
        Pattern in_file;
        const char* words;
    };
    for (const auto& c :
         {Case{plain(9, 6), plain(10, 7), "8 x 5 inner corners, the board file says 9 x 6"},
          Case{plain(12, 8), plain(10, 7), "11 x 7 inner corners, the board file says 9 x 6"},
          Case{plain(11, 7), plain(10, 7), "10 x 6 inner corners, the board file says 9 x 6"},
          Case{plain(7, 9), plain(10, 7), "8 x 6 inner corners, the board file says 9 x 6"}}) {
        const Scene scene = board_scene(raster::pose(850, 8, 15, -10), c.in_photo);
        const CheckerboardSight seen = find_checkerboard(raster::photo_of(scene), c.in_file);
        EXPECT_TRUE(seen.sight.corners.empty());
        EXPECT_EQ(seen.sight.problem, SightProblem::not_found);
        EXPECT_THAT(seen.sight.advice, HasSubstr(c.words));
        EXPECT_EQ(seen.across_seen,
                  std::max(c.in_photo.corners_across(), c.in_photo.corners_down()));
    }
}

TEST(Checkerboard, ARowOutOfThePictureOrUnderAClothIsNotGuessed) {
    Scene cut = board_scene(raster::pose(600, 0, 0, 0, {0, 153}));  // its last row is out below
    const CheckerboardSight seen = look(cut);
    EXPECT_TRUE(seen.sight.corners.empty());
    EXPECT_EQ(seen.down_seen, 5);
    EXPECT_THAT(seen.sight.advice, HasSubstr("9 x 5 inner corners, the board file says 9 x 6"));
    EXPECT_THAT(seen.sight.advice, HasSubstr("all of the board in the picture"));

    Scene covered = board_scene(raster::pose(600, 0));
    covered.in_front = [&](cv::Mat& photo) {
        const int x = (503 + 165) * covered.finer;  // the last column of corners and beyond
        photo(cv::Rect(x, 0, photo.cols - x, photo.rows)).setTo(90);
    };
    const CheckerboardSight half = look(covered);
    EXPECT_TRUE(half.sight.corners.empty());
    EXPECT_THAT(half.sight.advice, HasSubstr("inner corners, the board file says 9 x 6"));
}

TEST(Checkerboard, ATenthOfTheCornersMayBeHidden) {
    for (unsigned seed = 1; seed <= 6; ++seed) {
        Scene scene = board_scene(raster::pose(700, 50.0 * seed, 10, -12));
        scene.seed = seed;
        scene.in_front = [&](cv::Mat& photo) {  // glare on one corner, fingers on two others
            const auto cover = [&](int index, double grey, int radius) {
                const Eigen::Vector2d at = raster::true_corner(scene, index) * scene.finer;
                cv::circle(photo, {static_cast<int>(at.x()), static_cast<int>(at.y())}, radius,
                           cv::Scalar(grey), cv::FILLED);
            };
            cover(static_cast<int>(7 * seed % 54), 250, 30);
            cover(8, 120, 26);
            cover(static_cast<int>(11 * seed % 54), 70, 22);
        };
        const CheckerboardSight seen = checked(scene);
        EXPECT_GE(seen.sight.corners.size(), 48U) << "seed " << seed << ": " << seen.sight.advice;
        EXPECT_EQ(seen.sight.problem, SightProblem::none) << seen.sight.advice;
    }
}

TEST(Checkerboard, MoreThanATenthHiddenIsTold) {
    Scene scene = board_scene(raster::pose(600, 0));
    scene.in_front = [&](cv::Mat& photo) {
        cv::circle(photo, {photo.cols / 2, photo.rows / 2}, 75 * scene.finer, cv::Scalar(90),
                   cv::FILLED);
    };
    const CheckerboardSight seen = checked(scene);
    EXPECT_EQ(seen.sight.problem, SightProblem::few_corners);
    EXPECT_THAT(seen.sight.advice, HasSubstr("of 54 corners"));
}

TEST(Checkerboard, OtherBoardsInThePictureAreNotMixedUpWithIt) {
    for (unsigned seed = 1; seed <= 3; ++seed) {
        Scene scene = board_scene(raster::pose(1000, 20.0 * seed, 10, -10, {140, 20}));
        scene.behind = [&](cv::Mat& photo) {
            raster::paint_clutter(photo, seed, 150);
            Scene partial = board_scene(raster::pose(1000, 5, 0, 0, {-420, 100}));
            raster::paint_board(photo, raster::refined(partial));
            Scene bay = board_scene(raster::pose(2200, -8, 0, 0, {-450, -500}));
            bay.target.sheet_width_mm = 841;
            bay.target.sheet_height_mm = 594;
            bay.target.pattern = {12, 8, 65, 48, "DICT_4X4_100", 0, SquareColour::black};
            bay.with_markers = true;
            raster::paint_board(photo, raster::refined(bay));
        };
        const CheckerboardSight seen = checked(scene);
        EXPECT_EQ(seen.sight.corners.size(), 54U) << "seed " << seed << ": " << seen.sight.advice;
    }
}

TEST(Checkerboard, ABoardWithMarkersIsNotTakenForAPlainOne) {
    Scene bay = board_scene(raster::pose(1600, 7, 10, -10));
    bay.target.sheet_width_mm = 841;
    bay.target.sheet_height_mm = 594;
    bay.target.pattern = {12, 8, 65, 48, "DICT_4X4_100", 0, SquareColour::black};
    bay.with_markers = true;
    for (const auto& [across, down] : {std::pair{12, 8}, {10, 7}}) {
        const CheckerboardSight seen =
            find_checkerboard(raster::photo_of(bay), plain(across, down));
        EXPECT_TRUE(seen.sight.corners.empty());
        EXPECT_THAT(seen.sight.advice, HasSubstr("markers"));
    }
}

/// Rows of keys, dark with light gaps and letters, and a window of panes.
void paint_keyboard_and_window(cv::Mat& photo) {
    photo.setTo(190);
    for (int row = 0; row < 6; ++row) {
        for (int key = 0; key < 14; ++key) {
            const cv::Rect box(60 + key * 60 + row * 15, 60 + row * 60, 50, 48);
            cv::rectangle(photo, box, cv::Scalar(60), cv::FILLED);
            cv::putText(photo, std::string(1, static_cast<char>('A' + (row * 14 + key) % 26)),
                        {box.x + 12, box.y + 36}, cv::FONT_HERSHEY_SIMPLEX, 1, cv::Scalar(220), 3);
        }
    }
    for (int row = 0; row < 7; ++row) {
        for (int pane = 0; pane < 10; ++pane) {
            const double grey = (row * 10 + pane) % 3 == 0 ? 240 : 225;
            cv::rectangle(photo, cv::Rect(1000 + pane * 70, 600 + row * 70, 60, 60),
                          cv::Scalar(grey), cv::FILLED);
        }
    }
}

TEST(Checkerboard, NothingElseIsTakenForOne) {
    cv::Mat keys(1500, 2000, CV_32F);
    paint_keyboard_and_window(keys);
    cv::Mat clutter(1500, 2000, CV_32F, cv::Scalar(110));
    raster::paint_clutter(clutter, 77, 1500);
    cv::Mat noise(750, 1000, CV_8UC1);
    cv::theRNG().state = 4242;
    cv::randu(noise, 0, 256);
    std::vector<cv::Mat> photos{noise, cv::Mat(750, 1000, CV_8UC1, cv::Scalar(128)),
                                cv::Mat(3, 3, CV_8UC1, cv::Scalar(99)), cv::Mat()};
    for (const auto& painted : {keys, clutter}) {
        cv::GaussianBlur(painted, painted, {0, 0}, 1.2);
        painted.convertTo(photos.emplace_back(), CV_8U);
    }
    for (const auto& photo : photos) {
        for (const auto& pattern : {plain(10, 7), plain(15, 7), plain(4, 3)}) {
            const CheckerboardSight seen = find_checkerboard(photo, pattern);
            EXPECT_TRUE(seen.sight.corners.empty());
            EXPECT_EQ(seen.sight.problem, SightProblem::not_found);
            EXPECT_EQ(seen.across_seen, 0);
            EXPECT_FALSE(seen.sight.advice.empty());
        }
    }
}

TEST(Checkerboard, BlurAndDarknessAreToldWithTheirRemedy) {
    Scene blurred = board_scene(raster::pose(600, 5));
    blurred.blur_px = 5;
    const CheckerboardSight smeared = checked(blurred);
    EXPECT_EQ(smeared.sight.problem, SightProblem::blurred);
    EXPECT_THAT(smeared.sight.advice, HasSubstr("focus"));

    Scene dark = board_scene(raster::pose(600, 5));
    dark.white = 34;
    dark.black = 12;
    dark.noise = 1;
    dark.behind = [](cv::Mat& photo) { photo.setTo(20); };
    EXPECT_EQ(checked(dark).sight.problem, SightProblem::dark);

    const cv::Mat night(750, 1000, CV_8UC1, cv::Scalar(3));
    EXPECT_EQ(find_checkerboard(night, plain(10, 7)).sight.problem, SightProblem::dark);
}

/// OpenCV's sample photos of a board of 9 x 6 inner corners, 25 mm, 640 x 480 px (OpenCV 4.6.0,
/// samples/data/left01.jpg ... left14.jpg without left10; Debian package opencv-doc).
constexpr std::array opencv_photos{1, 2, 3, 4, 5, 6, 7, 8, 9, 11, 12, 13, 14};

cv::Mat opencv_photo(int number) {
    const std::string name = "/usr/share/doc/opencv-doc/examples/data/left" +
                             std::string(number < 10 ? "0" : "") + std::to_string(number) + ".jpg";
    const cv::Mat photo = cv::imread(name, cv::IMREAD_GRAYSCALE);
    EXPECT_FALSE(photo.empty()) << name << " is missing: install the Debian package opencv-doc";
    return photo;
}

std::vector<cv::Point2f> opencv_corners(const cv::Mat& photo, int half_window) {
    std::vector<cv::Point2f> corners;
    const bool found = cv::findChessboardCorners(
        photo, cv::Size(9, 6), corners,
        cv::CALIB_CB_ADAPTIVE_THRESH | cv::CALIB_CB_FAST_CHECK | cv::CALIB_CB_NORMALIZE_IMAGE);
    EXPECT_TRUE(found);
    cv::cornerSubPix(photo, corners, cv::Size(half_window, half_window), cv::Size(-1, -1),
                     cv::TermCriteria(cv::TermCriteria::COUNT | cv::TermCriteria::EPS, 30, 1e-4));
    return corners;
}

double length(const Eigen::Vector2d& a, const cv::Point2f& b) {
    return (a - Eigen::Vector2d(static_cast<double>(b.x), static_cast<double>(b.y))).norm();
}

double median_of_list(std::vector<double> values) {
    std::nth_element(values.begin(), values.begin() + static_cast<long>(values.size() / 2),
                     values.end());
    return values[values.size() / 2];
}

TEST(CheckerboardOfOpenCv, TheFinderItIsComparedWithGivesThePublishedCorners) {
    // First and last corners of left01, left06 and left14 by OpenCV 4.6.0 on these photos,
    // findChessboardCorners and cornerSubPix with the half window given.
    struct Published {
        int photo, half_window;
        double first_x, first_y, last_x, last_y;
    };
    for (const auto& p : {Published{1, 11, 244.4053, 94.1369, 510.3649, 266.2025},
                          Published{6, 11, 588.9210, 138.7424, 390.1544, 387.3078},
                          Published{14, 11, 416.2941, 57.3448, 279.9429, 422.7290},
                          Published{1, 5, 244.4274, 94.1646, 510.3763, 266.2278},
                          Published{6, 5, 588.9870, 138.8365, 390.2010, 387.1949},
                          Published{14, 5, 416.3685, 57.4304, 279.7356, 422.7923}}) {
        const auto corners = opencv_corners(opencv_photo(p.photo), p.half_window);
        EXPECT_LT(length({p.first_x, p.first_y}, corners.front()), 0.01) << p.photo;
        EXPECT_LT(length({p.last_x, p.last_y}, corners.back()), 0.01) << p.photo;
    }
}

TEST(CheckerboardOfOpenCv, CornersAgreeWithCornerSubPix) {
    // cornerSubPix itself moves by up to 6 px where its larger window holds a second corner, so
    // the medians are compared, and with the smaller window all corners.
    for (const int number : opencv_photos) {
        const cv::Mat photo = opencv_photo(number);
        const CheckerboardSight seen = find_checkerboard(photo, plain(10, 7));
        EXPECT_GE(seen.sight.corners.size(), 52U) << number << ": " << seen.sight.advice;
        EXPECT_EQ(seen.sight.problem, SightProblem::none) << number << ": " << seen.sight.advice;
        for (const int half_window : {11, 5}) {
            const auto others = opencv_corners(photo, half_window);
            std::vector<double> apart_px;
            for (const auto& corner : seen.sight.corners) {
                apart_px.push_back(
                    length(corner.pixel, others[static_cast<std::size_t>(corner.index)]));
            }
            EXPECT_LT(median_of_list(apart_px), 0.17) << number << " window " << half_window;
            if (half_window == 5) {
                EXPECT_LT(*std::max_element(apart_px.begin(), apart_px.end()), 0.5) << number;
            }
        }
    }
}

TEST(CheckerboardOfOpenCv, OurCornersFitOneCameraBetterThanThePublishedOnes) {
    // rms of cv::calibrateCamera over these 13 photos, all terms free, computed by OpenCV 4.6.0:
    // 0.40877 px from corners with half window 11 (published with the photos: 0.39259, left
    // intrinsics, older OpenCV), 0.19542 px with half window 5.
    std::vector<std::vector<cv::Point3f>> on_board;
    std::vector<std::vector<cv::Point2f>> in_photo;
    for (const int number : opencv_photos) {
        auto& board = on_board.emplace_back();
        auto& pixels = in_photo.emplace_back();
        for (const auto& corner :
             find_checkerboard(opencv_photo(number), plain(10, 7)).sight.corners) {
            board.emplace_back(25.0F * static_cast<float>(corner.index % 9),
                               25.0F * static_cast<float>(corner.index / 9), 0.0F);
            pixels.emplace_back(corner.pixel.x(), corner.pixel.y());
        }
        ASSERT_GE(board.size(), 52U);
    }
    cv::Mat matrix, distortion;
    std::vector<cv::Mat> turns, shifts;
    const double rms_px =
        cv::calibrateCamera(on_board, in_photo, cv::Size(640, 480), matrix, distortion, turns,
                            shifts, 0, cv::TermCriteria(3, 200, 1e-15));
    RecordProperty("rms_px", std::to_string(rms_px));
    EXPECT_LT(rms_px, 0.19542);
    // Published: fx 535.92 px, older OpenCV, half window 11; 532.83 px with half window 5.
    EXPECT_NEAR(matrix.at<double>(0, 0), 534.4, 2);
}

}  // namespace
}  // namespace squaresight

#include "sight/sight.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <opencv2/calib3d.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <string>

#include "sight/batch.h"
#include "sight/identity.h"
#include "sight/spots.h"
#include "support/board_raster.h"
#include "support/sight_errors.h"
#include "units/normal.h"

namespace squaresight {
namespace {

using raster::Pose;
using raster::Scene;
using Errors = test::CornerErrors;

Target bay_target() {
    Target target;
    target.name = "bay";
    target.sheet_width_mm = 841;
    target.sheet_height_mm = 594;
    target.pattern = {12, 8, 65, 48, "DICT_4X4_100", 0, SquareColour::black};
    return target;
}

Lens plain_lens(double focal_px, int width_px, int height_px) {
    Lens lens;
    lens.fx = lens.fy = focal_px;
    lens.cx = (width_px - 1) / 2.0 + 3;
    lens.cy = (height_px - 1) / 2.0 - 2;
    return lens;
}

Scene bay_scene(const Pose& pose) {
    Scene scene;
    scene.target = bay_target();
    scene.lens = plain_lens(1000, scene.width_px, scene.height_px);
    scene.pose = pose;
    scene.noise = 3;
    return scene;
}

/// Looks for the target and holds every corner against the truth.
Sight checked_sight(const Scene& scene, const cv::Mat& photo, Errors* errors = nullptr) {
    Sight sight = find_target(photo, scene.target, scene.lens);
    test::expect_true_corners(scene, sight, errors);
    return sight;
}

Sight checked_sight(const Scene& scene, Errors* errors = nullptr) {
    return checked_sight(scene, raster::photo_of(scene), errors);
}

TEST(Raster, CoverageOfASquareOnRectangleIsItsArea) {
    raster::Coverage coverage(8, 6);
    // Pixel (x, y) covers x - 0.5 .. x + 0.5.
    coverage.add_polygon({{1.25, 0.5}, {4.5, 0.5}, {4.5, 3.0}, {1.25, 3.0}});
    const cv::Mat shares = coverage.shares();
    EXPECT_NEAR(cv::sum(shares)[0], 3.25 * 2.5, 1e-5);
    EXPECT_NEAR(shares.at<float>(1, 1), 0.25, 1e-6);
    EXPECT_NEAR(shares.at<float>(1, 2), 1, 1e-6);
    EXPECT_NEAR(shares.at<float>(3, 2), 0.5, 1e-6);
    EXPECT_NEAR(shares.at<float>(1, 5), 0, 1e-6);
}

TEST(Raster, CoverageOfATriangleIsItsAreaAndCentroid) {
    raster::Coverage coverage(60, 50);
    const Eigen::Vector2d a(3.3, 2.1);
    const Eigen::Vector2d b(55.7, 11.9);
    const Eigen::Vector2d c(20.2, 46.4);
    coverage.add_polygon({a, b, c});
    const cv::Mat shares = coverage.shares();
    const double area = 0.5 * ((b - a).x() * (c - a).y() - (b - a).y() * (c - a).x());
    EXPECT_NEAR(cv::sum(shares)[0], area, 1e-3);
    const cv::Moments moments = cv::moments(shares);
    const Eigen::Vector2d centroid = (a + b + c) / 3;
    EXPECT_NEAR(moments.m10 / moments.m00, centroid.x(), 1e-3);
    EXPECT_NEAR(moments.m01 / moments.m00, centroid.y(), 1e-3);
}

TEST(Sight, FindsEveryCornerOfASquareOnPatternWhereGeometryPutsIt) {
    // 1600 mm ahead at f = 1000 px a square of 65 mm is 40.625 px, so corner (column, row) counted
    // from the pattern's middle stands at the principal point + 40.625 px * (column, row).
    Scene scene = bay_scene(raster::pose(1600, 0));
    scene.noise = 0;
    const Sight sight = checked_sight(scene);
    ASSERT_EQ(sight.corners.size(), 77U);
    EXPECT_EQ(sight.markers_read, 48);
    EXPECT_EQ(sight.problem, SightProblem::none) << sight.advice;
    EXPECT_TRUE(sight.advice.empty());
    EXPECT_NEAR(sight.pixels_per_square, 40.625, 0.05);
    for (const auto& corner : sight.corners) {
        const Eigen::Vector2d analytic(scene.lens.cx + 40.625 * (corner.index % 11 - 5),
                                       scene.lens.cy + 40.625 * (corner.index / 11 - 3));
        EXPECT_LT((corner.pixel - analytic).norm(), 0.01) << corner.index;
    }
}

TEST(Sight, FindsThePatternTurnedByAnyAngle) {
    Errors errors;
    for (int roll_deg = 0; roll_deg < 360; roll_deg += 10) {
        Scene scene = bay_scene(raster::pose(1700, roll_deg, 0, 0, {2, 3}));
        scene.seed = 100U + static_cast<unsigned>(roll_deg);
        scene.finer = roll_deg % 90 ? 1 : 2;
        const Sight sight = checked_sight(scene, &errors);
        EXPECT_GE(sight.corners.size(), 75U) << roll_deg << " deg";
        EXPECT_EQ(sight.problem, SightProblem::none) << roll_deg << " deg: " << sight.advice;
    }
    EXPECT_LT(errors.rms_px(), 0.02);
}

TEST(Sight, FindsATiltedPatternUpTo60Deg) {
    Errors errors;
    for (const double tilt_deg : {15.0, 30.0, 45.0, 60.0}) {
        for (const double roll_deg : {0.0, 35.0}) {
            for (const bool sideways : {false, true}) {
                Scene scene = bay_scene(raster::pose(1400, roll_deg, sideways ? 0 : tilt_deg,
                                                     sideways ? -tilt_deg : 0));
                const Sight sight = checked_sight(scene, &errors);
                EXPECT_GE(sight.corners.size(), 70U) << tilt_deg << " deg, roll " << roll_deg;
            }
        }
    }
    EXPECT_LT(errors.rms_px(), 0.03);
}

TEST(Sight, ReadsSquaresOf12PxAndOfHundreds) {
    for (const double square_px : {12.0, 16.0, 24.0, 90.0, 250.0}) {
        Scene scene = bay_scene(raster::pose(65 * 1000 / square_px, 17, 4, -6));
        const Sight sight = checked_sight(scene);
        EXPECT_GE(sight.corners.size(), square_px > 80 ? 12U : 70U) << square_px << " px";
        EXPECT_LE(sight.pixels_per_square, square_px);  // of the smallest, tilted away
        EXPECT_GE(sight.pixels_per_square, 0.8 * square_px);
    }
}

TEST(Sight, FindsThePatternThroughADistortedLens) {
    for (const double k1 : {-0.3, -0.1, 0.15}) {
        Scene scene = bay_scene(raster::pose(1000, 8, 10, 5));
        scene.lens.k1 = k1;
        scene.lens.k2 = -k1 / 4;
        scene.lens.p1 = 0.001;
        Errors errors;
        EXPECT_EQ(checked_sight(scene, &errors).corners.size(), 77U) << "k1 " << k1;
        EXPECT_LT(errors.rms_px(), 0.02) << "k1 " << k1;
    }
}

TEST(Sight, NeedsTheLensOnlyRoughly) {
    Scene scene = bay_scene(raster::pose(1000, 8, 10, 5));
    scene.lens.k1 = -0.12;
    const cv::Mat photo = raster::photo_of(scene);
    Lens rough = plain_lens(1030, scene.width_px, scene.height_px);
    rough.cx += 12;
    const Sight sight = find_target(photo, scene.target, rough);
    EXPECT_GE(sight.corners.size(), 70U);
    for (const auto& corner : sight.corners) {
        EXPECT_LT((corner.pixel - raster::true_corner(scene, corner.index)).norm(), 0.1);
    }
}

TEST(Sight, FindsPatternsThatBeginWithAWhiteSquareAndOfOtherDictionaries) {
    const Pattern patterns[] = {{12, 8, 65, 48, "DICT_4X4_100", 0, SquareColour::white},
                                {11, 7, 70, 52, "DICT_5X5_250", 30, SquareColour::black},
                                {9, 8, 80, 60, "DICT_6X6_250", 7, SquareColour::white},
                                {8, 5, 100, 70, "DICT_APRILTAG_36h11", 100, SquareColour::black}};
    for (const auto& pattern : patterns) {
        Scene scene = bay_scene(raster::pose(1500, 25, 10, 10));
        scene.target.pattern = pattern;
        scene.target.sheet_width_mm = 900;
        scene.target.sheet_height_mm = 700;
        const Sight sight = checked_sight(scene);
        EXPECT_EQ(static_cast<int>(sight.corners.size()), pattern.corner_count())
            << pattern.dictionary;
    }
}

TEST(Sight, KeepsWhatIsVisibleWhenAThirdIsHidden) {
    for (unsigned seed = 1; seed <= 6; ++seed) {
        Scene scene = bay_scene(raster::pose(1500, 40.0 * seed, 10, -10));
        scene.seed = seed;
        cv::Mat hidden;
        scene.in_front = [&](cv::Mat& photo) {  // an arm and a hand, a third of the board's width
            hidden = cv::Mat::zeros(photo.size(), CV_8UC1);
            const cv::Point middle(photo.cols / 2, photo.rows / 2);
            const int x = middle.x + (seed % 2 ? 1 : -1) * photo.cols / 6;
            cv::line(hidden, {x, 0}, {x + photo.cols / 20, middle.y}, cv::Scalar(255),
                     photo.cols / 7, cv::LINE_8);
            cv::circle(hidden, {x, middle.y + photo.rows / 10}, photo.cols / 10, cv::Scalar(255),
                       cv::FILLED);
            photo.setTo(cv::Scalar(150), hidden);
        };
        const cv::Mat photo = raster::photo_of(scene);
        const Sight sight = checked_sight(scene, photo);
        int open = 0;
        for (int index = 0; index < 77; ++index) {
            const Eigen::Vector2d at =
                (raster::true_corner(scene, index).array() + 0.5) * scene.finer;
            const int clear_px = scene.finer * 22;
            const cv::Rect around(static_cast<int>(at.x()) - clear_px,
                                  static_cast<int>(at.y()) - clear_px, 2 * clear_px, 2 * clear_px);
            open += cv::countNonZero(hidden(around)) == 0;
        }
        EXPECT_GE(static_cast<int>(sight.corners.size()), open - 2) << "seed " << seed;
        EXPECT_GT(open, 25);
    }
}

TEST(Sight, FindsThePatternInAClutteredUnevenlyLitJpeg) {
    for (unsigned seed = 11; seed <= 14; ++seed) {
        Scene scene = bay_scene(raster::pose(1900, 15.0 * seed, 12, 14, {150, -60}));
        scene.light_falloff = 0.6;
        scene.seed = seed;
        scene.finer = 1;
        scene.behind = [&](cv::Mat& photo) { raster::paint_clutter(photo, seed, 400); };
        std::vector<unsigned char> bytes;
        cv::imencode(".jpg", raster::photo_of(scene), bytes, {cv::IMWRITE_JPEG_QUALITY, 80});
        const cv::Mat photo = cv::imdecode(bytes, cv::IMREAD_GRAYSCALE);
        Errors errors;
        const Sight sight = checked_sight(scene, photo, &errors);
        EXPECT_GE(sight.corners.size(), 70U) << "seed " << seed;
        EXPECT_LT(errors.rms_px(), 0.06) << "seed " << seed;
    }
}

TEST(Sight, CornersHaveNoBiasAndAreAsSureAsTheySay) {
    Errors errors;
    for (unsigned seed = 1; seed <= 12; ++seed) {
        // Squares of 40 px, blur 1 px, noise 3 grey levels; another sub-pixel place each time.
        Scene scene = bay_scene(raster::pose(1610 + 2.7 * seed, 7.0 * seed, 1.5 * seed, -8,
                                             {0.37 * seed, 0.61 * seed}));
        scene.seed = seed;
        EXPECT_EQ(checked_sight(scene, &errors).corners.size(), 77U);
    }
    RecordProperty("rms_px", std::to_string(errors.rms_px()));
    RecordProperty("rms_sigmas", std::to_string(errors.rms_sigmas()));
    EXPECT_LT(errors.rms_px(), 0.01);
    EXPECT_LT(errors.bias_px().cwiseAbs().maxCoeff(), 0.001);
    EXPECT_GT(errors.rms_sigmas(), 0.85);
    EXPECT_LT(errors.rms_sigmas(), 1.2);
}

TEST(Sight, CovarianceIsHonestForBlurNoiseAndSmallSquares) {
    struct Case {
        double square_px, blur_px, noise;
    };
    for (const auto& c : {Case{40, 0.6, 2}, Case{40, 2, 3}, Case{40, 3, 3}, Case{60, 1, 10},
                          Case{20, 1, 3}, Case{16, 1.2, 3}, Case{12.5, 0.7, 3}}) {
        Errors errors;
        for (unsigned seed = 1; seed <= 2; ++seed) {
            Scene scene =
                bay_scene(raster::pose(65000 / c.square_px, 31.0 * seed, 6, 9, {1.3 * seed, 0.7}));
            scene.blur_px = c.blur_px;
            scene.noise = c.noise;
            scene.seed = seed;
            checked_sight(scene, &errors);
        }
        EXPECT_GT(errors.corners, 140) << c.square_px << " px, blur " << c.blur_px;
        EXPECT_GT(errors.rms_sigmas(), 0.7) << c.square_px << " px, blur " << c.blur_px;
        EXPECT_LT(errors.rms_sigmas(), 1.4) << c.square_px << " px, blur " << c.blur_px;
    }
}

TEST(Sight, AgreesWithAnIndependentFinderOnAPlainCheckerboard) {
    // cv::findChessboardCornersSB knows no markers: it sees the same pose printed without them.
    Scene scene = bay_scene(raster::pose(1500, 4, 8, -6));
    const Sight sight = checked_sight(scene);
    ASSERT_EQ(sight.corners.size(), 77U);
    scene.with_markers = false;
    std::vector<cv::Point2f> others;
    ASSERT_TRUE(cv::findChessboardCornersSB(raster::photo_of(scene), cv::Size(11, 7), others,
                                            cv::CALIB_CB_ACCURACY));
    const bool from_the_end = others.front().x > others.back().x;
    double squares = 0;
    for (const auto& corner : sight.corners) {
        const auto n = static_cast<std::size_t>(corner.index);
        const cv::Point2f& other = from_the_end ? others[76 - n] : others[n];
        squares += (corner.pixel - Eigen::Vector2d(other.x, other.y)).squaredNorm();
    }
    EXPECT_LT(std::sqrt(squares / 154), 0.15);
}

void expect_nothing(const Sight& sight) {
    EXPECT_TRUE(sight.corners.empty());
    EXPECT_EQ(sight.problem, SightProblem::not_found);
    EXPECT_FALSE(sight.advice.empty());
}

TEST(Sight, SaysSoWhenThereIsNoTarget) {
    const Scene scene = bay_scene(raster::pose(1500, 0));
    cv::Mat clutter(900, 1200, CV_32F, cv::Scalar(110));
    raster::paint_clutter(clutter, 77, 1500);
    cv::Mat photo;
    clutter.convertTo(photo, CV_8U);
    expect_nothing(find_target(photo, scene.target, scene.lens));
    const cv::Mat bare(900, 1200, CV_8UC1, cv::Scalar(128));
    expect_nothing(find_target(bare, scene.target, scene.lens));
    EXPECT_TRUE(find_target(bare, scene.target, scene.lens).unidentified_px.empty());
    expect_nothing(find_target(cv::Mat(), scene.target, scene.lens));
    expect_nothing(find_target(cv::Mat(3, 3, CV_8UC1, cv::Scalar(99)), scene.target, scene.lens));
    cv::Mat noise(900, 1200, CV_8UC1);
    cv::theRNG().state = 4242;
    cv::randu(noise, 0, 256);
    expect_nothing(find_target(noise, scene.target, scene.lens));
}

TEST(Sight, RefusesDecoys) {
    const Scene honest = bay_scene(raster::pose(1500, 20, 10, 10));
    Scene mirrored = honest;
    mirrored.mirrored = true;
    Scene plain = honest;
    plain.with_markers = false;
    Scene other_ids = honest;
    other_ids.target.pattern.first_id = 50;
    Scene other_family = honest;
    other_family.target.pattern.dictionary = "DICT_5X5_100";
    Scene other_shape = honest;
    other_shape.target.pattern.across = 11;
    Scene taller = honest;
    taller.target.pattern.down = 12;
    Scene other_colour = honest;
    other_colour.target.pattern.first_square = SquareColour::white;
    const std::pair<Scene, const char*> decoys[] = {
        {mirrored, "mirror image"},
        {plain, "has no markers, the board file says DICT_4X4_100"},
        {other_ids, "numbered from 50, the board file says first_id 0"},
        {other_family, "of the family DICT_5X5_1000, the board file says DICT_4X4_100"},
        {other_shape, "a board of 11 squares across, the board file says 12"},
        {taller, "more than 8 rows"},
        {other_colour, "begins with a white square, the board file says black"}};
    for (const auto& [decoy, words] : decoys) {
        const Sight sight = find_target(raster::photo_of(decoy), honest.target, honest.lens);
        expect_nothing(sight);
        EXPECT_NE(sight.advice.find(words), std::string::npos) << sight.advice;
        EXPECT_GT(sight.unidentified_px.size(), 40U) << words;  // for people to look at
    }
}

/// Photos that calibrate a camera: the board near, partly out of the picture, through a lens of
/// which only a guess is known.
TEST(Sight, FindsEveryVisibleCornerFromNearThroughALensThatIsOnlyAGuess) {
    Errors errors;
    for (const double k1 : {-0.3, -0.1, 0.1}) {
        for (const auto& aside : {Eigen::Vector2d{0, 0}, {150, 100}, {-260, 120}}) {
            Scene scene = bay_scene(raster::pose(500, k1 > 0 ? 95 : 3, 15, -20, aside));
            scene.lens.fx = scene.lens.fy = k1 < -0.2 ? 640 : 900;
            scene.lens.k1 = k1;
            scene.lens.k2 = -k1 / 4;
            scene.lens.p1 = 0.0008;
            scene.finer = 1;
            Lens guess;
            guess.fx = guess.fy = 0.8 * scene.width_px;
            guess.cx = (scene.width_px - 1) / 2.0;
            guess.cy = (scene.height_px - 1) / 2.0;
            const Sight sight = find_target(raster::photo_of(scene), scene.target, guess);
            test::expect_true_corners(scene, sight, &errors);
            int visible = 0;
            for (int index = 0; index < 77; ++index) {
                const auto at =
                    raster::pixel_of(scene, corner_in_target_mm(scene.target.pattern, index));
                visible += at && at->x() > 15 && at->y() > 15 && at->x() < scene.width_px - 16 &&
                           at->y() < scene.height_px - 16;
            }
            EXPECT_GT(visible, 20);
            EXPECT_GE(static_cast<int>(sight.corners.size()), visible - 1)
                << "k1 " << k1 << " aside " << aside.transpose() << ": " << sight.advice;
        }
    }
    RecordProperty("rms_px", std::to_string(errors.rms_px()));
    EXPECT_LT(errors.rms_px(), 0.015);
    EXPECT_LT(errors.rms_sigmas(), 1.25);
}

TEST(Sight, SaysWhichPartOfTheBoardIsMissing) {
    const Scene scene = bay_scene(raster::pose(2600, 10, 0, 0, {0, 0}));
    const Pattern& pattern = scene.target.pattern;
    const auto advice_of = [&](const auto& is_seen) {
        std::vector<Corner> corners;
        for (int index = 0; index < pattern.corner_count(); ++index) {
            if (is_seen(index % pattern.corners_across(), index / pattern.corners_across())) {
                corners.push_back(
                    {index, raster::true_corner(scene, index), Eigen::Matrix2d::Identity()});
            }
        }
        return sight_of_corners(corners, pattern).advice;
    };
    EXPECT_NE(advice_of([](int column, int) { return column == 0; }).find("its right part"),
              std::string::npos);
    EXPECT_NE(advice_of([](int column, int row) {
                  return column > 8 && row > 4;
              }).find("its upper left part"),
              std::string::npos);
    EXPECT_NE(advice_of([](int column, int row) {
                  return column < 6 && row < 1;
              }).find("its lower right part"),
              std::string::npos);
    EXPECT_EQ(advice_of([](int, int row) { return row == 3; }).find("part is missing"),
              std::string::npos);
}

TEST(Sight, IsNotLedAstrayByADecoyBesideTheTarget) {
    Scene decoy = bay_scene(raster::pose(2600, 10, 0, 0, {-800, 100}));
    decoy.target.pattern.first_id = 50;
    Scene scene = bay_scene(raster::pose(2600, -5, 10, 0, {600, -50}));
    scene.behind = [&](cv::Mat& photo) {
        Scene fine = raster::refined(decoy);
        raster::paint_board(photo, fine);
    };
    EXPECT_GE(checked_sight(scene).corners.size(), 70U);
}

TEST(Sight, TellsWhatIsWrongAndWhatToDo) {
    Scene dark = bay_scene(raster::pose(1500, 5));
    dark.white = 34;
    dark.black = 12;
    dark.noise = 1;
    dark.behind = [](cv::Mat& photo) { photo.setTo(20); };
    const Sight in_the_dark = checked_sight(dark);
    EXPECT_EQ(in_the_dark.problem, SightProblem::dark);
    EXPECT_FALSE(in_the_dark.corners.empty());
    EXPECT_NE(in_the_dark.advice.find("light"), std::string::npos) << in_the_dark.advice;

    Scene blurred = bay_scene(raster::pose(1200, 5));
    blurred.blur_px = 4.5;
    const Sight smeared = checked_sight(blurred);
    EXPECT_EQ(smeared.problem, SightProblem::blurred);
    EXPECT_NE(smeared.advice.find("focus"), std::string::npos) << smeared.advice;

    Scene hidden = bay_scene(raster::pose(1500, 0));
    hidden.in_front = [](cv::Mat& photo) {
        photo(cv::Rect(0, 0, photo.cols, photo.rows * 55 / 100)).setTo(120);
    };
    const Sight few = checked_sight(hidden);
    EXPECT_EQ(few.problem, SightProblem::few_corners);
    EXPECT_FALSE(few.advice.empty());

    const cv::Mat night(900, 1200, CV_8UC1, cv::Scalar(3));
    EXPECT_EQ(find_target(night, dark.target, dark.lens).problem, SightProblem::dark);
}

TEST(Sight, ABlurredPhotoIsCalledBlurredHoweverFarAndASharpOneWithoutTheBoardIsNot) {
    for (const double blur_px : {5.0, 9.0, 16.0, 30.0}) {
        Scene scene = bay_scene(raster::pose(1500, 5));
        scene.blur_px = blur_px;
        const Sight blurred = checked_sight(scene);
        EXPECT_EQ(blurred.problem, SightProblem::blurred) << blur_px;
        EXPECT_NE(blurred.advice.find("focus"), std::string::npos) << blurred.advice;
        EXPECT_EQ(blurred.advice.find("pixels wide"), std::string::npos) << blurred.advice;
    }
    Scene without = bay_scene(raster::pose(1500, 5));
    without.in_front = [](cv::Mat& photo) {
        photo.setTo(60);
        for (int i = 1; i < 9; ++i) {
            photo(
                cv::Rect(i * photo.cols / 10, i * photo.rows / 12, photo.cols / 25, photo.rows / 3))
                .setTo(i % 2 == 0 ? 20 : 190);
        }
    };
    EXPECT_EQ(checked_sight(without).problem, SightProblem::not_found);
}

TEST(Sight, TellsGlareFromACoverAndFromThePicturesEdge) {
    Scene glare = bay_scene(raster::pose(1500, 0));
    glare.in_front = [](cv::Mat& photo) {
        photo(cv::Rect(0, 0, photo.cols, photo.rows * 55 / 100)).setTo(400);
    };
    const std::string burnt_out = checked_sight(glare).advice;
    EXPECT_NE(burnt_out.find("upper part is burnt out by glare"), std::string::npos) << burnt_out;

    Scene beside = bay_scene(raster::pose(1500, 0));
    const cv::Mat all = raster::photo_of(beside);
    const auto middle = raster::pixel_of(beside, corner_in_target_mm(beside.target.pattern, 36));
    const cv::Mat part = all.colRange(static_cast<int>(middle->x()) - 25, all.cols).clone();
    beside.lens.cx -= std::floor(middle->x()) - 25;
    const std::string cut = find_target(part, beside.target, beside.lens).advice;
    EXPECT_TRUE(cut.empty() || cut.find("outside the picture") != std::string::npos) << cut;

    const cv::Mat snow(900, 1200, CV_8UC1, cv::Scalar(255));
    const std::string white = find_target(snow, glare.target, glare.lens).advice;
    EXPECT_NE(white.find("the whole picture is burnt out"), std::string::npos) << white;
    cv::Mat lamp(900, 1200, CV_8UC1, cv::Scalar(90));
    lamp(cv::Rect(850, 0, 350, 280)).setTo(255);
    const std::string lamps = find_target(lamp, glare.target, glare.lens).advice;
    EXPECT_NE(lamps.find("the upper right of the picture is burnt out"), std::string::npos)
        << lamps;
}

TEST(Sight, TellsAShakenPhotoFromOneOutOfFocusAndABoardTooFarAway) {
    Scene shaken = bay_scene(raster::pose(1200, 5));
    const int width_px = shaken.width_px;
    shaken.in_front = [=](cv::Mat& photo) {
        cv::blur(photo, photo, cv::Size((19 * photo.cols / width_px) | 1, 1));
    };
    const Sight moved = checked_sight(shaken);
    EXPECT_NE(moved.advice.find("the phone moved"), std::string::npos) << moved.advice;

    Scene far = bay_scene(raster::pose(7500, 5));
    const std::string small = checked_sight(far).advice;
    EXPECT_NE(small.find("pixels wide, too small to be sure of"), std::string::npos) << small;
}

/// Against the C++ standard library's erfc and exp.
TEST(Batch, ABlurredStepIsTheNormalDistributionAndItsDensity) {
    for (float first = -8; first < 8; first += 1) {
        const Batch sigmas = Batch::LinSpaced(first, first + 1);
        const BlurredStep step = blurred_step(sigmas);
        for (int n = 0; n < batch_size; ++n) {
            EXPECT_NEAR(step.value(n), probability_below(sigmas(n)), 3e-7) << sigmas(n);
            EXPECT_NEAR(step.slope(n), normal_density(sigmas(n)), 3e-7) << sigmas(n);
        }
    }
}

/// 20 x 20 pixels that are fitted but for noise, and a square of `across_px` that is off by 40.
struct Fitted {
    explicit Fitted(int across_px) {
        for (int y = 0; y < 20; ++y) {
            for (int x = 0; x < 20; ++x) {
                samples.push_back({{100 + x, 200 + y}, 128});
                const bool off = x >= 8 && x < 8 + across_px && y >= 8 && y < 8 + across_px;
                misfits.push_back(off ? -40 : (x + y) % 2 == 0 ? 1.5F : -1.5F);
            }
        }
    }
    std::size_t beside() const { return samples_beside_spots(samples, misfits, {20, 5}).size(); }

    std::vector<Sample> samples;
    std::vector<float> misfits;
};

TEST(Spots, AreLeftOutWithTheirRims) {
    const Fitted fitted(3);
    const auto beside = samples_beside_spots(fitted.samples, fitted.misfits, {20, 5});
    EXPECT_EQ(beside.size(), 400U - 5 * 5);
    EXPECT_TRUE(std::none_of(beside.begin(), beside.end(), [](const Sample& sample) {
        return (sample.pixel - Eigen::Vector2i(109, 209)).cwiseAbs().maxCoeff() <= 2;
    }));
}

TEST(Spots, NoiseIsNoneAndWhatIsTooLargeIsAnotherThing) {
    EXPECT_EQ(Fitted(0).beside(), 400U);
    EXPECT_EQ(Fitted(6).beside(), 400U);
}

TEST(Markers, ThoseInDoubtConvinceWhereManySayTheSameAndFewSayAnother) {
    const auto convinces = [](int agreeing, int sure, int contradicting, int rivals) {
        return MarkerCount{agreeing, sure, contradicting, rivals}.convincing();
    };
    EXPECT_TRUE(convinces(3, 3, 0, 0));
    EXPECT_FALSE(convinces(2, 2, 0, 0));
    EXPECT_FALSE(convinces(5, 2, 0, 0)) << "few of them in doubt are chance";
    EXPECT_TRUE(convinces(6, 0, 0, 1));
    EXPECT_FALSE(convinces(6, 0, 0, 2)) << "others say the same of another board";
    EXPECT_FALSE(convinces(9, 3, 2, 0)) << "a board of other numbers";
}

}  // namespace
}  // namespace squaresight

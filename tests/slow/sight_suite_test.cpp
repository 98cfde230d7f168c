#include <gtest/gtest.h>

#include <cstdio>

#include "sight/sight.h"
#include "support/degraded_photo.h"

/// Many photos at random, spoilt in one way or in all at once. No corner may carry a wrong
/// identity; corners off by more than 5 of their own sigmas are counted.
namespace squaresight {
namespace {

using degraded::Random;

struct Spoiling {
    const char* name;
    bool things_in_front = false;
    bool shadow = false;
    bool jpeg = false;
    bool tone_curve = false;
    bool sharpened = false;
};

raster::Scene random_scene(unsigned seed) {
    Random random(seed);
    raster::Scene scene;
    scene.target = degraded::bay_board();
    scene.width_px = 800;
    scene.height_px = 600;
    scene.lens.fx = scene.lens.fy = 700;
    scene.lens.cx = 401;
    scene.lens.cy = 300;
    scene.lens.k1 = random.between(-0.1, 0.1);
    const double distance_mm = random.between(1200, 2200);
    const double roll_deg = random.between(0, 360);
    const double tilt_x_deg = random.between(-40, 40);
    const double tilt_y_deg = random.between(-40, 40);
    const double right_mm = random.between(-100, 100);
    scene.pose = raster::pose(distance_mm, roll_deg, tilt_x_deg, tilt_y_deg,
                              {right_mm, random.between(-100, 100)});
    scene.noise = random.between(1, 4);
    scene.blur_px = random.between(0.6, 1.5);
    scene.seed = seed;
    return scene;
}

void paint_things_in_front(cv::Mat& photo, unsigned seed) {
    Random random(seed);
    for (int n = 0; n < 3; ++n) {
        const cv::Scalar grey(random.upto(256));
        const cv::Point at(photo.cols / 4 + random.upto(photo.cols / 2),
                           photo.rows / 4 + random.upto(photo.rows / 2));
        const int size = 5 + random.upto(photo.cols / 9);
        switch (random.upto(4)) {
            case 0:
                cv::circle(photo, at, size, grey, cv::FILLED);
                break;
            case 1:
                cv::line(photo, at, {random.upto(photo.cols), random.upto(photo.rows)}, grey,
                         2 + size / 4);
                break;
            case 2:
                cv::rectangle(photo, at, at + cv::Point(size, size), grey, cv::FILLED);
                break;
            default:
                cv::putText(photo, "CLAMP XX", at, cv::FONT_HERSHEY_SIMPLEX, size / 30.0, grey, 3);
        }
    }
}

void cast_shadow(cv::Mat& photo, unsigned seed) {
    Random random(seed);
    cv::Mat shaded = cv::Mat::zeros(photo.size(), CV_8U);
    const std::vector<std::vector<cv::Point>> outline{{{random.upto(photo.cols), 0},
                                                       {random.upto(photo.cols), photo.rows},
                                                       {2 * photo.cols, photo.rows},
                                                       {2 * photo.cols, 0}}};
    cv::fillPoly(shaded, outline, cv::Scalar(255));
    const cv::Mat darker = photo * 0.45;
    darker.copyTo(photo, shaded);
}

cv::Mat spoilt_photo(raster::Scene scene, const Spoiling& spoiling) {
    const unsigned seed = scene.seed;
    scene.behind = [seed](cv::Mat& photo) { raster::paint_clutter(photo, seed, 150); };
    scene.in_front = [seed, spoiling](cv::Mat& photo) {
        if (spoiling.things_in_front) {
            paint_things_in_front(photo, seed);
        }
        if (spoiling.shadow) {
            cast_shadow(photo, seed);
        }
    };
    degraded::Conditions processing;
    processing.tone = spoiling.tone_curve ? 0.6 : 1;
    processing.sharpening = spoiling.sharpened ? 0.8 : 0;
    const cv::Mat photo = degraded::processed(raster::photo_of(scene), processing);
    return spoiling.jpeg ? degraded::through_jpeg(photo, 60 + seed % 35) : photo;
}

struct Tally {
    int corners = 0;
    int far_off = 0;
    int not_found = 0;
    double squared_sigmas = 0;
};

Tally look_at_spoilt_photos(const Spoiling& spoiling) {
    constexpr unsigned first_seed = 5000;
    constexpr unsigned photos = 60;
    Tally tally;
    for (unsigned seed = first_seed; seed < first_seed + photos; ++seed) {
        const raster::Scene scene = random_scene(seed);
        const Sight sight = find_target(spoilt_photo(scene, spoiling), scene.target, scene.lens);
        tally.not_found += sight.corners.empty();
        for (const auto& corner : sight.corners) {
            const Eigen::Vector2d error = corner.pixel - raster::true_corner(scene, corner.index);
            const double sigmas2 = error.dot(corner.covariance_px2.inverse() * error);
            EXPECT_LT(error.norm(), 0.1 * sight.pixels_per_square)
                << "seed " << seed << " corner " << corner.index;
            ++tally.corners;
            tally.far_off += sigmas2 > 25;
            tally.squared_sigmas += sigmas2;
        }
    }
    EXPECT_GT(tally.corners, static_cast<int>(photos) * 55);
    std::printf("%s: seeds %u-%u, %d corners, %d beyond 5 sigma, rms %.2f sigma, %d not found\n",
                spoiling.name, first_seed, first_seed + photos - 1, tally.corners, tally.far_off,
                std::sqrt(tally.squared_sigmas / (2 * tally.corners)), tally.not_found);
    return tally;
}

TEST(SightSuite, NoCornerIsWrongAndSigmasAreHonest) {
    int corners = 0;
    int far_off = 0;
    for (const Spoiling& spoiling :
         {Spoiling{"clutter"}, Spoiling{"in_front", true}, Spoiling{"shadow", false, true},
          Spoiling{"jpeg", false, false, true}, Spoiling{"tone", false, false, false, true, true},
          Spoiling{"all", true, true, true, true, true}}) {
        const Tally tally = look_at_spoilt_photos(spoiling);
        const double rms_sigmas = std::sqrt(tally.squared_sigmas / (2 * tally.corners));
        EXPECT_GT(rms_sigmas, 0.7) << spoiling.name;
        EXPECT_LT(rms_sigmas, 1.4) << spoiling.name;
        // What is put in front may hide most of the board in one photo or another.
        EXPECT_LE(tally.not_found, spoiling.things_in_front ? 1 : 0) << spoiling.name;
        corners += tally.corners;
        far_off += tally.far_off;
    }
    EXPECT_LE(far_off, corners / 2000);
}

}  // namespace
}  // namespace squaresight

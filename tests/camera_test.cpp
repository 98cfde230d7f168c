#include "camera/camera.h"

#include <gtest/gtest.h>

#include <opencv2/calib3d.hpp>
#include <random>

namespace squaresight {
namespace {

const Lens distorted{3011,   3019,    2001.5, 1497.25, 0.08,  -0.15,
                     0.0011, -0.0007, 0.04,   0.03,    -0.02, 0.01};

// Reference library: OpenCV 4.6, cv::projectPoints.
TEST(Lens, ProjectsLikeOpenCv) {
    std::mt19937 random(20260305);
    RecordProperty("seed", 20260305);
    std::uniform_real_distribution<double> unit(-1, 1);
    const cv::Matx33d matrix(distorted.fx, 0, distorted.cx, 0, distorted.fy, distorted.cy, 0, 0, 1);
    const cv::Vec<double, 8> coefficients(distorted.k1, distorted.k2, distorted.p1, distorted.p2,
                                          distorted.k3, distorted.k4, distorted.k5, distorted.k6);
    for (int trial = 0; trial < 200; ++trial) {
        const cv::Point3d point(2000 * unit(random), 1500 * unit(random),
                                4000 + 800 * unit(random));
        std::vector<cv::Point2d> expected;
        cv::projectPoints(std::vector{point}, cv::Vec3d(), cv::Vec3d(), matrix, coefficients,
                          expected);
        const auto pixel = project(distorted, {point.x, point.y, point.z});
        ASSERT_TRUE(pixel.has_value());
        EXPECT_NEAR(pixel->x(), expected[0].x, 1e-9);
        EXPECT_NEAR(pixel->y(), expected[0].y, 1e-9);
    }
}

TEST(Lens, DerivativesEqualNumericOnes) {
    const Eigen::Vector3d point(900, -700, 3500);
    Eigen::Matrix<double, 2, 3> by_point;
    LensJacobian by_lens;
    ASSERT_TRUE(project(distorted, point, &by_point, &by_lens).has_value());
    for (int axis = 0; axis < 3; ++axis) {
        const Eigen::Vector3d step = 0.01 * Eigen::Vector3d::Unit(axis);
        const Eigen::Vector2d numeric =
            (*project(distorted, point + step) - *project(distorted, point - step)) / 0.02;
        EXPECT_LT((numeric - by_point.col(axis)).norm(), 1e-7);
    }
    const auto terms = distorted.terms();
    for (int k = 0; k < Lens::term_count; ++k) {
        auto up = terms, down = terms;
        const double step = 1e-5 * std::max(1.0, std::abs(terms[k]));
        up[k] += step;
        down[k] -= step;
        const Eigen::Vector2d numeric =
            (*project(Lens::from_terms(up), point) - *project(Lens::from_terms(down), point)) /
            (2 * step);
        EXPECT_LT((numeric - by_lens.col(k)).norm(), 1e-5 * (1 + by_lens.col(k).norm())) << k;
    }
}

TEST(Lens, UndistortionUndoesDistortion) {
    for (double x = -0.6; x <= 0.6; x += 0.1) {
        for (double y = -0.45; y <= 0.45; y += 0.15) {
            const auto pixel = project(distorted, {x, y, 1});
            ASSERT_TRUE(pixel.has_value());
            const auto ray = ray_of_pixel(distorted, *pixel);
            ASSERT_TRUE(ray.has_value());
            EXPECT_NEAR(ray->x(), x, 1e-8);
            EXPECT_NEAR(ray->y(), y, 1e-8);
        }
    }
}

TEST(Lens, WhatIsNotAheadHasNoPixel) {
    EXPECT_FALSE(project(distorted, {10, 10, 0}).has_value());
    EXPECT_FALSE(project(distorted, {10, 10, -5}).has_value());
    EXPECT_FALSE(project(distorted, {10, 10, std::nan("")}).has_value());
}

TEST(Lens, WhereTheDistortionFoldsBackThereIsNoPixel) {
    Lens barrel = distorted;
    barrel.k1 = -0.5;
    barrel.k2 = barrel.k3 = 0;
    EXPECT_TRUE(project(barrel, {0.3, 0, 1}).has_value());
    EXPECT_FALSE(project(barrel, {1.5, 0, 1}).has_value());
}

}  // namespace
}  // namespace squaresight

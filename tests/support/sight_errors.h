#pragma once
#include <gtest/gtest.h>

#include <Eigen/LU>
#include <algorithm>
#include <cmath>

#include "sight/sight.h"
#include "support/board_raster.h"

namespace squaresight::test {

/// Errors of found corners against the truth, summed over photos.
struct CornerErrors {
    int corners = 0;
    Eigen::Vector2d sum_px{0, 0};
    double squares_px2 = 0;     ///< over both axes
    double squares_sigmas = 0;  ///< Mahalanobis distance squared, two degrees of freedom
    double largest_sigmas = 0;

    double rms_px() const { return std::sqrt(squares_px2 / (2 * corners)); }
    Eigen::Vector2d bias_px() const { return sum_px / corners; }
    double rms_sigmas() const { return std::sqrt(squares_sigmas / (2 * corners)); }
};

/// Holds every corner against the truth: a wrong identity would be off by a square, a wrong place
/// by many of its own sigmas.
inline void expect_true_corners(const raster::Scene& scene, const Sight& sight,
                                CornerErrors* errors = nullptr) {
    int last = -1;
    for (const auto& corner : sight.corners) {
        EXPECT_GT(corner.index, last) << "corners are sorted, each at most once";
        last = corner.index;
        const Eigen::Vector2d error = corner.pixel - raster::true_corner(scene, corner.index);
        const double sigmas2 = error.dot(corner.covariance_px2.inverse() * error);
        EXPECT_LT(error.norm(), 0.15 * sight.pixels_per_square) << "identity of " << corner.index;
        EXPECT_LT(std::sqrt(sigmas2), 6)
            << "corner " << corner.index << " off by " << error.transpose() << " px";
        if (errors != nullptr) {
            ++errors->corners;
            errors->sum_px += error;
            errors->squares_px2 += error.squaredNorm();
            errors->squares_sigmas += sigmas2;
            errors->largest_sigmas = std::max(errors->largest_sigmas, std::sqrt(sigmas2));
        }
    }
}

}  // namespace squaresight::test

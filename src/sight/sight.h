#pragma once
#include <Eigen/Core>
#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "camera/camera.h"
#include "target/target.h"

namespace squaresight {

/// One inner corner of the pattern as seen in a photo.
struct Corner {
    int index = 0;                ///< row by row from the top left of the pattern
    Eigen::Vector2d pixel{0, 0};  ///< sensor-native pixels, centres at whole numbers
    Eigen::Matrix2d covariance_px2 = Eigen::Matrix2d::Identity();
};

/// Why a target was not found or is of little use, in the words of the finding codes.
enum class SightProblem { none, not_found, few_corners, blurred, dark };

/// What was found in one photo. Unusable (no corners) until `corners` is filled.
struct Sight {
    std::vector<Corner> corners;  ///< sorted by index, each index at most once
    /// Of a checkerboard that was seen but not identified, where the target was not found.
    std::vector<Eigen::Vector2d> unidentified_px;
    int markers_read = 0;
    double pixels_per_square = 0;  ///< smallest side of a square in the photo
    SightProblem problem = SightProblem::not_found;
    std::string advice;  ///< reason and remedy in one sentence; empty if all is well
};

/// Finds the target in a grey photo (CV_8UC1, sensor-native) and measures every visible corner.
/// The lens is used to predict corners between markers and need only be roughly right.
/// Never returns a corner whose identity is in doubt; an absent target is a result, not an error.
Sight find_target(const cv::Mat& grey, const Target& target, const Lens& lens);

/// What corners that were found earlier are worth: judged by their number and spread alone.
/// `corners` are sorted by index.
Sight sight_of_corners(std::vector<Corner> corners, const Pattern& pattern);

}  // namespace squaresight

#pragma once
#include <vector>

#include "sight/consistency.h"
#include "sight/sight.h"

namespace squaresight {

/// A checkerboard that was not taken for the target; none without corners.
struct SeenCheckerboard {
    std::vector<Eigen::Vector2d> corners_px;
    double square_px = 0;  ///< the usual side of its squares
};

/// The result for a photo without the target. The advice says whether it is too dark or burnt out,
/// and whether there is a checkerboard that is not the target or whose markers cannot be read.
Sight not_found(const cv::Mat& grey, const SeenCheckerboard& other = {});

/// The result for corners measured in a photo, with the most serious problem first.
Sight judged(const cv::Mat& grey, const FittedCorners& corners, const BoardView& view,
             int markers_read, const Pattern& pattern);

}  // namespace squaresight

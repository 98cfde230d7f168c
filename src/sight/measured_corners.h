#pragma once
#include "sight/consistency.h"
#include "sight/corner_search.h"

namespace squaresight {

/// The corners of a followed board measured in the photo itself, without those that do not belong
/// with the others or are less sure than a part of their squares.
FittedCorners measured_corners(const cv::Mat& grey, const FollowedBoard& board,
                               const PrintedPattern& print);

}  // namespace squaresight

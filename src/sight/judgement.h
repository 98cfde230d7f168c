#pragma once
#include "sight/consistency.h"
#include "sight/sight.h"

namespace squaresight {

/// The result for a photo without the target. The advice says whether it is too dark to tell, and
/// whether there is a checkerboard that is not the target or whose markers cannot be read.
Sight not_found(const cv::Mat& grey, bool checkerboard_seen);

/// The result for measured corners, with the most serious problem first.
Sight judged(const FittedCorners& corners, const BoardView& view, int markers_read,
             const Pattern& pattern);

}  // namespace squaresight

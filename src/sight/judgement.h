#pragma once
#include "sight/consistency.h"
#include "sight/sight.h"

namespace squaresight {

/// The result for a photo without the target: the advice says whether it is too dark to tell.
Sight not_found(const cv::Mat& grey);

/// The result for measured corners, with the most serious problem first.
Sight judged(const FittedCorners& corners, const BoardView& view, int markers_read,
             const Pattern& pattern);

}  // namespace squaresight

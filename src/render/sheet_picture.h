#pragma once
#include <opencv2/core.hpp>

#include "target/target.h"

namespace squaresight {

/// Draws a sheet as a bitmap (CV_8UC1, 0 ink, 255 paper) of whole cells of 0.5 mm, upright, with
/// edges of the pattern exactly on cell borders. The pattern is laid out here once more, from the
/// public dictionary, so that the photos prove the program's own drawing.
/// InputError where the pattern's sizes are not whole cells.
cv::Mat sheet_picture(const Target& target);

}  // namespace squaresight

#include "sight/measured_corners.h"

#include "sight/median.h"

namespace squaresight {

FittedCorners measured_corners(const cv::Mat& grey, const FollowedBoard& board,
                               const PrintedPattern& print) {
    FittedCorners corners;
    CornerStart start;  // as blurred as the corners before it
    for (const auto& [index, pixel] : board.corners_px) {
        start.pixel = pixel;
        if (const auto corner = fit_corner(grey, board.view, print, index, start)) {
            corners.emplace(index, *corner);
            start.blur_px = median_of(corners, [](const auto& c) { return c.blur_px; });
        }
    }
    return consistent_corners(corners, board.view.lens, print.pattern);
}

}  // namespace squaresight

#include "sight/measured_corners.h"

namespace squaresight {

FittedCorners measured_corners(const cv::Mat& grey, const FollowedBoard& board,
                               const PrintedPattern& print) {
    FittedCorners corners;
    for (const auto& [index, pixel] : board.corners_px) {
        if (const auto corner = fit_corner(grey, board.view, print, index, pixel)) {
            corners.emplace(index, *corner);
        }
    }
    return consistent_corners(corners, board.view.lens, print.pattern);
}

}  // namespace squaresight

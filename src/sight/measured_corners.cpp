#include "sight/measured_corners.h"

#include <Eigen/Eigenvalues>
#include <cmath>
#include <map>
#include <vector>

#include "sight/median.h"

namespace squaresight {
namespace {

constexpr std::size_t few = 20;          // corners whose saddles alone make no good view
constexpr std::size_t fewest = 5;        // that tell of one that is off
constexpr UsualMisfit usual{0.1, 0.03};  // of corners that are fitted
constexpr double least_sure = 0.04;      // sigma over a square's side: five are a fifth of it

FittedCorners fitted(const cv::Mat& grey, const std::map<int, Eigen::Vector2d>& corners_px,
                     const BoardView& view, const PrintedPattern& print) {
    FittedCorners corners;
    CornerStart start;  // blurred and toned as the corners before it
    for (const auto& [index, pixel] : corners_px) {
        start.pixel = pixel;
        if (const auto corner = fit_corner(grey, view, print, index, start)) {
            corners.emplace(index, *corner);
            start.blur_px = median_of(corners, [](const auto& c) { return c.blur_px; });
            start.tone = median_of(corners, [](const auto& c) { return c.tone; });
        }
    }
    return corners;
}

/// The board as corners that were fitted show it, with all its corners where they are then
/// expected: the edges of a corner are looked for along the directions that a view gives them.
FollowedBoard seen_by(const FittedCorners& corners, const FollowedBoard& board,
                      const Pattern& pattern) {
    std::vector<BoardPoint> points;
    for (const auto& [index, corner] : corners) {
        points.push_back({corner_in_target_mm(pattern, index), corner.pixel});
    }
    std::vector<bool> kept;
    const auto view = fit_board_robustly(board.view.lens, points, usual, kept);
    if (!view) {
        return board;
    }
    FollowedBoard seen{*view, board.corners_px};
    for (auto& [index, pixel] : seen.corners_px) {
        pixel = view->pixel(corner_in_target_mm(pattern, index)).value_or(pixel);
    }
    return seen;
}

/// Without those that may lie a fifth of a square off by what they say themselves: where a smear is
/// as long as a tilted square is high, a fit tells nothing along it.
FittedCorners sure_corners(FittedCorners corners, const BoardView& view, const Pattern& pattern) {
    std::erase_if(corners, [&](const auto& entry) {
        const auto& [index, corner] = entry;
        const double side_px =
            pattern.square_mm * view.least_pixels_per_unit(corner_in_target_mm(pattern, index));
        const double variance =
            Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d>(corner.covariance_px2).eigenvalues()(1);
        return variance > std::pow(least_sure * side_px, 2);
    });
    return corners;
}

}  // namespace

FittedCorners measured_corners(const cv::Mat& grey, const FollowedBoard& board,
                               const PrintedPattern& print) {
    FittedCorners corners = fitted(grey, board.corners_px, board.view, print);
    if (corners.size() >= fewest && corners.size() <= few) {
        const FollowedBoard better = seen_by(corners, board, print.pattern);
        corners = fitted(grey, better.corners_px, better.view, print);
    }
    return sure_corners(consistent_corners(corners, board.view.lens, print.pattern), board.view,
                        print.pattern);
}

}  // namespace squaresight

#pragma once
#include <Eigen/Core>
#include <map>
#include <utility>
#include <vector>

#include "sight/saddles.h"

namespace squaresight {

/// Saddles in the order of a checkerboard's inner corners. Steps along i and j turn the same way
/// round as right and down do in the photo; where (0, 0) lies is arbitrary, but the square between
/// (0, 0) and (1, 1) is white.
struct Lattice {
    using Place = std::pair<int, int>;  ///< i, j
    std::map<Place, Eigen::Vector2d> corners_px;

    /// Colour of the square between (i, j) and (i + 1, j + 1).
    static bool is_white(int i, int j) { return (i + j) % 2 == 0; }
};

/// Every checkerboard of at least six corners that can be put together from saddles of one image,
/// with squares of up to `largest_square_px`; the largest board first.
std::vector<Lattice> find_lattices(const cv::Mat& image, const std::vector<Saddle>& saddles,
                                   double largest_square_px);

}  // namespace squaresight

#pragma once
#include <Eigen/Core>
#include <map>
#include <utility>
#include <vector>

#include "sight/pyramid.h"
#include "sight/saddles.h"

namespace squaresight {

/// Saddles in the order of a checkerboard's inner corners. Steps along i and j turn the same way
/// round as right and down do in the photo; where (0, 0) lies is arbitrary, but the square between
/// (0, 0) and (1, 1) is white.
struct Lattice {
    using Place = std::pair<int, int>;  ///< i, j
    std::map<Place, Saddle> corners;

    /// Colour of the square between (i, j) and (i + 1, j + 1).
    static bool is_white(int i, int j) { return (i + j) % 2 == 0; }
};

/// A photo at the sizes at which checkerboards are looked for. Squares beyond a size that is handy
/// on one level are found on a smaller one, and those of any size on the smallest.
Pyramid searched_levels(const cv::Mat& grey);

/// What the saddles of a level make, in its pixels, the largest first.
struct Lattices {
    std::vector<Lattice> boards;  ///< of at least six corners, some of them those of a white square
    std::vector<Lattice> parts;   ///< a few others, of at least four: a board may be mostly hidden
};
Lattices find_lattices(const Pyramid& photo, int level);

}  // namespace squaresight

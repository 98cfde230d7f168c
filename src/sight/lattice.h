#pragma once
#include <Eigen/Core>
#include <map>
#include <memory>
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

/// What the saddles of a level of a photo make, in its pixels; the photo must outlive it.
class LatticeSearch {
  public:
    LatticeSearch(const Pyramid& photo, int level);
    LatticeSearch(LatticeSearch&& other) noexcept;
    ~LatticeSearch();

    /// Lattices of at least six corners, some of them those of a white square, the largest first.
    std::vector<Lattice> boards();

    /// A few others, to be asked for after the boards: of at least four corners, as a board may be
    /// mostly hidden, and of every other corner.
    std::vector<Lattice> parts();

  private:
    class Finder;
    std::unique_ptr<Finder> finder_;
};

}  // namespace squaresight

#pragma once
#include <map>

#include "sight/identity.h"

namespace squaresight {

/// A board followed from a small level of the photo down to the photo itself.
struct FollowedBoard {
    BoardView view;
    std::map<int, Eigen::Vector2d> corners_px;  ///< by index, to about half a pixel
};

/// Looks for every inner corner of the pattern where the view and the corners around it predict
/// it, first on `level`, then on each larger one. Nothing if the board is lost on the way.
std::optional<FollowedBoard> follow(const FoundBoard& found, int level, const Pyramid& photo,
                                    const Pattern& pattern, const Lens& lens);

/// Unit vector through the bright quarters about an inner corner, as a view shows it; told by the
/// colour of the square above and left of the corner.
Eigen::Vector2d bright_diagonal(bool white_upper_left, const Eigen::Matrix2d& pixels_per_mm);

}  // namespace squaresight

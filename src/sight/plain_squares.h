#pragma once
#include "sight/board_view.h"
#include "sight/pyramid.h"
#include "target/target.h"

namespace squaresight {

/// What the squares of a board show where a view expects them.
enum class SquaresSeen {
    plain,     ///< white and black in turn, without anything in them
    marked,    ///< the same, but something is printed in the white ones
    otherwise  ///< no checkerboard
};

SquaresSeen squares_seen(const BoardView& view, const Pyramid& photo, const Pattern& pattern);

/// Whether the checkerboard goes on beyond the pattern: further corners stand where one more row
/// or column would have them.
struct Beyond {
    bool left_or_right = false;
    bool above_or_below = false;
    bool anywhere() const { return left_or_right || above_or_below; }
};
Beyond goes_on_beyond(const BoardView& view, const Pyramid& photo, const Pattern& pattern);

}  // namespace squaresight

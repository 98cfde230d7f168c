#pragma once
#include <optional>
#include <vector>

#include "sight/board_view.h"
#include "sight/lattice.h"
#include "sight/markers.h"

namespace squaresight {

/// The pattern as found in a photo. Board points are in the target's millimetres.
struct FoundBoard {
    BoardView view;
    std::vector<int> corners;  ///< indices that the lattice held
};

/// What the markers inside a lattice say: which corner of the pattern each of its corners is.
/// Nothing unless at least three markers agree and hardly any says otherwise. `level` is that of
/// the photo on which the lattice was found.
std::optional<FoundBoard> identify(const Lattice& lattice, int level, const Pyramid& photo,
                                   const MarkerReader& reader, const Pattern& pattern,
                                   const Lens& lens);

/// How many markers of the pattern are read where the view expects them, and how many other
/// markers stand in their places.
struct MarkerCount {
    int agreeing = 0;
    int contradicting = 0;
    /// Enough for an identity beyond doubt.
    bool convincing() const { return agreeing >= 3 && agreeing >= 5 * contradicting; }
};
MarkerCount count_markers(const BoardView& view, const Pyramid& photo, const MarkerReader& reader,
                          const Pattern& pattern);

}  // namespace squaresight

#pragma once
#include <Eigen/Core>
#include <algorithm>
#include <map>
#include <optional>
#include <vector>

#include "sight/board_view.h"
#include "sight/lattice.h"
#include "sight/markers.h"

namespace squaresight {

/// The pattern as found in a photo. Board points are in the target's millimetres.
struct FoundBoard {
    BoardView view;
    std::map<int, Eigen::Vector2d> corners_px;  ///< by index, where the lattice has them
};

/// How the pattern lies in a lattice: turned right (as x right, y down turn into each other) by
/// quarters, with its inner corner 0 at a place of the lattice.
struct Placement {
    int quarter_turns = 0;
    int i = 0;
    int j = 0;
};

/// A board seen in the lattice's own places, one unit a square; nothing where they make no board.
std::optional<BoardView> lattice_view(const Lattice& lattice, int level, const Lens& lens);

/// A marker read in the square from (i, j) to (i + 1, j + 1) of a lattice.
struct ReadSquare {
    int i = 0;
    int j = 0;
    MarkerReading reading;
};

enum class Print { true_side, mirrored };

/// What is read in the white squares of a lattice and in those one step outside it.
std::vector<ReadSquare> read_squares(const Lattice& lattice, const BoardView& view,
                                     const Pyramid& photo, const MarkerReader& reader, Print print);

/// How a pattern with these markers lies in the lattice, where enough of them say the same.
struct Election {
    Placement placement;
    int agreeing = 0;
};
std::optional<Election> elected(const std::vector<ReadSquare>& squares,
                                const std::vector<MarkerPlace>& markers);

/// Lattice place of a point of the pattern counted in squares from inner corner 0.
Eigen::Vector2d lattice_from_pattern(const Placement& placement, const Eigen::Vector2d& place);

/// The pattern placed so in a lattice that was found on `level` of the photo.
std::optional<FoundBoard> placed_board(const Lattice& lattice, int level,
                                       const Placement& placement, const Pattern& pattern,
                                       const Lens& lens);

/// What the markers inside a lattice say: which corner of the pattern each of its corners is.
/// Nothing unless enough markers agree and hardly any says otherwise. `level` is that of the photo
/// on which the lattice was found.
std::optional<FoundBoard> identify(const Lattice& lattice, int level, const Pyramid& photo,
                                   const MarkerReader& reader, const Pattern& pattern,
                                   const Lens& lens);

/// How the markers that are read speak for an identity. Chance alone hardly makes any agree: each
/// is one of some hundred, in one of four turns.
struct MarkerCount {
    int agreeing = 0;
    int sure = 0;           ///< of those
    int contradicting = 0;  ///< that surely are others
    int rivals = 0;         ///< the most that agree on another identity
    /// Enough for an identity beyond doubt.
    bool convincing() const {
        return (sure >= 3 && sure >= 5 * contradicting) ||
               (agreeing >= 6 && agreeing >= 5 * std::max(contradicting, rivals));
    }
};
/// Of the pattern's markers where the view expects them.
MarkerCount count_markers(const BoardView& view, const Pyramid& photo, const MarkerReader& reader,
                          const Pattern& pattern);

}  // namespace squaresight

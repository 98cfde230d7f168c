#pragma once
#include <string>
#include <vector>

#include "target/target.h"

namespace squaresight {

/// A pattern together with the bits of its markers and where each stands.
struct PrintedPattern {
    Pattern pattern;
    Dictionary dictionary;
    std::vector<int> ids;  ///< of the marker in each square, row by row; -1 in black squares

    int id_at(int column, int row) const {
        const int square = row * pattern.across + column;
        return ids[static_cast<std::size_t>(square)];
    }
    double cell_squares() const {
        return pattern.marker_mm / pattern.square_mm / (dictionary.size + 2);
    }
    double margin_squares() const { return (1 - pattern.marker_mm / pattern.square_mm) / 2; }
};

/// A plain checkerboard, without any markers.
PrintedPattern plain_print(const Pattern& pattern);

/// InputError (where: the target's name) for an unknown dictionary or one with too few markers.
PrintedPattern printed_pattern(const Target& target);

}  // namespace squaresight

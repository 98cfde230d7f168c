#include "sight/lattice_block.h"

#include <algorithm>
#include <cmath>
#include <iterator>

namespace squaresight {
namespace {

constexpr double least_line_share = 0.45;  // of the corners of a row or column that counts as seen
constexpr double least_strength = 0.7;     // of an outer corner over the next one inside

bool holds(const Block& block, const Lattice::Place& place) {
    return place.first >= block.left && place.first < block.left + block.across &&
           place.second >= block.top && place.second < block.top + block.down;
}

Block bounds(const Lattice& lattice) {
    const Lattice::Place first = lattice.corners.begin()->first;
    int left = first.first, right = left, top = first.second, bottom = top;
    for (const auto& [place, corner] : lattice.corners) {
        left = std::min(left, place.first);
        right = std::max(right, place.first);
        top = std::min(top, place.second);
        bottom = std::max(bottom, place.second);
    }
    return {left, top, right - left + 1, bottom - top + 1};
}

/// An outer row or column of a block, and the way from it into the block.
struct OuterLine {
    Block line;
    int in_i = 0;
    int in_j = 0;
};

/// Share of the line's corners that are seen; those much weaker than the next one inside are not:
/// where a single black square ends at the board's rim it looks like half an inner corner.
double seen_share(const Lattice& lattice, const OuterLine& outer) {
    int count = 0;
    for (const auto& [place, corner] : lattice.corners) {
        const auto inside =
            lattice.corners.find({place.first + outer.in_i, place.second + outer.in_j});
        count += holds(outer.line, place) &&
                 (inside == lattice.corners.end() ||
                  corner.strength > least_strength * inside->second.strength);
    }
    return static_cast<double>(count) / (outer.line.across * outer.line.down);
}

}  // namespace

Lattice part_in(const Block& block, const Lattice& lattice) {
    Lattice part;
    std::copy_if(lattice.corners.begin(), lattice.corners.end(),
                 std::inserter(part.corners, part.corners.end()),
                 [&](const auto& corner) { return holds(block, corner.first); });
    return part;
}

int corners_in(const Block& block, const Lattice& lattice) {
    return static_cast<int>(part_in(block, lattice).corners.size());
}

Block seen_block(const Lattice& lattice) {
    Block block = bounds(lattice);
    while (block.across > 1 && block.down > 1) {
        const int right = block.left + block.across - 1;
        const int bottom = block.top + block.down - 1;
        const OuterLine lines[] = {{{block.left, block.top, 1, block.down}, 1, 0},
                                   {{right, block.top, 1, block.down}, -1, 0},
                                   {{block.left, block.top, block.across, 1}, 0, 1},
                                   {{block.left, bottom, block.across, 1}, 0, -1}};
        const auto* poorest = std::min_element(
            std::begin(lines), std::end(lines), [&](const OuterLine& a, const OuterLine& b) {
                return seen_share(lattice, a) < seen_share(lattice, b);
            });
        if (seen_share(lattice, *poorest) >= least_line_share) {
            break;
        }
        block.left += std::max(poorest->in_i, 0);
        block.top += std::max(poorest->in_j, 0);
        block.across -= std::abs(poorest->in_i);
        block.down -= std::abs(poorest->in_j);
    }
    return block;
}

Pattern pattern_of(const Block& block) {
    Pattern pattern;
    pattern.across = block.across + 1;
    pattern.down = block.down + 1;
    pattern.square_mm = 1;
    pattern.first_square = Lattice::is_white(block.left - 1, block.top - 1) ? SquareColour::white
                                                                            : SquareColour::black;
    return pattern;
}

}  // namespace squaresight

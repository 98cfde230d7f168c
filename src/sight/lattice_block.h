#pragma once
#include "sight/lattice.h"
#include "target/target.h"

namespace squaresight {

/// A block of lattice places.
struct Block {
    int left = 0;
    int top = 0;
    int across = 0;
    int down = 0;
};

/// What of a lattice lies in a block, and how many corners that is.
Lattice part_in(const Block& block, const Lattice& lattice);
int corners_in(const Block& block, const Lattice& lattice);

/// The lattice without outer rows and columns that hold hardly any inner corner.
Block seen_block(const Lattice& lattice);

/// The pattern that a block of a lattice shows, lying as the lattice does, its squares 1 mm wide.
Pattern pattern_of(const Block& block);

}  // namespace squaresight

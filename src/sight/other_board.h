#pragma once
#include <string>

#include "sight/identity.h"
#include "sight/printed_pattern.h"

namespace squaresight {

/// In what the checkerboard of a lattice contradicts the target that was looked for (its colours,
/// size, markers, or a mirror), with the remedy, in a sentence; empty where nothing can be named.
std::string difference_from_target(const Lattice& lattice, int level, const Pyramid& photo,
                                   const PrintedPattern& print, const Lens& lens);

/// The sentence for a board whose top left square has the other colour than the file says.
std::string other_colours_advice(SquareColour in_file);

}  // namespace squaresight

#pragma once
#include <map>

#include "sight/corner_fit.h"

namespace squaresight {

using FittedCorners = std::map<int, FittedCorner>;  ///< by index

/// Leaves out corners that do not belong with the others: that stand off the smooth surface of
/// the rest by more than their own uncertainty allows, or whose grey values fit their model much
/// worse or with far less contrast than those around them (a hand, a clamp, a shadow's edge).
FittedCorners consistent_corners(const FittedCorners& corners, const Lens& lens,
                                 const Pattern& pattern);

}  // namespace squaresight

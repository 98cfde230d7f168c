#pragma once
#include <opencv2/core.hpp>
#include <vector>

#include "sight/lattice.h"

namespace squaresight {

/// Lattices of every other corner, of at least six. On a board that is tilted far about a diagonal
/// of its squares the corners where black squares meet tip to tip show as bright spots: the thin
/// tips are lost between the white margins beside them. What is left are the corners where white
/// squares meet tip to tip.
std::vector<Lattice> find_half_lattices(const cv::Mat& image, const std::vector<Saddle>& saddles,
                                        double largest_square_px);

}  // namespace squaresight

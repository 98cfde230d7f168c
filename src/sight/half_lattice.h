#pragma once
#include <opencv2/core.hpp>
#include <vector>

#include "sight/lattice.h"

namespace squaresight {

/// Lattices of every other corner, of at least six. On a board that is tilted far about a diagonal
/// of its squares the corners at the far ends of the white squares, where a thin white tip lies
/// between two markers, show as bright spots; what is left are the corners at which black squares
/// meet tip to tip.
std::vector<Lattice> find_half_lattices(const cv::Mat& image, const std::vector<Saddle>& saddles,
                                        double largest_square_px);

}  // namespace squaresight

#pragma once
#include <vector>

#include "sight/sight.h"

namespace squaresight {

enum class CornerFate {
    used,
    set_aside,    ///< measured, and did not fit the others: something lies on it or beside it
    not_measured  ///< where it should be, no corner could be made out
};

struct ExplainedCorner {
    int index = 0;
    Eigen::Vector2d pixel{0, 0};
    CornerFate fate = CornerFate::used;
};

/// What a search for the target saw, for people to look at.
struct Explanation {
    Sight sight;
    std::vector<ExplainedCorner> corners;  ///< every inner corner that should lie in the photo
    /// Corners of each checkerboard that was seen and not taken for the target, px.
    std::vector<std::vector<Eigen::Vector2d>> other_boards;
};

/// Searches as find_target does and tells what became of everything. Slower.
Explanation explain_target(const cv::Mat& grey, const Target& target, const Lens& lens);

}  // namespace squaresight

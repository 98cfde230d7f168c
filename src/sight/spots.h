#pragma once
#include <Eigen/Core>
#include <span>
#include <vector>

namespace squaresight {

inline constexpr double rounding_noise = 0.29;  ///< of whole grey values: 1 / sqrt(12)

/// A grey value along the edges that run from a corner.
struct Sample {
    Eigen::Vector2i pixel{0, 0};
    int grey = 0;
};

/// What counts as a spot: dirt or a drop on the board, not a hand or a clamp before it.
struct SpotLimits {
    double least_misfit = 0;  ///< grey values
    double most_across_px = 0;
};

/// The samples beside the spots that their misfits (as many, in the same order) show: patches of
/// pixels that are off by more than noise. All of them where there is no spot, or where a patch is
/// too large for one.
std::vector<Sample> samples_beside_spots(const std::vector<Sample>& samples,
                                         std::span<const float> misfits, const SpotLimits& limits);

}  // namespace squaresight

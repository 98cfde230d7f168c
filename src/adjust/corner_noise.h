#pragma once
#include <Eigen/Core>
#include <optional>
#include <vector>

#include "sight/sight.h"

/// How well a photo's corners fit, by their misfits (px, one a corner, in order). Internal.
namespace squaresight {

inline constexpr int fewest_corners = 8;  ///< of a photo that counts

/// The corners that fit the rest of their photo; nothing where all do, or too few would be left.
std::optional<std::vector<Corner>> without_outliers(const std::vector<Corner>& corners,
                                                    const std::vector<Eigen::Vector2d>& misfits_px);

/// Noise of a photo's corners by their own misfits, as a factor on what the finder stated. Never
/// below 0.03 px.
double noise_factor(const std::vector<Corner>& corners,
                    const std::vector<Eigen::Vector2d>& misfits_px);

}  // namespace squaresight

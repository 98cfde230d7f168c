#pragma once
#include <cmath>
#include <numbers>

namespace squaresight {

/// The standard normal distribution: its density, and the probability of a value below `z`. Far
/// below the middle that keeps its digits, which 1 - erf would not.
inline double normal_density(double z) {
    return std::exp(-0.5 * z * z) / std::sqrt(2 * std::numbers::pi);
}
inline double probability_below(double z) { return 0.5 * std::erfc(-z / std::numbers::sqrt2); }

}  // namespace squaresight

#pragma once
#include <Eigen/Core>
#include <numbers>
#include <unsupported/Eigen/SpecialFunctions>

namespace squaresight {

/// Pixels are taken so many at a time: one number, or a pair of them, for each.
constexpr int batch_size = 8;
using Batch = Eigen::Array<float, batch_size, 1>;
using BatchOfPairs = Eigen::Array<float, batch_size, 2>;

/// A blurred step from 0 to 1, and its slope: the normal distribution and its density.
struct BlurredStep {
    Batch value;
    Batch slope;
};

constexpr float step_ends_at = 5;  ///< sigmas: beyond it a step is felt by less than a millionth

inline BlurredStep blurred_step(const Batch& sigmas) {
    if (sigmas.abs().minCoeff() > step_ends_at) {
        return {(sigmas > 0).select(Batch::Ones(), Batch::Zero()), Batch::Zero()};
    }
    constexpr float per_sigma = 1 / std::numbers::sqrt2_v<float>;
    constexpr float highest = per_sigma * std::numbers::inv_sqrtpi_v<float>;
    return {0.5F + 0.5F * (per_sigma * sigmas).erf(), highest * (-0.5F * sigmas.square()).exp()};
}

}  // namespace squaresight

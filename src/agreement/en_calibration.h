#pragma once
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "agreement/interval.h"

namespace squaresight {

/// Whether differences scatter as their stated uncertainties promise. z = difference /
/// u(difference) is then a standard normal quantity, E_n = |z| / 2 (ISO 13528:2015, 9.7, with k =
/// 2).

/// With fewer the factor below is uncertain by more than a quarter.
constexpr std::size_t fewest_en = 10;

enum class StatedUncertainty { as_stated, too_small, too_large };

/// Sum of squares against chi-square: so far out at either end happens to uncertainties as stated
/// with p. Below `en_significance` they are called too small or too large.
struct ScatterTest {
    double chi_square = 0;
    double degrees_of_freedom = 0;
    double p = 1;  ///< two-sided
    /// By how much uncertainties would have to be multiplied: sqrt(chi_square / degrees of
    /// freedom).
    Estimated factor;
    StatedUncertainty call = StatedUncertainty::as_stated;
};

constexpr double en_significance = 0.05;

/// Of a sum of squares of quantities in their stated standard uncertainties, and its degrees of
/// freedom (above 0, whole or not).
ScatterTest scatter_test(double chi_square, double degrees_of_freedom);

/// How many |E_n| from `from` up to, but not including, `to`; and how many to expect.
struct EnBin {
    double from = 0;
    double to = 0;  ///< infinite in the last
    std::size_t count = 0;
    double expected = 0;
};

struct EnCalibration {
    std::size_t count = 0;
    /// About zero: what E_n promises. A bias between methods counts as scatter here.
    ScatterTest about_zero;
    /// About the mean of all z: what scatters once the bias is taken out.
    ScatterTest about_mean;
    Estimated mean_z;            ///< the bias, in stated uncertainties
    std::size_t beyond_one = 0;  ///< |E_n| > 1
    double expected_beyond_one = 0;
    std::vector<EnBin> bins;  ///< a quarter wide, from 0 to 3 and beyond
};

/// Takes z, one a difference; differences that share vehicle and setup count as if they did not.
/// Nothing with fewer than `fewest_en`, or where one is not finite.
std::optional<EnCalibration> calibrate_en(std::span<const double> z);

}  // namespace squaresight

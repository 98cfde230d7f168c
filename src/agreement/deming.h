#pragma once
#include <optional>
#include <span>

#include "agreement/interval.h"

namespace squaresight {

/// A straight line y = intercept + slope * x where both methods err. Slope without unit where both
/// have the same, intercept in the unit of y.
struct LineWithBothInError {
    Estimated intercept, slope;
};

/// Deming regression (Deming 1943, "Statistical Adjustment of Data"; Linnet 1993, Clinical
/// Chemistry 39: 424-432): errors of x and of y each with one variance, of a known ratio. Standard
/// errors by the jackknife, each point left out by taking it from the sums; intervals by
/// Student's t, n - 2 degrees of freedom. `variance_ratio` is var(error of x) / var(error of y),
/// above 0. Nothing with fewer than three points or where no line stands out.
std::optional<LineWithBothInError> deming_regression(std::span<const double> x,
                                                     std::span<const double> y,
                                                     double variance_ratio);

/// Standard error of an estimate from its values with each observation left out (Quenouille 1956,
/// Tukey 1958): sqrt((n - 1) / n * sum of squares about their mean).
double jackknife_standard_error(std::span<const double> left_one_out);

}  // namespace squaresight

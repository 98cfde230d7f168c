#pragma once
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "agreement/interval.h"

namespace squaresight {

/// Straight lines y = intercept + slope * x where both methods err. Slope without unit where both
/// have the same, intercept in the unit of y.

struct LineWithBothInError {
    Estimated intercept, slope;
};

/// Deming regression (Deming 1943, "Statistical Adjustment of Data"; Linnet 1993, Clinical
/// Chemistry 39: 424-432): errors of x and of y each with one variance, of a known ratio. Standard
/// errors by the jackknife, each point left out by taking it from the sums; intervals with t of n
/// - 2. `variance_ratio` is var(error of x) / var(error of y), above 0. Nothing with fewer than
/// three points or where no line stands out.
std::optional<LineWithBothInError> deming_regression(std::span<const double> x,
                                                     std::span<const double> y,
                                                     double variance_ratio);

/// Each point with its own standard uncertainties (above 0).
struct UncertainPoint {
    double x = 0, y = 0;
    double standard_uncertainty_x = 0, standard_uncertainty_y = 0;
    double correlation = 0;  ///< of both errors
};

/// A line through points that each have their own uncertainties (York, Evensen, Lopez Martinez &
/// De Basabe Delgado 2004, American Journal of Physics 72: 367-375). Standard errors from the
/// adjusted points, as stated: not scaled by how well the points fit. Without correlation it is the
/// maximum-likelihood functional relationship of Ripley & Thompson (1987), Analyst 112: 377-383.
struct YorkLine {
    Estimated intercept, slope;  ///< intervals +/- 1.96 standard errors
    double chi_square = 0;       ///< weighted squared residuals
    double degrees_of_freedom = 0;
};

/// Nothing with fewer than three points, or where the slope does not settle.
std::optional<YorkLine> york_regression(std::span<const UncertainPoint> points);

/// Standard error of an estimate from its values with each observation left out (Quenouille 1956,
/// Tukey 1958): sqrt((n - 1) / n * sum of squares about their mean).
double jackknife_standard_error(std::span<const double> left_one_out);

}  // namespace squaresight

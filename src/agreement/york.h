#pragma once
#include <optional>
#include <span>

#include "agreement/interval.h"

namespace squaresight {

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

}  // namespace squaresight

#pragma once
#include <cstddef>
#include <optional>
#include <span>

#include "agreement/interval.h"

namespace squaresight {

/// Everything here is taken about the first value, whose difference to its like is exact, and
/// summed with the rounding carried along, so that leading digits that all values share cost none
/// of the answer's. Units are those of the values. Nothing is answered where a value is not
/// `all_finite`.

/// A sum that carries its own rounding (Neumaier 1974, "Rundungsfehleranalyse einiger Verfahren zur
/// Summation endlicher Summen", ZAMM 54: 39-51).
class CarefulSum {
  public:
    void add(double term);
    double value() const { return sum_ + lost_; }

  private:
    double sum_ = 0;
    double lost_ = 0;
};

/// Finite, and below 1e100 in size, so that sums of squares are finite too.
bool all_finite(std::span<const double> values);

struct Moments {
    std::size_t count = 0;
    double mean = 0;
    double standard_deviation = 0;     ///< n - 1 in the divisor
    double lag_1_autocorrelation = 0;  ///< of each with its predecessor; 0 where nothing varies
};

/// At least two values.
std::optional<Moments> moments(std::span<const double> values);

/// The middle value, or the mean of the middle two. At least one value.
std::optional<double> median(std::span<const double> values);

/// One-way analysis of variance, groups of any size.
struct OneWayAnova {
    double between_dof = 0, within_dof = 0;
    double between_sum_of_squares = 0, within_sum_of_squares = 0;
    double f = 0, p = 1;
    double r_squared = 0;
    double grand_mean = 0;
    /// What stands for the number of values a group in the expected mean square between groups:
    /// (N - sum n_i^2 / N) / (groups - 1).
    double values_a_group = 0;

    double between_mean_square() const { return between_sum_of_squares / between_dof; }
    double within_mean_square() const { return within_sum_of_squares / within_dof; }
};

/// `groups` gives the group of each value, numbered from 0 without gaps. At least two groups, and
/// more values than groups.
std::optional<OneWayAnova> one_way_anova(std::span<const double> values,
                                         std::span<const std::size_t> groups);

/// y = intercept + slope * x by ordinary least squares; x without error.
struct LineFit {
    Estimated intercept, slope;
    double residual_standard_deviation = 0;  ///< n - 2 in the divisor
    double regression_sum_of_squares = 0, residual_sum_of_squares = 0;
    double r_squared = 0;
    double slope_p = 1;  ///< of a slope at least as far from 0 by chance
};

/// At least three points, not all at one x.
std::optional<LineFit> fit_line(std::span<const double> x, std::span<const double> y);

}  // namespace squaresight

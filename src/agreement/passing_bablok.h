#pragma once
#include <cstddef>
#include <optional>
#include <span>

#include "agreement/interval.h"

namespace squaresight {

/// Lines from the slopes of all pairs of points: no outlier carries them, and neither method's
/// uncertainty need be known. n log n steps for n points (agreement/slope_selection.h).

/// Intervals are two-sided; 95 % where nothing else is asked.
struct RankLine {
    double intercept = 0, slope = 0;
    Interval slope_interval;
    /// As published: what the ends of the slope's interval make of the intercept. The scatter of
    /// the points themselves is not in it, so that it is far too narrow where they lie about x = 0.
    Interval intercept_interval_by_slope;
    /// That, and the interval of the median that the intercept is (sign test: Conover, "Practical
    /// Nonparametric Statistics"), put together as MOVER does (Zou & Donner 2008, Statistics in
    /// Medicine 27: 1693-1702).
    Interval intercept_interval;
};

/// Whether one straight line serves (Passing & Bablok 1983, section 4: largest cumulative sum of
/// signs along the line, against the distribution of Kolmogorov and Smirnov).
struct LinearityTest {
    double statistic = 0;  ///< largest |cumulative sum| / sqrt(points below + 1); 1.36 at p = 0.05
    double p = 1;          ///< of a statistic as large where the line is straight
};

struct PassingBablok {
    std::size_t points = 0;  ///< that it was taken of
    RankLine line;
    LinearityTest linearity;
};

/// Of more points, so many are drawn at random (always the same: Knuth, "The Art of Computer
/// Programming", volume 2, 3.4.2, algorithm S), so that no number of them takes longer; intervals
/// are those of the drawn ones. A slope is then known to about 0.2 % where methods differ by a
/// fifth of what is measured.
constexpr std::size_t most_points_for_passing_bablok = 50'000;

/// Passing & Bablok (1983), Journal of Clinical Chemistry and Clinical Biochemistry 21: 709-720:
/// y on x, neither preferred; pairs of slope -1 are left out, those below count as steep. Between
/// two slopes the mean of their angles is taken, so that x on y gives the same line. The interval
/// lies C / 2 ranks, rounded, either side of the middle, C = 1.96 sqrt(n (n - 1) (2 n + 5) / 18).
/// Made for slopes above 0. Nothing with fewer than three points, or without a slope.
std::optional<PassingBablok> passing_bablok(std::span<const double> x, std::span<const double> y);

/// The slope to which that line tends where both methods measure the same and only their error
/// variances differ: (2 t + y) / (2 t + x), t the variance of what is measured, all normal (the
/// median of a quotient of normal quantities of mean 0 is their regression coefficient). Compare
/// the fitted slope with this, not with 1.
double slope_of_unequal_uncertainty(double true_variance, double x_variance, double y_variance);

/// Theil (1950) and Sen (1968), Journal of the American Statistical Association 63: 1379-1389: y on
/// an x without error; pairs of one x are left out. Slopes within the interval: Sen's, from the
/// variance of Kendall's tau with ties in x. `confidence` is two-sided.
std::optional<RankLine> theil_sen(std::span<const double> x, std::span<const double> y,
                                  double confidence = 0.95);

}  // namespace squaresight

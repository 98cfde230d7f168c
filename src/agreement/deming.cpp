#include "agreement/deming.h"

#include <cmath>
#include <vector>

#include "agreement/descriptive.h"

namespace squaresight {
namespace {

/// Means and sums of squares about them.
struct Sums {
    double count = 0;
    double mean_x = 0, mean_y = 0;
    double xx = 0, yy = 0, xy = 0;

    Sums without(double x, double y) const {
        const double off_x = x - mean_x;
        const double off_y = y - mean_y;
        const double left = count - 1;
        const double scale = count / left;
        return {left,
                mean_x - off_x / left,
                mean_y - off_y / left,
                xx - scale * off_x * off_x,
                yy - scale * off_y * off_y,
                xy - scale * off_x * off_y};
    }
};

Sums sums_of(std::span<const double> x, std::span<const double> y, double origin_x,
             double origin_y) {
    CarefulSum sum_x, sum_y, xx, yy, xy;
    for (std::size_t i = 0; i < x.size(); ++i) {
        sum_x.add(x[i] - origin_x);
        sum_y.add(y[i] - origin_y);
    }
    Sums sums;
    sums.count = static_cast<double>(x.size());
    sums.mean_x = sum_x.value() / sums.count;
    sums.mean_y = sum_y.value() / sums.count;
    for (std::size_t i = 0; i < x.size(); ++i) {
        const double off_x = x[i] - origin_x - sums.mean_x;
        const double off_y = y[i] - origin_y - sums.mean_y;
        xx.add(off_x * off_x);
        yy.add(off_y * off_y);
        xy.add(off_x * off_y);
    }
    sums.xx = xx.value();
    sums.yy = yy.value();
    sums.xy = xy.value();
    return sums;
}

struct Line {
    double intercept = 0, slope = 0;
};

/// About the origin of the sums.
Line line_of(const Sums& sums, double ratio) {
    const double excess = ratio * sums.yy - sums.xx;
    const double root = std::hypot(excess, 2 * std::sqrt(ratio) * sums.xy);
    // Of the two equal forms, that which takes no two near numbers from each other.
    const double slope =
        excess >= 0 ? (excess + root) / (2 * ratio * sums.xy) : 2 * sums.xy / (root - excess);
    return {sums.mean_y - slope * sums.mean_x, slope};
}

}  // namespace

double jackknife_standard_error(std::span<const double> left_one_out) {
    const auto of = moments(left_one_out);
    const auto count = static_cast<double>(left_one_out.size());
    return of ? of->standard_deviation * (count - 1) / std::sqrt(count) : 0;
}

std::optional<LineWithBothInError> deming_regression(std::span<const double> x,
                                                     std::span<const double> y,
                                                     double variance_ratio) {
    const bool usable = x.size() >= 3 && x.size() == y.size() && all_finite(x) && all_finite(y) &&
                        variance_ratio > 0 && std::isfinite(variance_ratio);
    if (!usable) {
        return std::nullopt;
    }
    const double origin_x = x[0];
    const double origin_y = y[0];
    const Sums sums = sums_of(x, y, origin_x, origin_y);
    const auto from_zero = [&](Line line) {
        return Line{line.intercept + origin_y - line.slope * origin_x, line.slope};
    };
    const Line line = from_zero(line_of(sums, variance_ratio));
    std::vector<double> intercepts, slopes;
    intercepts.reserve(x.size());
    slopes.reserve(x.size());
    for (std::size_t i = 0; i < x.size(); ++i) {
        const Sums left = sums.without(x[i] - origin_x, y[i] - origin_y);
        const Line without = from_zero(line_of(left, variance_ratio));
        intercepts.push_back(without.intercept);
        slopes.push_back(without.slope);
    }
    const bool settled = std::isfinite(line.slope) && all_finite(slopes) && all_finite(intercepts);
    if (!settled) {
        return std::nullopt;
    }
    const double dof = sums.count - 2;
    return LineWithBothInError{
        with_t_interval(line.intercept, jackknife_standard_error(intercepts), dof),
        with_t_interval(line.slope, jackknife_standard_error(slopes), dof)};
}

}  // namespace squaresight

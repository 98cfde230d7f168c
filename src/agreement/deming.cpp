#include "agreement/deming.h"

#include <cmath>

#include "agreement/descriptive.h"

namespace squaresight {
namespace {

double square(double value) { return value * value; }

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

namespace {

struct YorkStep {
    double mean_x = 0, mean_y = 0;
    double slope = 0;
};

struct YorkWeight {
    double total = 0;  ///< W
    double x = 0, y = 0, root = 0;
};

YorkWeight york_weight(const UncertainPoint& point, double slope) {
    YorkWeight weight;
    weight.x = 1 / square(point.standard_uncertainty_x);
    weight.y = 1 / square(point.standard_uncertainty_y);
    weight.root = std::sqrt(weight.x) * std::sqrt(weight.y);
    weight.total =
        weight.x * weight.y /
        (weight.x + slope * slope * weight.y - 2 * slope * point.correlation * weight.root);
    return weight;
}

void weighted_means(std::span<const UncertainPoint> points, YorkStep& step) {
    CarefulSum weights, x, y;
    for (const auto& point : points) {
        const double weight = york_weight(point, step.slope).total;
        weights.add(weight);
        x.add(weight * point.x);
        y.add(weight * point.y);
    }
    step.mean_x = x.value() / weights.value();
    step.mean_y = y.value() / weights.value();
}

/// How far along x the adjusted point lies from the mean (York et al. 2004, eq. 13c).
double beta(const UncertainPoint& point, const YorkWeight& weight, const YorkStep& step) {
    const double off_x = point.x - step.mean_x;
    const double off_y = point.y - step.mean_y;
    return weight.total * (off_x / weight.y + step.slope * off_y / weight.x -
                           (step.slope * off_x + off_y) * point.correlation / weight.root);
}

double next_slope(std::span<const UncertainPoint> points, const YorkStep& step) {
    CarefulSum above, below;
    for (const auto& point : points) {
        const YorkWeight weight = york_weight(point, step.slope);
        const double share = weight.total * beta(point, weight, step);
        above.add(share * (point.y - step.mean_y));
        below.add(share * (point.x - step.mean_x));
    }
    return above.value() / below.value();
}

YorkLine york_line(std::span<const UncertainPoint> points, const YorkStep& step) {
    CarefulSum weights, adjusted, squares;
    const double intercept = step.mean_y - step.slope * step.mean_x;
    for (const auto& point : points) {
        const YorkWeight weight = york_weight(point, step.slope);
        weights.add(weight.total);
        adjusted.add(weight.total * beta(point, weight, step));
        const double residual = (point.y - step.mean_y) - step.slope * (point.x - step.mean_x);
        squares.add(weight.total * square(residual));
    }
    const double mean_beta = adjusted.value() / weights.value();
    CarefulSum spread;
    for (const auto& point : points) {
        const YorkWeight weight = york_weight(point, step.slope);
        spread.add(weight.total * square(beta(point, weight, step) - mean_beta));
    }
    const double slope_error = 1 / std::sqrt(spread.value());
    const double intercept_error =
        std::hypot(1 / std::sqrt(weights.value()), (step.mean_x + mean_beta) * slope_error);
    const double z = normal_quantile(0.975);
    const auto estimated = [z](double value, double error) {
        return Estimated{value, error, {value - z * error, value + z * error}};
    };
    return {estimated(intercept, intercept_error), estimated(step.slope, slope_error),
            squares.value(), static_cast<double>(points.size()) - 2};
}

}  // namespace

std::optional<YorkLine> york_regression(std::span<const UncertainPoint> points) {
    std::vector<double> x, y;
    for (const auto& point : points) {
        if (!(point.standard_uncertainty_x > 0) || !(point.standard_uncertainty_y > 0) ||
            !(std::abs(point.correlation) < 1)) {
            return std::nullopt;
        }
        x.push_back(point.x);
        y.push_back(point.y);
    }
    const auto start = fit_line(x, y);
    if (!start) {
        return std::nullopt;
    }
    constexpr int most_steps = 500;
    YorkStep step;
    step.slope = start->slope.value;
    for (int k = 0; k < most_steps; ++k) {
        weighted_means(points, step);
        const double slope = next_slope(points, step);
        if (!std::isfinite(slope)) {
            return std::nullopt;
        }
        const bool settled = std::abs(slope - step.slope) <= 1e-14 * std::abs(slope);
        step.slope = slope;
        if (settled) {
            weighted_means(points, step);
            return york_line(points, step);
        }
    }
    return std::nullopt;
}

}  // namespace squaresight

#include "agreement/york.h"

#include <cmath>
#include <vector>

#include "agreement/descriptive.h"

namespace squaresight {
namespace {

double square(double value) { return value * value; }

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

#include "agreement/passing_bablok.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <random>
#include <vector>

#include "agreement/descriptive.h"
#include "agreement/slope_selection.h"

namespace squaresight {
namespace {

std::vector<double> offsets_from(std::span<const double> x, std::span<const double> y,
                                 double slope) {
    std::vector<double> offsets;
    offsets.reserve(x.size());
    for (std::size_t i = 0; i < x.size(); ++i) {
        offsets.push_back(y[i] - slope * x[i]);
    }
    return offsets;
}

double intercept_of(std::span<const double> x, std::span<const double> y, double slope) {
    return *median(offsets_from(x, y, slope));
}

/// Values so far from the middle, in ranks, as a sign test allows.
Interval interval_of_median(std::vector<double> values, double z) {
    std::sort(values.begin(), values.end());
    const auto count = static_cast<double>(values.size());
    const double off = z * std::sqrt(count) / 2;
    const auto low = static_cast<std::size_t>(std::max(1.0, std::floor((count + 1) / 2 - off)));
    return {values[low - 1], values[values.size() - low]};
}

/// From the line's slope and its interval; `z` is the normal quantile of the confidence asked for.
void add_intercept(std::span<const double> x, std::span<const double> y, double z, RankLine& line) {
    line.intercept = intercept_of(x, y, line.slope);
    // The end of a steep slope lies low where x is above 0, high where it is below.
    const auto [low, high] = std::minmax({intercept_of(x, y, line.slope_interval.high),
                                          intercept_of(x, y, line.slope_interval.low)});
    line.intercept_interval_by_slope = {low, high};
    const Interval scatter = interval_of_median(offsets_from(x, y, line.slope), z);
    const double less = std::max(0.0, line.intercept - low);
    const double more = std::max(0.0, high - line.intercept);
    line.intercept_interval = {line.intercept - std::hypot(less, line.intercept - scatter.low),
                               line.intercept + std::hypot(more, scatter.high - line.intercept)};
}

/// Two-sided tail of Kolmogorov's distribution.
double kolmogorov_p(double statistic) {
    if (statistic < 0.2) {
        return 1;  // to 1e-12, and the series below does not settle
    }
    double p = 0;
    for (int k = 1; k <= 40; ++k) {
        p += (k % 2 == 1 ? 2 : -2) * std::exp(-2.0 * k * k * statistic * statistic);
    }
    return std::clamp(p, 0.0, 1.0);
}

LinearityTest linearity_about(std::span<const double> x, std::span<const double> y,
                              const RankLine& line) {
    std::vector<double> offsets = offsets_from(x, y, line.slope);
    std::vector<double> along(x.size());
    double above = 0, below = 0;
    for (std::size_t i = 0; i < x.size(); ++i) {
        offsets[i] -= line.intercept;
        along[i] = x[i] + line.slope * y[i];
        above += offsets[i] > 0;
        below += offsets[i] < 0;
    }
    if (above == 0 || below == 0) {
        return {};
    }
    std::vector<std::size_t> order(x.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::sort(order.begin(), order.end(),
              [&](std::size_t a, std::size_t b) { return along[a] < along[b]; });
    double sum = 0, largest = 0;
    for (const std::size_t i : order) {
        if (offsets[i] > 0) {
            sum += std::sqrt(below / above);
        } else if (offsets[i] < 0) {
            sum -= std::sqrt(above / below);
        }
        largest = std::max(largest, std::abs(sum));
    }
    LinearityTest test;
    test.statistic = largest / std::sqrt(below + 1);
    test.p = kolmogorov_p(test.statistic);
    return test;
}

/// A slope seen from a line of slope 1, as an angle from it, told as a slope again.
double turned_back(double slope_from_diagonal) {
    return (1 + slope_from_diagonal) / (1 - slope_from_diagonal);
}

/// At a rank of whole halves: between two slopes, the mean of their angles.
double at_twice(const SlopesInOrder& slopes, std::int64_t twice_rank) {
    if (twice_rank % 2 == 0) {
        return slopes.at(twice_rank / 2);
    }
    const auto [slope, next] = slopes.two_from(twice_rank / 2);
    return std::tan((std::atan(slope) + std::atan(next)) / 2);
}

/// Ranks either side of the middle, as far apart as chance explains.
struct Ranks {
    std::int64_t low = 1, high = 1;
};

Ranks ranks_about_middle(std::int64_t count, double spread) {
    const auto all = static_cast<double>(count);
    const auto low = static_cast<std::int64_t>(std::llround((all - spread) / 2));
    const std::int64_t within = std::clamp<std::int64_t>(low, 1, (count + 1) / 2);
    return {within, count - within + 1};
}

bool usable(std::span<const double> x, std::span<const double> y) {
    return x.size() >= 3 && x.size() == y.size() && all_finite(x) && all_finite(y);
}

struct Columns {
    std::vector<double> x, y;
};

/// `count` of the points, in their order, each with the same chance.
Columns drawn_points(std::span<const double> x, std::span<const double> y, std::size_t count) {
    std::mt19937_64 engine(1983);
    Columns drawn;
    drawn.x.reserve(count);
    drawn.y.reserve(count);
    for (std::size_t i = 0; drawn.x.size() < count; ++i) {
        const std::size_t left = x.size() - i;
        if (engine() % left < count - drawn.x.size()) {
            drawn.x.push_back(x[i]);
            drawn.y.push_back(y[i]);
        }
    }
    return drawn;
}

PassingBablok fitted_to_all(std::span<const double> x, std::span<const double> y,
                            const SlopesInOrder& slopes) {
    const auto n = static_cast<double>(x.size());
    const double z = normal_quantile(0.975);
    const double spread = z * std::sqrt(n * (n - 1) * (2 * n + 5) / 18);
    const std::int64_t twice_middle = slopes.count() + 1;
    const std::int64_t twice_off =
        std::min<std::int64_t>(2 * std::llround(spread / 2), slopes.count() - 1);
    PassingBablok fitted;
    fitted.points = x.size();
    RankLine& line = fitted.line;
    line.slope = turned_back(at_twice(slopes, twice_middle));
    line.slope_interval = {turned_back(at_twice(slopes, twice_middle - twice_off)),
                           turned_back(at_twice(slopes, twice_middle + twice_off))};
    add_intercept(x, y, z, line);
    fitted.linearity = linearity_about(x, y, line);
    return fitted;
}

}  // namespace

std::optional<PassingBablok> passing_bablok(std::span<const double> x, std::span<const double> y) {
    if (!usable(x, y)) {
        return std::nullopt;
    }
    if (x.size() > most_points_for_passing_bablok) {
        const Columns drawn = drawn_points(x, y, most_points_for_passing_bablok);
        return passing_bablok(drawn.x, drawn.y);
    }
    // Turned by an eighth, slope -1 is upright: what is left out, and where steep ends and begins.
    std::vector<Point> turned;
    turned.reserve(x.size());
    for (std::size_t i = 0; i < x.size(); ++i) {
        turned.push_back({y[i] + x[i], y[i] - x[i]});
    }
    const SlopesInOrder slopes(std::move(turned));
    if (slopes.count() == 0) {
        return std::nullopt;
    }
    return fitted_to_all(x, y, slopes);
}

double slope_of_unequal_uncertainty(double true_variance, double x_variance, double y_variance) {
    return (2 * true_variance + y_variance) / (2 * true_variance + x_variance);
}

std::optional<RankLine> theil_sen(std::span<const double> x, std::span<const double> y,
                                  double confidence) {
    if (!usable(x, y)) {
        return std::nullopt;
    }
    std::vector<Point> points;
    points.reserve(x.size());
    for (std::size_t i = 0; i < x.size(); ++i) {
        points.push_back({x[i], y[i]});
    }
    const SlopesInOrder slopes(std::move(points));
    if (slopes.count() == 0) {
        return std::nullopt;
    }
    std::vector<double> sorted(x.begin(), x.end());
    std::sort(sorted.begin(), sorted.end());
    const auto pairs_times_18 = [](double count) { return count * (count - 1) * (2 * count + 5); };
    double variance = pairs_times_18(static_cast<double>(x.size()));
    for (auto at = sorted.begin(); at != sorted.end();) {
        const auto after = std::upper_bound(at, sorted.end(), *at);
        variance -= pairs_times_18(static_cast<double>(after - at));
        at = after;
    }
    const double z = normal_quantile((1 + confidence) / 2);
    const double spread = z * std::sqrt(variance / 18);
    const Ranks ranks = ranks_about_middle(slopes.count(), spread);
    const std::int64_t middle = (slopes.count() + 1) / 2;
    RankLine line;
    if (slopes.count() % 2 == 1) {
        line.slope = slopes.at(middle);
    } else {
        const auto [slope, next] = slopes.two_from(middle);
        line.slope = slope / 2 + next / 2;
    }
    line.slope_interval = {slopes.at(ranks.low), slopes.at(ranks.high)};
    add_intercept(x, y, z, line);
    return line;
}

}  // namespace squaresight

#include "agreement/control_charts.h"

#include <algorithm>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <cmath>
#include <stdexcept>

#include "agreement/descriptive.h"
#include "units/normal.h"

namespace squaresight {
namespace {

/// Beyond so many standard deviations nothing is left to integrate.
constexpr double far_out = 9;

using Quadrature = boost::math::quadrature::gauss_kronrod<double, 61>;

/// E(R) = integral of 1 - F^n - (1 - F)^n (Tippett 1925, Biometrika 17: 364-387).
double mean_range(int n) {
    const auto density = [n](double x) {
        return 1 - std::pow(probability_below(x), n) - std::pow(probability_below(-x), n);
    };
    return 2 * Quadrature::integrate(density, 0.0, far_out, 5, 1e-14);
}

/// E(R^2) = 2 * integral over x < y of 1 - F(y)^n - (1 - F(x))^n + (F(y) - F(x))^n (same).
double mean_squared_range(int n) {
    const auto over_x = [n](double y) {
        const auto density = [n, y](double x) {
            return 1 - std::pow(probability_below(y), n) - std::pow(probability_below(-x), n) +
                   std::pow(probability_below(y) - probability_below(x), n);
        };
        return Quadrature::integrate(density, -far_out, y, 5, 1e-13);
    };
    return 2 * Quadrature::integrate(over_x, -far_out, far_out, 5, 1e-13);
}

RangeConstants computed_constants(int n) {
    RangeConstants constants;
    constants.d2 = mean_range(n);
    constants.d2_star = std::sqrt(mean_squared_range(n));
    constants.d3 = std::sqrt(constants.d2_star * constants.d2_star - constants.d2 * constants.d2);
    constants.lower = std::max(0.0, 1 - 3 * constants.d3 / constants.d2);
    constants.upper = 1 + 3 * constants.d3 / constants.d2;
    return constants;
}

/// Whether a point continues a row, told by a number that is positive, negative or 0 for neither.
class Row {
  public:
    /// How many in a row, this one included.
    int length_with(double side) {
        const int now = side > 0 ? 1 : (side < 0 ? -1 : 0);
        length_ = now == 0 ? 0 : (now == before_ ? length_ + 1 : 1);
        before_ = now;
        return length_;
    }

  private:
    int before_ = 0;
    int length_ = 0;
};

int beyond_two_sigma(double off, double sigma) {
    return off > 2 * sigma ? 1 : (off < -2 * sigma ? -1 : 0);
}

bool two_of_three(std::span<const double> values, std::size_t point, double mean, double sigma) {
    const int side = beyond_two_sigma(values[point] - mean, sigma);
    if (side == 0) {
        return false;
    }
    for (std::size_t back = 1; back <= std::min<std::size_t>(2, point); ++back) {
        if (beyond_two_sigma(values[point - back] - mean, sigma) == side) {
            return true;
        }
    }
    return false;
}

std::vector<RuleBreak> breaks_of(std::span<const double> values, const IndividualsChart& chart) {
    std::vector<RuleBreak> breaks;
    Row on_one_side, one_way;
    for (std::size_t i = 0; i < values.size(); ++i) {
        const double step = i == 0 ? 0 : values[i] - values[i - 1];
        if (values[i] < chart.lower || values[i] > chart.upper) {
            breaks.push_back({i, ChartRule::beyond_three_sigma});
        }
        if (two_of_three(values, i, chart.mean, chart.sigma)) {
            breaks.push_back({i, ChartRule::two_of_three_beyond_two_sigma});
        }
        if (on_one_side.length_with(values[i] - chart.mean) >= 9) {
            breaks.push_back({i, ChartRule::nine_on_one_side});
        }
        // Six points are five steps.
        if (one_way.length_with(step) >= 5) {
            breaks.push_back({i, ChartRule::six_rising_or_falling});
        }
        if (std::abs(step) > chart.moving_range_upper) {
            breaks.push_back({i, ChartRule::moving_range});
        }
    }
    return breaks;
}

}  // namespace

RangeConstants range_constants(int values) {
    if (values < 2 || values > most_values_in_range) {
        throw std::invalid_argument("range constants: too few or too many values");
    }
    static const RangeConstants of_two = computed_constants(2);
    return values == 2 ? of_two : computed_constants(values);
}

std::string_view chart_rule_name(ChartRule rule) {
    switch (rule) {
        case ChartRule::beyond_three_sigma:
            return "beyond three standard deviations";
        case ChartRule::two_of_three_beyond_two_sigma:
            return "two of three beyond two standard deviations on one side";
        case ChartRule::nine_on_one_side:
            return "nine in a row on one side";
        case ChartRule::six_rising_or_falling:
            return "six in a row rising or falling";
        case ChartRule::moving_range:
            return "a step from the point before beyond its limit";
        case ChartRule::weighted_mean:
            return "the weighted mean beyond its limit";
    }
    return "";
}

std::optional<IndividualsChart> individuals_chart(std::span<const double> values) {
    if (values.size() < fewest_chart_points) {
        return std::nullopt;
    }
    const auto of = moments(values);
    if (!of) {
        return std::nullopt;
    }
    CarefulSum ranges;
    for (std::size_t i = 1; i < values.size(); ++i) {
        ranges.add(std::abs(values[i] - values[i - 1]));
    }
    const RangeConstants of_two = range_constants(2);
    IndividualsChart chart;
    chart.mean = of->mean;
    chart.lag_1_autocorrelation = of->lag_1_autocorrelation;
    chart.mean_moving_range = ranges.value() / static_cast<double>(values.size() - 1);
    chart.sigma = chart.mean_moving_range / of_two.d2;
    chart.lower = chart.mean - 3 * chart.sigma;
    chart.upper = chart.mean + 3 * chart.sigma;
    chart.moving_range_upper = of_two.upper * chart.mean_moving_range;
    chart.breaks = breaks_of(values, chart);
    return chart;
}

std::optional<EwmaChart> ewma_chart(std::span<const double> values, double centre, double sigma,
                                    const EwmaSettings& settings) {
    const bool usable = values.size() >= fewest_chart_points && all_finite(values) &&
                        std::isfinite(centre) && sigma > 0 && std::isfinite(sigma) &&
                        settings.weight > 0 && settings.weight <= 1 && settings.width > 0;
    if (!usable) {
        return std::nullopt;
    }
    EwmaChart chart;
    chart.centre = centre;
    chart.sigma = sigma;
    chart.settings = settings;
    chart.last_limit = settings.width * sigma * std::sqrt(settings.weight / (2 - settings.weight));
    double off = 0;
    double left_squared = 1;  // (1 - weight)^(2 i)
    for (std::size_t i = 0; i < values.size(); ++i) {
        off += settings.weight * (values[i] - centre - off);
        left_squared *= (1 - settings.weight) * (1 - settings.weight);
        chart.average.push_back(centre + off);
        chart.limit.push_back(chart.last_limit * std::sqrt(1 - left_squared));
        if (std::abs(off) > chart.limit.back()) {
            chart.breaks.push_back({i, ChartRule::weighted_mean});
        }
    }
    return chart;
}

}  // namespace squaresight

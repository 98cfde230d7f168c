#pragma once
#include <cstddef>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

namespace squaresight {

/// Charts of one quantity over time, in its own unit, points in order of time and numbered from 0.

/// What the range of n normal values says of their standard deviation (NIST/SEMATECH e-Handbook of
/// Statistical Methods, 6.3.2.1; ISO 7870-2): computed, not read from a table of three decimals.
struct RangeConstants {
    double d2 = 0;       ///< mean of the range, in standard deviations
    double d3 = 0;       ///< standard deviation of the range, in standard deviations
    double d2_star = 0;  ///< root mean square of one range: sqrt(d2^2 + d3^2)
    double lower = 0;    ///< D3 = max(0, 1 - 3 d3 / d2)
    double upper = 0;    ///< D4 = 1 + 3 d3 / d2
};

constexpr int most_values_in_range = 1000;

/// 2 to `most_values_in_range` values.
RangeConstants range_constants(int values);

/// With fewer points there is no chart: of ten, the standard deviation from moving ranges is still
/// uncertain by about 30 % (0.62 (n - 1) degrees of freedom: Cruthis & Rigdon 1992, Quality
/// Engineering 5: 355-359; from memory), and rules that ask for nine points have hardly any to ask.
constexpr std::size_t fewest_chart_points = 10;

/// A value beyond 3 standard deviations (Shewhart 1931); two of three beyond 2 on the same side
/// (Western Electric 1956, "Statistical Quality Control Handbook"); nine in a row on one side, six
/// in a row rising or falling (Nelson 1984, Journal of Quality Technology 16: 237-239); a moving
/// range, or an exponentially weighted mean, beyond its limit.
enum class ChartRule {
    beyond_three_sigma,
    two_of_three_beyond_two_sigma,
    nine_on_one_side,
    six_rising_or_falling,
    moving_range,
    weighted_mean
};

/// "nine in a row on one side"
std::string_view chart_rule_name(ChartRule rule);

/// The rule, and the point that broke it: the last of those that the rule speaks of.
struct RuleBreak {
    std::size_t point = 0;
    ChartRule rule = ChartRule::beyond_three_sigma;
};

/// Individuals and moving range (NIST/SEMATECH e-Handbook, 6.3.2.2): the moving range is that of a
/// point and its predecessor, sigma = mean moving range / d2(2).
struct IndividualsChart {
    double mean = 0;
    double sigma = 0;
    double lower = 0, upper = 0;  ///< mean -/+ 3 sigma
    double mean_moving_range = 0;
    double moving_range_upper = 0;  ///< D4(2) times that
    /// Of each with its predecessor. Limits are too near where it is well above 0.
    double lag_1_autocorrelation = 0;
    std::vector<RuleBreak> breaks;  ///< by point
};

/// Nothing with fewer than `fewest_chart_points`, or where a value is not finite.
std::optional<IndividualsChart> individuals_chart(std::span<const double> values);

/// Weight of the newest point, and width of the limits in standard deviations.
struct EwmaSettings {
    double weight = 0.2;
    double width = 3;
};

/// Exponentially weighted moving average (Roberts 1959, Technometrics 1: 239-250; NIST/SEMATECH
/// e-Handbook, 6.3.2.4), which sees a small drift that single points hide. It begins at the centre;
/// limits are those of each point: width * sigma * sqrt(w / (2 - w) * (1 - (1 - w)^(2 i))), i
/// from 1.
struct EwmaChart {
    double centre = 0, sigma = 0;
    EwmaSettings settings;
    std::vector<double> average;
    std::vector<double> limit;  ///< above and below the centre
    double last_limit = 0;      ///< to which the limits widen
    std::vector<RuleBreak> breaks;
};

/// `centre` and `sigma` (above 0) from a chart of individuals or from what is aimed at. Nothing
/// with fewer than `fewest_chart_points`, where a value is not finite, or for a weight outside (0,
/// 1].
std::optional<EwmaChart> ewma_chart(std::span<const double> values, double centre, double sigma,
                                    const EwmaSettings& settings = {});

}  // namespace squaresight

#include "agreement/bland_altman.h"

#include <algorithm>
#include <boost/math/distributions/non_central_t.hpp>
#include <cmath>
#include <vector>

namespace squaresight {
namespace {

double square(double value) { return value * value; }

/// How many standard deviations above the lower (below the upper) end of its interval a limit is
/// placed, both ends counted from the bias outward.
Interval limit_distances(double z, double count) {
    if (count <= static_cast<double>(most_pairs_for_exact_intervals)) {
        const boost::math::non_central_t t(count - 1, z * std::sqrt(count));
        return {quantile(t, 0.025) / std::sqrt(count), quantile(t, 0.975) / std::sqrt(count)};
    }
    const double half =
        student_t_quantile(0.975, count - 1) * std::sqrt(1 / count + square(z) / (2 * (count - 1)));
    return {z - half, z + half};
}

struct VarianceInterval {
    double variance = 0;
    Interval interval_95;
};

/// Of weighted independent mean squares (Graybill & Wang 1980).
VarianceInterval weighted_variance(double weight_1, double mean_square_1, double dof_1,
                                   double weight_2, double mean_square_2, double dof_2) {
    const double part_1 = weight_1 * mean_square_1;
    const double part_2 = weight_2 * mean_square_2;
    const auto ends = [&](double probability) {
        const double off_1 = part_1 * (dof_1 / chi_square_quantile(probability, dof_1) - 1);
        const double off_2 = part_2 * (dof_2 / chi_square_quantile(probability, dof_2) - 1);
        return std::hypot(off_1, off_2);
    };
    const double variance = part_1 + part_2;
    return {variance, {std::max(0.0, variance - ends(0.975)), variance + ends(0.025)}};
}

/// bias -/+ z * sd from the intervals of bias and variance (MOVER).
void place_limits(LimitsOfAgreement& limits, const VarianceInterval& variance) {
    const double z = normal_quantile(0.975);
    const double sd = std::sqrt(variance.variance);
    const double less = sd - std::sqrt(variance.interval_95.low);
    const double more = std::sqrt(variance.interval_95.high) - sd;
    const double bias_half = limits.bias.interval_95.high - limits.bias.value;
    const double outward = std::hypot(bias_half, z * more);
    const double inward = std::hypot(bias_half, z * less);
    const double lower = limits.bias.value - z * sd;
    const double upper = limits.bias.value + z * sd;
    const double standard_error = (outward + inward) / (2 * z);
    limits.standard_deviation = sd;
    limits.lower = {lower, standard_error, {lower - outward, lower + inward}};
    limits.upper = {upper, standard_error, {upper - inward, upper + outward}};
}

/// Mean and number of readings of each vehicle, and the variance within.
struct VehicleMeans {
    std::vector<double> means;
    double within_variance = 0;
    double mean_reciprocal = 0;  ///< of the numbers of readings
};

std::optional<VehicleMeans> vehicle_means(const Replicates& readings) {
    const auto anova = one_way_anova(readings.values, readings.vehicles);
    if (!anova) {
        return std::nullopt;
    }
    VehicleMeans of;
    of.within_variance = anova->within_mean_square();
    const auto vehicles = static_cast<std::size_t>(anova->between_dof) + 1;
    std::vector<double> counts(vehicles, 0.0);
    std::vector<CarefulSum> sums(vehicles);
    for (std::size_t i = 0; i < readings.values.size(); ++i) {
        counts[readings.vehicles[i]] += 1;
        sums[readings.vehicles[i]].add(readings.values[i] - readings.values[0]);
    }
    for (std::size_t i = 0; i < vehicles; ++i) {
        of.means.push_back(readings.values[0] + sums[i].value() / counts[i]);
        of.mean_reciprocal += 1 / counts[i] / static_cast<double>(vehicles);
    }
    return of;
}

}  // namespace

std::optional<LimitsOfAgreement> limits_of_agreement(std::span<const double> differences) {
    if (differences.size() < fewest_pairs) {
        return std::nullopt;
    }
    const auto of = moments(differences);
    if (!of) {
        return std::nullopt;
    }
    const auto count = static_cast<double>(of->count);
    const double z = normal_quantile(0.975);
    const double s = of->standard_deviation;
    const double standard_error = s * std::sqrt(1 / count + square(z) / (2 * (count - 1)));
    const Interval off = limit_distances(z, count);
    LimitsOfAgreement limits;
    limits.pairs = of->count;
    limits.bias = with_t_interval(of->mean, s / std::sqrt(count), count - 1);
    limits.standard_deviation = s;
    limits.lower = {
        of->mean - z * s, standard_error, {of->mean - off.high * s, of->mean - off.low * s}};
    limits.upper = {
        of->mean + z * s, standard_error, {of->mean + off.low * s, of->mean + off.high * s}};
    return limits;
}

std::optional<ProportionalBias> proportional_bias(std::span<const double> first,
                                                  std::span<const double> second,
                                                  double first_variance, double second_variance) {
    if (first.size() != second.size()) {
        return std::nullopt;
    }
    std::vector<double> means, differences;
    for (std::size_t i = 0; i < first.size(); ++i) {
        means.push_back(first[i] / 2 + second[i] / 2);
        differences.push_back(first[i] - second[i]);
    }
    const auto line = fit_line(means, differences);
    if (!line) {
        return std::nullopt;
    }
    for (std::size_t i = 0; i < means.size(); ++i) {
        differences[i] =
            std::abs(differences[i] - line->intercept.value - line->slope.value * means[i]);
    }
    const double spread_of_means = moments(means)->standard_deviation;
    ProportionalBias bias;
    bias.difference_on_mean = *line;
    bias.spread_on_mean = *fit_line(means, differences);
    bias.slope_of_unequal_uncertainty =
        (first_variance - second_variance) / 2 / square(spread_of_means);
    const double off = line->slope.value - bias.slope_of_unequal_uncertainty;
    const double dof = static_cast<double>(first.size()) - 2;
    bias.p = off == 0 ? 1 : student_t_p_value(off / line->slope.standard_error, dof);
    return bias;
}

std::optional<RepeatedAgreement> repeated_agreement(std::span<const double> differences,
                                                    std::span<const std::size_t> vehicles) {
    const auto anova = one_way_anova(differences, vehicles);
    if (!anova || anova->between_dof < 2) {
        return std::nullopt;
    }
    const double between = anova->between_mean_square();
    const double within = anova->within_mean_square();
    const double share = 1 / anova->values_a_group;
    const double between_variance = std::max(0.0, (between - within) * share);
    const auto count = static_cast<double>(differences.size());
    RepeatedAgreement repeated;
    repeated.vehicles = static_cast<std::size_t>(anova->between_dof) + 1;
    repeated.between_standard_deviation = std::sqrt(between_variance);
    repeated.within_standard_deviation = std::sqrt(within);
    repeated.between_p = anova->p;
    std::vector<double> counts(repeated.vehicles, 0.0);
    for (const std::size_t vehicle : vehicles) {
        counts[vehicle] += 1;
    }
    double squared_counts = 0;
    for (const double n : counts) {
        squared_counts += square(n);
    }
    const double bias_variance = squared_counts / square(count) * between_variance + within / count;
    repeated.limits.pairs = differences.size();
    repeated.limits.bias =
        with_t_interval(anova->grand_mean, std::sqrt(bias_variance), anova->between_dof);
    place_limits(repeated.limits, weighted_variance(share, between, anova->between_dof, 1 - share,
                                                    within, anova->within_dof));
    return repeated;
}

std::optional<ReplicatedAgreement> replicated_agreement(const Replicates& first,
                                                        const Replicates& second) {
    const auto of_first = vehicle_means(first);
    const auto of_second = vehicle_means(second);
    if (!of_first || !of_second || of_first->means.size() != of_second->means.size() ||
        of_first->means.size() < fewest_pairs) {
        return std::nullopt;
    }
    std::vector<double> differences;
    for (std::size_t i = 0; i < of_first->means.size(); ++i) {
        differences.push_back(of_first->means[i] - of_second->means[i]);
    }
    const auto of = moments(differences);
    ReplicatedAgreement agreement;
    agreement.bias = of->mean;
    agreement.standard_deviation_of_mean_differences = of->standard_deviation;
    agreement.first_within_standard_deviation = std::sqrt(of_first->within_variance);
    agreement.second_within_standard_deviation = std::sqrt(of_second->within_variance);
    agreement.standard_deviation =
        std::sqrt(square(of->standard_deviation) +
                  (1 - of_first->mean_reciprocal) * of_first->within_variance +
                  (1 - of_second->mean_reciprocal) * of_second->within_variance);
    const double half = normal_quantile(0.975) * agreement.standard_deviation;
    agreement.limits = {of->mean - half, of->mean + half};
    return agreement;
}

}  // namespace squaresight

#include "agreement/descriptive.h"

#include <algorithm>
#include <cmath>
#include <vector>

namespace squaresight {
namespace {

double square(double value) { return value * value; }

/// Values from the first on, and their mean.
struct Shifted {
    std::vector<double> values;
    double mean = 0;
};

Shifted shifted(std::span<const double> values) {
    Shifted from_first;
    from_first.values.reserve(values.size());
    CarefulSum sum;
    for (const double value : values) {
        from_first.values.push_back(value - values[0]);
        sum.add(from_first.values.back());
    }
    from_first.mean = sum.value() / static_cast<double>(values.size());
    return from_first;
}

}  // namespace

void CarefulSum::add(double term) {
    const double sum = sum_ + term;
    lost_ += std::abs(sum_) >= std::abs(term) ? (sum_ - sum) + term : (term - sum) + sum_;
    sum_ = sum;
}

bool all_finite(std::span<const double> values) {
    return std::all_of(values.begin(), values.end(),
                       [](double value) { return std::abs(value) < 1e100; });
}

std::optional<Moments> moments(std::span<const double> values) {
    if (values.size() < 2 || !all_finite(values)) {
        return std::nullopt;
    }
    const Shifted from_first = shifted(values);
    CarefulSum squares, products;
    double before = 0;
    for (const double value : from_first.values) {
        const double off = value - from_first.mean;
        squares.add(square(off));
        products.add(off * before);
        before = off;
    }
    Moments of;
    of.count = values.size();
    of.mean = values[0] + from_first.mean;
    of.standard_deviation = std::sqrt(squares.value() / static_cast<double>(values.size() - 1));
    // The first has no predecessor: its product above is that with 0.
    of.lag_1_autocorrelation = squares.value() > 0 ? products.value() / squares.value() : 0;
    return of;
}

std::optional<double> median(std::span<const double> values) {
    if (values.empty() || !all_finite(values)) {
        return std::nullopt;
    }
    std::vector<double> sorted(values.begin(), values.end());
    const auto middle = sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2);
    std::nth_element(sorted.begin(), middle, sorted.end());
    if (sorted.size() % 2 == 1) {
        return *middle;
    }
    return (*std::max_element(sorted.begin(), middle) + *middle) / 2;
}

std::optional<OneWayAnova> one_way_anova(std::span<const double> values,
                                         std::span<const std::size_t> groups) {
    if (values.empty() || groups.size() != values.size() || !all_finite(values)) {
        return std::nullopt;
    }
    const std::size_t group_count = *std::max_element(groups.begin(), groups.end()) + 1;
    if (group_count < 2 || group_count >= values.size()) {
        return std::nullopt;
    }
    const Shifted from_first = shifted(values);
    std::vector<CarefulSum> sums(group_count);
    std::vector<double> counts(group_count, 0.0);
    for (std::size_t i = 0; i < values.size(); ++i) {
        sums[groups[i]].add(from_first.values[i]);
        counts[groups[i]] += 1;
    }
    if (std::find(counts.begin(), counts.end(), 0.0) != counts.end()) {
        return std::nullopt;
    }
    CarefulSum within, between;
    for (std::size_t i = 0; i < values.size(); ++i) {
        const std::size_t group = groups[i];
        within.add(square(from_first.values[i] - sums[group].value() / counts[group]));
    }
    double squared_counts = 0;
    for (std::size_t group = 0; group < group_count; ++group) {
        between.add(counts[group] * square(sums[group].value() / counts[group] - from_first.mean));
        squared_counts += square(counts[group]);
    }
    const auto count = static_cast<double>(values.size());
    OneWayAnova anova;
    anova.between_dof = static_cast<double>(group_count - 1);
    anova.within_dof = count - static_cast<double>(group_count);
    anova.between_sum_of_squares = between.value();
    anova.within_sum_of_squares = within.value();
    anova.grand_mean = values[0] + from_first.mean;
    anova.values_a_group = (count - squared_counts / count) / anova.between_dof;
    const double total = between.value() + within.value();
    anova.r_squared = total > 0 ? between.value() / total : 0;
    const FTest test = f_test(anova.between_mean_square(), anova.between_dof,
                              anova.within_mean_square(), anova.within_dof);
    anova.f = test.f;
    anova.p = test.p;
    return anova;
}

std::optional<LineFit> fit_line(std::span<const double> x, std::span<const double> y) {
    if (x.size() < 3 || x.size() != y.size() || !all_finite(x) || !all_finite(y)) {
        return std::nullopt;
    }
    const Shifted from_x = shifted(x);
    const Shifted from_y = shifted(y);
    CarefulSum xx, xy;
    for (std::size_t i = 0; i < x.size(); ++i) {
        const double off = from_x.values[i] - from_x.mean;
        xx.add(square(off));
        xy.add(off * (from_y.values[i] - from_y.mean));
    }
    if (!(xx.value() > 0)) {
        return std::nullopt;
    }
    const double slope = xy.value() / xx.value();
    CarefulSum residual, total;
    for (std::size_t i = 0; i < x.size(); ++i) {
        const double off = from_y.values[i] - from_y.mean;
        total.add(square(off));
        residual.add(square(off - slope * (from_x.values[i] - from_x.mean)));
    }
    const auto count = static_cast<double>(x.size());
    const double mean_x = x[0] + from_x.mean;
    LineFit line;
    line.residual_sum_of_squares = residual.value();
    line.regression_sum_of_squares = slope * xy.value();
    line.residual_standard_deviation = std::sqrt(residual.value() / (count - 2));
    line.r_squared = total.value() > 0 ? line.regression_sum_of_squares / total.value() : 0;
    const double slope_error = line.residual_standard_deviation / std::sqrt(xx.value());
    line.slope = with_t_interval(slope, slope_error, count - 2);
    // About the first point: a far-off zero of x costs no digits but its own.
    line.intercept = with_t_interval(
        (y[0] - slope * x[0]) + (from_y.mean - slope * from_x.mean),
        line.residual_standard_deviation * std::sqrt(1 / count + square(mean_x) / xx.value()),
        count - 2);
    line.slope_p = slope == 0 ? 1 : student_t_p_value(slope / slope_error, count - 2);
    return line;
}

}  // namespace squaresight

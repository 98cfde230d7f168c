#include "agreement/check_standard.h"

#include <algorithm>
#include <cmath>

#include "agreement/descriptive.h"
#include "agreement/interval.h"

namespace squaresight {
namespace {

const double three_sigma_probability = 0.5 + std::erf(3 / std::sqrt(2.0)) / 2;

/// Values about their mean, each over its own uncertainty: weighted, so that it is chi-square with
/// one degree of freedom less than values.
std::optional<ScatterTest> scatter_of(std::span<const double> values,
                                      std::span<const double> stated_u) {
    double weights = 0, mean = 0, squares = 0;
    for (std::size_t i = 0; i < values.size(); ++i) {
        if (!(stated_u[i] > 0) || !std::isfinite(stated_u[i])) {
            return std::nullopt;
        }
        const double weight = 1 / (stated_u[i] * stated_u[i]);
        const double off = values[i] - mean;
        weights += weight;
        mean += off * weight / weights;
        squares += off * weight * (values[i] - mean);
    }
    return scatter_test(squares, static_cast<double>(values.size()) - 1);
}

bool broken_at(const CheckStandard& check, std::size_t point) {
    return std::any_of(check.breaks.begin(), check.breaks.end(),
                       [&](const RuleBreak& one) { return one.point == point; });
}

/// Of the values behind those that were accepted from.
std::vector<RuleBreak> breaks_of(std::span<const double> values, const CheckStandard& check) {
    std::vector<RuleBreak> breaks;
    for (std::size_t i = check.accepted_from; i < values.size(); ++i) {
        if (values[i] < check.lower || values[i] > check.upper) {
            breaks.push_back({i, ChartRule::beyond_three_sigma});
        }
        if (check.ewma &&
            std::abs(check.ewma->average[i] - check.accepted) > check.ewma->limit[i]) {
            breaks.push_back({i, ChartRule::weighted_mean});
        }
    }
    return breaks;
}

}  // namespace

bool CheckStandard::left_its_limits(std::size_t values) const {
    return broken_at(*this, values - 1);
}

std::size_t CheckStandard::last_good(std::size_t values) const {
    std::size_t point = values - 2;
    while (broken_at(*this, point)) {
        --point;
    }
    return point;
}

std::optional<CheckStandard> check_standard(std::span<const double> values,
                                            std::span<const double> stated_u) {
    if (values.size() < fewest_accepted || !all_finite(values)) {
        return std::nullopt;
    }
    CheckStandard check;
    check.accepted_from = std::min(values.size(), most_accepted);
    const auto first = moments(values.first(check.accepted_from));
    const auto count = static_cast<double>(check.accepted_from);
    check.accepted = first->mean;
    check.standard_deviation = first->standard_deviation;
    const double limit = student_t_quantile(three_sigma_probability, count - 1) *
                         check.standard_deviation * std::sqrt(1 + 1 / count);
    check.lower = check.accepted - limit;
    check.upper = check.accepted + limit;
    check.ewma = ewma_chart(values, check.accepted, limit / 3);
    check.breaks = breaks_of(values, check);
    check.scatter = scatter_of(values, stated_u);
    return check;
}

}  // namespace squaresight

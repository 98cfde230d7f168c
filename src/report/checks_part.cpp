#include "report/checks_part.h"

#include <fmt/format.h>

#include <algorithm>

namespace squaresight {
namespace {

constexpr std::size_t most_drawn = 8;  // two angles a check standard

std::string chart_name(const CheckChart& chart) {
    return fmt::format("check standard {}, {}", chart.name, chart.quantity);
}

OrderChart order_of(const CheckChart& chart, const Measurements& of, ChartRule rule) {
    OrderChart drawn;
    drawn.title = chart_name(chart);
    drawn.y_words = "deg";
    drawn.name_of = [&](std::size_t point) { return of.name_of(chart.points[point]); };
    drawn.centre = chart.check->accepted;
    for (const auto& broken : chart.check->breaks) {
        if (broken.rule == rule) {
            drawn.broken.push_back({broken.point, chart_rule_name(broken.rule)});
        }
    }
    return drawn;
}

CaptionedChart values_chart(const CheckChart& chart, const Measurements& of) {
    OrderChart drawn = order_of(chart, of, ChartRule::beyond_three_sigma);
    drawn.values = chart.values_deg;
    drawn.lower = {chart.check->lower};
    drawn.upper = {chart.check->upper};
    return {chart_name(chart) + ": single measurements", order_chart(drawn)};
}

CaptionedChart mean_chart(const CheckChart& chart, const Measurements& of) {
    OrderChart drawn = order_of(chart, of, ChartRule::weighted_mean);
    drawn.values = chart.check->ewma->average;
    for (const double limit : chart.check->ewma->limit) {
        drawn.lower.push_back(drawn.centre - limit);
        drawn.upper.push_back(drawn.centre + limit);
    }
    return {chart_name(chart) + ": weighted mean (EWMA)", order_chart(drawn)};
}

std::string standing_words(const CheckChart& chart, const Measurements& of) {
    const std::size_t count = chart.values_deg.size();
    if (!chart.check) {
        return fmt::format("{}: {} of the {} measurements that an accepted value needs.",
                           chart.name, count, fewest_accepted);
    }
    if (!chart.left_its_limits()) {
        return fmt::format("{}, {}: within its limits, {}.", chart.name, chart.quantity,
                           counted(count, "measurement", "measurements"));
    }
    const Measurement& good = of.list[chart.points[chart.check->last_good(count)]];
    return fmt::format("{}, {}: LEFT ITS LIMITS. Last good on {}, job {}.", chart.name,
                       chart.quantity, day_text(good.day), of.names[good.job]);
}

std::string scatter_words(const ScatterTest& test) {
    return fmt::format(" It scatters {:.2f} times its stated uncertainty ({:.2f} to {:.2f}){}.",
                       test.factor.value, test.factor.interval_95.low, test.factor.interval_95.high,
                       test.call == StatedUncertainty::too_small
                           ? ": more than stated, look for what is left out"
                           : "");
}

CaptionedTable accepted_table(const Review& review) {
    ChartTable table{{"check standard", "angle", "measurements", "left out", "accepted, deg",
                      "standard deviation, deg", "limits from", "to"},
                     {}};
    for (const auto& chart : review.checks) {
        const auto& check = chart.check;
        const auto figure = [&](double CheckStandard::*value) {
            return check ? fmt::format("{:+.3f}", (*check).*value) : std::string();
        };
        table.rows.push_back({chart.name, chart.quantity, std::to_string(chart.values_deg.size()),
                              std::to_string(chart.left_out), figure(&CheckStandard::accepted),
                              check ? fmt::format("{:.3f}", check->standard_deviation) : "",
                              figure(&CheckStandard::lower), figure(&CheckStandard::upper)});
    }
    return {"Accepted values", table, {}};
}

std::size_t count_left(const Review& review) {
    return static_cast<std::size_t>(
        std::count_if(review.checks.begin(), review.checks.end(),
                      [](const CheckChart& chart) { return chart.left_its_limits(); }));
}

void add_chart(const CheckChart& chart, const Measurements& of, ReviewPart& part) {
    const bool with_scatter = chart.check && chart.check->scatter;
    part.sentences.emplace_back(standing_words(chart, of) +
                                (with_scatter ? scatter_words(*chart.check->scatter) : ""));
    if (chart.check && part.charts.size() < 2 * most_drawn) {
        part.charts.push_back(values_chart(chart, of));
        if (chart.check->ewma) {
            part.charts.push_back(mean_chart(chart, of));
        }
    }
}

}  // namespace

std::optional<ReviewSentence> checks_summary(const Review& review) {
    if (review.checks.empty()) {
        return std::nullopt;
    }
    const bool left = count_left(review) > 0;
    return ReviewSentence{left ? "A check standard left its limits: do not sign jobs."
                               : "No check standard left its limits.",
                          "checks", left};
}

ReviewPart checks_part(const Review& review) {
    ReviewPart part{"checks", "Check standards", {}, {}, {}};
    for (const auto& chart : review.checks) {
        add_chart(chart, review.of, part);
    }
    if (review.checks.empty()) {
        part.sentences.emplace_back(
            "None yet. Measure a fixed face each week, with check_standard: NAME on its sheet.");
        return part;
    }
    if (count_left(review) > 0) {
        part.sentences.emplace_back(
            "Measure it again first. Still out: check the phone, then how "
            "the cradle sits, then the tape.");
        part.sentences.emplace_back("Sign no job measured since the last good check.");
    }
    part.tables.push_back(accepted_table(review));
    return part;
}

}  // namespace squaresight

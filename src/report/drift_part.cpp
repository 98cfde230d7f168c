#include "report/drift_part.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace squaresight {
namespace {

constexpr std::size_t most_newest_points = 10;  // of a chart, at most its last quarter: now
constexpr std::size_t most_named = 40;          // that have too few points

std::string drift_name(const DriftChart& drift) {
    return fmt::format("{} {}: {}", drift.kind, drift.name, drift.quantity);
}

/// A chart of the measurements of `drift` from the one at `first` on.
OrderChart drift_chart(const DriftChart& drift, const Measurements& of, std::size_t first) {
    OrderChart chart;
    chart.title = drift_name(drift);
    chart.y_words = "deg";
    chart.name_of = [&, first](std::size_t point) {
        return of.name_of(drift.points[first + point]);
    };
    return chart;
}

/// The breaks of one rule, or of all others.
void add_broken(const std::vector<RuleBreak>& breaks, ChartRule rule, bool others,
                std::size_t first, OrderChart& chart) {
    for (const auto& broken : breaks) {
        if ((broken.rule == rule) != others) {
            chart.broken.push_back({broken.point - first, chart_rule_name(broken.rule)});
        }
    }
}

CaptionedChart values_chart(const DriftChart& drift, const Measurements& of) {
    OrderChart chart = drift_chart(drift, of, 0);
    chart.values = drift.values_deg;
    chart.centre = drift.individuals.mean;
    chart.lower = {drift.individuals.lower};
    chart.upper = {drift.individuals.upper};
    add_broken(drift.individuals.breaks, ChartRule::moving_range, true, 0, chart);
    return {drift_name(drift) + ", single values", order_chart(chart)};
}

/// Of each point and the one before.
CaptionedChart range_chart(const DriftChart& drift, const Measurements& of) {
    OrderChart chart = drift_chart(drift, of, 1);
    for (std::size_t i = 1; i < drift.values_deg.size(); ++i) {
        chart.values.push_back(std::abs(drift.values_deg[i] - drift.values_deg[i - 1]));
    }
    chart.centre = drift.individuals.mean_moving_range;
    chart.upper = {drift.individuals.moving_range_upper};
    add_broken(drift.individuals.breaks, ChartRule::moving_range, false, 1, chart);
    return {drift_name(drift) + ", moving range", order_chart(chart)};
}

CaptionedChart mean_chart(const DriftChart& drift, const Measurements& of) {
    OrderChart chart = drift_chart(drift, of, 0);
    chart.values = drift.ewma->average;
    chart.centre = drift.ewma->centre;
    for (const double limit : drift.ewma->limit) {
        chart.lower.push_back(drift.ewma->centre - limit);
        chart.upper.push_back(drift.ewma->centre + limit);
    }
    add_broken(drift.ewma->breaks, ChartRule::weighted_mean, false, 0, chart);
    return {drift_name(drift) + ", weighted mean (EWMA)", order_chart(chart)};
}

std::size_t breaks_of(const DriftChart& drift) {
    return drift.individuals.breaks.size() + (drift.ewma ? drift.ewma->breaks.size() : 0);
}

/// The newest point that broke a rule says most of how things stand; none where none did.
std::optional<RuleBreak> newest_break(const DriftChart& drift) {
    std::optional<RuleBreak> newest;
    const auto take = [&](const std::vector<RuleBreak>& breaks) {
        if (!breaks.empty() && (!newest || breaks.back().point >= newest->point)) {
            newest = breaks.back();
        }
    };
    if (drift.ewma) {
        take(drift.ewma->breaks);
    }
    take(drift.individuals.breaks);
    return newest;
}

std::string breaks_words(const DriftChart& drift, const Measurements& of) {
    const RuleBreak newest = *newest_break(drift);
    return fmt::format("{}{}: {} in {}, the newest {}: {}.", breaks_now(drift) ? "NOW: " : "",
                       drift_name(drift),
                       counted(breaks_of(drift), "time a rule is broken", "times a rule is broken"),
                       counted(drift.points.size(), "point", "points"),
                       of.name_of(drift.points[newest.point]), chart_rule_name(newest.rule));
}

}  // namespace

bool breaks_now(const DriftChart& drift) {
    const auto newest = newest_break(drift);
    const std::size_t count = drift.points.size();
    return newest && newest->point + std::min(most_newest_points, count / 4) >= count;
}

ReviewPart drift_part(const Review& review) {
    ReviewPart part{"drift", "Phones, cradles, bays and technicians over time", {}, {}, {}};
    for (const auto& drift : review.charts) {
        if (breaks_of(drift) > 0) {
            part.sentences.push_back(breaks_words(drift, review.of));
        }
        part.charts.push_back(values_chart(drift, review.of));
        part.charts.push_back(range_chart(drift, review.of));
        if (drift.ewma) {
            part.charts.push_back(mean_chart(drift, review.of));
        }
    }
    if (part.sentences.empty() && !part.charts.empty()) {
        part.sentences.push_back("No point of any chart breaks a rule.");
    }
    part.sentences.push_back(
        "Rules: beyond 3 sigma; two of three beyond 2 sigma on one side; nine on one side; six "
        "rising or falling; a moving range or a weighted mean beyond its limit. Sigma comes from "
        "the moving ranges. A point is a job's first measurement by both methods (its stages share "
        "errors), or a cradle's offset as a job found it. By chance alone about one point in 50 "
        "breaks one of them. NOW: by one of the newest points (10, at most the last quarter).");
    ChartTable few{{"no chart of", "points"}, {}};
    for (const auto& [name, points] : review.too_few) {
        if (few.rows.size() < most_named) {
            few.rows.push_back({name, std::to_string(points)});
        }
    }
    if (!few.rows.empty()) {
        part.tables.push_back(
            {fmt::format("Fewer than {} points: no chart", fewest_chart_points), few});
    }
    return part;
}

}  // namespace squaresight

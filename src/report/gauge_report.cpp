#include "report/gauge_report.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/review_page.h"

namespace squaresight {
namespace {

std::string with_interval(const WithInterval& value, int digits) {
    return fmt::format("{:.{}f} ({:.{}f} to {:.{}f})", value.value, digits, value.interval_95.low,
                       digits, value.interval_95.high, digits);
}

CaptionedTable gauge_table(const char* caption, const GaugeResult& result) {
    ChartTable table{
        {"source", "standard deviation, deg", "% of variation", "% of variance", "% of tolerance"},
        {}};
    const auto add = [&](const char* name, const GaugeSource& source) {
        table.rows.push_back({name, with_interval(source.standard_deviation, 4),
                              with_interval(source.percent_of_variation, 1),
                              fmt::format("{:.1f}", source.percent_of_variance),
                              source.percent_of_tolerance
                                  ? with_interval(*source.percent_of_tolerance, 1)
                                  : std::string("no tolerance given")});
    };
    add("repeatability", result.repeatability);
    add("reproducibility", result.reproducibility);
    add("gauge", result.gauge);
    add("part", result.part);
    add("total", result.total);
    return {caption, table};
}

CaptionedChart sources_chart(const GaugeResult& result) {
    BarChart chart;
    chart.title = "where the variation comes from";
    chart.x_words = "% of the variation (squares add up), lines: 95 % interval";
    const auto add = [&](const char* name, const GaugeSource& source) {
        const WithInterval& share = source.percent_of_variation;
        chart.bars.push_back({name, share.value, fmt::format("{:.1f} %", share.value),
                              std::array{share.interval_95.low, share.interval_95.high}});
    };
    add("repeatability", result.repeatability);
    add("reproducibility", result.reproducibility);
    add("gauge (both)", result.gauge);
    add("part", result.part);
    CaptionedTable table = gauge_table("", result);
    chart.table = std::move(table.table);
    return {"Where the variation comes from, by analysis of variance", bar_chart(chart)};
}

CaptionedChart readings_chart(const GaugeStudyFile& file) {
    AppraisalChart chart{"readings of every part by every appraiser, off the part's mean",
                         "off the mean of the part, deg",
                         {}};
    for (const auto& reading : file.readings) {
        const auto cell = std::find_if(chart.cells.begin(), chart.cells.end(), [&](const auto& c) {
            return c.part == reading.part && c.appraiser == reading.appraiser;
        });
        if (cell == chart.cells.end()) {
            chart.cells.push_back({reading.part, reading.appraiser, {reading.value}});
        } else {
            cell->values.push_back(reading.value);
        }
    }
    return {"Readings of every part by every appraiser, off the part's mean (line: their mean)",
            appraisal_chart(chart)};
}

CaptionedTable anova_table(const CrossedAnova& anova) {
    ChartTable table{{"source", "degrees of freedom", "sum of squares", "F", "p"}, {}};
    const auto add = [&](const char* name, const AnovaRow& row, bool tested) {
        table.rows.push_back({name, fmt::format("{:.0f}", row.degrees_of_freedom),
                              fmt::format("{:.6g}", row.sum_of_squares),
                              tested ? fmt::format("{:.3f}", row.f) : "",
                              !tested        ? ""
                              : row.p < 1e-4 ? "< 0.0001"
                                             : fmt::format("{:.4f}", row.p)});
    };
    add("part", anova.part, true);
    add("appraiser", anova.appraiser, true);
    add("part by appraiser", anova.interaction, true);
    add("repeatability", anova.repeatability, false);
    return {"Analysis of variance", table};
}

/// Whole categories, as they are counted: at least one.
std::string categories_range(const GaugeResult& result) {
    const Interval& interval = result.distinct_categories_unrounded.interval_95;
    const auto whole = [](double value) {
        return std::isfinite(value) ? fmt::format("{:.0f}", std::max(1.0, std::floor(value)))
                                    : std::string("any number");
    };
    return whole(interval.low) + " to " + whole(interval.high);
}

std::string categories_words(const GaugeStudy& study) {
    return fmt::format(
        "Distinct categories, 1.41 times part over gauge rounded down: {} (95 %: {}) by analysis "
        "of variance, {} (95 %: {}) by average and range.",
        study.by_anova.distinct_categories, categories_range(study.by_anova),
        study.by_ranges.distinct_categories, categories_range(study.by_ranges));
}

/// What a share of the tolerance means, by the reference manual's guideline.
std::string tolerance_verdict(const WithInterval& percent) {
    constexpr double acceptable = 10, conditional = 30;
    const auto call = [&](double value) {
        return value < acceptable     ? "acceptable"
               : value <= conditional ? "may be acceptable for some uses"
                                      : "not acceptable";
    };
    const std::string said = call(percent.value);
    const bool sure =
        call(percent.interval_95.low) == said && call(percent.interval_95.high) == said;
    return fmt::format(
        "Of the tolerance: {}{} (under 10 % acceptable, up to 30 % for some uses, above not: "
        "Measurement Systems Analysis, 4th edition, 2010, chapter II D).",
        said,
        sure ? "" : ", but its interval reaches into another class: more readings would tell");
}

ReviewLayout gauge_layout(const GaugeStudyFile& file, const GaugeStudy& study) {
    const GaugeResult& result = study.by_anova;
    ReviewLayout layout;
    layout.heading = "GAUGE STUDY";
    layout.period = file.name;
    layout.selection = fmt::format("{}: {} parts, {} appraisers, {} trials each.", file.quantity,
                                   study.anova.parts, study.anova.appraisers, study.anova.trials);
    layout.summary = {
        {fmt::format("The gauge makes up {} % of the variation{}.",
                     with_interval(result.gauge.percent_of_variation, 1),
                     result.gauge.percent_of_tolerance
                         ? fmt::format(" and {} % of the tolerance",
                                       with_interval(*result.gauge.percent_of_tolerance, 1))
                         : ""),
         "gauge", false},
        {result.gauge.percent_of_tolerance
             ? tolerance_verdict(*result.gauge.percent_of_tolerance)
             : std::string("No tolerance is given: whether the gauge serves cannot be told."),
         "gauge", false},
        {fmt::format("It tells {} apart (95 %: {}).",
                     counted(static_cast<std::size_t>(result.distinct_categories),
                             "category of parts", "categories of parts"),
                     categories_range(result)),
         "gauge", false},
        {fmt::format("Appraisers and parts {}.",
                     study.anova.interaction_kept
                         ? "interact: some parts are read differently by some appraisers"
                         : "do not clearly interact; the interaction is counted to repeatability"),
         "anova", false}};
    layout.parts = {
        {"gauge",
         "Where the variation comes from",
         {"In brackets the 95 % interval. Shares of variation add up in squares.",
          categories_words(study)},
         {sources_chart(study.by_anova)},
         {gauge_table("By average and range", study.by_ranges)}},
        {"anova",
         "Analysis of variance",
         {fmt::format(
             "The interaction is kept as a source of its own where chance explains it with "
             "p of at most {:.2f}.",
             interaction_kept_up_to_p)},
         {},
         {anova_table(study.anova)}},
        {"readings",
         "Readings",
         {file.left_out.begin(), file.left_out.end()},
         {readings_chart(file)},
         {}}};
    layout.notes = {"Tolerance: whole width, against six standard deviations.",
                    "Program: Squaresight " SQUARESIGHT_VERSION "."};
    return layout;
}

}  // namespace

std::string gauge_html(const GaugeStudyFile& file, const GaugeStudy& study) {
    return review_page(gauge_layout(file, study));
}

nlohmann::ordered_json gauge_tables(const GaugeStudyFile& file, const GaugeStudy& study) {
    return layout_tables(gauge_layout(file, study));
}

std::string gauge_text(const GaugeStudyFile& file, const GaugeStudy& study) {
    return layout_text(gauge_layout(file, study));
}

}  // namespace squaresight

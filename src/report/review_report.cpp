#include "report/review_report.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "job/result.h"
#include "job/words.h"
#include "report/review_page.h"
#include "report/summary.h"

namespace squaresight {
namespace {

constexpr std::size_t most_jobs = 60;  // in the page's list; the export has all
constexpr std::size_t most_flags = 40;
constexpr std::size_t most_equipment = 20;
constexpr std::size_t most_newest_points = 10;  // of a chart, at most its last quarter: now
constexpr double clear_p = 0.05;

/// "0.012 deg to the left", "0.012 deg nose down".
std::string toward(double deg, Axis axis) {
    const bool positive = deg > 0;
    return fmt::format("{:.3f} deg {}", std::abs(deg),
                       axis == Axis::yaw ? (positive ? "to the left" : "to the right")
                                         : (positive ? "nose up" : "nose down"));
}

std::string range(const Interval& interval) {
    return fmt::format("{:+.3f} to {:+.3f}", interval.low, interval.high);
}

/// An interval of slopes may run through the vertical.
std::string slope_range(const Interval& interval) {
    return interval.low <= interval.high ? range(interval) : std::string("not bounded");
}

const char* axis_name(Axis axis) { return axis == Axis::yaw ? "side to side" : "up and down"; }

const char* axis_id(Axis axis) { return axis == Axis::yaw ? "side" : "updown"; }

int compared(const AxisReview& axis) { return axis.agree + axis.disagree + axis.cannot_tell; }

std::string agreement_words(const std::optional<AgreementCall>& call) {
    return call ? call_text(*call) : "";
}

std::string agree_words(const AxisReview& review, Axis axis) {
    if (compared(review) == 0) {
        return fmt::format("Nothing was measured by both methods {}.", axis_name(axis));
    }
    return fmt::format(
        "{}: of {} measured by both methods {} agree, {} disagree, {} cannot tell.",
        axis == Axis::yaw ? "Side to side" : "Up and down",
        counted(static_cast<std::size_t>(compared(review)), "measurement", "measurements"),
        review.agree, review.disagree, review.cannot_tell);
}

std::string bias_words(const AxisReview& review, Axis axis) {
    const LimitsOfAgreement& limits = review.best_limits();
    const bool shown = limits.bias.interval_95.low > 0 || limits.bias.interval_95.high < 0;
    return fmt::format(
        "On average photos point {} of tape and level (95 %: {} deg; {} pairs{}), {}; 95 % of "
        "differences lie from {:+.3f} (95 %: {}) to {:+.3f} deg (95 %: {}).",
        toward(limits.bias.value, axis), range(limits.bias.interval_95), limits.pairs,
        review.repeated ? fmt::format(" of {} vehicles", review.repeated->vehicles) : "",
        shown ? "more than chance explains" : "no more than chance explains", limits.lower.value,
        range(limits.lower.interval_95), limits.upper.value, range(limits.upper.interval_95));
}

std::string decisions_words(const AxisReview& review, Axis axis) {
    const std::size_t differ = review.calls.contradicting();
    return differ == 0
               ? fmt::format(
                     "Nowhere does one method call in tolerance {} what the other "
                     "calls out of it.",
                     axis_name(axis))
               : fmt::format("{} {}: one method says in tolerance, the other out of it.",
                             counted(differ, "measurement", "measurements"), axis_name(axis));
}

std::string stated_words(const EnCalibration& stated) {
    const ScatterTest& test = stated.about_zero;
    const std::string scatter = fmt::format(
        "The differences (the first of each job) are {:.2f} times (95 %: {:.2f} to {:.2f}) as "
        "large as the stated uncertainties promise (chi-square {:.1f} on {:.0f} degrees of "
        "freedom, p = {:.2g}): ",
        test.factor.value, test.factor.interval_95.low, test.factor.interval_95.high,
        test.chi_square, test.degrees_of_freedom, test.p);
    return scatter + (test.call == StatedUncertainty::too_small
                          ? "the uncertainties are stated too small, or a bias is not allowed for."
                      : test.call == StatedUncertainty::too_large
                          ? "the uncertainties are stated too large."
                          : "as promised.");
}

std::string proportional_words(const ProportionalBias& bias) {
    const LineFit& line = bias.difference_on_mean;
    return fmt::format(
        "The difference {} with what is measured: slope {:.3f} (95 %: {}), where unequal "
        "uncertainties alone would give {:.3f} (p = {:.2g}).",
        bias.p < clear_p ? "changes" : "does not clearly change", line.slope.value,
        range(line.slope.interval_95), bias.slope_of_unequal_uncertainty, bias.p);
}

std::string repeated_words(const RepeatedAgreement& repeated, const LimitsOfAgreement& all_alike) {
    return fmt::format(
        "Several measurements of one vehicle are counted as such: between vehicles differences "
        "scatter by {:.3f} deg, within one by {:.3f} deg (standard deviations). Taken as "
        "independent they would say: bias {:+.3f} deg (95 %: {}), 95 % from {:+.3f} to {:+.3f} "
        "deg.",
        repeated.between_standard_deviation, repeated.within_standard_deviation,
        all_alike.bias.value, range(all_alike.bias.interval_95), all_alike.lower.value,
        all_alike.upper.value);
}

// ---------- parts

CaptionedChart bland_altman_chart(const AxisReview& review, Axis axis) {
    PointChart chart;
    chart.title = fmt::format("difference of the methods over their mean, {}", axis_name(axis));
    chart.x_words = axis == Axis::yaw ? "mean of both, deg left" : "mean of both, deg nose up";
    chart.y_words = "photos minus tape, deg";
    for (std::size_t i = 0; i < review.difference_deg.size(); ++i) {
        chart.points.push_back(
            {(review.vision_deg[i] + review.tape_deg[i]) / 2, review.difference_deg[i]});
    }
    if (review.limits) {
        const auto& [pairs, bias, spread, lower, upper] = review.best_limits();
        chart.levels = {{bias.value, fmt::format("bias {:+.3f}", bias.value), false},
                        {lower.value, fmt::format("95 % from {:+.3f}", lower.value), true},
                        {upper.value, fmt::format("95 % to {:+.3f}", upper.value), true}};
    }
    return {fmt::format("Difference over mean (Bland-Altman), {}; larger dots: more measurements",
                        axis_name(axis)),
            point_chart(chart)};
}

CaptionedChart regression_chart(const AxisReview& review, Axis axis) {
    PointChart chart;
    chart.title = fmt::format("photos over tape and level, {}", axis_name(axis));
    chart.x_words = "tape and level, deg";
    chart.y_words = "photos, deg";
    for (std::size_t i = 0; i < review.vision_deg.size(); ++i) {
        chart.points.push_back({review.tape_deg[i], review.vision_deg[i]});
    }
    chart.slopes.push_back({0, 1, "dashed: both equal", true});
    if (review.deming) {
        chart.slopes.push_back(
            {review.deming->intercept.value, review.deming->slope.value, "line: Deming", false});
    }
    return {fmt::format("Photos over tape and level, {}; larger dots: more measurements",
                        axis_name(axis)),
            point_chart(chart)};
}

CaptionedTable calls_table(const AxisReview& review, Axis axis) {
    ChartTable table{{"photos say"}, {}};
    constexpr Call calls[] = {Call::in_tolerance, Call::too_close_to_call, Call::out_of_tolerance};
    for (const Call vision : calls) {
        table.head.push_back(fmt::format("tape: {}", call_text(vision)));
        table.rows.push_back({call_text(vision)});
        for (const Call tape : calls) {
            table.rows.back().push_back(std::to_string(review.calls.count(vision, tape)));
        }
    }
    return {fmt::format("What both methods call, {}", axis_name(axis)), table};
}

Chart en_chart(const EnCalibration& stated) {
    CountChart chart{
        "E_n of the measurements and what the uncertainties promise", "E_n", {}, {}, {}};
    for (const auto& bin : stated.bins) {
        chart.edges.push_back(bin.from);
        chart.counts.push_back(static_cast<double>(bin.count));
        chart.expected.push_back(bin.expected);
    }
    return count_chart(chart);
}

void add_regressions(const AxisReview& review, std::vector<std::string>& sentences) {
    if (review.deming) {
        const auto& line = *review.deming;
        sentences.push_back(fmt::format(
            "Deming regression of photos on tape (ratio of the stated variances, tape over photos, "
            "{:.2f}; jackknife): slope {:.3f} (95 %: {}), at zero {:+.3f} deg (95 %: {}).",
            review.variance_ratio, line.slope.value, range(line.slope.interval_95),
            line.intercept.value, range(line.intercept.interval_95)));
    }
    if (review.passing_bablok) {
        const auto& line = review.passing_bablok->line;
        sentences.push_back(fmt::format(
            "Passing-Bablok: slope {:.3f} (95 %: {}), where unequal uncertainties alone would give "
            "{:.3f}; at zero {:+.3f} deg (95 %: {}); {}.",
            line.slope, slope_range(line.slope_interval), review.passing_bablok_unbiased_slope,
            line.intercept, slope_range(line.intercept_interval),
            review.passing_bablok->linearity.p < clear_p ? "a straight line does not serve"
                                                         : "a straight line serves"));
    }
}

ReviewPart axis_part(const AxisReview& review, Axis axis) {
    ReviewPart part;
    part.id = axis_id(axis);
    part.title = fmt::format("Photos against tape and level, {}", axis_name(axis));
    part.sentences.push_back(agree_words(review, axis));
    if (!review.limits) {
        part.sentences.push_back(fmt::format(
            "Fewer than {} pairs: nothing can be said of their scatter.", fewest_pairs));
        return part;
    }
    part.sentences.push_back(bias_words(review, axis));
    if (review.repeated) {
        part.sentences.push_back(repeated_words(*review.repeated, *review.limits));
    }
    part.sentences.emplace_back(
        "Stages of one job share errors: the lines and the test of the stated uncertainties below "
        "stand on the first measurement of each job by both methods.");
    if (review.proportional) {
        part.sentences.push_back(proportional_words(*review.proportional));
    }
    add_regressions(review, part.sentences);
    part.charts.push_back(bland_altman_chart(review, axis));
    part.charts.push_back(regression_chart(review, axis));
    if (review.stated) {
        part.sentences.push_back(stated_words(*review.stated));
        part.charts.push_back(
            {fmt::format("Difference over its stated uncertainty (E_n), {}", axis_name(axis)),
             en_chart(*review.stated)});
    }
    part.sentences.push_back(decisions_words(review, axis));
    part.tables.push_back(calls_table(review, axis));
    return part;
}

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

bool breaks_now(const DriftChart& drift) {
    const auto newest = newest_break(drift);
    const std::size_t count = drift.points.size();
    return newest && newest->point + std::min(most_newest_points, count / 4) >= count;
}

std::string breaks_words(const DriftChart& drift, const Measurements& of) {
    const RuleBreak newest = *newest_break(drift);
    return fmt::format("{}{}: {} in {}, the newest {}: {}.", breaks_now(drift) ? "NOW: " : "",
                       drift_name(drift),
                       counted(breaks_of(drift), "time a rule is broken", "times a rule is broken"),
                       counted(drift.points.size(), "point", "points"),
                       of.name_of(drift.points[newest.point]), chart_rule_name(newest.rule));
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
        if (few.rows.size() < most_flags) {
            few.rows.push_back({name, std::to_string(points)});
        }
    }
    if (!few.rows.empty()) {
        part.tables.push_back(
            {fmt::format("Fewer than {} points: no chart", fewest_chart_points), few});
    }
    return part;
}

ReviewPart today_part(const Review& review) {
    ReviewPart part{"today", "What to look at", {}, {}, {}};
    for (const auto& flag : review.flags) {
        if (part.sentences.size() == most_flags) {
            part.sentences.push_back(
                fmt::format("And {} more, in --json.", review.flags.size() - most_flags));
            break;
        }
        part.sentences.push_back((flag.today ? "TODAY: " : "") + flag.text);
    }
    part.sentences.emplace_back(
        part.sentences.empty()
            ? "Nothing."
            : "One job: squaresight review STORE --job JOB --out JOB.html; to decide: squaresight "
              "review sign JOB --decision accepted (or returned) --reviewer CODE --reason TEXT.");
    return part;
}

std::string percent(int count, std::size_t of) {
    return of == 0 ? "" : fmt::format("{:.1f} %", 100.0 * count / static_cast<double>(of));
}

std::string first_time_words(const Review& review) {
    const JobOutcomes& outcomes = review.outcomes;
    return review.jobs.empty()
               ? std::string("No job.")
               : fmt::format(
                     "First-time right: {} of {} ({}; 95 %: {:.1f} to {:.1f} %) were as left in "
                     "tolerance after at most one round of turning, at the first attempt.",
                     outcomes.first_time, counted(review.jobs.size(), "job", "jobs"),
                     percent(outcomes.first_time, review.jobs.size()),
                     100 * outcomes.first_time_share_95.low,
                     100 * outcomes.first_time_share_95.high);
}

CaptionedTable outcomes_table(const Review& review) {
    ChartTable table{{"how the job ended", "jobs", "share of all"}, {}};
    const auto add = [&](std::string how, int jobs) {
        table.rows.push_back(
            {std::move(how), std::to_string(jobs), percent(jobs, review.jobs.size())});
    };
    for (const auto& [rounds, jobs] : review.outcomes.passed_after_rounds) {
        add(fmt::format("as left in tolerance after {}",
                        counted(static_cast<std::size_t>(rounds), "round", "rounds")),
            jobs);
    }
    add("as left, not shown to be in tolerance", review.outcomes.failed);
    add("without an as-left measurement", review.outcomes.abandoned);
    return {"In tolerance after how many rounds of turning", table};
}

/// A row for each job of the page's list.
ChartTable jobs_table(const Review& review) {
    ChartTable table{{"day", "job", "vehicle", "technician", "last measurement", "attempts",
                      "stops", "side to side", "up and down", "in tolerance", "review"},
                     {}};
    for (const auto& job : review.jobs) {
        if (table.rows.size() == most_jobs) {
            break;
        }
        const Measurements& of = review.of;
        const Measurement& last = of.list[job.last];
        const ReviewState& state = of.states[static_cast<std::size_t>(last.state)];
        table.rows.push_back(
            {day_text(last.day), of.names[last.job], of.names[last.vehicle],
             of.names[last.technician], stage_text(last.stage), std::to_string(job.attempts),
             std::to_string(job.stops), agreement_words(job.yaw_agreement),
             agreement_words(job.pitch_agreement), job.in_tolerance ? "yes" : "no",
             state.decision + (state.reviewer.empty() ? "" : " by " + state.reviewer)});
    }
    return table;
}

ReviewPart jobs_part(const Review& review) {
    ReviewPart part{"jobs", "Jobs", {first_time_words(review)}, {}, {}};
    part.tables.push_back(outcomes_table(review));
    part.tables.push_back({review.jobs.size() > most_jobs
                               ? fmt::format("The newest {} of {} jobs; all are in squaresight "
                                             "records export",
                                             most_jobs, review.jobs.size())
                               : std::string("All jobs, newest first"),
                           jobs_table(review)});
    ChartTable codes{{"finding", "jobs", "share"}, {}};
    std::vector<std::pair<std::string, int>> sorted(review.finding_jobs.begin(),
                                                    review.finding_jobs.end());
    std::stable_sort(sorted.begin(), sorted.end(),
                     [](const auto& a, const auto& b) { return a.second > b.second; });
    for (const auto& [code, jobs] : sorted) {
        codes.rows.push_back({code, std::to_string(jobs), percent(jobs, review.jobs.size())});
    }
    if (!codes.rows.empty()) {
        part.tables.push_back({"Jobs by finding", codes});
    }
    return part;
}

CaptionedChart ages_chart(const std::vector<EquipmentAge>& equipment) {
    BarChart chart;
    chart.title = "age of phone checks, cradle files and boards when last used";
    chart.x_words = "days old when last used";
    chart.limit = {equipment_lasts_days, "a year", true};
    chart.table.head = {"what",
                        "name",
                        "dated",
                        "last used",
                        "days old then",
                        "measurements",
                        "made past its date"};
    for (const auto& one : equipment) {
        const bool dated = one.dated != 0;
        if (chart.table.rows.size() == most_equipment) {
            break;
        }
        if (dated) {
            chart.bars.push_back(
                {one.kind + " " + one.name,
                 std::max(0.0, 1.0 * one.age_days()),
                 fmt::format("{}{}", one.age_days(), one.is_past_date() ? " PAST ITS DATE" : ""),
                 {}});
        }
        chart.table.rows.push_back(
            {one.kind, one.name, dated ? day_text(one.dated) : "not told", day_text(one.last_used),
             dated ? std::to_string(one.age_days()) : "", std::to_string(one.measurements),
             std::to_string(one.past_date)});
    }
    return {"Age of phone checks, cradle files and boards", bar_chart(chart)};
}

ReviewPart equipment_part(const Review& review) {
    ReviewPart part{"equipment", "What was measured with", {}, {}, {}};
    int past = 0;
    std::size_t undated = 0;
    for (const auto& one : review.equipment) {
        past += one.is_past_date() ? 1 : 0;
        undated += one.dated == 0 ? 1 : 0;
    }
    part.sentences.push_back(fmt::format("Over a year old when last used: {}.",
                                         past == 0 ? "nothing" : std::to_string(past)));
    if (undated > 0) {
        part.sentences.push_back(
            fmt::format("{} no date in the file.", counted(undated, "thing has", "things have")));
    }
    if (!review.equipment.empty()) {
        part.charts.push_back(ages_chart(review.equipment));
    }
    ChartTable table{{"technician", "repeated readings", "exactly as the one before", "share"}, {}};
    for (const auto& one : review.readings) {
        if (table.rows.size() < most_equipment) {
            table.rows.push_back({one.technician.empty() ? "not told" : one.technician,
                                  std::to_string(one.readings), std::to_string(one.alike),
                                  percent(one.alike, static_cast<std::size_t>(one.readings))});
        }
    }
    if (!table.rows.empty()) {
        part.tables.push_back(
            {"Repeated readings by tape and level: a share far above the others' means that they "
             "were not taken",
             table});
    }
    return part;
}

std::vector<ReviewSentence> summary_of(const Review& review) {
    const auto today = static_cast<std::size_t>(std::count_if(
        review.flags.begin(), review.flags.end(), [](const auto& flag) { return flag.today; }));
    const auto waiting =
        std::count_if(review.jobs.begin(), review.jobs.end(), [&](const ReviewedJob& job) {
            const Measurement& last = review.of.list[job.last];
            return review.of.states[static_cast<std::size_t>(last.state)].decision == "waiting";
        });
    std::vector<ReviewSentence> summary{
        {today == 0
             ? std::string("Nothing needs a person today.")
             : fmt::format("{} a person today.", counted(today, "thing needs", "things need")),
         "today", today > 0},
        {fmt::format("{} with {}; {} for a reviewer.", counted(review.jobs.size(), "job", "jobs"),
                     counted(review.measurements, "measurement", "measurements"),
                     counted(static_cast<std::size_t>(waiting), "job waits", "jobs wait")),
         "jobs", false}};
    for (const auto axis : {Axis::yaw, Axis::pitch}) {
        const AxisReview& one = axis == Axis::yaw ? review.yaw : review.pitch;
        summary.push_back({agree_words(one, axis), axis_id(axis), false});
        if (one.limits) {
            summary.push_back({bias_words(one, axis), axis_id(axis), false});
        }
        if (compared(one) > 0) {
            summary.push_back(
                {decisions_words(one, axis), axis_id(axis), one.calls.contradicting() > 0});
        }
    }
    std::size_t now = 0;
    for (const auto& drift : review.charts) {
        now += breaks_now(drift) ? 1 : 0;
    }
    summary.push_back({review.charts.empty()
                           ? fmt::format("No chart over time yet: each needs {} measurements.",
                                         fewest_chart_points)
                           : fmt::format("Over time: of {} {} {} a rule by one of the newest "
                                         "points.",
                                         counted(review.charts.size(), "series", "series"), now,
                                         now == 1 ? "breaks" : "break"),
                       "drift", false});
    return summary;
}

std::string selection_words(const ReviewSelection& selection) {
    std::vector<std::string> parts;
    const auto add = [&](const char* what, const std::string& value) {
        if (!value.empty()) {
            parts.push_back(fmt::format("{} {}", what, value));
        }
    };
    add("from", selection.from);
    add("to", selection.to);
    add("phone", selection.phone);
    add("cradle", selection.cradle);
    add("bay", selection.bay);
    add("technician", selection.technician);
    add("mount", selection.mount);
    add("vehicle", selection.vehicle);
    return parts.empty() ? "" : "Only: " + joined(parts, ", ") + ".";
}

const std::vector<std::string>& review_notes() {
    static const std::vector<std::string> notes{
        "Angles in degrees; + is to the left and nose up; differences are photos minus tape and "
        "level. The newest revision of each job counts. Measurements under a stop, and those "
        "whose difference is not known to better than the tolerance, are counted and not averaged.",
        "Agreement: E_n of at most 1 (ISO/IEC 17043, ISO 13528). Cannot tell: the difference would "
        "have to exceed the tolerance to be found.",
        "Both methods share the zero of the level on the rail, the face that they sit on and how "
        "the truck stood: agreement does not prove these.",
        "In tolerance is said of the mount, never of the vehicle. The vehicle maker's service "
        "information decides.",
        "Program: Squaresight " SQUARESIGHT_VERSION "."};
    return notes;
}

/// Without its parts.
ReviewLayout head_of(const Review& review) {
    ReviewLayout layout;
    layout.heading = "REVIEW: photos against tape and level";
    layout.period = review.first_day == 0 ? "no measurements"
                    : review.first_day == review.last_day
                        ? day_text(review.first_day)
                        : day_text(review.first_day) + " to " + day_text(review.last_day);
    layout.selection = selection_words(review.selection);
    layout.summary = summary_of(review);
    layout.notes = review_notes();
    return layout;
}

ReviewLayout layout_of(const Review& review) {
    ReviewLayout layout = head_of(review);
    layout.parts = {
        today_part(review), axis_part(review.yaw, Axis::yaw), axis_part(review.pitch, Axis::pitch),
        drift_part(review), equipment_part(review),           jobs_part(review)};
    return layout;
}

}  // namespace

std::string review_html(const Review& review) { return review_page(layout_of(review)); }

nlohmann::ordered_json review_tables(const Review& review) {
    return layout_tables(layout_of(review));
}

std::string review_text(const Review& review) {
    std::string text = layout_text(head_of(review));
    for (const auto& flag : review.flags) {
        if (flag.today) {
            text += fmt::format("  - {}\n", flag.text);
        }
    }
    return text;
}

}  // namespace squaresight

#include "report/review_report.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "job/result.h"
#include "job/words.h"
#include "report/agreement_part.h"
#include "report/checks_part.h"
#include "report/drift_part.h"
#include "report/limits_part.h"

namespace squaresight {
namespace {

constexpr std::size_t most_jobs = 60;  // in the page's list; the export has all
constexpr std::size_t job_column = 1;
constexpr std::size_t most_flags = 40;
constexpr std::size_t most_equipment = 20;

std::string agreement_words(const std::optional<AgreementCall>& call) {
    return call ? call_text(*call) : "";
}

ReviewPart today_part(const Review& review) {
    ReviewPart part{"today", "What to look at", {}, {}, {}};
    for (const auto& flag : review.flags) {
        if (part.sentences.size() == most_flags) {
            part.sentences.push_back(
                fmt::format("And {} more, in --json.", review.flags.size() - most_flags));
            break;
        }
        part.sentences.emplace_back((flag.today ? "TODAY: " : "") + flag.text, flag.job);
    }
    part.sentences.emplace_back(
        part.sentences.empty()
            ? "Nothing."
            : "One job whole: squaresight review STORE --job JOB --out JOB.html; to decide: "
              "squaresight "
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
    ChartTable table{
        {"day", "job", "vehicle", "technician", "last measurement", "on top", "attempts", "stops",
         "methods side to side", "methods up and down", "in tolerance", "review"},
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
             of.names[last.technician], stage_text(last.stage),
             last.headline ? headline_text(*last.headline) : "", std::to_string(job.attempts),
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
                           jobs_table(review), job_column});
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
    summary.push_back({limits_summary(review), "limits", false});
    if (const auto checks = checks_summary(review)) {
        summary.push_back(*checks);
    }
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
    layout.parts = {today_part(review),
                    axis_part(review.yaw, Axis::yaw),
                    axis_part(review.pitch, Axis::pitch),
                    limits_part(review),
                    checks_part(review),
                    drift_part(review),
                    equipment_part(review),
                    jobs_part(review)};
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

#include "review/review.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <functional>
#include <set>

#include "job/result.h"
#include "units/entry.h"
#include "units/error.h"

namespace squaresight {
namespace {

constexpr std::size_t most_charts_of_a_kind = 4;  // those with most points; the others are listed
constexpr int many_attempts = 3;                  // revisions, or measurements of one stage
constexpr int comeback_days = 90;                 // common practice, no source

bool matches(const std::string& wanted, const std::string& is) {
    return wanted.empty() || wanted == is;
}

std::optional<std::chrono::sys_days> date_of(const std::string& text) {
    int year = 0;
    unsigned month = 0, day = 0;
    int used = 0;
    if (std::sscanf(text.c_str(), "%4d-%2u-%2u%n", &year, &month, &day, &used) != 3 || used != 10) {
        return std::nullopt;
    }
    const std::chrono::year_month_day date{std::chrono::year(year), std::chrono::month(month),
                                           std::chrono::day(day)};
    return date.ok() ? std::optional(std::chrono::sys_days(date)) : std::nullopt;
}

void check_day(const std::string& day, const char* option) {
    if (!day.empty() && !is_date(day)) {
        throw InputError("review", fmt::format("{} '{}' is no day", option, day),
                         "write it as 2026-03-05");
    }
}

/// Members of SightingFigures that belong to one axis.
struct AxisColumns {
    std::optional<double> SightingFigures::*vision, SightingFigures::*vision_u,
        SightingFigures::*tape, SightingFigures::*tape_u, SightingFigures::*expanded,
        SightingFigures::*tolerance;
    std::string SightingFigures::*vision_call, SightingFigures::*tape_call,
        SightingFigures::*agreement;
};

const AxisColumns yaw_columns{&SightingFigures::vision_yaw_left_deg,
                              &SightingFigures::vision_yaw_standard_uncertainty_deg,
                              &SightingFigures::tape_yaw_left_deg,
                              &SightingFigures::tape_yaw_standard_uncertainty_deg,
                              &SightingFigures::difference_yaw_expanded_95_deg,
                              &SightingFigures::tolerance_yaw_deg,
                              &SightingFigures::vision_yaw_call,
                              &SightingFigures::tape_yaw_call,
                              &SightingFigures::yaw_agreement};
const AxisColumns pitch_columns{&SightingFigures::vision_pitch_up_deg,
                                &SightingFigures::vision_pitch_standard_uncertainty_deg,
                                &SightingFigures::tape_pitch_up_deg,
                                &SightingFigures::tape_pitch_standard_uncertainty_deg,
                                &SightingFigures::difference_pitch_expanded_95_deg,
                                &SightingFigures::tolerance_pitch_deg,
                                &SightingFigures::vision_pitch_call,
                                &SightingFigures::tape_pitch_call,
                                &SightingFigures::pitch_agreement};

using Rows = std::vector<const ReviewedSighting*>;

std::string name_of(const SightingFigures& figures) {
    return fmt::format("{} {} {}", day_of(figures), figures.job, figures.stage);
}

std::optional<Call> call_of(const std::string& text) {
    for (const Call call : {Call::in_tolerance, Call::out_of_tolerance, Call::too_close_to_call}) {
        if (text == call_text(call)) {
            return call;
        }
    }
    return std::nullopt;
}

/// Numbers names from 0 in the order in which they come.
class Numbering {
  public:
    std::size_t operator()(const std::string& name) {
        return numbers_.try_emplace(name, numbers_.size()).first->second;
    }

  private:
    std::map<std::string, std::size_t> numbers_;
};

void count_calls(const SightingFigures& figures, const AxisColumns& columns, AxisReview& axis) {
    const auto by_photos = call_of(figures.*columns.vision_call);
    const auto by_tape = call_of(figures.*columns.tape_call);
    if (by_photos && by_tape) {
        axis.calls.add(*by_photos, *by_tape);
    }
    const std::string& call = figures.*columns.agreement;
    axis.agree += call == "agree" ? 1 : 0;
    axis.disagree += call == "disagree" ? 1 : 0;
    axis.cannot_tell += call == "cannot tell" ? 1 : 0;
}

/// Under a stop a number may be anything; where the difference is not known to better than the
/// tolerance one method hardly measured. Whether they agree must not decide.
bool can_be_averaged(const SightingFigures& figures, const AxisColumns& columns) {
    const auto expanded = figures.*columns.expanded;
    const auto tolerance = figures.*columns.tolerance;
    return figures.stops == 0 && !(expanded && tolerance && *expanded > *tolerance);
}

AxisReview axis_review(const Rows& rows, const AxisColumns& columns) {
    AxisReview axis;
    std::vector<std::size_t> vehicles;
    std::vector<double> over_uncertainty;
    Numbering number;
    double vision_variance = 0, tape_variance = 0;
    for (const auto* row : rows) {
        const SightingFigures& figures = row->figures;
        count_calls(figures, columns, axis);
        const auto vision = figures.*columns.vision;
        const auto tape = figures.*columns.tape;
        if (!vision || !tape || !can_be_averaged(figures, columns)) {
            continue;
        }
        axis.vision_deg.push_back(*vision);
        axis.tape_deg.push_back(*tape);
        axis.difference_deg.push_back(*vision - *tape);
        axis.names.push_back(name_of(figures));
        vehicles.push_back(
            number(figures.vehicle.empty() ? "job " + figures.job : figures.vehicle));
        vision_variance += std::pow((figures.*columns.vision_u).value_or(0), 2);
        tape_variance += std::pow((figures.*columns.tape_u).value_or(0), 2);
        if (const auto expanded = figures.*columns.expanded; expanded && *expanded > 0) {
            over_uncertainty.push_back((*vision - *tape) / (*expanded / 2));
        }
    }
    axis.limits = limits_of_agreement(axis.difference_deg);
    axis.repeated = repeated_agreement(axis.difference_deg, vehicles);
    const auto pairs = static_cast<double>(std::max<std::size_t>(1, axis.vision_deg.size()));
    vision_variance /= pairs;
    tape_variance /= pairs;
    axis.proportional =
        proportional_bias(axis.vision_deg, axis.tape_deg, vision_variance, tape_variance);
    if (vision_variance > 0 && tape_variance > 0) {
        axis.variance_ratio = tape_variance / vision_variance;
        axis.deming = deming_regression(axis.tape_deg, axis.vision_deg, axis.variance_ratio);
    }
    axis.passing_bablok = passing_bablok(axis.tape_deg, axis.vision_deg);
    if (const auto spread = moments(axis.tape_deg)) {
        const double true_variance = std::pow(spread->standard_deviation, 2) - tape_variance;
        axis.passing_bablok_unbiased_slope = slope_of_unequal_uncertainty(
            std::max(0.0, true_variance), tape_variance, vision_variance);
    }
    axis.stated = calibrate_en(over_uncertainty);
    return axis;
}

// ---------- drift

struct DriftSeries {
    std::vector<double> values;
    std::vector<std::string> names;
};

using Quantity = std::function<std::optional<double>(const SightingFigures&)>;

Quantity difference(const AxisColumns& columns) {
    return [&columns](const SightingFigures& figures) -> std::optional<double> {
        const auto vision = figures.*columns.vision;
        const auto tape = figures.*columns.tape;
        return vision && tape && can_be_averaged(figures, columns) ? std::optional(*vision - *tape)
                                                                   : std::nullopt;
    };
}

void add_charts(const Rows& rows, const char* kind, std::string SightingFigures::*of,
                const char* quantity, const Quantity& value_of, Review& review) {
    std::map<std::string, DriftSeries> series;
    for (const auto* row : rows) {
        const std::string& name = row->figures.*of;
        const auto value = value_of(row->figures);
        if (!name.empty() && value && std::isfinite(*value)) {
            series[name].values.push_back(*value);
            series[name].names.push_back(name_of(row->figures));
        }
    }
    std::vector<std::pair<std::string, DriftSeries>> most(series.begin(), series.end());
    std::stable_sort(most.begin(), most.end(), [](const auto& a, const auto& b) {
        return a.second.values.size() > b.second.values.size();
    });
    std::size_t drawn = 0;
    for (auto& [name, points] : most) {
        const auto individuals = individuals_chart(points.values);
        if (!individuals) {
            review.too_few[fmt::format("{} {}", kind, name)] =
                static_cast<int>(points.values.size());
            continue;
        }
        if (++drawn > most_charts_of_a_kind) {
            break;
        }
        DriftChart chart{
            kind,         name, quantity, std::move(points.values), std::move(points.names),
            *individuals, {}};
        if (individuals->sigma > 0) {
            chart.ewma = ewma_chart(chart.values_deg, individuals->mean, individuals->sigma);
        }
        review.charts.push_back(std::move(chart));
    }
}

void add_all_charts(const Rows& rows, Review& review) {
    constexpr const char* side = "photos minus tape, side to side";
    constexpr const char* nose = "photos minus tape, up and down";
    const std::pair<const char*, std::string SightingFigures::*> kinds[] = {
        {"phone", &SightingFigures::camera},
        {"cradle", &SightingFigures::cradle},
        {"bay", &SightingFigures::bay},
        {"technician", &SightingFigures::technician}};
    for (const auto& [kind, of] : kinds) {
        add_charts(rows, kind, of, side, difference(yaw_columns), review);
        add_charts(rows, kind, of, nose, difference(pitch_columns), review);
    }
    const auto offset = [](std::optional<double> SightingFigures::*of) {
        return [of](const SightingFigures& figures) { return figures.*of; };
    };
    add_charts(rows, "cradle", &SightingFigures::cradle, "offset to the left",
               offset(&SightingFigures::cradle_offset_left_deg), review);
    add_charts(rows, "cradle", &SightingFigures::cradle, "offset up",
               offset(&SightingFigures::cradle_offset_up_deg), review);
}

// ---------- jobs

/// In tolerance about both axes, by photos where they answer, else by tape.
bool passes(const SightingFigures& figures) {
    const bool photos = !figures.vision_yaw_call.empty();
    const std::string& yaw = photos ? figures.vision_yaw_call : figures.tape_yaw_call;
    const std::string& pitch = photos ? figures.vision_pitch_call : figures.tape_pitch_call;
    return yaw == "in tolerance" && pitch == "in tolerance" && figures.stops == 0;
}

std::vector<std::string> codes_of(const SightingFigures& figures) {
    std::vector<std::string> codes;
    std::size_t begin = 0;
    while (begin < figures.findings.size()) {
        const std::size_t end =
            std::min(figures.findings.find(' ', begin), figures.findings.size());
        codes.push_back(figures.findings.substr(begin, end - begin));
        begin = end + 1;
    }
    return codes;
}

ReviewedJob job_of(const Rows& stages) {
    ReviewedJob job;
    const SightingFigures& last = stages.back()->figures;
    job.job = last.job;
    job.day = day_of(last);
    job.vehicle = last.vehicle;
    job.technician = last.technician;
    job.last_stage = last.stage;
    job.revisions = last.revision;
    job.stages = static_cast<int>(stages.size());
    job.finished = last.stage == "as-left";
    job.in_tolerance = passes(last);
    job.state = stages.back()->state;
    for (const auto* stage : stages) {
        const SightingFigures& figures = stage->figures;
        job.rounds += figures.stage == "adjusted" ? 1 : 0;
        job.stops = std::max(job.stops, figures.stops);
        if (!figures.yaw_agreement.empty()) {
            job.yaw_agreement = figures.yaw_agreement;
        }
        if (!figures.pitch_agreement.empty()) {
            job.pitch_agreement = figures.pitch_agreement;
        }
    }
    return job;
}

void flag_job(const ReviewedJob& job, const Rows& stages, Review& review) {
    const auto flag = [&](bool today, std::string text) {
        review.flags.push_back({job.job, std::move(text), today});
    };
    const bool waiting = job.state.decision == "waiting";
    const bool disagree = job.yaw_agreement == "disagree" || job.pitch_agreement == "disagree";
    if (waiting && job.stops > 0) {
        flag(true, fmt::format("Job {} has {} and waits for a decision.", job.job,
                               job.stops == 1 ? "a stop" : fmt::format("{} stops", job.stops)));
    } else if (waiting && disagree) {
        flag(true,
             fmt::format("Job {}: photos and tape disagree, and nobody has decided.", job.job));
    }
    if (job.state.decision == "returned") {
        flag(true, fmt::format("Job {} was returned by {}: {}", job.job, job.state.reviewer,
                               job.state.reason));
    }
    if (!job.state.reviewer.empty() && job.state.reviewer == job.technician) {
        flag(true,
             fmt::format("Job {} was reviewed by {}, who measured it.", job.job, job.technician));
    }
    if (job.finished && stages.back()->figures.locked != "yes") {
        flag(false,
             fmt::format("Job {} was measured as left before its screws were locked.", job.job));
    }
    if (job.revisions >= many_attempts) {
        flag(false, fmt::format("Job {} was stored {} times.", job.job, job.revisions));
    }
    int as_left = 0;
    for (const auto* stage : stages) {
        as_left += stage->figures.stage == "as-left" ? 1 : 0;
    }
    if (as_left > 1 && job.in_tolerance) {
        flag(false, fmt::format("Job {} was measured as left {} times until it passed.", job.job,
                                as_left));
    }
}

/// A vehicle that came again soon after a finished job.
void flag_comebacks(const std::vector<ReviewedJob>& jobs, Review& review) {
    std::map<std::string, std::vector<const ReviewedJob*>> of_vehicle;
    for (const auto& job : jobs) {
        if (!job.vehicle.empty()) {
            of_vehicle[job.vehicle].push_back(&job);
        }
    }
    for (auto& [vehicle, list] : of_vehicle) {
        std::sort(list.begin(), list.end(), [](auto* a, auto* b) { return a->day < b->day; });
        for (std::size_t i = 1; i < list.size(); ++i) {
            const auto before = date_of(list[i - 1]->day);
            const auto after = date_of(list[i]->day);
            if (list[i - 1]->finished && before && after &&
                *after - *before <= std::chrono::days(comeback_days)) {
                review.flags.push_back(
                    {list[i]->job,
                     fmt::format("Vehicle {} came back {} days after job {}.", vehicle,
                                 (*after - *before).count(), list[i - 1]->job),
                     false});
            }
        }
    }
}

void take_jobs(const Rows& rows, Review& review) {
    std::map<std::string, Rows> of_job;
    for (const auto* row : rows) {
        of_job[row->figures.job].push_back(row);
    }
    for (const auto& [name, stages] : of_job) {
        const ReviewedJob job = job_of(stages);
        std::set<std::string> codes;
        for (const auto* stage : stages) {
            for (auto& code : codes_of(stage->figures)) {
                codes.insert(std::move(code));
            }
        }
        for (const auto& code : codes) {
            ++review.finding_jobs[code];
        }
        review.abandoned += job.finished ? 0 : 1;
        if (job.finished && job.in_tolerance) {
            ++review.right_after_rounds[job.rounds];
        }
        flag_job(job, stages, review);
        review.jobs.push_back(job);
    }
    flag_comebacks(review.jobs, review);
    std::stable_sort(review.jobs.begin(), review.jobs.end(),
                     [](const auto& a, const auto& b) { return a.day > b.day; });
    std::stable_sort(review.flags.begin(), review.flags.end(),
                     [](const auto& a, const auto& b) { return a.today && !b.today; });
}

/// Selected measurements of the newest revision of each job, by day.
Rows newest_rows(const std::vector<ReviewedSighting>& all, const ReviewSelection& selection) {
    std::map<std::string, int> newest;
    for (const auto& row : all) {
        int& revision = newest[row.figures.job];
        revision = std::max(revision, row.figures.revision);
    }
    Rows rows;
    for (const auto& row : all) {
        if (row.figures.revision == newest[row.figures.job] &&
            is_selected(row.figures, selection)) {
            rows.push_back(&row);
        }
    }
    std::stable_sort(rows.begin(), rows.end(), [](const auto* a, const auto* b) {
        return day_of(a->figures) < day_of(b->figures);
    });
    return rows;
}

}  // namespace

std::string day_of(const SightingFigures& figures) {
    std::string day = figures.taken_at.empty() ? figures.recorded_at : figures.taken_at;
    day = day.substr(0, std::min<std::size_t>(10, day.size()));
    std::replace(day.begin(), day.end(), ':', '-');
    return day;
}

bool is_selected(const SightingFigures& figures, const ReviewSelection& selection) {
    const std::string day = day_of(figures);
    return (selection.from.empty() || day >= selection.from) &&
           (selection.to.empty() || day <= selection.to) &&
           matches(selection.phone, figures.camera) && matches(selection.cradle, figures.cradle) &&
           matches(selection.bay, figures.bay) &&
           matches(selection.technician, figures.technician) &&
           matches(selection.mount, figures.mount) && matches(selection.vehicle, figures.vehicle);
}

void check_selection(const ReviewSelection& selection) {
    check_day(selection.from, "--from");
    check_day(selection.to, "--to");
    if (!selection.from.empty() && !selection.to.empty() && selection.to < selection.from) {
        throw InputError("review", "the period ends before it begins", "exchange --from and --to");
    }
}

Review review(const std::vector<ReviewedSighting>& all, const ReviewSelection& selection) {
    const Rows rows = newest_rows(all, selection);
    Review made;
    made.selection = selection;
    made.measurements = rows.size();
    if (!rows.empty()) {
        made.first_day = day_of(rows.front()->figures);
        made.last_day = day_of(rows.back()->figures);
    }
    made.yaw = axis_review(rows, yaw_columns);
    made.pitch = axis_review(rows, pitch_columns);
    add_all_charts(rows, made);
    take_jobs(rows, made);
    return made;
}

}  // namespace squaresight

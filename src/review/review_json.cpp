#include <cmath>
#include <nlohmann/json.hpp>

#include "job/result.h"
#include "review/review.h"

namespace squaresight {
namespace {

using Json = nlohmann::ordered_json;

Json number(double value) { return std::isfinite(value) ? Json(value) : Json(nullptr); }

Json interval_json(const Interval& interval) {
    return {number(interval.low), number(interval.high)};
}

Json estimated_json(const Estimated& estimated) {
    return {{"value", number(estimated.value)},
            {"standard_error", number(estimated.standard_error)},
            {"interval_95", interval_json(estimated.interval_95)}};
}

/// null where there is none.
template <class Value, class Write>
Json optional_json(const std::optional<Value>& value, Write write) {
    return value ? write(*value) : Json(nullptr);
}

template <class List, class Write>
Json list_json(const List& list, Write write) {
    Json json = Json::array();
    for (const auto& one : list) {
        json.push_back(write(one));
    }
    return json;
}

Json limits_json(const LimitsOfAgreement& limits) {
    return {{"pairs", limits.pairs},
            {"bias_deg", estimated_json(limits.bias)},
            {"standard_deviation_deg", number(limits.standard_deviation)},
            {"lower_deg", estimated_json(limits.lower)},
            {"upper_deg", estimated_json(limits.upper)}};
}

Json repeated_json(const RepeatedAgreement& repeated) {
    return {{"vehicles", repeated.vehicles},
            {"limits", limits_json(repeated.limits)},
            {"between_standard_deviation_deg", number(repeated.between_standard_deviation)},
            {"within_standard_deviation_deg", number(repeated.within_standard_deviation)},
            {"between_p", number(repeated.between_p)}};
}

Json proportional_json(const ProportionalBias& bias) {
    const auto line = [](const LineFit& fit) {
        return Json{{"intercept_deg", estimated_json(fit.intercept)},
                    {"slope", estimated_json(fit.slope)},
                    {"slope_p", number(fit.slope_p)}};
    };
    return {{"difference_on_mean", line(bias.difference_on_mean)},
            {"spread_on_mean", line(bias.spread_on_mean)},
            {"slope_of_unequal_uncertainty", number(bias.slope_of_unequal_uncertainty)},
            {"p", number(bias.p)}};
}

Json deming_json(const LineWithBothInError& line) {
    return {{"intercept_deg", estimated_json(line.intercept)},
            {"slope", estimated_json(line.slope)}};
}

Json passing_bablok_json(const PassingBablok& fit) {
    return {{"intercept_deg", number(fit.line.intercept)},
            {"intercept_interval_95", interval_json(fit.line.intercept_interval)},
            {"slope", number(fit.line.slope)},
            {"slope_interval_95", interval_json(fit.line.slope_interval)},
            {"linearity_p", number(fit.linearity.p)}};
}

const char* call_text(StatedUncertainty call) {
    return call == StatedUncertainty::too_small   ? "stated too small"
           : call == StatedUncertainty::too_large ? "stated too large"
                                                  : "as stated";
}

Json scatter_json(const ScatterTest& test) {
    return {{"chi_square", number(test.chi_square)},
            {"degrees_of_freedom", number(test.degrees_of_freedom)},
            {"p", number(test.p)},
            {"factor", estimated_json(test.factor)},
            {"call", call_text(test.call)}};
}

Json stated_json(const EnCalibration& stated) {
    Json bins = Json::array();
    for (const auto& bin : stated.bins) {
        bins.push_back({{"from", bin.from},
                        {"to", number(bin.to)},
                        {"count", bin.count},
                        {"expected", bin.expected}});
    }
    return {{"count", stated.count},
            {"about_zero", scatter_json(stated.about_zero)},
            {"about_mean", scatter_json(stated.about_mean)},
            {"beyond_one", stated.beyond_one},
            {"expected_beyond_one", stated.expected_beyond_one},
            {"bins", bins}};
}

Json calls_json(const CallTable& calls) {
    Json rows = Json::array();
    for (const Call vision :
         {Call::in_tolerance, Call::too_close_to_call, Call::out_of_tolerance}) {
        for (const Call tape :
             {Call::in_tolerance, Call::too_close_to_call, Call::out_of_tolerance}) {
            rows.push_back({{"photos", call_text(vision)},
                            {"tape", call_text(tape)},
                            {"count", calls.count(vision, tape)}});
        }
    }
    return rows;
}

Json axis_json(const AxisReview& axis) {
    return {
        {"agree", axis.agree},
        {"disagree", axis.disagree},
        {"cannot_tell", axis.cannot_tell},
        {"decisions_differ", axis.calls.contradicting()},
        {"kappa", optional_json(axis.calls.kappa(), estimated_json)},
        {"calls", calls_json(axis.calls)},
        {"limits", optional_json(axis.limits, limits_json)},
        {"repeated", optional_json(axis.repeated, repeated_json)},
        {"proportional", optional_json(axis.proportional, proportional_json)},
        {"variance_ratio_tape_over_photos", number(axis.variance_ratio)},
        {"deming_photos_on_tape", optional_json(axis.deming, deming_json)},
        {"passing_bablok_photos_on_tape", optional_json(axis.passing_bablok, passing_bablok_json)},
        {"passing_bablok_unbiased_slope", number(axis.passing_bablok_unbiased_slope)},
        {"stated_uncertainties", optional_json(axis.stated, stated_json)}};
}

Json kind_json(const KindLimits& kind) {
    const auto offer = kind.offered();
    return {{"kind", kind.kind},
            {"unit", kind.unit()},
            {"readings", kind.sums.readings},
            {"set_aside", kind.set_aside},
            {"degrees_of_freedom", number(kind.sums.redundancy)},
            {"call", kind.test ? call_text(kind.test->call) : "too early"},
            {"scatter", optional_json(kind.test, scatter_json)},
            {"shares_with", kind.shares_with},
            {"stated_limit", number(kind.limit)},
            {"offered_limit", optional_json(offer, number)},
            {"bay_map", offer ? Json(kind.bay_map()) : Json(nullptr)},
            {"bay_line", offer ? Json(kind.bay_line(*offer)) : Json(nullptr)}};
}

Json bay_json(const BayLimits& bay) {
    return {{"bay", bay.bay}, {"kinds", list_json(bay.kinds, kind_json)}};
}

Json breaks_json(const std::vector<RuleBreak>& list, const Rows& points, const Measurements& of) {
    Json breaks = Json::array();
    for (const auto& one : list) {
        breaks.push_back(
            {{"at", of.name_of(points[one.point])}, {"rule", chart_rule_name(one.rule)}});
    }
    return breaks;
}

Json weighted_mean_json(const EwmaChart& ewma) {
    return {{"weight", ewma.settings.weight},
            {"width", ewma.settings.width},
            {"newest_deg", number(ewma.average.back())},
            {"limit_deg", number(ewma.last_limit)}};
}

Json check_json(const CheckChart& chart, const Measurements& of) {
    Json json{{"name", chart.name},
              {"quantity", chart.quantity},
              {"measurements", chart.values_deg.size()},
              {"left_out", chart.left_out},
              {"call", !chart.check              ? "too early"
                       : chart.left_its_limits() ? "left its limits"
                                                 : "within its limits"}};
    if (chart.check) {
        const CheckStandard& check = *chart.check;
        const std::size_t good = check.last_good(chart.values_deg.size());
        json["accepted_from"] = check.accepted_from;
        json["accepted_deg"] = number(check.accepted);
        json["standard_deviation_deg"] = number(check.standard_deviation);
        json["lower_deg"] = number(check.lower);
        json["upper_deg"] = number(check.upper);
        json["weighted_mean"] = optional_json(check.ewma, weighted_mean_json);
        json["scatter"] = optional_json(check.scatter, scatter_json);
        json["rules_broken"] = breaks_json(check.breaks, chart.points, of);
        json["sign_no_job_since"] = chart.left_its_limits()
                                        ? Json(day_text(of.list[chart.points[good]].day))
                                        : Json(nullptr);
    }
    return json;
}

Json chart_json(const DriftChart& chart, const Measurements& of) {
    Json json{{"kind", chart.kind},
              {"name", chart.name},
              {"quantity", chart.quantity},
              {"points", chart.values_deg.size()},
              {"mean_deg", number(chart.individuals.mean)},
              {"sigma_deg", number(chart.individuals.sigma)},
              {"lower_deg", number(chart.individuals.lower)},
              {"upper_deg", number(chart.individuals.upper)},
              {"moving_range_upper_deg", number(chart.individuals.moving_range_upper)}};
    json["weighted_mean"] = optional_json(chart.ewma, weighted_mean_json);
    std::vector<RuleBreak> breaks = chart.individuals.breaks;
    if (chart.ewma) {
        breaks.insert(breaks.end(), chart.ewma->breaks.begin(), chart.ewma->breaks.end());
    }
    json["rules_broken"] = breaks_json(breaks, chart.points, of);
    return json;
}

Json job_json(const ReviewedJob& job, const Measurements& of) {
    const Measurement& last = of.list[job.last];
    const ReviewState& state = of.states[static_cast<std::size_t>(last.state)];
    const auto agreement = [](const std::optional<AgreementCall>& call) {
        return call ? call_text(*call) : "";
    };
    return {{"job", of.names[last.job]},
            {"day", day_text(last.day)},
            {"vehicle", of.names[last.vehicle]},
            {"technician", of.names[last.technician]},
            {"last_stage", stage_text(last.stage)},
            {"revisions", job.revisions},
            {"stages", job.stages},
            {"rounds", job.rounds},
            {"attempts", job.attempts},
            {"stops", job.stops},
            {"finished", job.finished},
            {"in_tolerance", job.in_tolerance},
            {"yaw_agreement", agreement(job.yaw_agreement)},
            {"pitch_agreement", agreement(job.pitch_agreement)},
            {"decision", state.decision},
            {"reviewer", state.reviewer},
            {"reason", state.reason}};
}

Json equipment_json(const EquipmentAge& age) {
    return {{"kind", age.kind},
            {"name", age.name},
            {"dated", age.dated == 0 ? Json(nullptr) : Json(day_text(age.dated))},
            {"last_used", day_text(age.last_used)},
            {"age_days", age.dated == 0 ? Json(nullptr) : Json(age.age_days())},
            {"measurements", age.measurements},
            {"measurements_past_date", age.past_date}};
}

Json outcomes_json(const JobOutcomes& outcomes) {
    Json rounds = Json::object();
    for (const auto& [count, jobs] : outcomes.passed_after_rounds) {
        rounds[std::to_string(count)] = jobs;
    }
    return {{"passed", outcomes.passed},
            {"failed", outcomes.failed},
            {"abandoned", outcomes.abandoned},
            {"passed_after_rounds", rounds},
            {"first_time", outcomes.first_time},
            {"first_time_share_95", interval_json(outcomes.first_time_share_95)}};
}

Json flag_json(const ReviewFlag& flag) {
    return {{"job", flag.job}, {"text", flag.text}, {"today", flag.today}};
}

Json readings_json(const RepeatedReadings& readings) {
    return {{"technician", readings.technician},
            {"repeated_readings", readings.readings},
            {"alike", readings.alike}};
}

Json selection_json(const ReviewSelection& selection) {
    return {{"from", selection.from},   {"to", selection.to},
            {"phone", selection.phone}, {"cradle", selection.cradle},
            {"bay", selection.bay},     {"technician", selection.technician},
            {"mount", selection.mount}, {"vehicle", selection.vehicle}};
}

}  // namespace

std::string review_json(const Review& review, const Json& tables) {
    const auto chart = [&](const DriftChart& one) { return chart_json(one, review.of); };
    const auto job = [&](const ReviewedJob& one) { return job_json(one, review.of); };
    const auto check = [&](const CheckChart& one) { return check_json(one, review.of); };
    const Json json{{"schema", "squaresight/review/1"},
                    {"selection", selection_json(review.selection)},
                    {"first_day", day_text(review.first_day)},
                    {"last_day", day_text(review.last_day)},
                    {"jobs_count", review.jobs.size()},
                    {"measurements", review.measurements},
                    {"yaw", axis_json(review.yaw)},
                    {"pitch", axis_json(review.pitch)},
                    {"charts", list_json(review.charts, chart)},
                    {"limits", list_json(review.limits, bay_json)},
                    {"check_standards", list_json(review.checks, check)},
                    {"too_few_points", review.too_few},
                    {"jobs_by_finding", review.finding_jobs},
                    {"outcomes", outcomes_json(review.outcomes)},
                    {"equipment", list_json(review.equipment, equipment_json)},
                    {"repeated_readings", list_json(review.readings, readings_json)},
                    {"flags", list_json(review.flags, flag_json)},
                    {"jobs", list_json(review.jobs, job)},
                    {"tables", tables}};
    return json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace squaresight

#include "report/agreement_part.h"

#include <fmt/format.h>

#include <cmath>

namespace squaresight {
namespace {

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

/// Of a limit not known to better than the limits lie apart nothing can be said yet: so it is with
/// some five pairs.
bool is_too_early(const LimitsOfAgreement& limits) {
    const double apart = limits.upper.value - limits.lower.value;
    const auto width = [](const Estimated& one) {
        return one.interval_95.high - one.interval_95.low;
    };
    return !(width(limits.lower) <= apart && width(limits.upper) <= apart);
}

CaptionedChart bland_altman_chart(const AxisReview& review, Axis axis) {
    PointChart chart;
    chart.title = fmt::format("difference of the methods over their mean, {}", axis_name(axis));
    chart.x_words = axis == Axis::yaw ? "mean of both, deg left" : "mean of both, deg nose up";
    chart.y_words = "photos minus tape, deg";
    for (std::size_t i = 0; i < review.difference_deg.size(); ++i) {
        chart.points.push_back(
            {(review.vision_deg[i] + review.tape_deg[i]) / 2, review.difference_deg[i]});
    }
    if (review.limits && !is_too_early(review.best_limits())) {
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

void add_regressions(const AxisReview& review, std::vector<PartSentence>& sentences) {
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

}  // namespace

const char* axis_id(Axis axis) { return axis == Axis::yaw ? "side" : "updown"; }

int compared(const AxisReview& axis) { return axis.agree + axis.disagree + axis.cannot_tell; }

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
    if (is_too_early(limits)) {
        return fmt::format(
            "On average photos point {} of tape and level ({} pairs). Too early to say more: "
            "their scatter is not known well enough yet.",
            toward(limits.bias.value, axis), limits.pairs);
    }
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

ReviewPart axis_part(const AxisReview& review, Axis axis) {
    ReviewPart part;
    part.id = axis_id(axis);
    part.title = fmt::format("Photos against tape and level, {}", axis_name(axis));
    part.sentences.push_back(agree_words(review, axis));
    if (compared(review) > 0) {
        part.sentences.push_back(decisions_words(review, axis));
        part.tables.push_back(calls_table(review, axis));
    }
    if (!review.limits) {
        part.sentences.push_back(fmt::format(
            "Fewer than {} pairs: nothing can be said of their scatter.", fewest_pairs));
        return part;
    }
    part.sentences.push_back(bias_words(review, axis));
    if (is_too_early(review.best_limits())) {
        part.charts.push_back(bland_altman_chart(review, axis));
        return part;
    }
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
    return part;
}

}  // namespace squaresight

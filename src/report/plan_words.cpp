#include "report/plan_words.h"

#include <fmt/format.h>

#include <algorithm>

#include "job/words.h"
#include "report/summary.h"

namespace squaresight {
namespace {

constexpr std::size_t terminal_budget_rows = 4;

std::string size(const BayPlan& plan, double length_mm) {
    return length_both_ways(length_mm, plan.bay.unit);
}

std::string photos_words(const PlannedBay& bay) {
    return fmt::format("{} photo{} upright and {} with the phone turned upside down",
                       bay.upright_photos, bay.upright_photos == 1 ? "" : "s",
                       bay.inverted_photos == 0 ? std::string("none")
                                                : std::to_string(bay.inverted_photos)) +
           (bay.quarter_photos > 0 ? fmt::format(" and {} at a quarter turn", bay.quarter_photos)
                                   : "");
}

std::vector<BudgetLine> largest(const BayPlan& plan, double BudgetLine::*share) {
    std::vector<BudgetLine> budget = plan.stage.budget;
    std::stable_sort(budget.begin(), budget.end(),
                     [&](const BudgetLine& a, const BudgetLine& b) { return a.*share > b.*share; });
    budget.resize(std::min(budget.size(), terminal_budget_rows));
    return budget;
}

std::string budget_lines(const BayPlan& plan, Axis axis) {
    const auto share = axis == Axis::yaw ? &BudgetLine::yaw_deg : &BudgetLine::pitch_deg;
    std::string text = fmt::format("  {}:", axis_words(axis));
    const char* between = " ";
    for (const auto& line : largest(plan, share)) {
        text += fmt::format("{}{} {}", between, reading_words(line.source),
                            fine_words(2 * (line.*share)));
        between = ", ";
    }
    return text + "\n";
}

}  // namespace

std::string plan_verdict(const BayPlan& plan) {
    const Mount& mount = plan.bay.mount;
    const bool yaw = !cannot_decide(plan.aim.yaw_deg, mount.tolerance_yaw_deg);
    const bool pitch = !cannot_decide(plan.aim.pitch_deg, mount.tolerance_pitch_deg);
    if (yaw && pitch) {
        return "This bay serves: both aims can be decided.";
    }
    const char* which = yaw     ? "up-down aim"
                        : pitch ? "side-to-side aim"
                                : "neither side-to-side nor up-down aim";
    return yaw || pitch
               ? fmt::format("This bay does not serve: {} can never be shown to be in tolerance.",
                             which)
               : fmt::format("This bay does not serve: {} can be shown to be in tolerance.", which);
}

std::string plan_setting(const BayPlan& plan) {
    const PlannedBay& bay = plan.bay;
    std::string text =
        fmt::format("{} board {} ahead, {}", sheet_words(bay.target),
                    size(plan, bay.setup.readings.distance_mm.value), photos_words(bay));
    if (bay.setup.line_marks) {
        text += fmt::format(", rails' line from plumb marks {} apart",
                            size(plan, bay.setup.line_marks->base_mm));
    }
    return text + ".";
}

std::string plan_advice(const BayPlan& plan) {
    const Improvement* first = plan.cheapest();
    if (first == nullptr) {
        return "Nothing that was tried makes it better by much.";
    }
    const std::string after =
        fmt::format("{} ({}). Give or take then {} side to side, {} up-down", first->what,
                    effort_words(first->effort), fine_words(2 * first->aim.yaw_deg),
                    fine_words(2 * first->aim.pitch_deg));
    if (plan.reaches()) {
        return "Cheapest improvement: " + after + ".";
    }
    if (!first->reaches) {
        return "Nothing that was tried makes this bay serve, not even all of it: " + after + ".";
    }
    return (first->steps.size() == 1 ? "Cheapest that makes it serve: "
                                     : "No one step makes it serve, but these together do: ") +
           after + ".";
}

AxisForecast plan_forecast(const BayPlan& plan, Axis axis) {
    const bool yaw = axis == Axis::yaw;
    const double u = yaw ? plan.aim.yaw_deg : plan.aim.pitch_deg;
    const double tolerance =
        yaw ? plan.bay.mount.tolerance_yaw_deg : plan.bay.mount.tolerance_pitch_deg;
    const DecisionPower power = yaw ? plan.yaw_power() : plan.pitch_power();
    AxisForecast forecast;
    forecast.title = yaw ? "Side-to-side aim" : "Up-down aim";
    forecast.term = yaw ? "yaw" : "pitch";
    forecast.spread = fmt::format("give or take {}", fine_words(2 * u));
    forecast.limit = limit_words(plan.bay.mount, axis);
    forecast.decides = !cannot_decide(u, tolerance);
    const std::string out =
        fmt::format("out of tolerance from {} off", fine_words(power.surely_out_from_deg()));
    if (const auto in = power.surely_in_to_deg()) {
        forecast.sure = fmt::format(
            "In 95 of 100 measurements it is called in tolerance where it "
            "is up to {} off, and {}. Between them expect 'too close to "
            "call'.",
            fine_words(*in), out);
    } else if (forecast.decides) {
        forecast.sure = fmt::format(
            "Even a mount that is straight on is not called in tolerance "
            "in 95 of 100 measurements; it is called {}.",
            out);
    } else {
        forecast.sure =
            fmt::format("No mount can be shown to be in tolerance; 95 of 100 are called {}.", out);
    }
    return forecast;
}

std::string plan_change(const BayPlan& plan) {
    return fmt::format(
        "What turning did is seen side to side within {}, up-down within {}, with upright "
        "photos alone ({} and {} with a full set again).",
        fine_words(2 * plan.change_upright.yaw_deg), fine_words(2 * plan.change_upright.pitch_deg),
        fine_words(2 * plan.change.yaw_deg), fine_words(2 * plan.change.pitch_deg));
}

std::string effort_words(int effort) {
    switch (effort) {
        case 1:
            return "minutes, once";
        case 2:
            return "minutes, each job";
        case 3:
            return "an hour, once";
        default:
            return "a day, or money";
    }
}

std::string plan_base(const BayPlan& plan) {
    const Floor& floor = plan.floor;
    if (floor.line_base_mm <= 0) {
        return "";
    }
    if (!floor.smallest_base_mm) {
        return "No line base serves: improve the rest first.";
    }
    return fmt::format(
        "Smallest line base that serves: {}; from {} on, the line adds less than a "
        "tenth to the give-or-take.",
        size(plan, *floor.smallest_base_mm), size(plan, *floor.ample_base_mm));
}

std::vector<std::string> plan_notes(const BayPlan& plan) {
    std::vector<std::string> notes;
    for (const auto& finding : plan.bay.assumed) {
        notes.push_back(finding.text);
    }
    for (const auto& finding : plan.stage.findings) {
        notes.push_back(in_shop_words(finding.text));
    }
    return notes;
}

std::string plan_text(const BayPlan& plan) {
    std::string text =
        fmt::format("{}: {}\n{}\n", plan.bay.name, plan_verdict(plan), plan_setting(plan));
    for (const Axis axis : {Axis::yaw, Axis::pitch}) {
        const AxisForecast one = plan_forecast(plan, axis);
        text += fmt::format("\n{} ({}): {}; {}\n  {}\n", one.title, one.term, one.spread, one.limit,
                            one.sure);
    }
    text += "\n" + plan_change(plan) + "\n\n" + plan_advice(plan) + "\n";
    text += "Where the error comes from (give or take)\n";
    text += budget_lines(plan, Axis::yaw) + budget_lines(plan, Axis::pitch);
    if (const std::string base = plan_base(plan); !base.empty()) {
        text += base + "\n";
    }
    for (const auto& note : plan_notes(plan)) {
        text += "NOTE: " + note + "\n";
    }
    return with_plain_spaces(text);
}

}  // namespace squaresight

#include "job/instruction.h"

#include <algorithm>

#include "job/closing_days.h"
#include "job/sensor_check.h"

namespace squaresight {
namespace {

bool disagree(const SightingResult& sighting) {
    const auto& methods = sighting.agreement;
    const auto is = [](const std::optional<Agreement>& axis) {
        return axis && axis->call == AgreementCall::disagree;
    };
    return methods && (is(methods->yaw) || is(methods->pitch));
}

bool recorded(const std::string& answer) { return answer == "yes" || !day_in(answer).empty(); }

std::optional<Finding> first_stop(const Findings& findings) {
    const auto found = std::find_if(findings.begin(), findings.end(),
                                    [](const Finding& one) { return one.level == Level::stop; });
    return found == findings.end() ? std::nullopt : std::optional(*found);
}

/// Findings of the job and of every stage, the last stage's before those of earlier ones.
Findings all_findings(const JobResult& result) {
    Findings findings = result.findings;
    for (auto sighting = result.sightings.rbegin(); sighting != result.sightings.rend();
         ++sighting) {
        const auto own = sighting->all_findings();
        findings.insert(findings.end(), own.begin(), own.end());
    }
    return findings;
}

Finding held_back(const char* code, const std::string& text) { return {Level::stop, code, text}; }

/// Why nothing may be turned now; nothing where turning, or leaving alone, is right.
std::optional<Finding> reason_to_hold(const JobResult& result) {
    if (result.sightings.empty()) {
        return held_back("not-measured", "nothing was measured.");
    }
    const SightingResult& sighting = result.sightings.back();
    const auto findings = sighting.all_findings();
    const auto doubt = first_with_code(findings, {"methods-disagree", "blunder"});
    if (const auto stop = first_stop(all_findings(result))) {
        // A screw's travel is not to blame while a reading may be.
        return stop->code == "beyond-travel" && doubt ? doubt : stop;
    }
    const AxisVerdicts* both = answering_verdicts(sighting);
    if (both == nullptr) {
        return held_back("not-measured",
                         "side-to-side aim and up-down aim were not both measured. Measure again.");
    }
    if (disagree(sighting)) {
        const auto& culprit = sighting.agreement->culprit;
        return held_back(
            "methods-disagree",
            "photos and tape disagree. " + (culprit.empty() ? "Measure both again." : culprit));
    }
    if (const auto open = first_with_code(findings, {"methods-disagree"})) {
        return open;
    }
    const bool surely_out =
        both->yaw.call == Call::out_of_tolerance || both->pitch.call == Call::out_of_tolerance;
    // While one of several readings is wrong, only a face that is out all the same is turned.
    const bool reading_open = sighting.vision && !sighting.vision->stage.suspects.empty();
    if (reading_open && doubt && !surely_out) {
        return doubt;
    }
    const auto loose = first_with_code(findings, {"cannot-decide"});
    if (loose && !surely_out) {
        return loose;
    }
    if (answer_is_yes(result)) {
        return std::nullopt;
    }
    if (!sighting.corrections) {
        const auto screw = first_with_code(all_findings(result), {"screw-reversed"});
        return screw ? screw
                     : held_back("cannot-correct",
                                 "check the mount profile; no turns could be worked out.");
    }
    return first_with_code(findings, {"screw-not-responding"});
}

bool turns_nothing(const CorrectionPlan& plan) {
    return std::none_of(plan.corrections.begin(), plan.corrections.end(),
                        [](const Correction& correction) { return correction.turns > 0; });
}

bool is_locked_as_left(const JobResult& result) {
    return !result.sightings.empty() && result.sightings.back().stage == "as-left" &&
           result.sheet.sightings.back().locked.value_or(false);
}

}  // namespace

std::vector<Correction> by_size(const CorrectionPlan& plan) {
    auto turns = plan.corrections;
    std::stable_sort(turns.begin(), turns.end(),
                     [](const Correction& a, const Correction& b) { return a.turns > b.turns; });
    return turns;
}

std::vector<OpenTask> open_tasks(const JobResult& result) {
    std::vector<OpenTask> open;
    for (const auto& [condition, answer] : unmet_conditions(result.sheet)) {
        open.push_back({Task::put_right, answer == "no" ? "" : answer, condition});
    }
    if (!is_locked_as_left(result)) {
        const bool as_left =
            !result.sightings.empty() && result.sightings.back().stage == "as-left";
        open.push_back({as_left ? Task::lock : Task::lock_and_measure});
    }
    const auto add = [&](Task task, const char* key) {
        const std::string answer = answer_to(result.sheet.closing, key);
        if (!recorded(answer) &&
            !(task == Task::electronic_calibration && answer == "not asked for")) {
            open.push_back({task, answer == "no" ? "" : answer});
        }
    };
    add(Task::clear_codes, "codes_cleared");
    add(Task::electronic_calibration, "electronic_calibration");
    add(Task::drive, "drive");
    if (has_active_codes(result.sheet)) {
        open.push_back({Task::active_codes, answer_to(result.sheet.closing, "codes_after")});
    } else if (answer_to(result.sheet.closing, "codes_after").empty()) {
        open.push_back({Task::read_codes});
    }
    bool noted = false;
    for (const Axis axis : {Axis::yaw, Axis::pitch}) {
        noted = noted || sensor_after_drive_deg(result.sheet, result.mount, axis);
        if (is_beyond_after_drive(result.sheet, result.mount, axis)) {
            open.push_back({Task::reading_beyond, "", nullptr, axis});
        }
    }
    if (!noted) {
        open.push_back({Task::note_reading});
    }
    return open;
}

namespace {

std::vector<std::string> without_repeats(const std::vector<std::vector<std::string>>& sets) {
    std::vector<std::string> names;
    for (const auto& set : sets) {
        for (const auto& name : set) {
            if (std::find(names.begin(), names.end(), name) == names.end()) {
                names.push_back(name);
            }
        }
    }
    return names;
}

}  // namespace

Instruction instruction_of(const JobResult& result) {
    Instruction instruction;
    if (!result.sightings.empty() && result.sightings.back().vision) {
        const AdjustedStage& stage = result.sightings.back().vision->stage;
        instruction.take_again = without_repeats(stage.suspects);
        instruction.nothing_checks = stage.inch_unchecked;
    }
    instruction.open = open_tasks(result);
    instruction.first = unmet_conditions(result.sheet);
    instruction.cause = reason_to_hold(result);
    if (instruction.cause) {
        return instruction;
    }
    if (!answer_is_yes(result)) {
        const CorrectionPlan& plan = *result.sightings.back().corrections;
        instruction.action = turns_nothing(plan) ? Action::measure_again : Action::turn;
        if (instruction.action == Action::turn) {
            instruction.turns = by_size(plan);
        }
    } else if (!is_locked_as_left(result)) {
        instruction.action = Action::lock;
    } else {
        instruction.action = instruction.open.empty() ? Action::done : Action::finish;
    }
    return instruction;
}

const char* action_text(Action action) {
    switch (action) {
        case Action::hold:
            return "hold";
        case Action::turn:
            return "turn";
        case Action::measure_again:
            return "measure again";
        case Action::lock:
            return "lock";
        case Action::finish:
            return "finish";
        case Action::done:
            break;
    }
    return "done";
}

const char* task_text(Task task) {
    switch (task) {
        case Task::put_right:
            return "put right";
        case Task::lock_and_measure:
            return "lock and measure as left";
        case Task::lock:
            return "lock";
        case Task::clear_codes:
            return "clear codes";
        case Task::electronic_calibration:
            return "electronic calibration";
        case Task::drive:
            return "drive";
        case Task::read_codes:
            return "read codes after the drive";
        case Task::active_codes:
            return "active codes";
        case Task::note_reading:
            return "note the sensor's reading";
        case Task::reading_beyond:
            break;
    }
    return "sensor's reading beyond the limit";
}

}  // namespace squaresight

#include "job/result.h"

#include <algorithm>

#include "job/headline.h"
#include "job/instruction.h"
#include "job/json_parts.h"

namespace squaresight {
namespace {

Json estimate_json(const Estimate& estimate) {
    return {{"value", number_json(estimate.value)},
            {"standard_uncertainty", number_json(estimate.standard_uncertainty)},
            {"expanded_95", number_json(estimate.expanded_95())}};
}

Json verdict_json(const Verdict& verdict) {
    return {{"call", call_text(verdict.call)}, {"probability", number_json(verdict.probability)}};
}

Json verdicts_json(const AxisVerdicts& verdicts) {
    return {{"yaw", verdict_json(verdicts.yaw)},
            {"pitch", verdict_json(verdicts.pitch)},
            {"probability", number_json(verdicts.probability)}};
}

Json photos_json(const std::vector<AdjustedPhoto>& photos) {
    Json list = Json::array();
    for (const auto& photo : photos) {
        list.push_back({{"file", photo.file},
                        {"corners", photo.corners},
                        {"rms_px", number_json(photo.rms_px)},
                        {"roll_deg", number_json(photo.roll_deg)}});
    }
    return list;
}

Json readings_json(const std::vector<CheckedReading>& readings) {
    Json list = Json::array();
    for (const auto& reading : readings) {
        list.push_back({{"name", reading.name},
                        {"value", number_json(reading.value)},
                        {"unit", reading.unit},
                        {"residual", number_json(reading.residual)},
                        {"w", number_json(reading.w)},
                        {"redundancy", number_json(reading.redundancy)},
                        {"findable", number_json(reading.findable)},
                        {"set_aside", reading.set_aside}});
    }
    return list;
}

Json change_json(const AdjustedStage& stage) {
    if (!stage.yaw_change_left_deg || !stage.pitch_change_up_deg) {
        return nullptr;
    }
    return {{"yaw_left_deg", estimate_json(*stage.yaw_change_left_deg)},
            {"pitch_up_deg", estimate_json(*stage.pitch_change_up_deg)}};
}

Json vision_json(const std::optional<VisionResult>& vision) {
    if (!vision) {
        return nullptr;
    }
    const AdjustedStage& stage = vision->stage;
    Json json;
    const bool solved = vision->solved;
    json["yaw_left_deg"] = solved ? estimate_json(stage.yaw_left_deg) : Json(nullptr);
    json["pitch_up_deg"] = solved ? estimate_json(stage.pitch_up_deg) : Json(nullptr);
    json["correlation"] = solved ? number_json(stage.correlation) : Json(nullptr);
    json["verdict"] = solved ? verdicts_json(vision->verdict) : Json(nullptr);
    json["photos"] = photos_json(stage.photos);
    json["cradle_offset"] = solved ? Json{{"left_deg", number_json(vision->cradle_offset_deg.x())},
                                          {"up_deg", number_json(vision->cradle_offset_deg.y())}}
                                   : Json(nullptr);
    json["change"] = change_json(stage);
    json["readings"] = readings_json(stage.readings);
    json["suspects"] = stage.suspects;
    json["budget"] = budget_json(stage.budget);
    json["findings"] = findings_json(stage.findings);
    return json;
}

Json tape_json(const std::optional<TapeResult>& tape) {
    if (!tape) {
        return nullptr;
    }
    const TapeOutcome& outcome = tape->outcome;
    const auto met = [](bool known, bool is_met) {
        return known ? Json(is_met ? "met" : "not met") : Json(nullptr);
    };
    Json json;
    json["yaw_left_deg"] = outcome.has_yaw ? estimate_json(outcome.yaw_left_deg) : Json(nullptr);
    json["pitch_up_deg"] = outcome.has_pitch ? estimate_json(outcome.pitch_up_deg) : Json(nullptr);
    const bool both = outcome.has_yaw && outcome.has_pitch;
    json["verdict"] = {
        {"yaw", outcome.has_yaw ? verdict_json(tape->verdict.yaw) : Json(nullptr)},
        {"pitch", outcome.has_pitch ? verdict_json(tape->verdict.pitch) : Json(nullptr)},
        {"probability", both ? number_json(tape->verdict.probability) : Json(nullptr)}};
    json["service_limit"] = {{"yaw", met(outcome.has_yaw, outcome.service_limit.yaw_met)},
                             {"pitch", met(outcome.has_pitch, outcome.service_limit.pitch_met)}};
    json["budget"] = budget_json(outcome.budget);
    json["findings"] = findings_json(outcome.findings);
    return json;
}

Json shared_json(const std::vector<SharedCause>& causes) {
    Json names = Json::array();
    for (const auto& cause : causes) {
        names.push_back(cause.name);
    }
    return names;
}

Json agreement_json(const std::optional<Agreement>& agreement) {
    if (!agreement) {
        return nullptr;
    }
    return {{"difference_deg", number_json(agreement->difference_deg)},
            {"expanded_95", number_json(agreement->expanded_95_deg)},
            {"en", number_json(agreement->en)},
            {"call", call_text(agreement->call)},
            {"shows_from_deg", number_json(agreement->shows_from_deg)},
            {"shared", shared_json(agreement->shared)}};
}

Json methods_json(const std::optional<MethodsResult>& methods) {
    if (!methods) {
        return nullptr;
    }
    return {{"yaw", agreement_json(methods->yaw)},
            {"pitch", agreement_json(methods->pitch)},
            {"culprit", methods->culprit.empty() ? Json(nullptr) : Json(methods->culprit)}};
}

Json corrections_json(const std::optional<CorrectionPlan>& plan) {
    Json list = Json::array();
    if (plan) {
        for (const auto& correction : plan->corrections) {
            list.push_back({{"screw", correction.screw},
                            {"turns", number_json(correction.turns)},
                            {"direction", correction.clockwise ? "clockwise" : "counter-clockwise"},
                            {"exact_turns", number_json(correction.exact_turns)},
                            {"uncertainty_turns", number_json(correction.uncertainty_turns)}});
        }
    }
    return list;
}

const char* call_text(RoundCall call) {
    switch (call) {
        case RoundCall::as_told:
            return "as told";
        case RoundCall::not_as_told:
            return "not as told";
        case RoundCall::too_few_turns:
            break;
    }
    return "too few turns to tell";
}

Json pair_json(const Pair& angles_deg) {
    return {{"yaw_left_deg", estimate_json(angles_deg.at(0))},
            {"pitch_up_deg", estimate_json(angles_deg.at(1))}};
}

Json response_json(const std::optional<RoundResult>& response) {
    if (!response) {
        return nullptr;
    }
    return {{"expected", pair_json(response->check.expected_deg)},
            {"actual", pair_json(response->check.actual_deg)},
            {"call", call_text(response->check.call)},
            {"learned", response->learned}};
}

/// Where the face should point once the corrections are made.
Json after_turns_json(const std::optional<CorrectionPlan>& plan, const Mount& mount) {
    if (!plan || plan->corrections.empty()) {
        return nullptr;
    }
    return {{"yaw_left_deg", estimate_json({mount.aim_yaw_left_deg + plan->remaining_yaw_left_deg,
                                            plan->remaining_yaw_uncertainty_deg})},
            {"pitch_up_deg", estimate_json({mount.aim_pitch_up_deg + plan->remaining_pitch_up_deg,
                                            plan->remaining_pitch_uncertainty_deg})}};
}

const char* call_text(SensorCall call) {
    switch (call) {
        case SensorCall::agrees:
            return "agrees";
        case SensorCall::differs:
            return "differs";
        case SensorCall::other_side:
            return "other side";
        case SensorCall::cannot_tell:
            break;
    }
    return "cannot tell";
}

Json sensor_json(const std::vector<SensorCheck>& checks) {
    Json json{{"yaw", nullptr}, {"pitch", nullptr}};
    for (const auto& check : checks) {
        json[check.axis == Axis::yaw ? "yaw" : "pitch"] = {
            {"sensor_deg", number_json(check.sensor_deg)},
            {"measured_deg", number_json(check.measured_deg.value)},
            {"allowed_deg", number_json(check.allowed_deg)},
            {"call", call_text(check.call)}};
    }
    return json;
}

Json instruction_json(const Instruction& instruction) {
    Json turns = Json::array();
    for (const auto& one : instruction.turns) {
        turns.push_back({{"screw", one.screw},
                         {"turns", number_json(one.turns)},
                         {"direction", one.clockwise ? "clockwise" : "counter-clockwise"},
                         {"may_be_left", one.may_be_left}});
    }
    Json open = Json::array();
    for (const auto& task : instruction.open) {
        open.push_back({{"task", task_text(task.task)},
                        {"condition", task.condition ? Json(task.condition->key) : Json(nullptr)},
                        {"written", task.written.empty() ? Json(nullptr) : Json(task.written)}});
    }
    return {{"action", action_text(instruction.action)},
            {"cause", instruction.cause ? Json(instruction.cause->code) : Json(nullptr)},
            {"turns", turns},
            {"take_again", instruction.take_again},
            {"nothing_checks", instruction.nothing_checks},
            {"open", open}};
}

Json sighting_json(const SightingResult& sighting, const Mount& mount) {
    Findings own = sighting.findings;
    if (sighting.corrections) {
        own.insert(own.end(), sighting.corrections->findings.begin(),
                   sighting.corrections->findings.end());
    }
    return {{"stage", sighting.stage},
            {"findings", findings_json(own)},
            {"vision", vision_json(sighting.vision)},
            {"tape_and_level", tape_json(sighting.tape_and_level)},
            {"agreement", methods_json(sighting.agreement)},
            {"response", response_json(sighting.response)},
            {"sensor", sensor_json(sighting.sensor)},
            {"corrections", corrections_json(sighting.corrections)},
            {"after_turns", after_turns_json(sighting.corrections, mount)}};
}

Json inputs_json(const std::vector<InputFile>& inputs) {
    Json list = Json::array();
    for (const auto& input : inputs) {
        list.push_back({{"file", input.name}, {"sha256", input.sha256}});
    }
    return list;
}

}  // namespace

Findings SightingResult::all_findings() const {
    Findings all = findings;
    const auto add = [&](const Findings& more) { all.insert(all.end(), more.begin(), more.end()); };
    if (vision) {
        add(vision->stage.findings);
    }
    if (tape_and_level) {
        add(tape_and_level->outcome.findings);
    }
    if (corrections) {
        add(corrections->findings);
    }
    return all;
}

std::optional<Finding> first_with_code(const Findings& findings,
                                       const std::vector<std::string>& codes) {
    const auto found = std::find_if(findings.begin(), findings.end(), [&](const Finding& one) {
        return std::find(codes.begin(), codes.end(), one.code) != codes.end();
    });
    return found == findings.end() ? std::nullopt : std::optional(*found);
}

bool answered_by_photos(const SightingResult& sighting) {
    return sighting.vision && sighting.vision->solved;
}

std::optional<Estimate> measured_angle(const SightingResult& sighting, Axis axis) {
    const bool yaw = axis == Axis::yaw;
    if (answered_by_photos(sighting)) {
        const AdjustedStage& stage = sighting.vision->stage;
        return yaw ? stage.yaw_left_deg : stage.pitch_up_deg;
    }
    if (!sighting.tape_and_level) {
        return std::nullopt;
    }
    const TapeOutcome& tape = sighting.tape_and_level->outcome;
    if (!(yaw ? tape.has_yaw : tape.has_pitch)) {
        return std::nullopt;
    }
    return yaw ? tape.yaw_left_deg : tape.pitch_up_deg;
}

const AxisVerdicts* answering_verdicts(const SightingResult& sighting) {
    if (answered_by_photos(sighting)) {
        return &sighting.vision->verdict;
    }
    const bool both = measured_angle(sighting, Axis::yaw) && measured_angle(sighting, Axis::pitch);
    return both ? &sighting.tape_and_level->verdict : nullptr;
}

bool answer_is_yes(const JobResult& result) {
    if (result.sightings.empty()) {
        return false;
    }
    bool stopped = has_stop(result.findings);
    for (const auto& sighting : result.sightings) {
        stopped = stopped || sighting.stopped();
    }
    const SightingResult& last = result.sightings.back();
    const bool disagree =
        std::any_of(last.findings.begin(), last.findings.end(),
                    [](const Finding& finding) { return finding.code == "methods-disagree"; });
    if (stopped || disagree) {
        return false;
    }
    if (last.vision) {
        return last.vision->solved && last.vision->verdict.passed();
    }
    return last.tape_and_level && last.tape_and_level->verdict.passed();
}

std::string result_json(const JobResult& result) {
    Json json;
    json["schema"] = "squaresight/result/1";
    json["job"] = result.sheet.job;
    json["program"] = "squaresight " SQUARESIGHT_VERSION;
    json["inputs"] = inputs_json(result.inputs);
    json["headline"] = headline_text(headline_of(result));
    json["instruction"] = instruction_json(instruction_of(result));
    json["findings"] = findings_json(result.findings);
    json["sightings"] = Json::array();
    for (const auto& sighting : result.sightings) {
        json["sightings"].push_back(sighting_json(sighting, result.mount));
    }
    // Texts come from files: bytes that are no UTF-8 are replaced, not thrown at the user.
    return json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

const char* call_text(Call call) {
    switch (call) {
        case Call::in_tolerance:
            return "in tolerance";
        case Call::out_of_tolerance:
            return "out of tolerance";
        case Call::too_close_to_call:
            break;
    }
    return "too close to call";
}

const char* call_text(AgreementCall call) {
    switch (call) {
        case AgreementCall::agree:
            return "agree";
        case AgreementCall::disagree:
            return "disagree";
        case AgreementCall::cannot_tell:
            break;
    }
    return "cannot tell";
}

const char* level_text(Level level) {
    switch (level) {
        case Level::note:
            return "note";
        case Level::warning:
            return "warning";
        case Level::stop:
            break;
    }
    return "stop";
}

}  // namespace squaresight

#include "job/tapes.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "job/getting_ready.h"
#include "job/words.h"
#include "units/error.h"
#include "units/quantity.h"

namespace squaresight {
namespace {

constexpr double rail_zero_limit_deg = 0.1;  ///< where the job sheet gives no setup
/// An inclinometer that reads the same each time still rounds, to steps of 0.1 deg (common
/// practice, no source): 0.1 / sqrt(12).
constexpr double least_own_deg = 0.029;

const BudgetLine& largest(const std::vector<BudgetLine>& budget, double BudgetLine::*share) {
    return *std::max_element(
        budget.begin(), budget.end(),
        [&](const BudgetLine& a, const BudgetLine& b) { return a.*share < b.*share; });
}

void add_if_too_wide(const Estimate& angle, double tolerance_deg, Axis axis,
                     const std::string& improve, Findings& findings) {
    if (!cannot_decide(angle.standard_uncertainty, tolerance_deg)) {
        return;
    }
    findings.push_back(
        {Level::warning, "cannot-decide",
         fmt::format("tape and level cannot show the {} within {}, {}: better first '{}', or "
                     "measure by photos",
                     axis_words(axis), angle_words(tolerance_deg),
                     give_or_take(angle.expanded_95()), improve)});
}

}  // namespace

std::vector<std::optional<TapeAndLevel>> tape_readings(const JobSheet& sheet) {
    std::vector<std::optional<TapeAndLevel>> all;
    Reading rail_zero{0, standard_from_limit(rail_zero_limit_deg), false};
    double line_deg = unmeasured_setup().readings.line_left_deg.standard_uncertainty;
    for (const auto& sighting : sheet.sightings) {
        if (sighting.setup) {
            const Setup& setup = sighting.setup->readings;
            rail_zero = setup.rail_zero_deg;
            line_deg = std::hypot(setup.line_left_deg.standard_uncertainty, setup.rail_bow_deg);
        }
        all.push_back(sighting.tape_and_level);
        if (all.back()) {
            all.back()->unit = sheet.unit;
            all.back()->line_deg = line_deg;
            all.back()->rail_zero_deg = rail_zero.value;
            all.back()->rail_zero_limit_deg =
                rail_zero.standard_uncertainty / standard_from_limit(1);
        }
    }
    return all;
}

std::vector<double> turns_after(const JobSheet& sheet, const SheetSighting& sighting,
                                const Mount& mount) {
    std::vector<std::string> names;
    for (const auto& screw : mount.screws) {
        names.push_back(screw.name);
    }
    std::vector<double> turns(names.size(), 0.0);
    for (const auto& [name, clockwise] : sighting.turned_clockwise) {
        const auto found = std::find(names.begin(), names.end(), name);
        if (found == names.end()) {
            throw InputError(sheet.file.string() + ": turned." + name,
                             "the mount has no such screw",
                             fmt::format("did you mean '{}'?", nearest_name(name, names)));
        }
        turns[static_cast<std::size_t>(found - names.begin())] += clockwise;
    }
    return turns;
}

TapeResult reduce_tape(const TapeAndLevel& readings, const Mount& mount) {
    TapeResult result{
        readings, solve_tape(readings, mount.aim_yaw_left_deg, mount.aim_pitch_up_deg), {}};
    const TapeOutcome& outcome = result.outcome;
    result.verdict = decide_both(outcome.yaw_left_deg, outcome.pitch_up_deg, 0,
                                 mount.limits(Axis::yaw), mount.limits(Axis::pitch));
    if (has_stop(outcome.findings)) {
        result.verdict = withheld(result.verdict);
    }
    return result;
}

Witness witness_of(const TapeResult& tape) {
    const TapeOutcome& outcome = tape.outcome;
    Witness witness;
    if (outcome.has_yaw) {
        witness.yaw_left = {outcome.yaw_left_deg.value, outcome.yaw_shares.own_deg,
                            outcome.yaw_shares.common_deg,
                            tape.readings.squared_by == SquaredBy::line, false};
    }
    if (outcome.has_pitch) {
        witness.pitch_up = {outcome.pitch_up_deg.value,
                            std::max(outcome.pitch_shares.own_deg, least_own_deg),
                            outcome.pitch_shares.common_deg, false, true};
    }
    return witness;
}

Findings tape_cannot_decide(const TapeOutcome& outcome, const Mount& mount) {
    Findings findings;
    if (outcome.has_yaw) {
        add_if_too_wide(outcome.yaw_left_deg, mount.tolerance_yaw_deg, Axis::yaw,
                        largest(outcome.budget, &BudgetLine::yaw_deg).source, findings);
    }
    if (outcome.has_pitch) {
        add_if_too_wide(outcome.pitch_up_deg, mount.tolerance_pitch_deg, Axis::pitch,
                        largest(outcome.budget, &BudgetLine::pitch_deg).source, findings);
    }
    return findings;
}

JobResult measure_tapes(const JobSheet& sheet, const Mount& mount) {
    JobResult result;
    result.sheet = sheet;
    result.sheet.sightings.clear();
    result.mount = mount;
    result.findings = preliminary_findings(sheet, mount);
    std::vector<double> net_clockwise(mount.screws.size(), 0);
    const auto readings = tape_readings(sheet);
    for (std::size_t i = 0; i < readings.size(); ++i) {
        const SheetSighting& sighting = sheet.sightings[i];
        if (readings[i]) {
            SightingResult stage;
            stage.stage = sighting.stage;
            stage.tape_and_level = reduce_tape(*readings[i], mount);
            const TapeOutcome& outcome = stage.tape_and_level->outcome;
            stage.findings = tape_cannot_decide(outcome, mount);
            if (outcome.has_yaw && outcome.has_pitch && !mount.screws.empty()) {
                stage.corrections = plan_correction(mount, outcome.yaw_left_deg,
                                                    outcome.pitch_up_deg, 0, net_clockwise);
            }
            result.sightings.push_back(std::move(stage));
            result.sheet.sightings.push_back(sighting);
        }
        const auto turned = turns_after(sheet, sighting, mount);
        for (std::size_t screw = 0; screw < turned.size(); ++screw) {
            net_clockwise[screw] += turned[screw];
        }
    }
    if (result.sightings.empty()) {
        throw InputError(sheet.file.string(), "has no tape_and_level at any stage",
                         "add what tape and inclinometer read, or use 'squaresight measure'");
    }
    return result;
}

}  // namespace squaresight

#include "report/summary.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>
#include <utility>

#include "job/instruction.h"
#include "job/words.h"
#include "report/report.h"
#include "tape/service_rule.h"
#include "units/quantity.h"

namespace squaresight {

namespace {

const SightingResult* last_sighting(const JobResult& result) {
    return result.sightings.empty() ? nullptr : &result.sightings.back();
}

/// A stop of any stage holds for the whole job: its cause is still there until it is measured anew.
bool stopped(const JobResult& result) {
    return has_stop(result.findings) ||
           std::any_of(result.sightings.begin(), result.sightings.end(),
                       [](const auto& sighting) { return sighting.stopped(); });
}

/// "the side screw 1 1/2 turns clockwise, then the upper screw 1/4 turn counter-clockwise".
std::string turns_sentence(const std::vector<Correction>& turns) {
    std::vector<std::string> parts;
    for (const auto& correction : turns) {
        if (correction.turns > 0) {
            parts.push_back("the " + correction.screw + " screw " + turns_words(correction));
        }
    }
    return joined(parts, ", then ");
}

std::string capitalised(std::string text) {
    if (!text.empty()) {
        text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
    }
    return text;
}

/// "1.06 deg to the right (give or take 0.07 deg) and 0.71 deg up (give or take 0.07 deg)".
std::string move_words(const Pair& change_deg) {
    const auto words = [&](int index, const char* plus, const char* minus) {
        const Estimate one = change_deg.at(index);
        return fmt::format("{} {} ({})", angle_words(one.value), one.value < 0 ? minus : plus,
                           give_or_take(one.expanded_95()));
    };
    return words(0, "to the left", "to the right") + " and " + words(1, "up", "down");
}

/// Where a screw is to go the other way than last time, its turns hold the play of the thread.
std::vector<std::string> play_sentences(const CorrectionPlan& plan) {
    std::vector<std::string> sentences;
    for (const auto& one : plan.corrections) {
        const int eighths = static_cast<int>(std::lround(8 * one.play_turns));
        if (one.turns > 0 && eighths > 0) {
            sentences.push_back(fmt::format(
                "The {} screw goes the other way than last time: {} of its turns takes up the play "
                "in the thread. Finish in the direction told.",
                one.screw, eighths_text(eighths)));
        }
    }
    return sentences;
}

/// What is said of the last round before more is turned.
std::vector<std::string> doubts_about_last_turns(const SightingResult& sighting) {
    const auto doubt = first_with_code(sighting.findings,
                                       {"screws-swapped", "turns-not-made", "turns-unexplained"});
    return doubt ? std::vector<std::string>{"First: " + doubt->text + "."}
                 : std::vector<std::string>{};
}

/// "clear the codes", or with what was written instead of an answer.
std::string with_written(const std::string& item, const std::string& written) {
    return written.empty() ? item : item + " (written: " + written + ")";
}

std::string points_words(Axis axis, double angle_deg) {
    return axis == Axis::yaw ? side_words(angle_deg) : nose_words(angle_deg);
}

std::string task_words(const OpenTask& task, const JobResult& result) {
    const auto& mount = result.mount;
    switch (task.task) {
        case Task::put_right:
            return with_written(std::string("put right: ") + task.condition->name, task.written);
        case Task::lock_and_measure:
            return "lock the screws and measure as left";
        case Task::lock:
            return "lock the screws";
        case Task::clear_codes:
            return with_written("clear the codes", task.written);
        case Task::electronic_calibration:
            return with_written("the maker's electronic calibration where asked for", task.written);
        case Task::drive:
            return with_written("the drive", task.written);
        case Task::read_codes:
            return "read the codes after the drive";
        case Task::active_codes:
            return with_written("faults still active after the drive", task.written);
        case Task::note_reading:
            return "note the sensor's own reading after the drive";
        case Task::reading_beyond:
            break;
    }
    return fmt::format(
        "the sensor reads {} after the drive, limit {}",
        points_words(task.axis, *sensor_after_drive_deg(result.sheet, mount, task.axis)),
        angle_words(mount.tolerance_deg(task.axis)));
}

/// Readings in shop words, no more than are read at a glance; the findings name them all.
std::string few_readings(const std::vector<std::string>& names) {
    constexpr std::size_t few = 3;
    std::vector<std::string> words;
    for (const auto& name : names) {
        if (words.size() < few) {
            words.push_back(in_shop_words(name));
        }
    }
    return joined(words, "; ");
}

/// What was answered with no in getting ready: it is put right before anything else.
std::string first_of_all(const Instruction& instruction) {
    std::string sentences;
    for (const auto& [condition, answer] : instruction.first) {
        sentences += with_written(condition->not_so, answer == "no" ? "" : answer) + ". " +
                     condition->remedy + " ";
    }
    return sentences;
}

/// Readings to be taken again, before or after what else the first line asks for.
std::string readings_sentence(const Instruction& instruction) {
    std::string text;
    if (!instruction.take_again.empty()) {
        text += fmt::format("Take again: {}. {} wrong, and nothing is proven until then. ",
                            few_readings(instruction.take_again),
                            instruction.take_again.size() > 1 ? "One of them is" : "It is");
    }
    if (!instruction.nothing_checks.empty()) {
        text += fmt::format("Nothing checks: {}. Tape again. ",
                            few_readings(instruction.nothing_checks));
    }
    return text;
}

/// What the first line leaves open, beside what it begins with.
std::string open_sentence(const Instruction& instruction, const JobResult& result) {
    std::vector<std::string> open;
    for (const auto& task : instruction.open) {
        if (task.task != Task::put_right) {
            open.push_back(task_words(task, result));
        }
    }
    return open.empty() ? "" : " Still open: " + joined(open, "; ") + ".";
}

/// Why a screw is turned whose angle is in tolerance as it is.
std::vector<std::string> needless_turns(const CorrectionPlan& plan, const Mount& mount) {
    std::vector<std::string> sentences;
    for (std::size_t i = 0; i < plan.corrections.size(); ++i) {
        const Correction& one = plan.corrections[i];
        if (one.turns > 0 && one.aim_in_tolerance) {
            sentences.push_back(fmt::format(
                "The {} is in tolerance as it is. {}", axis_words(mount.screws.at(i).turns),
                one.may_be_left
                    ? fmt::format("You may leave the {} screw: turning it brings the face nearer "
                                  "to the middle of the limit.",
                                  one.screw)
                    : fmt::format("The {} screw is turned too: without it the other screw's turns "
                                  "would not bring both angles right.",
                                  one.screw)));
        }
    }
    return sentences;
}

/// A rule of the trade beside the limit of the mount.
std::string rule_beside_limit(double rule_deg, double limit_deg) {
    return fmt::format(" This mount's limit is {}{}.", angle_words(limit_deg),
                       rule_deg > limit_deg ? ", tighter than the rule: go by the limit" : "");
}

std::string sure_sentence(const Verdict& verdict) {
    const std::string sure = sure_words(verdict.probability, verdict.call);
    return verdict.call == Call::out_of_tolerance
               ? fmt::format("{}: {} that it is outside the limit", sure,
                             percent_words(1 - verdict.probability))
               : fmt::format("{}: {} that it is within the limit", sure,
                             percent_words(verdict.probability));
}

std::string axis_agreement(const Agreement& agreement, Axis axis) {
    const std::string differ = "they differ by " + angle_words(agreement.difference_deg);
    const std::string could = angle_words(agreement.expanded_95_deg);
    const std::string name = axis_words(axis);
    switch (agreement.call) {
        case AgreementCall::agree:
            return fmt::format("Photos and tape AGREE on {}: {}; up to {} is to be expected.", name,
                               differ, could);
        case AgreementCall::disagree:
            return fmt::format(
                "Photos and tape DISAGREE on {}: {}, more than the {} to be expected.", name,
                differ, could);
        case AgreementCall::cannot_tell:
            break;
    }
    return fmt::format(
        "Photos and tape on {}: CANNOT TELL; {}, but only more than {} would show a mistake.", name,
        differ, could);
}

/// What the comparison would have shown, and what it cannot show at all.
std::string power_of(const Agreement& agreement, Axis axis) {
    std::vector<std::string> names;
    for (const auto& cause : agreement.shared) {
        names.push_back(cause.name);
    }
    std::string text = fmt::format("An error of {} or more in the {} would have shown.",
                                   angle_words(agreement.shows_from_deg), axis_words(axis));
    if (!names.empty()) {
        text += fmt::format(" Both methods share, and cannot show: {}.", joined(names, ", "));
    }
    return text;
}

}  // namespace

std::string joined(const std::vector<std::string>& parts, const std::string& between) {
    return fmt::format("{}", fmt::join(parts, between));
}

FirstLine first_line(const JobResult& result) {
    const Instruction now = instruction_of(result);
    const std::string first =
        now.action == Action::hold ? "" : first_of_all(now) + readings_sentence(now);
    switch (now.action) {
        case Action::hold:
            return {Mark::stop, "STOP", "Do not turn anything: " + in_shop_words(now.cause->text)};
        case Action::turn:
            return {Mark::turn, "DO THIS",
                    first +
                        (last_sighting(result)->stage == "as-left" ? "Loosen the locking and turn "
                                                                   : "Turn ") +
                        turns_sentence(now.turns) + ". Then measure again."};
        case Action::measure_again:
            return {Mark::unsure, "DO THIS",
                    first +
                        "Turn nothing: the aim is nearer than 1/8 turn. It is not proven to be "
                        "within the limit, so measure again with less give or take."};
        case Action::lock:
            return {
                Mark::leave, "LOCK THE SCREWS",
                first + "The mount is in tolerance: turn nothing." + open_sentence(now, result)};
        case Action::finish:
            return {
                Mark::leave, "NOT READY",
                first + "The mount is in tolerance: turn nothing." + open_sentence(now, result)};
        case Action::done:
            break;
    }
    return {Mark::ok, "DONE",
            first +
                "The mount is in tolerance and nothing is open: locking, codes, electronic "
                "calibration and drive are recorded."};
}

std::string do_this_line(const JobResult& result) { return first_line(result).text; }

bool turns_wanted(const JobResult& result) {
    const Action action = instruction_of(result).action;
    return action == Action::turn || action == Action::measure_again;
}

std::optional<AxisAnswer> axis_answer(const JobResult& result, const SightingResult& sighting,
                                      Axis axis) {
    const auto angle = measured_angle(sighting, axis);
    if (!angle) {
        return std::nullopt;
    }
    const auto& both =
        answered_by_photos(sighting) ? sighting.vision->verdict : sighting.tape_and_level->verdict;
    const auto& verdict = axis == Axis::yaw ? both.yaw : both.pitch;
    const auto& mount = result.mount;
    AxisAnswer answer;
    answer.points = points_words(axis, angle->value);
    answer.should_point = points_words(axis, mount.aim_deg(axis)) + ", " + limit_words(mount, axis);
    answer.give_or_take = give_or_take(angle->expanded_95()) + " (at least 95 %)";
    if (stopped(result)) {
        answer.call = "no verdict";
        answer.sure = "not sure: under a STOP do not act on this number";
        return answer;
    }
    answer.mark = verdict.call == Call::in_tolerance       ? Mark::ok
                  : verdict.call == Call::out_of_tolerance ? Mark::turn
                                                           : Mark::unsure;
    answer.call = call_text(verdict.call);
    answer.sure = sure_sentence(verdict);
    return answer;
}

std::string stage_words(const JobResult& result, std::size_t index) {
    const auto& stage = result.sightings.at(index).stage;
    if (stage == "as-found") {
        return "as found";
    }
    if (stage == "as-left") {
        return "as left";
    }
    int turn = 0;
    for (std::size_t i = 0; i <= index; ++i) {
        turn += result.sightings[i].stage == stage ? 1 : 0;
    }
    return stage == "adjusted" ? fmt::format("after turn {}", turn) : stage;
}

const char* level_words(Level level) {
    switch (level) {
        case Level::stop:
            return "STOP";
        case Level::warning:
            return "WARNING";
        case Level::note:
            break;
    }
    return "NOTE";
}

bool asks_for_reading(const Finding& finding) {
    return finding.code == "blunder" || finding.code == "unchecked-reading" ||
           finding.code == "not-measured";
}

std::vector<PlacedFinding> placed_findings(const JobResult& result) {
    std::vector<PlacedFinding> placed;
    const auto place = [&](const Finding& finding, const std::string& stage) {
        for (auto& other : placed) {
            if (other.finding.code == finding.code && other.finding.text == finding.text) {
                if (!stage.empty() && !other.stages.empty()) {
                    other.stages += ", " + stage;
                }
                return;
            }
        }
        placed.push_back({finding, stage});
    };
    for (const auto& finding : result.findings) {
        place(finding, "");
    }
    for (std::size_t i = 0; i < result.sightings.size(); ++i) {
        for (const auto& finding : result.sightings[i].all_findings()) {
            place(finding, stage_words(result, i));
        }
    }
    for (auto& one : placed) {
        one.finding.text = in_shop_words(one.finding.text);
    }
    std::stable_sort(placed.begin(), placed.end(), [](const auto& a, const auto& b) {
        return a.finding.level > b.finding.level;
    });
    return placed;
}

std::vector<std::string> open_items(const JobResult& result) {
    std::vector<std::string> open;
    for (const auto& task : open_tasks(result)) {
        open.push_back(task_words(task, result));
    }
    return open;
}

std::vector<std::string> unready_items(const JobResult& result) {
    std::vector<std::string> open;
    for (const auto& condition : ready_conditions()) {
        if (condition.expected && answer_to(result.sheet.ready, condition.key).empty()) {
            open.push_back(std::string(condition.name) + ": not recorded");
        }
    }
    return open;
}

std::vector<std::string> agreement_sentences(const SightingResult& sighting) {
    std::vector<std::string> sentences;
    if (!sighting.agreement) {
        return sentences;
    }
    const auto add = [&](const std::optional<Agreement>& agreement, Axis axis) {
        if (agreement) {
            sentences.push_back(axis_agreement(*agreement, axis));
            sentences.push_back(power_of(*agreement, axis));
        }
    };
    add(sighting.agreement->yaw, Axis::yaw);
    add(sighting.agreement->pitch, Axis::pitch);
    return sentences;
}

std::vector<std::string> service_limit_sentences(const JobResult& result,
                                                 const SightingResult& sighting) {
    std::vector<std::string> sentences;
    if (!sighting.tape_and_level) {
        return sentences;
    }
    const auto& outcome = sighting.tape_and_level->outcome;
    const auto& limit = outcome.service_limit;
    const LengthUnit unit = sighting.tape_and_level->readings.unit;
    if (outcome.has_yaw && !sighting.tape_and_level->readings.passes.empty()) {
        sentences.push_back(
            fmt::format("Service limit {} side to side: tapes differ by {}; allowed {} ({}).",
                        limit.yaw_met ? "MET" : "NOT MET",
                        shown_difference(service_difference_mm(sighting.tape_and_level->readings,
                                                               result.mount.aim_yaw_left_deg),
                                         unit),
                        shown_difference(mm_per_inch / 8, unit),
                        angle_words(limit.yaw_equivalent_deg)) +
            (has_close_point(sighting.tape_and_level->readings)
                 ? fmt::format(" The rule is for points {} out or more; these are closer.",
                               bumper_length(close_point_mm, unit))
                 : "") +
            rule_beside_limit(limit.yaw_equivalent_deg, result.mount.tolerance_yaw_deg));
    }
    if (outcome.has_pitch) {
        sentences.push_back(fmt::format("Service limit {} up-down (within {:g} deg).",
                                        limit.pitch_met ? "MET" : "NOT MET", service_pitch_deg) +
                            rule_beside_limit(service_pitch_deg, result.mount.tolerance_pitch_deg));
    }
    return sentences;
}

std::vector<std::string> sensor_sentences(const SightingResult& sighting) {
    std::vector<std::string> sentences;
    for (const auto& check : sighting.sensor) {
        const char* call = check.call == SensorCall::agrees    ? "They agree."
                           : check.call == SensorCall::differs ? "They do NOT agree."
                           : check.call == SensorCall::other_side
                               ? "They point to OPPOSITE sides."
                               : "Whether they agree cannot be told.";
        sentences.push_back(
            fmt::format("The sensor reads {}, measured was {}: {} apart, up to {} is to be "
                        "expected. {}",
                        points_words(check.axis, check.sensor_deg),
                        points_words(check.axis, check.measured_deg.value),
                        angle_words(check.sensor_deg - check.measured_deg.value),
                        angle_words(check.allowed_deg), call));
        if (check.table_turns_clockwise) {
            sentences.push_back(
                fmt::format("For this reading the service table turns the {} screw {}.",
                            check.screw, turns_words(*check.table_turns_clockwise)));
        }
    }
    return sentences;
}

std::vector<std::string> turning_advice(const JobResult& result, const SightingResult& sighting) {
    if (instruction_of(result).action != Action::turn) {
        return {};
    }
    const auto& plan = *sighting.corrections;
    const auto& mount = result.mount;
    auto advice = doubts_about_last_turns(sighting);
    for (const auto& sentence : needless_turns(plan, mount)) {
        advice.push_back(sentence);
    }
    advice.push_back("Clockwise is as seen facing the screw's head.");
    for (const auto& sentence : play_sentences(plan)) {
        advice.push_back(sentence);
    }
    advice.push_back(
        "If you pass the mark: go back past it by 1/4 turn and come up to it again in the same "
        "direction, so that the play in the thread is always taken up the same way.");
    advice.push_back("After these turns it should point " +
                     aim_words(mount.aim_yaw_left_deg + plan.remaining_yaw_left_deg,
                               mount.aim_pitch_up_deg + plan.remaining_pitch_up_deg) +
                     fmt::format(" (side to side {}, up-down {}).",
                                 give_or_take(2 * plan.remaining_yaw_uncertainty_deg),
                                 give_or_take(2 * plan.remaining_pitch_uncertainty_deg)));
    return advice;
}

std::vector<std::string> response_sentences(const JobResult& result) {
    std::vector<std::string> sentences;
    for (std::size_t i = 0; i < result.sightings.size(); ++i) {
        const auto& response = result.sightings[i].response;
        if (!response) {
            continue;
        }
        std::string sentence = fmt::format(
            "{}: the turns should have moved it {}; they moved it {}.",
            capitalised(stage_words(result, i)), move_words(response->check.expected_deg),
            move_words(response->check.actual_deg));
        if (response->check.call == RoundCall::not_as_told) {
            sentence += " Not as they should: nothing was learned from it.";
        } else if (response->learned) {
            sentence += " As they should: further turns are worked out from this.";
        }
        sentences.push_back(sentence);
    }
    return sentences;
}

std::string photo_words(const SightingResult& sighting, const PhotoResult& photo) {
    std::string words =
        std::filesystem::path(photo.file).filename().string() + ": " +
        (photo.sight.corners.empty() ? std::string("board not found")
                                     : fmt::format("{} corners", photo.sight.corners.size()));
    if (!answered_by_photos(sighting)) {
        return words;
    }
    for (const auto& adjusted : sighting.vision->stage.photos) {
        if (adjusted.file == photo.file) {
            const double roll = std::abs(adjusted.roll_deg);
            words += fmt::format(", phone {}, roll {:.0f} deg",
                                 roll < 45    ? "upright"
                                 : roll > 135 ? "upside down"
                                              : "turned",
                                 roll);
        }
    }
    return words;
}

std::vector<std::string> source_sentences(const JobResult& result) {
    const auto dated = [](const std::string& name, const std::string& date) {
        return name + (date.empty() ? std::string(", no date") : ", " + date);
    };
    std::vector<std::string> sentences{
        "Limits and screws: mount " + result.mount.name + ", " +
        (result.mount.source.empty()
             ? "no source given. Its limits are UNPROVEN: check them with the vehicle maker."
             : "from " + result.mount.source + ".")};
    if (!result.mount.tolerance_stated) {
        sentences.push_back(fmt::format(
            "The mount states no limits: {} side to side and {} up-down are common practice, no "
            "source.",
            angle_words(result.mount.tolerance_yaw_deg),
            angle_words(result.mount.tolerance_pitch_deg)));
    }
    if (result.rounds_from_history > 0) {
        sentences.push_back(fmt::format(
            "Turns: worked out from what {} {} of other jobs showed of this mount.",
            result.rounds_from_history, result.rounds_from_history == 1 ? "round" : "rounds"));
    }
    if (result.camera) {
        sentences.push_back("Phone check: " + dated(result.camera->name, result.camera->date) +
                            (result.camera->covariance_given ? "." : ", typed in."));
    }
    if (result.target) {
        sentences.push_back("Board: " + result.target->name +
                            (result.target->print_checked
                                 ? ", print checked " + result.target->checked_on + "."
                                 : ", print NOT CHECKED."));
    }
    if (result.cradle) {
        sentences.push_back("Cradle: " + dated(result.cradle->name, result.cradle->date) + ".");
    }
    sentences.push_back("Program: Squaresight " SQUARESIGHT_VERSION ".");
    return sentences;
}

std::vector<std::string> shared_by_both(const JobResult& result) {
    bool both = false;
    double rail_zero_limit_deg = 0;
    for (const auto& sighting : result.sightings) {
        if (sighting.agreement && sighting.tape_and_level) {
            both = true;
            const auto& readings = sighting.tape_and_level->readings;
            rail_zero_limit_deg = std::max(rail_zero_limit_deg, readings.rail_zero_limit_deg);
        }
    }
    if (!both) {
        return {};
    }
    return {
        fmt::format("The zero of the level on the rail (taken as good to {:.2g} deg): an error of "
                    "it turns both up-down answers alike.",
                    rail_zero_limit_deg),
        "The face itself: cradle and laser both sit on it, so dirt, a dent or a loose face "
        "misleads both.",
        "How the truck stood: soft tyres, ride height not settled or a twisted frame are in both.",
        "Limits, aim and screws of the mount: both are held against the same ones."};
}

const std::vector<std::string>& cautions_at_the_truck() {
    static const std::vector<std::string> list{
        "Vehicle secured, wheels chocked, engine off, key out.",
        "Hot and moving parts: let them cool, keep hands and cloth clear.",
        "Laser: never toward eyes, mirrors or chrome.",
    };
    return list;
}

const std::vector<std::string>& cautions_of_the_answer() {
    static const std::vector<std::string> list{
        "Driver-assistance functions stay suspect until codes are cleared, the maker's electronic "
        "calibration is done where asked for, and the drive is made.",
        "The vehicle maker's service information, local codes and licensed practice come first.",
        "This squares the mount. It is not the maker's electronic calibration.",
    };
    return list;
}

}  // namespace squaresight

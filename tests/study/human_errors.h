#pragma once
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "study/jobs.h"

/// Which human errors are found, from which size, and what the others do: each error is put into
/// jobs whose twins, drawn from the same numbers, have none.
namespace squaresight::study {

/// What names an error rightly: a reading among those that may be wrong (names begin with one of
/// these), a finding code that means just this, a word that a finding's text holds, or the entry
/// for which the sheet was refused.
struct RightNames {
    std::vector<std::string> readings = {};
    std::set<std::string> codes = {};
    std::string word = {};
    std::string refused_entry = {};
};

/// The name that the adjustment gives a tape of the setup.
inline std::string tape_name(const SheetTape& tape) {
    return "tape " + tape.from.name + " to " + tape.to.name;
}

inline std::vector<std::string> tape_names(const Bay& bay) {
    std::vector<std::string> names;
    for (const auto& tape : bay.setup.tapes) {
        names.push_back(tape_name(tape));
    }
    return names;
}

/// The readings that go by the place of an error.
inline std::vector<std::string> readings_at(const std::string& place, const Bay& bay) {
    const auto tapes = tape_names(bay);
    if (place == "tape_1" || place == "tape_2") {
        return {tapes.at(place == "tape_1" ? 0 : 1)};
    }
    if (place == "tapes") {
        return tapes;
    }
    const bool of_passes = place.find("pass") != std::string::npos || place.ends_with("_point");
    return {of_passes ? "passes" : place};
}

inline RightNames right_names(const HumanError& error, const Bay& bay) {
    using enum Mistake;
    switch (error.mistake) {
        case sixteenth_misread:
        case inch_misread:
        case feet_for_inches:
        case inches_for_mm:
        case left_right_swapped:
        case nose_sign_swapped:
        case degree_misread: {
            RightNames names{.readings = readings_at(error.place, bay),
                             .refused_entry = error.place};
            if (error.place == "distance") {
                names.codes = {"distance-mismatch"};
            } else if (names.readings.front() == "passes") {
                names.codes = {"tape-scatter", "tape-implausible", "tape-points-unequal"};
            }
            return names;
        }
        case board_off_line:
            return {.readings = {"target_left"}};
        case wrong_line:
            return {.readings = {"line"}};
        case rail_zero_place:
            return {.readings = {"rail_zero"}};
        case bumper_unsquare:
            return {.readings = {"passes"}, .word = "bumper"};
        case tape_point_elsewhere:
            return {.readings = tape_names(bay)};
        case board_on_head:
            return {.codes = {"target-turned"}};
        case print_scale:
            return {.codes = {"distance-mismatch"}};
        case wrong_camera_file:
        case wrong_lens:
        case zoom:
            return {.codes = {"distance-mismatch", "camera-mismatch", "photo-zoomed"}};
        case cradle_labels:
            return {.codes = {"cradle-labels"}};
        case cradle_knocked:
            return {.codes = {"cradle-moved", "cradle-unseated"}};
        case cradle_not_seated:
            return {.codes = {"cradle-unseated"}};
        case truck_moved:
            return {.codes = {"setup-moved", "inconsistent"}};
        case wrong_photo:
            return {.codes = {"photo-reused", "photo-order"}};
        case wrong_screw:
            return {.codes = {"screws-swapped"}};
        case wrong_way:
        case clockwise_sense:
            return {.codes = {"screw-reversed"}};
        case half_turned:
            return {.codes = {"turns-not-made", "screw-not-responding"}};
        case wrong_mount_profile:
            return {.codes = {"turns-not-made", "screws-swapped", "screw-reversed"}};
    }
    return {};
}

/// What became of one error of one size.
struct ErrorOutcome {
    HumanError error;
    int jobs = 0, found = 0, named = 0, harmless = 0, told_unchecked = 0;
    int found_yet_wrong = 0;  ///< found, with an angle that is off by more than 2 u all the same
    std::map<std::string, int> said;  ///< codes that the twin does not have, by job
    double worst_yaw_deg = 0;         ///< of jobs where it was not found: what it did to yaw
    double worst_pitch_deg = 0;
    /// Found, or too small to move yaw or pitch by their u.
    double safe() const { return static_cast<double>(found + harmless) / std::max(1, jobs); }
    int silent() const { return jobs - found - harmless; }
};

struct SaidOfJob {
    std::set<std::string> codes;     ///< warnings and stops
    std::set<std::string> texts;     ///< of these
    std::set<std::string> readings;  ///< that may be wrong, by name
    bool unchecked = false;
};

inline SaidOfJob said_of(const StudyJob& job) {
    SaidOfJob said;
    if (!job.result) {
        said.codes = {"refused"};
        said.texts = {job.refusal};
        return said;
    }
    const auto take = [&](const Findings& findings) {
        for (const auto& finding : findings) {
            said.unchecked |= finding.code == "unchecked-reading";
            if (finding.level != Level::note) {
                said.codes.insert(finding.code);
                said.texts.insert(finding.code + ": " + finding.text);
            }
        }
    };
    take(job.result->findings);
    for (const auto& sighting : job.result->sightings) {
        take(sighting.all_findings());
        if (sighting.vision) {
            for (const auto& suspects : sighting.vision->stage.suspects) {
                said.readings.insert(suspects.begin(), suspects.end());
            }
        }
    }
    return said;
}

/// What is said of a job and not of its twin.
inline SaidOfJob fresh_of(const StudyJob& job, const StudyJob& twin) {
    SaidOfJob fresh = said_of(job);
    const SaidOfJob before = said_of(twin);
    std::erase_if(fresh.codes, [&](const auto& one) { return before.codes.contains(one); });
    std::erase_if(fresh.texts, [&](const auto& one) { return before.texts.contains(one); });
    std::erase_if(fresh.readings, [&](const auto& one) { return before.readings.contains(one); });
    return fresh;
}

/// Whether yaw (or pitch) of any stage is off by more than this many u.
inline bool is_beyond(const StudyJob& job, bool yaw, double many_u) {
    for (std::size_t i = 0; i < job.truth.stages.size(); ++i) {
        if (const AdjustedStage* stage = job.vision(i)) {
            const double off_deg = yaw ? job.yaw_error_deg(i) : job.pitch_error_deg(i);
            const Estimate& stated = yaw ? stage->yaw_left_deg : stage->pitch_up_deg;
            if (std::abs(off_deg) > many_u * stated.standard_uncertainty) {
                return true;
            }
        }
    }
    return false;
}

/// Change of the error of an angle against the twin, over the stages that both have; the largest
/// in units of u (second) and in degrees (first).
struct Harm {
    double deg = 0, over_u = 0;
};

inline Harm harm_of(const StudyJob& job, const StudyJob& twin, bool yaw) {
    Harm harm;
    const std::size_t stages = std::min(job.truth.stages.size(), twin.truth.stages.size());
    for (std::size_t i = 0; i < stages; ++i) {
        if (job.vision(i) == nullptr || twin.vision(i) == nullptr) {
            continue;
        }
        const double change = yaw ? job.yaw_error_deg(i) - twin.yaw_error_deg(i)
                                  : job.pitch_error_deg(i) - twin.pitch_error_deg(i);
        const Estimate& stated = yaw ? job.vision(i)->yaw_left_deg : job.vision(i)->pitch_up_deg;
        harm.deg = std::max(harm.deg, std::abs(change));
        harm.over_u = std::max(harm.over_u, std::abs(change) / stated.standard_uncertainty);
    }
    return harm;
}

inline bool holds_word(const SaidOfJob& said, const std::string& word) {
    return !word.empty() &&
           std::any_of(said.texts.begin(), said.texts.end(), [&](const std::string& text) {
               return text.find(word) != std::string::npos;
           });
}

inline bool is_named(const SaidOfJob& fresh, const RightNames& right) {
    const auto any_of = [](const auto& range, const auto& holds) {
        return std::any_of(range.begin(), range.end(), holds);
    };
    return any_of(right.readings,
                  [&](const std::string& name) {
                      return any_of(fresh.readings, [&](const std::string& reading) {
                          return reading.starts_with(name);
                      });
                  }) ||
           any_of(right.codes,
                  [&](const std::string& code) { return fresh.codes.contains(code); }) ||
           holds_word(fresh, right.word) ||
           (fresh.codes.contains("refused") && holds_word(fresh, right.refused_entry));
}

inline void count_job(const StudyJob& job, const StudyJob& twin, const Bay& bay,
                      ErrorOutcome& outcome) {
    if (outcome.error.kind().between_stages && job.truth.stages.size() < 2) {
        return;  // stopped as found: the error was never made
    }
    ++outcome.jobs;
    const SaidOfJob fresh = fresh_of(job, twin);
    for (const auto& code : fresh.codes) {
        ++outcome.said[code];
    }
    if (!fresh.codes.empty()) {
        ++outcome.found;
        outcome.named += is_named(fresh, right_names(outcome.error, bay));
        outcome.found_yet_wrong += is_beyond(job, true, 2) || is_beyond(job, false, 2);
        return;
    }
    const Harm yaw = harm_of(job, twin, true);
    const Harm pitch = harm_of(job, twin, false);
    outcome.worst_yaw_deg = std::max(outcome.worst_yaw_deg, yaw.deg);
    outcome.worst_pitch_deg = std::max(outcome.worst_pitch_deg, pitch.deg);
    if (yaw.over_u < 1 && pitch.over_u < 1) {
        ++outcome.harmless;
    } else {
        outcome.told_unchecked += fresh.unchecked;
    }
}

/// One error in `count` jobs, against twins without it.
inline ErrorOutcome try_error(const PracticeBay& bay, PracticeOptions options,
                              const HumanError& error, const std::vector<StudyJob>& twins,
                              const std::filesystem::path& folder) {
    options.errors = {error};
    const auto jobs = study_jobs(bay, options, static_cast<int>(twins.size()), folder);
    ErrorOutcome outcome;
    outcome.error = error;
    for (std::size_t i = 0; i < jobs.size(); ++i) {
        count_job(jobs[i], twins[i], bay.bay, outcome);
    }
    return outcome;
}

/// Every kind at every place that this bay can have, smallest sizes first.
inline std::vector<std::vector<HumanError>> all_errors() {
    std::vector<std::vector<HumanError>> all;
    for (const auto& kind : human_error_kinds()) {
        auto places = kind.places;
        if (places.empty()) {
            places.push_back("");
        }
        for (const auto place : places) {
            auto& sizes = all.emplace_back();
            for (const double size : kind.sizes) {
                sizes.push_back({kind.mistake, size, std::string(place), ""});
            }
        }
    }
    return all;
}

}  // namespace squaresight::study

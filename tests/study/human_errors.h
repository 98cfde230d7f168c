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

/// Finding codes that name an error rightly, or a word that a finding's text must hold.
struct RightNames {
    std::set<std::string> codes;
    std::vector<std::string> words;
};

inline RightNames right_names(Mistake mistake) {
    using enum Mistake;
    switch (mistake) {
        case sixteenth_misread:
        case inch_misread:
        case feet_for_inches:
        case inches_for_mm:
            return {{"blunder", "distance-mismatch", "tape-scatter", "tape-implausible",
                     "tape-points-unequal", "methods-disagree", "refused"},
                    {}};
        case left_right_swapped:
            return {{"blunder", "tape-implausible"}, {"swap"}};
        case nose_sign_swapped:
            return {{"blunder"}, {"nose", "up-down"}};
        case board_off_line:
            return {{"blunder", "methods-disagree"}, {}};
        case board_on_head:
            return {{"target-turned"}, {}};
        case print_scale:
            return {{"distance-mismatch"}, {}};
        case wrong_camera_file:
        case wrong_lens:
        case zoom:
            return {{"distance-mismatch", "camera-mismatch", "photo-zoomed"}, {}};
        case cradle_labels:
            return {{"cradle-labels"}, {}};
        case cradle_knocked:
            return {{"cradle-moved", "cradle-unseated"}, {}};
        case cradle_not_seated:
            return {{"cradle-unseated"}, {}};
        case truck_moved:
            return {{"setup-moved", "inconsistent"}, {}};
        case wrong_photo:
            return {{"photo-reused", "photo-order"}, {}};
        case wrong_screw:
            return {{"screws-swapped"}, {}};
        case wrong_way:
        case clockwise_sense:
            return {{"screw-reversed"}, {}};
        case half_turned:
            return {{"turns-not-made", "screw-not-responding"}, {}};
        case wrong_mount_profile:
            return {{"turns-not-made", "screws-swapped", "screw-reversed"}, {}};
    }
    return {};
}

/// What became of one error of one size.
struct ErrorOutcome {
    HumanError error;
    int jobs = 0, found = 0, named = 0, harmless = 0, told_unchecked = 0;
    std::map<std::string, int> said;  ///< codes that the twin does not have, by job
    double worst_yaw_deg = 0;         ///< of jobs where it was not found: what it did to yaw
    double worst_pitch_deg = 0;
    /// Found, or too small to move yaw or pitch by their u.
    double safe() const { return static_cast<double>(found + harmless) / std::max(1, jobs); }
    int silent() const { return jobs - found - harmless; }
};

struct SaidOfJob {
    std::set<std::string> codes;  ///< warnings and stops
    std::set<std::string> texts;  ///< of these
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
    }
    return said;
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

inline bool is_named(const SaidOfJob& fresh, Mistake mistake) {
    const RightNames right = right_names(mistake);
    const bool by_code = std::any_of(fresh.codes.begin(), fresh.codes.end(),
                                     [&](const auto& code) { return right.codes.contains(code); });
    return by_code || std::any_of(right.words.begin(), right.words.end(), [&](const auto& word) {
               return std::any_of(fresh.texts.begin(), fresh.texts.end(), [&](const auto& text) {
                   return text.find(word) != std::string::npos;
               });
           });
}

inline void count_job(const StudyJob& job, const StudyJob& twin, ErrorOutcome& outcome) {
    if (outcome.error.kind().between_stages && job.truth.stages.size() < 2) {
        return;  // stopped as found: the error was never made
    }
    ++outcome.jobs;
    const SaidOfJob before = said_of(twin);
    SaidOfJob fresh = said_of(job);
    const bool unchecked = fresh.unchecked;
    for (const auto& code : before.codes) {
        fresh.codes.erase(code);
    }
    for (const auto& text : before.texts) {
        fresh.texts.erase(text);
    }
    for (const auto& code : fresh.codes) {
        ++outcome.said[code];
    }
    if (!fresh.codes.empty()) {
        ++outcome.found;
        outcome.named += is_named(fresh, outcome.error.mistake);
        return;
    }
    const Harm yaw = harm_of(job, twin, true);
    const Harm pitch = harm_of(job, twin, false);
    outcome.worst_yaw_deg = std::max(outcome.worst_yaw_deg, yaw.deg);
    outcome.worst_pitch_deg = std::max(outcome.worst_pitch_deg, pitch.deg);
    if (yaw.over_u < 1 && pitch.over_u < 1) {
        ++outcome.harmless;
    } else {
        outcome.told_unchecked += unchecked;
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
        count_job(jobs[i], twins[i], outcome);
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

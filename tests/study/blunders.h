#pragma once
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "simulate/draw.h"
#include "simulate/mistakes.h"
#include "study/human_errors.h"

/// Whole jobs with human errors of any kind, place and size: what is found, and what goes wrong all
/// the same.
namespace squaresight::study {

/// Streams of the errors' draws lie beyond those of jobs.
constexpr std::uint64_t first_error_stream = 1'000'000'000;

/// Of any size between the listed ones, small as likely as large, to either side.
inline double random_size(const HumanErrorKind& kind, Draw& draw) {
    const double first = kind.sizes.front();
    const double last = kind.sizes.back();
    if (kind.unit.empty()) {
        return 1;
    }
    if (kind.unit == "photos") {
        return draw.whole(static_cast<int>(first), static_cast<int>(last));
    }
    if (kind.mistake == Mistake::half_turned) {
        return draw.uniform(last, first);
    }
    const double logarithm = draw.uniform(std::log(std::abs(first)), std::log(std::abs(last)));
    const double size = std::round(1000 * std::exp(logarithm)) / 1000;
    const bool either_side = kind.unit != "times" && kind.mistake != Mistake::wrong_mount_profile;
    return either_side && draw.chance(0.5) ? -size : size;
}

/// Whether an error may as well be made as left: what happens then, and what is read then.
inline bool may_come_last(const HumanError& error) {
    using enum Mistake;
    switch (error.mistake) {
        case board_on_head:
        case cradle_labels:
        case cradle_knocked:
        case cradle_not_seated:
        case truck_moved:
        case wrong_photo:
            return true;
        default:
            return error.place.find("pass") != std::string::npos ||
                   error.place.ends_with("_point") || error.place == "face_level";
    }
}

/// An error that this bay's jobs can have.
inline HumanError random_error(const Bay& bay, Draw& draw) {
    const auto& kinds = human_error_kinds();
    for (;;) {
        const auto& kind =
            kinds[static_cast<std::size_t>(draw.whole(0, static_cast<int>(kinds.size()) - 1))];
        HumanError error{kind.mistake, 1, "", ""};
        if (!kind.places.empty()) {
            const int last = static_cast<int>(kind.places.size()) - 1;
            error.place = kind.places[static_cast<std::size_t>(draw.whole(0, last))];
        }
        error.size = random_size(kind, draw);
        if (may_come_last(error) && draw.chance(0.5)) {
            error.stage = "as-left";
        }
        try {
            check_errors({error}, bay, true, false);
            return error;
        } catch (const InputError&) {
            continue;  // about something that this bay does not have
        }
    }
}

/// Whether the job came as far as this error.
inline bool was_made(const HumanError& error, const PracticeTruth& truth) {
    return error.stage == "as-left" ? truth.stages.back().stage == "as-left"
                                    : !error.kind().between_stages || truth.stages.size() > 1;
}

/// Passes by the photos, as found or as left, and those of a face that is out of tolerance.
struct Passes {
    int passed = 0;
    int falsely = 0;
};

/// What became of jobs with errors, and of their twins without.
struct BlunderTally {
    int jobs = 0;  ///< in which an error was made
    int refused = 0, detected = 0, set_aside = 0;
    int far_off = 0;    ///< yaw off by more than 0.3 deg
    int beyond_2u = 0;  ///< yaw off by more than 2 u
    Passes as_found, as_left;
    int clean = 0, false_alarms = 0;  ///< of the twins
    Passes clean_as_found, clean_as_left;
    std::vector<std::string> to_look_at;  ///< jobs that pass falsely, and false alarms
};

inline bool is_off_by(const StudyJob& job, double limit_deg) {
    for (std::size_t i = 0; i < job.truth.stages.size(); ++i) {
        if (job.vision(i) != nullptr && std::abs(job.yaw_error_deg(i)) > limit_deg) {
            return true;
        }
    }
    return false;
}

/// Whether readings or photos were left out, or are under suspicion.
inline bool has_set_aside(const StudyJob& job) {
    const auto& sightings = job.result->sightings;
    return std::any_of(sightings.begin(), sightings.end(), [](const SightingResult& sighting) {
        const bool suspects = sighting.vision && !sighting.vision->stage.suspects.empty();
        return suspects || std::any_of(sighting.photos.begin(), sighting.photos.end(),
                                       [](const PhotoResult& photo) { return !photo.serves; });
    });
}

/// Alarms that a job without human errors should not raise: their codes.
inline std::vector<std::string> false_alarms_of(const StudyJob& clean) {
    std::vector<std::string> alarms;
    for (const auto& code : said_of(clean).codes) {
        if (code == "blunder" || code == "inconsistent" || code == "refused" ||
            code.starts_with("cradle-")) {
            alarms.push_back(code);
        }
    }
    return alarms;
}

/// By the truth, of either angle.
inline bool is_out_of_tolerance(const StudyJob& job, std::size_t index) {
    const Mount& mount = job.result->mount;
    const auto& pose = job.true_stage(index).pose;
    return std::abs(pose[yaw_left_deg] - mount.aim_yaw_left_deg) > mount.tolerance_yaw_deg ||
           std::abs(pose[pitch_up_deg] - mount.aim_pitch_up_deg) > mount.tolerance_pitch_deg;
}

inline std::string errors_of(const StudyJob& job) {
    std::string text;
    for (const auto& error : job.truth.errors) {
        text += (text.empty() ? "" : " + ") + error.text();
    }
    return text;
}

/// Counts a job's passes; text for each of a face that is out of tolerance.
inline std::vector<std::string> count_passes(const StudyJob& job, Passes& as_found,
                                             Passes& as_left) {
    std::vector<std::string> falsely;
    for (std::size_t i = 0; job.result && i < job.result->sightings.size(); ++i) {
        const std::string& stage = job.true_stage(i).stage;
        if (stage == "adjusted" || job.vision(i) == nullptr ||
            !job.result->sightings[i].vision->verdict.passed()) {
            continue;
        }
        Passes& passes = stage == "as-found" ? as_found : as_left;
        ++passes.passed;
        if (is_out_of_tolerance(job, i)) {
            ++passes.falsely;
            const Estimate& yaw = job.vision(i)->yaw_left_deg;
            falsely.push_back(fmt::format("{} {}: yaw {:.2f}, measured {:.2f} +/- {:.2f} deg: {}",
                                          job.truth.job, stage,
                                          job.true_stage(i).pose[yaw_left_deg], yaw.value,
                                          yaw.expanded_95(), errors_of(job)));
        }
    }
    return falsely;
}

inline void count_blunders(const StudyJob& job, const StudyJob& twin, BlunderTally& tally) {
    ++tally.clean;
    count_passes(twin, tally.clean_as_found, tally.clean_as_left);
    const auto alarms = false_alarms_of(twin);
    if (!alarms.empty()) {
        ++tally.false_alarms;
        tally.to_look_at.push_back(
            fmt::format("{} clean: {}", twin.truth.job, fmt::join(alarms, ", ")));
    }
    const auto& errors = job.truth.errors;
    if (std::none_of(errors.begin(), errors.end(),
                     [&](const HumanError& error) { return was_made(error, job.truth); })) {
        return;
    }
    ++tally.jobs;
    tally.detected += !fresh_of(job, twin).codes.empty();
    if (!job.result) {
        ++tally.refused;
        return;
    }
    tally.set_aside += has_set_aside(job);
    tally.far_off += is_off_by(job, 0.3);
    tally.beyond_2u += is_beyond(job, true, 2);
    const auto falsely = count_passes(job, tally.as_found, tally.as_left);
    tally.to_look_at.insert(tally.to_look_at.end(), falsely.begin(), falsely.end());
}

/// Whole jobs 0..count-1 of a seed, each with as many random errors, against twins without.
inline BlunderTally study_blunders(const PracticeBay& bay, const PracticeOptions& options,
                                   int count, int errors, const std::filesystem::path& folder) {
    BlunderTally tally;
    std::mutex mutex;
    in_parallel(count, [&](int job_number) {
        const auto number = static_cast<std::uint64_t>(job_number);
        Draw draw(options.seed, first_error_stream + number);
        PracticeOptions with_errors = options;
        for (int i = 0; i < errors; ++i) {
            with_errors.errors.push_back(random_error(bay.bay, draw));
        }
        const auto own = folder / std::to_string(number);
        const StudyJob twin = make_and_measure(bay, options, number, own);
        const StudyJob job = make_and_measure(bay, with_errors, number, own);
        const std::scoped_lock lock(mutex);
        count_blunders(job, twin, tally);
    });
    std::sort(tally.to_look_at.begin(), tally.to_look_at.end());
    return tally;
}

/// One tape of a bay's jobs misread by an inch, as found: how many are found, and in how many of
/// these u(yaw) is still small enough to decide.
struct InchTally {
    int jobs = 0, detected = 0, still_decide = 0;
};

inline InchTally study_inches(const PracticeBay& bay, PracticeOptions options, int count,
                              const std::filesystem::path& folder) {
    options.run = PracticeRun::as_found;
    const auto twins = study_jobs(bay, options, count, folder);
    InchTally tally;
    for (const char* place : {"distance", "target_left", "mount_left", "target_height",
                              "mount_height", "tape_1", "tape_2", "left_pass", "right_pass"}) {
        PracticeOptions misread = options;
        misread.errors = {{Mistake::inch_misread, 1, place, ""}};
        try {
            check_errors(misread.errors, bay.bay, false, false);
        } catch (const InputError&) {
            continue;  // about a tape that this bay does not use
        }
        const auto jobs = study_jobs(bay, misread, count, folder);
        for (std::size_t i = 0; i < jobs.size(); ++i) {
            ++tally.jobs;
            if (fresh_of(jobs[i], twins[i]).codes.empty()) {
                continue;
            }
            ++tally.detected;
            const AdjustedStage* stage = jobs[i].vision(0);
            tally.still_decide +=
                stage != nullptr && !cannot_decide(stage->yaw_left_deg.standard_uncertainty,
                                                   jobs[i].result->mount.tolerance_yaw_deg);
        }
    }
    return tally;
}

}  // namespace squaresight::study

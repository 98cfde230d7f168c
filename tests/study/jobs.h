#pragma once
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "job/measure.h"
#include "simulate/practice_job.h"
#include "study/parallel.h"
#include "units/error.h"

/// Practice jobs with known truth, made and measured as a user's are: through their files.
namespace squaresight::study {

/// One practice job and what `measure` says of it; no result where its sheet was refused.
struct StudyJob {
    PracticeTruth truth;
    std::optional<JobResult> result;
    std::string refusal;

    /// Position of a stage in truth and result.
    const PracticeStage& true_stage(std::size_t index) const { return truth.stages.at(index); }
    const AdjustedStage* vision(std::size_t index) const {
        if (!result || index >= result->sightings.size()) {
            return nullptr;
        }
        const auto& vision = result->sightings[index].vision;
        return vision && vision->solved ? &vision->stage : nullptr;
    }
    double yaw_error_deg(std::size_t index) const {
        return vision(index)->yaw_left_deg.value - true_stage(index).pose[yaw_left_deg];
    }
    double pitch_error_deg(std::size_t index) const {
        return vision(index)->pitch_up_deg.value - true_stage(index).pose[pitch_up_deg];
    }
};

inline StudyJob make_and_measure(const PracticeBay& bay, const PracticeOptions& options,
                                 std::uint64_t number, const std::filesystem::path& folder) {
    StudyJob job;
    PracticeJob made = make_practice_job(bay, options, number, folder);
    job.truth = std::move(made.truth);
    try {
        job.result = measure_job(made.sheet);
    } catch (const InputError& error) {
        job.refusal = error.what();
    }
    std::filesystem::remove_all(folder);
    return job;
}

/// Jobs 0..count-1 of a seed, in order; `folder` holds their files while they are measured.
inline std::vector<StudyJob> study_jobs(const PracticeBay& bay, const PracticeOptions& options,
                                        int count, const std::filesystem::path& folder) {
    std::vector<StudyJob> jobs(static_cast<std::size_t>(count));
    in_parallel(count, [&](int number) {
        jobs[static_cast<std::size_t>(number)] = make_and_measure(
            bay, options, static_cast<std::uint64_t>(number), folder / std::to_string(number));
    });
    return jobs;
}

/// The same bay, photos alone.
inline PracticeBay without_tape_and_level(PracticeBay bay) {
    bay.bay.tape_and_level.reset();
    return bay;
}

inline PracticeBay main_bay() {
    return load_practice_bay(std::filesystem::path(SQUARESIGHT_SOURCE_DIR) /
                             "samples/bays/main-bay.yaml");
}

}  // namespace squaresight::study

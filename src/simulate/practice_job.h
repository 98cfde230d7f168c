#pragma once
#include <cstdint>
#include <filesystem>
#include <vector>

#include "simulate/human_error.h"
#include "simulate/practice_bay.h"
#include "simulate/practice_truth.h"

namespace squaresight {

/// How far a practice job goes: only the as-found measurement, or on through turning as the program
/// itself tells, until it is in tolerance, to the as-left measurement.
enum class PracticeRun { as_found, full };

struct PracticeOptions {
    std::uint64_t seed = 1;
    PracticeRun run = PracticeRun::full;
    double corner_noise_px = 0.05;  ///< standard deviation of each coordinate
    double found_within_deg = 2;    ///< as found, both angles are off the aim by up to this
    double locking_deg = 0.02;      ///< standard uncertainty of what locking does to each angle
    int most_rounds = 4;            ///< of turning, before as-left is taken all the same
    /// scene.yaml to render photos from (render/render.h), in place of corners. What is turned
    /// comes from the corners all the same.
    bool pictures = false;
    bool hide_truth = false;  ///< truth.hidden (quiz.h) in place of truth.yaml
    std::vector<HumanError> errors;
};

struct PracticeJob {
    std::filesystem::path sheet;
    PracticeTruth truth;
};

/// Draws job `number` of a seed in a bay and writes it into `folder`: job.yaml with the files that
/// it names, photos/*.corners.yaml, truth.yaml. The same bay, options and number give the same
/// bytes. Nothing is synced to disk. InputError where an error cannot be made in such a job, or the
/// folder cannot be written.
PracticeJob make_practice_job(const PracticeBay& practice, const PracticeOptions& options,
                              std::uint64_t number, const std::filesystem::path& folder);

}  // namespace squaresight

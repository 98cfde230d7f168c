#pragma once
#include <optional>
#include <vector>

#include "adjust/adjustment.h"
#include "adjust/solved_job.h"
#include "units/finding.h"

/// Checks of a job that a small uncertainty must not hide. Internal to `adjust`.
namespace squaresight {

/// Whether a stage's photos lie far enough apart in roll for the cradle's offset to leave the
/// answer.
bool has_reversal(const Standing& standing, std::size_t sighting);

/// Whether any stage's do: the offset found there carries over to the others.
bool has_reversal(const Standing& standing);

/// Distance of each setup by vision alone, the print taken at its stated scale, against the tape.
/// `setups` receives the setup of each finding.
Findings check_distances(const MeasuredJob& job, const Standing& standing, const Solved& solved,
                         std::vector<int>& setups);

/// Compares the cradle as this job sees it with what is stored. A finding where it was knocked.
/// Both must hold the same error of the principal point: `without_stored` with it held.
std::optional<Finding> check_cradle(const MeasuredJob& job, const Solved& without_stored);

/// An as-left stage that leans on the offset of an earlier stage; nothing for any other stage.
std::optional<Finding> check_as_left(const MeasuredJob& job, const Standing& standing,
                                     std::size_t sighting);

/// A stage whose face would point where no mount does: something in its photos or readings is wrong
/// past repair, and its numbers say nothing.
std::optional<Finding> check_pose(const AdjustedStage& stage);

/// What it means that no photo was taken upside down, where none was.
Findings reversal_findings(const MeasuredJob& job, const Standing& standing);

}  // namespace squaresight

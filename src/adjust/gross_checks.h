#pragma once
#include <optional>
#include <vector>

#include "adjust/solved_job.h"
#include "units/finding.h"

/// Checks of a job that a small uncertainty must not hide. Internal to `adjust`.
namespace squaresight {

/// Whether photos lie far enough apart in roll for the cradle's offset to leave the answer.
bool has_reversal(const Standing& standing);

/// Distance of each setup by vision alone, the print taken at its stated scale, against the tape.
/// `setups` receives the setup of each finding.
Findings check_distances(const MeasuredJob& job, const Standing& standing, const Solved& solved,
                         std::vector<int>& setups);

/// Compares the cradle as this job sees it with what is stored. A finding where it was knocked.
std::optional<Finding> check_cradle(const MeasuredJob& job, const Solved& without_stored);

/// What it means that no photo was taken upside down, where none was.
Findings reversal_findings(const MeasuredJob& job, const Standing& standing);

}  // namespace squaresight

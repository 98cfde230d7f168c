#pragma once
#include <string>
#include <vector>

#include "adjust/adjustment.h"
#include "adjust/solved_job.h"

namespace squaresight {

/// Estimates, budget, readings and findings of every stage of a solved job. Internal to `adjust`.
std::vector<AdjustedStage> report_stages(const MeasuredJob& job, const Solved& solved);

/// What makes an input of the budget smaller: "line (plumb marks farther apart on the rails, or a
/// longer string)".
std::string what_improves(const std::string& source);

}  // namespace squaresight

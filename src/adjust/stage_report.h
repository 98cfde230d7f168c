#pragma once
#include <vector>

#include "adjust/adjustment.h"
#include "adjust/solved_job.h"

namespace squaresight {

/// Estimates, budget, readings and findings of every stage of a solved job. Internal to `adjust`.
std::vector<AdjustedStage> report_stages(const MeasuredJob& job, const Solved& solved);

}  // namespace squaresight

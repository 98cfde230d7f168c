#pragma once
#include <vector>

#include "plan/plan.h"

namespace squaresight {

/// Everything that could be done in this bay, most worth its effort first: where the aim is not
/// reached, what reaches it with the least effort comes first, and where no single step does, the
/// steps that do together; else what gains most per effort.
/// `plan` holds what is predicted without any of it.
std::vector<Improvement> improvements_of(const BayPlan& plan);

}  // namespace squaresight

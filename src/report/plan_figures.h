#pragma once
#include <string>

#include "plan/plan.h"

namespace squaresight {

/// Standard uncertainty of one angle against the board's distance, a line for each board, with the
/// largest that can still decide. The bay as planned is ringed.
std::string boards_svg(const BayPlan& plan, Axis axis);

/// Chances of the calls against the true error of one angle.
std::string power_svg(const BayPlan& plan, Axis axis);

}  // namespace squaresight

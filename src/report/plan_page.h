#pragma once
#include <string>

#include "plan/plan.h"

namespace squaresight {

/// The self-contained page of a plan (no network): words first, then what would improve it,
/// comparisons with figures, budget, readings, the floor layout (an SVG file's text).
std::string plan_html(const BayPlan& plan, const std::string& floor_layout_svg);

}  // namespace squaresight

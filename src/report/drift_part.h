#pragma once
#include "report/review_page.h"
#include "review/review.h"

/// What drifts, on the reviewer's page. Internal to `report`.
namespace squaresight {

/// Whether one of its newest points broke a rule.
bool breaks_now(const DriftChart& drift);

ReviewPart drift_part(const Review& review);

}  // namespace squaresight

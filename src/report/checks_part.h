#pragma once
#include "report/review_page.h"
#include "review/review.h"

/// Check standards, on the reviewer's page. Internal to `report`.
namespace squaresight {

/// Whether one left its limits, for the page's top; nothing where there is no check standard.
std::optional<ReviewSentence> checks_summary(const Review& review);

ReviewPart checks_part(const Review& review);

}  // namespace squaresight

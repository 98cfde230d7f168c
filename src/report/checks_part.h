#pragma once
#include "report/review_page.h"
#include "review/review.h"

/// Check standards, on the reviewer's page. Internal to `report`.
namespace squaresight {

/// How many left their limits, for the page's top; empty where there is no check standard.
std::string checks_summary(const Review& review);

ReviewPart checks_part(const Review& review);

}  // namespace squaresight

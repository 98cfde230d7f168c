#pragma once
#include "report/review_page.h"
#include "review/review.h"

/// Readings against the limits that are stated of them, on the reviewer's page. Internal to
/// `report`.
namespace squaresight {

/// What is stated too small, for the page's top; else that nothing is.
std::string limits_summary(const Review& review);

ReviewPart limits_part(const Review& review);

}  // namespace squaresight

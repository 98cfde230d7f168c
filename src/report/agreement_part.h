#pragma once
#include <string>

#include "report/review_page.h"
#include "report/summary.h"
#include "review/review.h"

/// Photos against tape about one axis on the reviewer's page. Internal to `report`.
namespace squaresight {

const char* axis_id(Axis axis);

/// Measurements by both methods.
int compared(const AxisReview& axis);

std::string agree_words(const AxisReview& review, Axis axis);
/// Bias and limits of agreement; only where `limits` are.
std::string bias_words(const AxisReview& review, Axis axis);
std::string decisions_words(const AxisReview& review, Axis axis);

ReviewPart axis_part(const AxisReview& review, Axis axis);

}  // namespace squaresight

#pragma once
#include "review/review.h"

/// What a review is put together from. Internal to `review`.
namespace squaresight {

/// Charts over time, and what has too few points for one.
void add_charts(const Rows& rows, Review& review);

/// Readings against the limits that their sheets state.
void add_limits(const Rows& rows, Review& review);

/// Check standards over time, and a flag of those that left their limits. `rows` by day.
void add_checks(const Rows& rows, Review& review);

/// Ages of what was measured with.
void add_equipment(const Rows& rows, Review& review);

/// Jobs, how they ended, their findings, and what a person should look at.
void add_jobs_and_flags(const Rows& rows, Review& review);

}  // namespace squaresight

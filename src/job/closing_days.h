#pragma once
#include <string>

#include "job/result.h"

namespace squaresight {

/// Whether a day that `closing` names can be: not before the job was begun, and not still to come.
enum class ClosingDay { possible, before_job, to_come };

/// Of the day (2026-03-05) in an answer; one that holds none is possible. A day to either side is
/// allowed for clocks that stand apart. Days as 2026-03-05; `begun` is empty where nothing tells
/// it.
ClosingDay closing_day(const std::string& answer, const std::string& begun,
                       const std::string& today);

/// The day (2026-03-05) that a text holds; empty where there is none.
std::string day_in(const std::string& text);

/// The day on which a photo was taken by its phone's clock; empty where that tells none.
std::string taken_day(const PhotoFacts& facts);

/// When the job was begun: the earlier one of its sheet's date and its first photo's; empty where
/// neither tells.
std::string begun_on(const JobSheet& sheet, const std::vector<SightingResult>& sightings);

/// InputError where `closing` names a day that cannot be.
void check_closing_days(const JobResult& result, const std::string& today);

}  // namespace squaresight

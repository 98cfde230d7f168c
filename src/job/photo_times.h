#pragma once
#include <chrono>

#include "job/result.h"

/// What the photos of a job say against each other, and against the calendar. Internal to `job`.
namespace squaresight {

/// Findings added to the sighting of the later photo:
/// `photo-reused` (stop): the same file or the same picture twice, saved again or turned by an
/// editor included; a photo older than one of an earlier stage;
/// `photo-time`: photos of one stage over a day apart (stop), or of stages on one setup (warning).
/// A photo without a believable time gives none of these for its time. Where both clocks tell their
/// offset from UTC they are compared in UTC, else as they stand.
void check_photos_together(const JobSheet& sheet, std::vector<SightingResult>& sightings);

/// `photo-time` (stop), added to the sighting: a photo taken over a day before the sheet's `date`.
void check_photos_of_job(const JobSheet& sheet, std::vector<SightingResult>& sightings);

/// Warnings: `calibration-old` where a photo was taken more than a year after the camera file's
/// date; `photo-time` where one was taken more than 30 days before it, or after `now`.
Findings check_photo_dates(const Camera& camera, const std::vector<SightingResult>& sightings,
                           std::chrono::sys_seconds now);

}  // namespace squaresight

#pragma once
#include "job/measure.h"

/// Reading and checking the photos of a sighting. Internal to `job`.
namespace squaresight {

/// Reads every photo of a sheet's sighting and finds the target in it. A photo that cannot be used
/// becomes a finding of `sighting`; its corners are then left empty.
std::vector<PhotoResult> look_at_photos(const SheetSighting& sheet, const Camera& camera,
                                        const Target& target, Findings& findings,
                                        const std::function<void(const std::string&)>& begin);

/// `calibration-old` where a photo was taken more than a year after the camera file's date.
Findings check_calibration_age(const Camera& camera, const std::vector<SightingResult>& sightings);

/// Photos used twice, or taken out of the order of the stages: findings of level stop, added to the
/// sighting of the photo.
void check_photo_order(std::vector<SightingResult>& sightings);

}  // namespace squaresight

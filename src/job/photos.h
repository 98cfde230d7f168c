#pragma once
#include "job/measure.h"

/// Reading and checking the photos of a sighting. Internal to `job`.
namespace squaresight {

/// Reads every photo of a sheet's sighting and checks what was found in it. A photo that cannot be
/// used becomes a finding of `sighting`; its corners are then left empty. One with a stop of its
/// own does not serve; while others of the stage do, that is a warning.
std::vector<PhotoResult> look_at_photos(const SheetSighting& sheet, bool originals_only,
                                        const Camera& camera, const Target& target,
                                        const PhotoReader& reader, Findings& findings,
                                        const std::function<void(const std::string&)>& begin);

/// `photo-set-aside`: which photos of a stage do not serve, where any does not.
void tell_set_aside(SightingResult& sighting);

}  // namespace squaresight

#pragma once
#include "job/result.h"

/// Whether a photo is what the calibrated camera took. Internal to `job`.
namespace squaresight {

/// Holds a photo against its own metadata and the camera file: `photo-not-original` (scaled or
/// cropped), `photo-zoomed`, `camera-mismatch` (all stops), `camera-unverified` (a warning: nothing
/// speaks against the camera, but the photo does not name it).
Findings check_identity(const PhotoResult& photo, const Camera& camera);

/// A photo that tells nothing of its phone, where that phone is known to tell, is a copy: where
/// only originals count, `camera-unverified` is a stop.
void refuse_copy(const PhotoResult& photo, const Camera& camera, Findings& findings);

}  // namespace squaresight

#pragma once
#include "calibrate/phone_check.h"

namespace squaresight {

/// What the camera is good for in that bay. `taped` says whether photos at a taped distance tell
/// the focal length.
PhoneVerdict verdict_of(const Camera& camera, const PlannedBay& bay, bool taped);

}  // namespace squaresight

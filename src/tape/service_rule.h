#pragma once
#include <string>

#include "tape/tape.h"

namespace squaresight {

/// By how much the mean left and right tapes differ beyond what the aim makes: what the trade's
/// plain rule judges. There are passes.
double service_difference_mm(const TapeAndLevel& readings, double aim_yaw_left_deg);

/// A length along the bumper or from it to the beam as its tape is read: in inches, never in feet.
std::string bumper_length(double length_mm, LengthUnit unit);

}  // namespace squaresight

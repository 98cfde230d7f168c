#pragma once
#include <string_view>

namespace squaresight {

/// Travel a turn in mm of a single-start thread as written on drawings: "M6 x 1.0", "M6" (coarse
/// series of ISO 261), "1/4-20 UNC", "#10-24", "10-32 UNF" (25.4 mm / threads an inch).
/// Throws std::invalid_argument whose text says what is wrong and what to write instead: unknown
/// form, no coarse pitch for the diameter, a pitch that no screw of that diameter has.
double thread_pitch_mm(std::string_view text);

}  // namespace squaresight

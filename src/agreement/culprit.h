#pragma once
#include <string>

#include "adjust/decision.h"
#include "tape/tape.h"

namespace squaresight {

/// The likely cause, in words, where vision and tape-and-level disagree (E_n > 1): a slip of the
/// pencil under which both would agree (left and right swapped, beam on the other side, nose up for
/// nose down, an inch misread in one pass), else what the bumper or the rails' line would have to
/// be out by. Each is a question or a condition, never a verdict: vision may be the one that is
/// wrong. A sixteenth of an inch is too small to find and is not claimed. Empty where the methods
/// do not disagree. Shared shares as in `compare_methods`: `vision_pitch_from_rail_zero_deg` is
/// vision's, tape's comes from its own readings.
std::string likely_culprit(const Estimate& vision_yaw_left_deg, const Estimate& vision_pitch_up_deg,
                           double vision_pitch_from_rail_zero_deg, const TapeAndLevel& readings);

}  // namespace squaresight

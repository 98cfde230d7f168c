#pragma once
#include <string>
#include <vector>

#include "agreement/agreement.h"
#include "tape/tape.h"

namespace squaresight {

/// An angle by photos, with the causes of error that tape-and-level has too.
struct VisionAngle {
    Estimate angle;
    std::vector<SharedCause> shared = {};
};

/// The likely cause, in words, where vision and tape-and-level disagree (E_n > 1): a slip of the
/// pencil under which both would agree (left and right swapped, beam on the other side, nose up for
/// nose down, an inch misread in one pass), else what the bumper or the rails' line would have to
/// be out by. Each is a question or a condition, never a verdict: vision may be the one that is
/// wrong. A sixteenth of an inch is too small to find and is not claimed. Empty where the methods
/// do not disagree.
std::string likely_culprit(const VisionAngle& yaw_left, const VisionAngle& pitch_up,
                           const TapeAndLevel& readings);

}  // namespace squaresight

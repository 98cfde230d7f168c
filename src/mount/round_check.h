#pragma once
#include "mount/response.h"

namespace squaresight {

enum class RoundCall { as_told, not_as_told, too_few_turns };

/// What a round of turning did against what it should have done.
struct RoundCheck {
    Pair
        expected_deg;  ///< change of yaw left and pitch up; uncertain by what is known of the mount
    Pair actual_deg;   ///< as measured
    RoundCall call = RoundCall::too_few_turns;
    Findings findings;           ///< empty where the round may be learned from
    bool withhold_next = false;  ///< the profile must be checked before another instruction
};

/// Compares a round with what is known of the mount, by likelihood: as told, a screw that did not
/// respond (`screw-not-responding`), one or both turned backwards (`screw-reversed`), each in place
/// of the other (`screws-swapped`), none or about half of the turns made (`turns-not-made`), or
/// none of these (`turns-unexplained`). A fault is named where it is ten times as likely as turns
/// made as told; faults that cannot be told apart by that factor are all named. Turns under half a
/// turn, which the play alone may take, tell nothing.
RoundCheck check_round(const Response& response, const Round& round);

}  // namespace squaresight

#pragma once
#include "job/result.h"

namespace squaresight {

/// What stands on top of a job, for lists, records and signatures: its instruction
/// (job/instruction.h) in four classes. Only `done` needs nobody any more.
enum class Headline {
    stop,       ///< nothing may be turned now
    do_this,    ///< turn, or measure again
    not_ready,  ///< in tolerance, and something is open
    done,
};

Headline headline_of(const JobResult& result);

const char* headline_text(Headline headline);  ///< "stop", "do this", "not ready", "done"

}  // namespace squaresight

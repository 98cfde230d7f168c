#pragma once
#include <cstdint>
#include <optional>
#include <string>

#include "job/result.h"

namespace squaresight {

/// What stands on top of a job, for lists, records and signatures: its instruction
/// (job/instruction.h) in four classes. Only `done` needs nobody any more.
enum class Headline : std::uint8_t {
    stop,       ///< nothing may be turned now
    do_this,    ///< turn, or measure again
    not_ready,  ///< in tolerance, and something is open
    done,
};

Headline headline_of(const JobResult& result);

/// The same from its text; nothing for any other.
std::optional<Headline> parse_headline(const std::string& text);
const char* headline_text(Headline headline);  ///< "stop", "do this", "not ready", "done"

}  // namespace squaresight

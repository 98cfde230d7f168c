#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "job/result.h"

/// What a measured job comes to, decided once for the page, the report and the records.
namespace squaresight {

/// What stands on top of a job. Only `done` needs nobody any more.
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

/// Why nothing may be turned now; nothing if turning, or leaving alone, is right.
std::optional<std::string> reason_to_hold(const JobResult& result);

/// What must still be done or recorded after the mount points right: locking, codes, the maker's
/// electronic calibration, the drive.
std::vector<std::string> open_items(const JobResult& result);

/// Whether the answers of a stage come from the photos (else from tape and level).
bool answered_by_photos(const SightingResult& sighting);

/// The first finding with one of these codes.
std::optional<Finding> first_with_code(const Findings& findings,
                                       const std::vector<std::string>& codes);

/// What `ready` or `closing` of the sheet says under a key; empty if it was not answered.
std::string answer_to(const std::vector<std::pair<std::string, std::string>>& answers,
                      const std::string& key);

}  // namespace squaresight

#pragma once
#include <string>
#include <vector>

namespace squaresight {

/// note: worth knowing. warning: the numbers stand, with care. stop: nothing is "in tolerance".
enum class Level { note, warning, stop };

/// Something that a person should know about a result. Codes are listed in docs/file-formats.md;
/// their meaning never changes. The text says what, where and what to do next.
struct Finding {
    Level level = Level::note;
    std::string code;
    std::string text;
};

using Findings = std::vector<Finding>;

inline bool has_stop(const Findings& findings) {
    for (const auto& finding : findings) {
        if (finding.level == Level::stop) {
            return true;
        }
    }
    return false;
}

}  // namespace squaresight

#pragma once
#include <array>
#include <string>
#include <utility>
#include <vector>

#include "job/sheet.h"
#include "mount/mount.h"
#include "units/finding.h"

namespace squaresight {

/// A condition of a job sheet's `ready`: what is to be so before anything is measured.
struct Condition {
    const char* key;     ///< of the sheet
    const char* name;    ///< "level ground"
    const char* not_so;  ///< what an answer other than yes means, as a sentence's beginning
    const char* remedy;  ///< what to do then: whole sentences
    const char* code;    ///< of the finding
    Level level;         ///< of the finding: a stop where nothing may be measured
    bool expected;       ///< said to be missing if it is not answered
};

const std::array<Condition, 7>& ready_conditions();

/// What the sheet answers; empty where it does not.
std::string answer_to(const std::vector<std::pair<std::string, std::string>>& answers,
                      const std::string& key);

/// Conditions that were answered with no or a reason, with the answer. A condition without an
/// answer is not among them.
struct UnmetCondition {
    const Condition* condition = nullptr;
    std::string answer;
};
std::vector<UnmetCondition> unmet_conditions(const JobSheet& sheet);

/// What a sheet's answers and its mount's profile say before anything is looked at:
/// `bracket-unsound`, `face-unsound` (stops), `not-prepared` (a warning for each), those of
/// job/sensor_check.h after the drive and those of the profile (mount/mount.h).
Findings preliminary_findings(const JobSheet& sheet, const Mount& mount);

}  // namespace squaresight

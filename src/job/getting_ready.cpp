#include "job/getting_ready.h"

#include "job/sensor_check.h"

namespace squaresight {

const std::array<Condition, 7>& ready_conditions() {
    static constexpr const char* put_right = "Put it right, measure again, and answer it anew.";
    static const std::array<Condition, 7> list{{
        {"level_ground", "level ground", "The truck is not on level ground", put_right,
         "not-prepared", Level::warning, true},
        {"tyres", "tyres", "The tyre pressures are not right", put_right, "not-prepared",
         Level::warning, true},
        {"ride_height", "ride height", "The ride height is not right", put_right, "not-prepared",
         Level::warning, true},
        {"bracket_sound", "bracket sound", "The bracket is not sound",
         "Replace it before anything is measured; it is not screwed straight. Then answer it anew.",
         "bracket-unsound", Level::stop, true},
        {"face_clean", "face clean", "The sensor's face is not clean and undamaged",
         "Clean it, or have it replaced, before anything is measured. Then answer it anew.",
         "face-unsound", Level::stop, true},
        {"codes_saved", "codes saved", "The fault codes were not read and saved",
         "Read and save them before anything is turned, and answer it anew.", "not-prepared",
         Level::warning, true},
        {"ride_height_left", "ride height as left", "The ride height was not right as left",
         put_right, "not-prepared", Level::warning, false},
    }};
    return list;
}

std::string answer_to(const std::vector<std::pair<std::string, std::string>>& answers,
                      const std::string& key) {
    for (const auto& [name, answer] : answers) {
        if (name == key) {
            return answer;
        }
    }
    return "";
}

std::vector<UnmetCondition> unmet_conditions(const JobSheet& sheet) {
    std::vector<UnmetCondition> unmet;
    for (const auto& condition : ready_conditions()) {
        const std::string answer = answer_to(sheet.ready, condition.key);
        if (!answer.empty() && answer != "yes") {
            unmet.push_back({&condition, answer});
        }
    }
    return unmet;
}

Findings preliminary_findings(const JobSheet& sheet, const Mount& mount) {
    Findings findings;
    for (const auto& [condition, answer] : unmet_conditions(sheet)) {
        const std::string reason = answer == "no" ? "" : " (written: " + answer + ")";
        findings.push_back({condition->level, condition->code,
                            condition->not_so + reason + ". " + condition->remedy});
    }
    for (const Findings& more : {after_drive_findings(sheet, mount), mount_findings(mount)}) {
        findings.insert(findings.end(), more.begin(), more.end());
    }
    return findings;
}

}  // namespace squaresight

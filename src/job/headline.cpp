#include "job/headline.h"

#include <algorithm>

#include "job/closing_days.h"

namespace squaresight {
namespace {

std::optional<Finding> first_of(const Findings& findings, Level level) {
    for (const auto& finding : findings) {
        if (finding.level == level) {
            return finding;
        }
    }
    return std::nullopt;
}

/// Findings of the job and of every stage, the last stage's before those of earlier ones.
Findings all_findings(const JobResult& result) {
    Findings findings = result.findings;
    for (auto sighting = result.sightings.rbegin(); sighting != result.sightings.rend();
         ++sighting) {
        const auto own = sighting->all_findings();
        findings.insert(findings.end(), own.begin(), own.end());
    }
    return findings;
}

const AxisVerdicts* verdicts(const SightingResult& sighting) {
    if (answered_by_photos(sighting)) {
        return &sighting.vision->verdict;
    }
    const auto& tape = sighting.tape_and_level;
    return tape && tape->outcome.has_yaw && tape->outcome.has_pitch ? &tape->verdict : nullptr;
}

bool disagree(const SightingResult& sighting) {
    const auto& methods = sighting.agreement;
    const auto is = [](const std::optional<Agreement>& axis) {
        return axis && axis->call == AgreementCall::disagree;
    };
    return methods && (is(methods->yaw) || is(methods->pitch));
}

bool recorded(const std::string& answer) { return answer == "yes" || !day_in(answer).empty(); }

/// "clear the codes", or with what was written instead of an answer.
std::string with_answer(const std::string& item, const std::string& answer) {
    return answer.empty() || answer == "no" ? item : item + " (written: " + answer + ")";
}

}  // namespace

bool answered_by_photos(const SightingResult& sighting) {
    return sighting.vision && sighting.vision->solved;
}

std::optional<Finding> first_with_code(const Findings& findings,
                                       const std::vector<std::string>& codes) {
    for (const auto& finding : findings) {
        if (std::find(codes.begin(), codes.end(), finding.code) != codes.end()) {
            return finding;
        }
    }
    return std::nullopt;
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

std::optional<std::string> reason_to_hold(const JobResult& result) {
    if (result.sightings.empty()) {
        return "nothing was measured.";
    }
    const SightingResult& sighting = result.sightings.back();
    const auto findings = sighting.all_findings();
    const auto doubt = first_with_code(findings, {"methods-disagree", "blunder"});
    if (const auto stop = first_of(all_findings(result), Level::stop)) {
        // A screw's travel is not to blame while a reading may be.
        return stop->code == "beyond-travel" && doubt ? doubt->text : stop->text;
    }
    if (verdicts(sighting) == nullptr) {
        return "side-to-side aim and up-down aim were not both measured. Measure again.";
    }
    if (disagree(sighting)) {
        const auto& culprit = sighting.agreement->culprit;
        return "photos and tape disagree. " + (culprit.empty() ? "Measure both again." : culprit);
    }
    if (const auto open = first_with_code(findings, {"methods-disagree"})) {
        return open->text;
    }
    const auto loose = first_with_code(findings, {"cannot-decide"});
    const auto& both = *verdicts(sighting);
    if (loose && both.yaw.call != Call::out_of_tolerance &&
        both.pitch.call != Call::out_of_tolerance) {
        return loose->text;
    }
    if (answer_is_yes(result)) {
        return std::nullopt;
    }
    if (!sighting.corrections) {
        const auto screw = first_with_code(all_findings(result), {"screw-reversed"});
        return screw ? screw->text : "check the mount profile; no turns could be worked out.";
    }
    const auto dead = first_with_code(findings, {"screw-not-responding"});
    return dead ? std::optional(dead->text) : std::nullopt;
}

std::vector<std::string> open_items(const JobResult& result) {
    std::vector<std::string> open;
    const auto* last = result.sightings.empty() ? nullptr : &result.sightings.back();
    const auto& sheets = result.sheet.sightings;
    if (last == nullptr || last->stage != "as-left") {
        open.push_back("lock the screws and measure as left");
    } else if (sheets.empty() || !sheets.back().locked.value_or(false)) {
        open.push_back("lock the screws");
    }
    const auto answer = [&](const char* key) { return answer_to(result.sheet.closing, key); };
    if (!recorded(answer("codes_cleared"))) {
        open.push_back(with_answer("clear the codes", answer("codes_cleared")));
    }
    const auto electronic = answer("electronic_calibration");
    if (!recorded(electronic) && electronic != "not asked for") {
        open.push_back(
            with_answer("the maker's electronic calibration where asked for", electronic));
    }
    if (!recorded(answer("drive"))) {
        open.push_back(with_answer("the drive", answer("drive")));
    }
    if (answer("codes_after") != "none") {
        open.push_back(with_answer("read the codes after the drive", answer("codes_after")));
    }
    if (answer("reading_after.yaw").empty() && answer("reading_after.pitch").empty()) {
        open.push_back("note the sensor's own reading after the drive");
    }
    return open;
}

Headline headline_of(const JobResult& result) {
    if (reason_to_hold(result)) {
        return Headline::stop;
    }
    if (!answer_is_yes(result)) {
        return Headline::do_this;
    }
    return open_items(result).empty() ? Headline::done : Headline::not_ready;
}

std::optional<Headline> parse_headline(const std::string& text) {
    for (const auto one :
         {Headline::stop, Headline::do_this, Headline::not_ready, Headline::done}) {
        if (text == headline_text(one)) {
            return one;
        }
    }
    return std::nullopt;
}

const char* headline_text(Headline headline) {
    switch (headline) {
        case Headline::do_this:
            return "do this";
        case Headline::not_ready:
            return "not ready";
        case Headline::done:
            return "done";
        case Headline::stop:
            break;
    }
    return "stop";
}

}  // namespace squaresight

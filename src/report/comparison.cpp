#include <fmt/format.h>

#include "job/words.h"
#include "report/report.h"
#include "report/summary.h"

namespace squaresight {
namespace {

std::string method_line(const char* method, const std::string& points, const Estimate& angle) {
    return fmt::format("    {:<16}{}, {}\n", method, points, give_or_take(angle.expanded_95()));
}

std::string axis_lines(const SightingResult& sighting, Axis axis) {
    const bool yaw = axis == Axis::yaw;
    const auto words = [&](const Estimate& angle) {
        return yaw ? side_words(angle.value) : nose_words(angle.value);
    };
    std::string lines = fmt::format("  {}\n", axis_words(axis));
    if (sighting.vision && sighting.vision->solved) {
        const auto& stage = sighting.vision->stage;
        const Estimate& angle = yaw ? stage.yaw_left_deg : stage.pitch_up_deg;
        lines += method_line("photos", words(angle), angle);
    }
    if (sighting.tape_and_level) {
        const auto& tape = sighting.tape_and_level->outcome;
        const Estimate& angle = yaw ? tape.yaw_left_deg : tape.pitch_up_deg;
        if (yaw ? tape.has_yaw : tape.has_pitch) {
            lines += method_line("tape and level", words(angle), angle);
        }
    }
    const auto agreement = !sighting.agreement ? std::nullopt
                           : yaw               ? sighting.agreement->yaw
                                               : sighting.agreement->pitch;
    if (agreement) {
        lines += fmt::format("    {:<16}{} apart, {}; E_n {:.2f}: {}\n", "difference",
                             angle_words(agreement->difference_deg),
                             give_or_take(agreement->expanded_95_deg), agreement->en,
                             call_text(agreement->call));
    }
    return lines;
}

}  // namespace

std::string comparison_text(const JobResult& result) {
    std::string text = fmt::format("Job {}: photos against tape and level\n", result.sheet.job);
    for (const auto& placed : placed_findings(result)) {
        if (placed.finding.level == Level::stop) {
            text += "\nSTOP: " + placed.finding.text + "\n";
        }
    }
    bool any = false;
    for (std::size_t i = 0; i < result.sightings.size(); ++i) {
        const SightingResult& sighting = result.sightings[i];
        text += fmt::format("\n{}\n", stage_words(result, i));
        text += axis_lines(sighting, Axis::yaw) + axis_lines(sighting, Axis::pitch);
        for (const auto& sentence : agreement_sentences(sighting)) {
            text += fmt::format("  - {}\n", sentence);
        }
        for (const auto& sentence : service_limit_sentences(result, sighting)) {
            text += fmt::format("  - {}\n", sentence);
        }
        any = any || sighting.agreement.has_value();
    }
    if (!any) {
        text +=
            "\nNothing to compare: no stage has both photos that could be solved and "
            "tape_and_level readings.\n";
    }
    return text;
}

}  // namespace squaresight

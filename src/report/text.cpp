#include <fmt/format.h>

#include "job/words.h"
#include "report/report.h"
#include "report/summary.h"

namespace squaresight {

namespace {

constexpr std::size_t columns = 100;

/// Bytes of the first `count` characters (UTF-8) of `text`, and whether the text ends there.
std::size_t bytes_of(const std::string& text, std::size_t count) {
    std::size_t bytes = 0;
    for (; bytes < text.size() && count > 0; --count) {
        ++bytes;
        while (bytes < text.size() && (static_cast<unsigned char>(text[bytes]) & 0xC0) == 0x80) {
            ++bytes;
        }
    }
    return bytes;
}

/// Text from files must not steer a terminal.
std::string without_controls(std::string text) {
    for (char& c : text) {
        const auto code = static_cast<unsigned char>(c);
        if (code < 0x20 || code == 0x7F) {
            c = ' ';
        }
    }
    return text;
}

/// One paragraph, broken at spaces; lines after the first are indented by `indent`.
std::string wrapped(const std::string& paragraph, std::size_t indent) {
    std::string rest = without_controls(paragraph);
    std::string out;
    std::string lead;
    while (!rest.empty()) {
        const std::size_t fits = bytes_of(rest, columns - lead.size());
        std::size_t cut = fits;
        if (fits < rest.size()) {
            const auto space = rest.rfind(' ', fits);
            cut = space == std::string::npos || space == 0 ? fits : space;
        }
        out += lead + rest.substr(0, cut) + "\n";
        const auto next = rest.find_first_not_of(' ', cut);
        rest = next == std::string::npos ? "" : rest.substr(next);
        lead.assign(indent, ' ');
    }
    return out;
}

std::string bullets(const std::vector<std::string>& sentences) {
    std::string out;
    for (const auto& sentence : sentences) {
        out += wrapped("  - " + sentence, 4);
    }
    return out;
}

std::string section(const std::string& title, const std::string& body) {
    return body.empty() ? "" : "\n" + wrapped(title, 0) + body;
}

std::string answer_text(const JobResult& result, const SightingResult& sighting, Axis axis) {
    const auto answer = axis_answer(result, sighting, axis);
    if (!answer) {
        return wrapped(fmt::format("  {}: not measured", axis_words(axis)), 4);
    }
    return wrapped(fmt::format("  {} ({}): {}. {}", axis_words(axis),
                               axis == Axis::yaw ? "yaw" : "pitch", answer->points, answer->call),
                   4) +
           wrapped("    should point " + answer->should_point, 4) +
           wrapped("    " + answer->give_or_take, 4) + wrapped("    " + answer->sure, 4);
}

std::string earlier_stages(const JobResult& result) {
    std::string out;
    for (std::size_t i = 0; i + 1 < result.sightings.size(); ++i) {
        std::vector<std::string> parts;
        for (const auto axis : {Axis::yaw, Axis::pitch}) {
            if (const auto answer = axis_answer(result, result.sightings[i], axis)) {
                parts.push_back(answer->points);
            }
        }
        out += wrapped(fmt::format("  {}: {}", stage_words(result, i),
                                   parts.empty() ? "not measured" : joined(parts, ", ")),
                       4);
    }
    return out;
}

std::string finding_lines(const JobResult& result) {
    std::string out;
    for (const auto& placed : placed_findings(result)) {
        const auto where = placed.stages.empty() ? "" : " (" + placed.stages + ")";
        out += wrapped(fmt::format("  {}{}: {}", level_words(placed.finding.level), where,
                                   placed.finding.text),
                       4);
    }
    return out;
}

}  // namespace

std::string report_text(const JobResult& result) {
    const auto line = first_line(result);
    std::string out = wrapped(line.heading + ": " + line.text, 0);
    if (!result.sightings.empty()) {
        const auto& last = result.sightings.back();
        out +=
            section(fmt::format("Job {}: where the mount points, {} (sides as seated in the cab)",
                                result.sheet.job, stage_words(result, result.sightings.size() - 1)),
                    answer_text(result, last, Axis::yaw) + answer_text(result, last, Axis::pitch));
        out += section("Turning", bullets(turning_advice(result, last)));
        auto methods = agreement_sentences(last);
        for (const auto& sentence : service_limit_sentences(result, last)) {
            methods.push_back(sentence);
        }
        out += section("Photos beside tape and level", bullets(methods));
        out += section("The sensor's own reading", bullets(sensor_sentences(last)));
    }
    return out + section("Before this", earlier_stages(result)) +
           section("What the turns did", bullets(response_sentences(result))) +
           section("Where the numbers come from", bullets(source_sentences(result))) +
           section("Cautions",
                   bullets(cautions_at_the_truck()) + bullets(cautions_of_the_answer())) +
           section("What was found", finding_lines(result)) +
           section("Still open", bullets(open_items(result)) + bullets(unready_items(result)));
}

}  // namespace squaresight

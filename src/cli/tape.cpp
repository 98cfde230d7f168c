#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <iostream>
#include <memory>
#include <stdexcept>
#include <string>
#include <vector>

#include "cli/commands.h"
#include "job/tape_words.h"
#include "job/tapes.h"
#include "job/words.h"
#include "report/summary.h"
#include "units/error.h"
#include "units/quantity.h"

namespace squaresight::cli {
namespace {

struct TapeOptions {
    std::filesystem::path job;
    std::filesystem::path mount;
    std::vector<std::string> left, right, face_level, face_display;
    std::string left_point, right_point, bumper_square, beam_level, laser_angle, laser_seating,
        rail_zero;
    std::string beam = "ahead";
    std::string laser{laser_words.front().first};
    std::string squared_by{squared_by_words.front().first};
    bool json = false;
    bool gate = false;

    bool has_readings() const {
        return !(left.empty() && right.empty() && face_level.empty() && face_display.empty());
    }
};

Quantity flag_quantity(const char* flag, const std::string& text, Dimension dimension, double low,
                       double high) {
    try {
        const Quantity quantity = parse_quantity(text, dimension);
        if (quantity.value < low || quantity.value > high) {
            throw std::invalid_argument(
                fmt::format("'{}' is out of range; check digits and unit", text));
        }
        return quantity;
    } catch (const std::invalid_argument& error) {
        throw InputError(std::string(flag) + ": " + error.what());
    }
}

/// A value with its limits where the flag was given; otherwise both stay as they are.
void read_flag(const char* flag, const std::string& text, Dimension dimension, double largest,
               double& value, double& limit) {
    if (!text.empty()) {
        const Quantity quantity = flag_quantity(flag, text, dimension, -largest, largest);
        value = quantity.value;
        limit = quantity.limit.value_or(limit);
    }
}

void read_tapes(const TapeOptions& options, TapeAndLevel& readings) {
    if (options.left.size() != options.right.size()) {
        throw InputError("--left, --right",
                         fmt::format("{} left and {} right tapes were given", options.left.size(),
                                     options.right.size()),
                         "give both of each pass");
    }
    if (options.left.empty()) {
        return;
    }
    if (options.left_point.empty() || options.right_point.empty()) {
        throw InputError("--left-point, --right-point", "are missing",
                         "give how far each reference point is from the sensor's centreline");
    }
    const auto length = [](const char* flag, const std::string& text) {
        return flag_quantity(flag, text, Dimension::length, 0, 10000);
    };
    readings.left_point_mm = length("--left-point", options.left_point).value;
    readings.right_point_mm = length("--right-point", options.right_point).value;
    double limit_mm = 0;
    for (std::size_t i = 0; i < options.left.size(); ++i) {
        const Quantity left = length("--left", options.left[i]);
        const Quantity right = length("--right", options.right[i]);
        readings.passes.push_back({left.value, right.value});
        limit_mm = std::max({limit_mm, left.limit.value_or(readings.pass_limit_mm),
                             right.limit.value_or(readings.pass_limit_mm)});
    }
    readings.pass_limit_mm = limit_mm;
}

void read_level(const TapeOptions& options, TapeAndLevel& readings) {
    if (!options.face_level.empty() && !options.face_display.empty()) {
        throw InputError("--face-level, --face-display", "are two ways to say the same",
                         "give the face once, in either way");
    }
    double limit_deg = 0;
    const auto read = [&](const char* flag, const std::string& text, double low, double high) {
        const Quantity angle = flag_quantity(flag, text, Dimension::angle, low, high);
        limit_deg = std::max(limit_deg, angle.limit.value_or(readings.face_level_limit_deg));
        return angle.value;
    };
    for (const auto& text : options.face_level) {
        readings.face_level_deg.push_back(read("--face-level", text, -30, 30));
    }
    for (const auto& text : options.face_display) {
        readings.face_level_deg.push_back(
            face_level_from_display_deg(read("--face-display", text, 60, 120)));
    }
    readings.face_level_limit_deg = limit_deg > 0 ? limit_deg : readings.face_level_limit_deg;
}

/// The flags as a job sheet of one stage.
JobSheet sheet_of(const TapeOptions& options) {
    TapeAndLevel readings;
    read_tapes(options, readings);
    read_level(options, readings);
    readings.beam_ahead = options.beam == "ahead";
    if (!options.bumper_square.empty()) {
        readings.bumper_square_limit_mm = measured_bumper_limit_mm;
    }
    read_flag("--bumper-square", options.bumper_square, Dimension::length, 500,
              readings.bumper_square_mm, readings.bumper_square_limit_mm);
    readings.squared_by = value_of(squared_by_words, options.squared_by);
    readings.laser = value_of(laser_words, options.laser);
    read_flag("--beam-level", options.beam_level, Dimension::angle, 30, readings.beam_level_deg,
              readings.beam_level_limit_deg);
    read_flag("--laser-angle", options.laser_angle, Dimension::angle, 30, readings.laser_angle_deg,
              readings.laser_angle_limit_deg);
    if (!options.laser_seating.empty()) {
        readings.laser_seating_limit_deg =
            flag_quantity("--laser-seating", options.laser_seating, Dimension::angle, 0, 5).value;
    }
    double rail_zero_deg = 0;
    double rail_zero_limit_deg = readings.rail_zero_limit_deg;
    read_flag("--rail-zero", options.rail_zero, Dimension::angle, 10, rail_zero_deg,
              rail_zero_limit_deg);
    SheetSighting sighting;
    sighting.stage = "as-found";
    sighting.setup.emplace();
    sighting.setup->readings.rail_zero_deg = {rail_zero_deg,
                                              standard_from_limit(rail_zero_limit_deg), true};
    sighting.tape_and_level = readings;
    JobSheet sheet;
    sheet.job = "tape and level";
    sheet.sightings.push_back(sighting);
    return sheet;
}

JobResult measured(const TapeOptions& options) {
    if (!options.job.empty()) {
        const JobSheet sheet = load_job_sheet(options.job);
        return measure_tapes(sheet, load_mount(sheet.mount_file));
    }
    const JobSheet sheet = sheet_of(options);
    if (!options.mount.empty()) {
        return measure_tapes(sheet, load_mount(options.mount));
    }
    JobResult result = measure_tapes(sheet, Mount{});
    result.findings = {{Level::note, "mount-unsourced",
                        "no mount was named, so straight ahead and level within the trade's 0.3 "
                        "and 1.5 deg were taken; name yours with --mount"}};
    return result;
}

/// What to do, where no mount is known from which turns could be worked out.
std::string advice_without_mount(const TapeResult& tape) {
    const auto out = [](const Verdict& verdict) { return verdict.call == Call::out_of_tolerance; };
    if (out(tape.verdict.yaw) || out(tape.verdict.pitch)) {
        return "The mount must be turned: name it with --mount to get the turns.";
    }
    return tape.verdict.passed()
               ? "In tolerance by tape and level: turn nothing."
               : "Too close to call by tape and level alone: measure by photos as well.";
}

std::string axis_text(const JobResult& result, const SightingResult& sighting, Axis axis) {
    const auto answer = axis_answer(result, sighting, axis);
    const char* angle = axis == Axis::yaw ? "yaw" : "pitch";
    if (!answer) {
        return fmt::format("  {} ({}): not measured\n", axis_words(axis), angle);
    }
    return fmt::format("  {} ({}): {}. {}\n    should point {}\n    {}\n    {}\n", axis_words(axis),
                       angle, answer->points, answer->call, answer->should_point,
                       answer->give_or_take, answer->sure);
}

std::string budget_text(const TapeOutcome& outcome) {
    std::string text;
    for (const auto& line : outcome.budget) {
        const double share_deg = std::max(line.yaw_deg, line.pitch_deg);
        if (2 * share_deg < 0.005) {
            continue;  // shown as nothing
        }
        text += fmt::format("  {:<14} {} of {}\n", reading_words(line.source),
                            give_or_take(2 * share_deg),
                            axis_words(line.yaw_deg >= line.pitch_deg ? Axis::yaw : Axis::pitch));
    }
    return text;
}

std::string text_of(const JobResult& result) {
    std::string text =
        result.mount.screws.empty()
            ? advice_without_mount(*result.sightings.back().tape_and_level)
            : fmt::format("{}: {}", first_line(result).heading, first_line(result).text);
    text += "\n";
    for (std::size_t i = 0; i < result.sightings.size(); ++i) {
        const SightingResult& sighting = result.sightings[i];
        text += fmt::format("\nBy tape and level, {} (sides as seated in the cab)\n",
                            stage_words(result, i));
        text += axis_text(result, sighting, Axis::yaw) + axis_text(result, sighting, Axis::pitch);
        for (const auto& sentence : service_limit_sentences(result, sighting)) {
            text += fmt::format("  {}\n", sentence);
        }
        text += "Where the error comes from\n" + budget_text(sighting.tape_and_level->outcome);
    }
    for (const auto& placed : placed_findings(result)) {
        text += fmt::format("{}: {}\n", level_words(placed.finding.level), placed.finding.text);
    }
    return text +
           "Laser: never toward eyes, never at mirrors or chrome. The vehicle maker's "
           "service information comes first.\n";
}

int run(const TapeOptions& options) {
    if (options.job.empty() == !options.has_readings()) {
        throw InputError("tape",
                         options.job.empty() ? "nothing was measured"
                                             : "a job sheet and readings were both given",
                         "name a job sheet, or give --left, --right and --face-level");
    }
    const JobResult result = measured(options);
    std::cout << (options.json ? result_json(result) : text_of(result));
    return options.gate && !answer_is_yes(result) ? answer_is_no : done;
}

void add_reading_flags(CLI::App& command, TapeOptions& options) {
    const auto each = [&](const char* flag, std::vector<std::string>& into, const char* help) {
        command.add_option(flag, into, help)->allow_extra_args(false)->group("Readings");
    };
    const auto one = [&](const char* flag, std::string& into, const char* help) {
        command.add_option(flag, into, help)->group("Readings");
    };
    const auto choice = [&](const char* flag, std::string& into, const auto& words,
                            const char* help) {
        std::vector<std::string> known;
        for (const auto& [word, value] : words) {
            known.emplace_back(word);
        }
        command.add_option(flag, into, help)
            ->check(CLI::IsMember(known))
            ->capture_default_str()
            ->group("Readings");
    };
    one("--left-point", options.left_point, "Left reference point from the sensor's centreline");
    one("--right-point", options.right_point, "Right reference point from the centreline");
    each("--left", options.left, "Tape from the left point to the beam [+/- 1/32 in]; repeatable");
    each("--right", options.right, "Tape from the right point; as often as --left");
    each("--face-level", options.face_level,
         "Inclinometer on the face, zeroed on the rail, nose up positive [+/- 0.1 deg]; "
         "repeatable");
    each("--face-display", options.face_display,
         "The same as displayed on the upright face: 89.4 deg is a nose 0.6 deg up");
    choice("--beam", options.beam,
           std::array<std::pair<std::string_view, bool>, 2>{{{"ahead", true}, {"behind", false}}},
           "Beam ahead of the points or behind");
    one("--bumper-square", options.bumper_square,
        "Left point ahead positive [0 mm +/- 3 mm; +/- 6 mm where it was not measured]");
    choice("--squared-by", options.squared_by, squared_by_words,
           "How the bumper was found square: with the rails' line, by the frame's diagonals");
    choice("--laser", options.laser, laser_words,
           "A straight line to both sides, or a beam that is turned end for end");
    one("--beam-level", options.beam_level, "Beam's left end up positive [0 deg +/- 1 deg]");
    one("--laser-angle", options.laser_angle, "Laser off the face [0 deg +/- 0.2 deg]");
    one("--laser-seating", options.laser_seating, "Limit of each laying on the face [0.1 deg]");
    one("--rail-zero", options.rail_zero, "Error of zeroing on the rail [0 deg +/- 0.1 deg]");
}

}  // namespace

void add_tape(CLI::App& app, int& exit_code) {
    auto options = std::make_shared<TapeOptions>();
    CLI::App* command = app.add_subcommand(
        "tape", "Tape and level alone -> where the mount points, and how sure that is");
    auto* job = command->add_option("JOB", options->job, "Job sheet (YAML), in place of readings");
    command->add_option("--mount", options->mount, "Mount (YAML): aim, limits and screws")
        ->excludes(job);
    add_reading_flags(*command, *options);
    command->add_flag("--json", options->json, "Print the result (JSON) instead of words");
    command->add_flag("--gate", options->gate, "Exit 1 when not in tolerance");
    command->footer(
        "Writes nothing.\nExample: squaresight tape --left-point \"20 in\" --right-point \"20 in\" "
        "--left \"7 5/16 in\" --right \"7 1/2 in\" --face-level \"0.6 deg\"");
    command->callback([options, &exit_code] { exit_code = run(*options); });
}

}  // namespace squaresight::cli

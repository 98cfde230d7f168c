#include <fmt/format.h>

#include <cmath>
#include <filesystem>
#include <iostream>
#include <memory>
#include <stdexcept>
#include <string>

#include "cli/commands.h"
#include "job/result.h"
#include "job/words.h"
#include "report/summary.h"
#include "report/wall_card.h"
#include "units/error.h"
#include "units/quantity.h"

namespace squaresight::cli {
namespace {

struct TurnsOptions {
    std::filesystem::path mount;
    std::string yaw_left, pitch_up, yaw_reading, pitch_reading;
    std::filesystem::path card;
    bool json = false;

    bool has_angle() const {
        return !(yaw_left.empty() && pitch_up.empty() && yaw_reading.empty() &&
                 pitch_reading.empty());
    }
};

Estimate angle_of(const char* flag, const std::string& text) {
    try {
        const Quantity angle = parse_quantity(text, Dimension::angle);
        if (std::abs(angle.value) > 45) {
            throw std::invalid_argument(
                fmt::format("'{}' is no angle of a mount's face; check digits and unit", text));
        }
        return {angle.value, standard_from_limit(angle.limit.value_or(0))};
    } catch (const std::invalid_argument& error) {
        throw InputError(std::string(flag) + ": " + error.what());
    }
}

/// Where the face points about one axis: as given, or from the sensor's reading, or at its aim.
Estimate attitude(const Mount& mount, Axis axis, const std::string& angle,
                  const std::string& reading) {
    const bool yaw = axis == Axis::yaw;
    if (!angle.empty()) {
        return angle_of(yaw ? "--yaw-left" : "--pitch-up", angle);
    }
    if (!reading.empty()) {
        Estimate estimate = angle_of(yaw ? "--yaw-reading" : "--pitch-reading", reading);
        estimate.value = angle_from_reading_deg(mount, axis, estimate.value);
        return estimate;
    }
    return {yaw ? mount.aim_yaw_left_deg : mount.aim_pitch_up_deg, 0};
}

std::string screw_text(const Screw& screw, const Correction& correction) {
    std::string text = fmt::format("  {:<12} {:<18} {}", screw.name, axis_words(screw.turns),
                                   turns_words(correction));
    text += fmt::format("   (exactly {:.2f}", correction.exact_turns);
    if (2 * correction.uncertainty_turns >= 0.005) {
        text += fmt::format(", give or take {:.2f}", 2 * correction.uncertainty_turns);
    }
    text += ")\n";
    if (correction.table_turns_clockwise) {
        text += fmt::format("  {:<12} {:<18} {}\n", "",
                            "service table:", turns_words(*correction.table_turns_clockwise));
    }
    return text;
}

std::string text_of(const Mount& mount, const Estimate& yaw, const Estimate& pitch,
                    const CorrectionPlan& plan, const Findings& findings) {
    const bool stopped = has_stop(findings);
    std::string text = stopped ? "STOP: do not turn anything, see below.\n" : "";
    text += fmt::format("{}: points {}; should point {}\n", mount.name,
                        aim_words(yaw.value, pitch.value),
                        aim_words(mount.aim_yaw_left_deg, mount.aim_pitch_up_deg));
    text += stopped ? "It would take (as seen facing the screw's head):\n"
                    : "Turn (as seen facing the screw's head):\n";
    for (std::size_t i = 0; i < plan.corrections.size(); ++i) {
        text += screw_text(mount.screws[i], plan.corrections[i]);
    }
    text += fmt::format("After these turns it should point {}.\n",
                        aim_words(mount.aim_yaw_left_deg + plan.remaining_yaw_left_deg,
                                  mount.aim_pitch_up_deg + plan.remaining_pitch_up_deg));
    if (!stopped) {
        text +=
            "If you pass the mark, go back past it by 1/4 turn and come up to it again in the "
            "same direction:\nthat takes up the play in the thread. Then measure again.\n";
    }
    for (const auto& finding : findings) {
        text += fmt::format("{}: {}\n", level_words(finding.level), finding.text);
    }
    return text + "Vehicle secured; the vehicle maker's service information comes first.\n";
}

std::string json_of(const Mount& mount, const CorrectionPlan& plan) {
    JobResult result;
    result.sheet.job = "turns";
    result.mount = mount;
    result.findings = mount_findings(mount);
    SightingResult sighting;
    sighting.stage = "as-found";
    sighting.corrections = plan;
    result.sightings.push_back(std::move(sighting));
    return result_json(result);
}

void run(const TurnsOptions& options) {
    const Mount mount = load_mount(options.mount);
    if (!options.has_angle() && options.card.empty()) {
        throw InputError("turns", "no angle was given",
                         "add --yaw-left \"0.7 deg\" or --pitch-up \"-0.6 deg\", or --card FILE");
    }
    if (options.has_angle()) {
        const Estimate yaw = attitude(mount, Axis::yaw, options.yaw_left, options.yaw_reading);
        const Estimate pitch =
            attitude(mount, Axis::pitch, options.pitch_up, options.pitch_reading);
        const CorrectionPlan plan = plan_correction(mount, yaw, pitch, 0, {});
        Findings findings = plan.findings;
        const Findings of_mount = mount_findings(mount);
        findings.insert(findings.end(), of_mount.begin(), of_mount.end());
        std::cout << (options.json ? json_of(mount, plan)
                                   : text_of(mount, yaw, pitch, plan, findings));
    }
    if (!options.card.empty()) {
        write_wall_card(mount, options.card);
        (options.json ? std::cerr : std::cout) << "Card:  " << options.card.string() << '\n';
    }
}

}  // namespace

void add_turns(CLI::App& app, int& exit_code) {
    auto options = std::make_shared<TurnsOptions>();
    CLI::App* command =
        app.add_subcommand("turns", "Angle -> turns of a mount's screws; its card for the wall");
    command->add_option("MOUNT", options->mount, "Mount (YAML)")->required();
    auto* yaw = command->add_option("--yaw-left", options->yaw_left,
                                    "Where the face points: to the left positive");
    auto* pitch =
        command->add_option("--pitch-up", options->pitch_up, "Where it points: nose up positive");
    command
        ->add_option("--yaw-reading", options->yaw_reading,
                     "The sensor's own reading off its aim, with the sign of the mount's file")
        ->excludes(yaw);
    command
        ->add_option("--pitch-reading", options->pitch_reading,
                     "The sensor's own reading off its aim, nose up positive")
        ->excludes(pitch);
    command->add_option("--card", options->card, "Draw the mount's card for the wall (PDF)");
    command->add_flag("--json", options->json, "Print the result (JSON) instead of words");
    command->footer(
        "An angle that is left out counts as right.\n"
        "Example: squaresight turns samples/mounts/three-point.yaml --yaw-left \"0.7 deg\" "
        "--pitch-up \"-0.6 deg\"");
    command->callback([options, &exit_code] {
        run(*options);
        exit_code = done;
    });
}

}  // namespace squaresight::cli

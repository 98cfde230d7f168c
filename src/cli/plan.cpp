#include <fmt/format.h>

#include <filesystem>
#include <iostream>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

#include "adjust/cradle_file.h"
#include "cli/commands.h"
#include "plan/plan.h"
#include "report/floor_layout.h"
#include "report/plan_page.h"
#include "report/plan_words.h"
#include "simulate/practice_bay.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight::cli {
namespace {

struct PlanOptions {
    std::filesystem::path bay, mount, camera, target, cradle, out;
    std::string paper, distance, line_base, plumb, units, name;
    std::vector<std::string> setup, true_errors;
    std::optional<int> photos;
    std::optional<double> corner_noise_px;
    bool json = false;
};

constexpr std::uintmax_t largest_layout_bytes = 64u << 20;

Quantity flag_quantity(const char* flag, const std::string& text, Dimension dimension, double low,
                       double high) {
    try {
        const Quantity quantity = parse_quantity(text, dimension);
        if (!(quantity.value >= low && quantity.value <= high)) {
            throw std::invalid_argument(
                fmt::format("'{}' is out of range; check digits and unit", text));
        }
        return quantity;
    } catch (const std::invalid_argument& error) {
        throw InputError(std::string(flag) + ": " + error.what());
    }
}

void change_files(const PlanOptions& options, PlannedBay& bay) {
    if (!options.mount.empty()) {
        bay.mount = load_mount(options.mount);
    }
    if (!options.camera.empty()) {
        bay.camera = load_camera(options.camera);
    }
    if (!options.cradle.empty()) {
        bay.cradle = load_cradle(options.cradle);
    }
    if (!options.target.empty()) {
        bay.target = load_target(options.target);
    }
    if (!options.paper.empty()) {
        bay.target = board_of(options.paper, bay.target);
    }
}

void change_line(const PlanOptions& options, PlannedBay& bay) {
    if (options.line_base.empty() && options.plumb.empty()) {
        return;
    }
    PlumbMarks marks = bay.setup.line_marks.value_or(*usual_bay().setup.line_marks);
    if (!options.line_base.empty()) {
        marks.base_mm =
            flag_quantity("--line-base", options.line_base, Dimension::length, 200, 60000).value;
    }
    if (!options.plumb.empty()) {
        marks.plumb_limit_mm =
            flag_quantity("--plumb", options.plumb, Dimension::length, 0, 100).value;
    }
    plumb_line(marks, bay.setup);
}

void change_readings(const PlanOptions& options, PlannedBay& bay) {
    if (!options.distance.empty()) {
        const Quantity distance =
            flag_quantity("--distance", options.distance, Dimension::length, 300, 60000);
        Reading& reading = bay.setup.readings.distance_mm;
        reading.value = distance.value;
        if (distance.limit) {
            reading.standard_uncertainty = standard_from_limit(*distance.limit);
        }
    }
    change_line(options, bay);
    if (!options.setup.empty()) {
        Bay entries;
        entries.setup = bay.setup;
        change_setup(entries, options.setup);
        bay.setup = entries.setup;
    }
    if (options.photos) {
        bay.inverted_photos = *options.photos / 2;
        bay.upright_photos = *options.photos - bay.inverted_photos;
    }
    bay.corner_noise_px = options.corner_noise_px.value_or(bay.corner_noise_px);
}

/// What stands in for what neither file nor flag gave.
Findings assumptions(const PlanOptions& options) {
    std::vector<std::string> assumed{
        "readings not given are taken with the usual limits of a job sheet"};
    if (options.camera.empty()) {
        assumed.push_back("the phone is a calibrated one of 12 megapixels (--camera names yours)");
    }
    if (options.mount.empty()) {
        assumed.push_back("limits are the trade's 0.3 and 1.5 deg (--mount names yours)");
    }
    return {{Level::note, "assumed", fmt::format("Assumed: {}.", fmt::join(assumed, "; "))}};
}

PlannedBay planned(const PlanOptions& options) {
    PlannedBay bay = options.bay.empty() ? usual_bay() : load_planned_bay(options.bay);
    if (options.bay.empty()) {
        bay.assumed = assumptions(options);
    }
    change_files(options, bay);
    change_readings(options, bay);
    if (!options.units.empty()) {
        bay.unit = options.units == "in" ? LengthUnit::in : LengthUnit::mm;
    }
    if (!options.name.empty()) {
        bay.name = options.name;
    }
    return bay;
}

std::vector<double> true_errors_deg(const PlanOptions& options) {
    std::vector<double> errors;
    for (const auto& text : options.true_errors) {
        errors.push_back(flag_quantity("--true-error", text, Dimension::angle, -45, 45).value);
    }
    return errors;
}

std::string chances_text(const BayPlan& plan, const std::vector<double>& errors_deg) {
    std::string text;
    for (const double error : errors_deg) {
        const CallChances yaw = plan.yaw_power().at(error);
        text += fmt::format(
            "A mount that is truly {:.3g} deg off side to side: called in tolerance {:.1f} %, out "
            "of tolerance {:.1f} %, too close to call {:.1f} %.\n",
            std::abs(error), 100 * yaw.in_tolerance, 100 * yaw.out_of_tolerance,
            100 * yaw.too_close_to_call);
    }
    return text;
}

/// Returns what was written, for the person who asked.
std::string write_all(const BayPlan& plan, const std::filesystem::path& folder) {
    const auto file = [&](const char* name) { return folder / name; };
    write_floor_layout(plan.floor, file("floor-layout.pdf"), PageKind::pdf);
    write_floor_layout(plan.floor, file("floor-layout.svg"), PageKind::svg);
    const std::string layout = read_file(file("floor-layout.svg"), largest_layout_bytes);
    write_file(file("plan.html"), plan_html(plan, layout));
    return fmt::format("Plan:  {}\nFloor: {}, and .svg\n", file("plan.html").string(),
                       file("floor-layout.pdf").string());
}

void run(const PlanOptions& options) {
    const auto errors = true_errors_deg(options);
    const BayPlan plan = plan_bay(planned(options));
    std::string written;
    if (!options.out.empty()) {
        written = write_all(plan, options.out);
    }
    if (options.json) {
        std::cout << plan_json(plan, errors);
        std::cerr << written;
        return;
    }
    std::cout << plan_text(plan) << chances_text(plan, errors) << written
              << "The vehicle maker's service information comes first.\n";
}

void add_bay_flags(CLI::App& command, PlanOptions& options) {
    const auto one = [&](const char* flag, auto& into, const char* help) {
        command.add_option(flag, into, help)->group("Bay");
    };
    one("--paper", options.paper, "Board of this sheet: A1, \"ARCH D\", ... [A1]");
    one("--target", options.target, "Board (YAML)");
    one("--distance", options.distance, "Face to board, as \"5 m +/- 3 mm\" [5 m +/- 5 mm]");
    one("--line-base", options.line_base, "Between the plumb marks [4 m]");
    one("--plumb", options.plumb, "Limit of each plumb mark [2 mm]");
    command.add_option("--photos", options.photos, "Photos of a measurement, half upside down [4]")
        ->check(CLI::Range(1, 40))
        ->group("Bay");
    one("--camera", options.camera, "Camera (YAML)");
    one("--mount", options.mount, "Mount (YAML): aim and limits");
    one("--cradle", options.cradle, "Cradle (YAML), where its offset is stored");
    command
        .add_option("--setup", options.setup,
                    "Any reading of a job sheet's setup: KEY=VALUE; repeatable")
        ->allow_extra_args(false)
        ->group("Bay");
    command.add_option("--units", options.units, "Unit of the shop's tapes [mm]")
        ->check(CLI::IsMember({"mm", "in"}))
        ->group("Bay");
    one("--name", options.name, "Name of the bay");
    command
        .add_option("--corner-noise", options.corner_noise_px,
                    "Scatter of a photo's corners in pixels [0.05]")
        ->check(CLI::Range(0.03, 5.0))
        ->group("Bay");
}

}  // namespace

void add_plan(CLI::App& app, int& exit_code) {
    auto options = std::make_shared<PlanOptions>();
    CLI::App* command = app.add_subcommand(
        "plan", "What a bay will be able to decide, before it is built; its floor layout");
    command->add_option("BAY", options->bay, "Bay (YAML); flags change it or stand in for it");
    command->add_option("--out", options->out, "Folder for plan.html, floor-layout.pdf and .svg");
    command
        ->add_option("--true-error", options->true_errors,
                     "Also say how a mount this far off will be called; repeatable")
        ->allow_extra_args(false);
    command->add_flag("--json", options->json, "Print the figures (JSON) instead of words");
    add_bay_flags(*command, *options);
    command->footer(
        "Without --out nothing is written.\n"
        "Example: squaresight plan samples/bays/main-bay.yaml --distance \"4 m\" --out plan");
    command->callback([options, &exit_code] {
        run(*options);
        exit_code = done;
    });
}

}  // namespace squaresight::cli

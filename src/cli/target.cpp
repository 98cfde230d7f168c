#include <fmt/format.h>

#include <cmath>
#include <iostream>
#include <nlohmann/json.hpp>
#include <optional>

#include "cli/commands.h"
#include "cli/today.h"
#include "target/drawing.h"
#include "target/layout.h"
#include "target/sheets.h"
#include "units/entry.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight::cli {
namespace {

struct Options {
    std::string target_file;
    std::string paper, square, name, out;
    bool portrait = false, landscape = false, checkerboard = false, replace = false, json = false;
    double dpi = 100;
    std::string measured_across, measured_down, measured_falling, measured_rising, on;
};

double length_flag(const std::string& flag, const std::string& text) {
    Quantity quantity;
    try {
        quantity = parse_quantity(text, Dimension::length);
    } catch (const std::invalid_argument& error) {
        throw InputError(flag + ": " + error.what());
    }
    if (quantity.limit) {
        throw InputError(flag, "takes no limits", "leave out '+/-'");
    }
    if (quantity.value <= 0 || quantity.value > 10000) {
        throw InputError(flag, fmt::format("'{}' is out of range", text),
                         "write a length above zero and up to 10 m");
    }
    return quantity.value;
}

nlohmann::ordered_json json_of(const Target& target) {
    const auto& pattern = target.pattern;
    nlohmann::ordered_json json{
        {"schema", "squaresight/target/1"},
        {"name", target.name},
        {"sheet", {{"width_mm", target.sheet_width_mm}, {"height_mm", target.sheet_height_mm}}},
        {"pattern",
         {{"across", pattern.across}, {"down", pattern.down}, {"square_mm", pattern.square_mm}}}};
    if (pattern.has_markers()) {
        json["pattern"]["marker_mm"] = pattern.marker_mm;
        json["pattern"]["dictionary"] = pattern.dictionary;
        json["pattern"]["first_id"] = pattern.first_id;
    }
    json["pattern"]["first_square"] =
        pattern.first_square == SquareColour::black ? "black" : "white";
    json["centre"] = {{"right_mm", target.centre_mm.x()}, {"down_mm", target.centre_mm.y()}};
    if (target.print_checked) {
        json["printed"] = {{"across", target.printed_across}, {"down", target.printed_down}};
    } else {
        json["printed"] = nullptr;
    }
    json["flatness_mm"] = target.flatness_mm;
    json["printed_on"] = target.printed_on;
    json["checked_on"] = target.checked_on;
    const Eigen::Vector2d bars = check_bar_mm(target);
    json["check_bars"] = {{"across_mm", bars.x()}, {"down_mm", bars.y()}};
    return json;
}

std::string slug(std::string text) {
    for (char& c : text) {
        c = c == ' ' ? '-' : static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    }
    return text;
}

/// The target's name becomes the name of its files.
std::string checked_name(const std::string& name) {
    const bool plain = std::all_of(name.begin(), name.end(), [](char c) {
        return static_cast<unsigned char>(c) >= 0x20 && c != '/' && c != '\\';
    });
    if (!plain || name.front() == '.' || name.size() > 60) {
        throw InputError("--name", "is no name for files",
                         "use up to 60 letters, digits, spaces and hyphens");
    }
    return name;
}

Target wanted_target(const Options& options) {
    const SheetSize sheet = sheet_size(options.paper, "--paper");
    TargetWish wish;
    wish.sheet_width_mm = options.portrait ? sheet.short_mm : sheet.long_mm;
    wish.sheet_height_mm = options.portrait ? sheet.long_mm : sheet.short_mm;
    wish.checkerboard = options.checkerboard;
    wish.name = options.name.empty()
                    ? (options.checkerboard ? "checkerboard-" : "target-") + slug(sheet.name)
                    : checked_name(options.name);
    if (!options.square.empty()) {
        wish.square_mm = length_flag("--square", options.square);
    }
    return design_target(wish);
}

/// A print that was measured is worth more than a fresh file that has forgotten it.
void keep_measured(const std::filesystem::path& yaml, bool replace) {
    if (replace || !std::filesystem::exists(yaml)) {
        return;
    }
    bool measured = true;
    try {
        measured = load_target(yaml).print_checked;
    } catch (const InputError&) {
        throw InputError(yaml.string(), "stands there already and is no readable target",
                         "choose another --name, or add --replace");
    }
    if (measured) {
        throw InputError(yaml.string(), "holds a print scale that was measured",
                         "choose another --name, or add --replace to lose it");
    }
}

void check_dpi(const Target& target, double dpi) {
    const double megapixels = target.sheet_width_mm * target.sheet_height_mm * dpi * dpi /
                              (mm_per_inch * mm_per_inch) / 1e6;
    if (!(dpi >= 20 && dpi <= 1200) || megapixels > 150) {
        throw InputError("--dpi", fmt::format("{:g} is out of range for this sheet", dpi),
                         "write 20 to 1200, up to 150 megapixels; the PDF is exact at any size");
    }
}

/// As a ruler with millimetres and one with inches show it.
std::string bar_words(double bar_mm) {
    return fmt::format("{} ({})", length_text(bar_mm, LengthUnit::mm), inches_text(bar_mm));
}

void draw(const Options& options) {
    const Target target = wanted_target(options);
    check_dpi(target, options.dpi);
    const std::filesystem::path folder = options.out;
    const auto file = [&](const char* extension) { return folder / (target.name + extension); };
    keep_measured(file(".yaml"), options.replace);
    draw_target(target, file(".pdf"), PageKind::pdf);
    draw_target(target, file(".svg"), PageKind::svg);
    draw_target(target, file(".png"), PageKind::png, options.dpi);
    write_file(file(".yaml"), target_yaml(target));
    if (options.json) {
        std::cout << json_of(target).dump(2) << '\n';
        return;
    }
    const Eigen::Vector2d bars = check_bar_mm(target);
    std::cout << fmt::format(
        "Drawn: {}, with .svg, .png and .yaml beside it.\n"
        "Next: print the PDF at 100 % (no 'fit to page'), mount it on a flat, rigid board, then\n"
        "measure both check bars ({} across, {} down if the print is true) and\n"
        "both diagonals of the pattern, and record them with what you read and its unit in place\n"
        "of the words in capitals:\n"
        "  squaresight target '{}' --measured-across 'READ_ACROSS' --measured-down 'READ_DOWN' "
        "--measured-falling 'READ_FALLING' --measured-rising 'READ_RISING'\n",
        file(".pdf").string(), bar_words(bars.x()), bar_words(bars.y()), file(".yaml").string());
}

double scale_flag(const std::string& flag, const std::string& text, double bar_mm) {
    const double measured_mm = length_flag(flag, text);
    const auto scale = print_scale(measured_mm, bar_mm);
    if (!scale) {
        throw InputError(
            flag, fmt::format("{:g} mm is no reading of a bar of {:g} mm", measured_mm, bar_mm),
            "measure from end line to end line; if that is what it reads, print again "
            "at 100 %");
    }
    return *scale;
}

/// One diagonal of the pattern, between its outer corners.
double diagonal_flag(const std::string& flag, const std::string& text, const Pattern& pattern) {
    constexpr double largest_off = 0.03;
    const double true_mm = pattern.square_mm * std::hypot(pattern.across, pattern.down);
    const double measured_mm = length_flag(flag, text);
    if (std::abs(measured_mm / true_mm - 1) > largest_off) {
        throw InputError(
            flag,
            fmt::format("{:g} mm is no reading of a diagonal of {:g} mm", measured_mm, true_mm),
            "measure the pattern from outer corner to outer corner");
    }
    return measured_mm;
}

void take_diagonals(const Options& options, Target& target) {
    if (options.measured_falling.empty() && options.measured_rising.empty()) {
        return;
    }
    target.printed_skew = skew_of_diagonals(
        target.pattern,
        diagonal_flag("--measured-falling", options.measured_falling, target.pattern),
        diagonal_flag("--measured-rising", options.measured_rising, target.pattern));
    target.skew_checked = true;
}

void record(const Options& options) {
    Target target = load_target(options.target_file);
    const Eigen::Vector2d bars = check_bar_mm(target);
    const double across = scale_flag("--measured-across", options.measured_across, bars.x());
    const double down = scale_flag("--measured-down", options.measured_down, bars.y());
    if (std::abs(across / down - 1) > 0.02) {
        throw InputError("--measured-across, --measured-down",
                         fmt::format("the bars give scales of {:.4f} and {:.4f}, which no printer "
                                     "does",
                                     across, down),
                         "measure both again, from end line to end line");
    }
    target.printed_across = across;
    target.printed_down = down;
    target.print_checked = true;
    take_diagonals(options, target);
    target.checked_on = options.on.empty() ? today() : options.on;
    if (!is_date(target.checked_on)) {
        throw InputError("--on", fmt::format("'{}' is not a date", options.on),
                         "write the day as 2026-03-05");
    }
    write_file(options.target_file, target_yaml(target));
}

std::string in_words(const Target& target) {
    const auto& pattern = target.pattern;
    const Eigen::Vector2d bars = check_bar_mm(target);
    std::string text =
        fmt::format("{}: {} x {} squares of {:g} mm{} on a sheet of {:g} x {:g} mm\n", target.name,
                    pattern.across, pattern.down, pattern.square_mm,
                    pattern.has_markers() ? "" : ", plain checkerboard", target.sheet_width_mm,
                    target.sheet_height_mm);
    if (!target.print_checked) {
        return text + fmt::format(
                          "The print was not measured yet: its check bars should read {:g} "
                          "mm across and {:g} mm down.\n",
                          bars.x(), bars.y());
    }
    text += fmt::format("Print measured{}: {:.2f} % of true size across, {:.2f} % down.\n",
                        target.checked_on.empty() ? "" : " on " + target.checked_on,
                        100 * target.printed_across, 100 * target.printed_down);
    if (target.skew_checked) {
        text += fmt::format("Skew: {:.2f} mm to the right over the height of the pattern.\n",
                            target.printed_skew * pattern.down * pattern.square_mm);
    }
    const double off =
        std::max(std::abs(target.printed_across - 1), std::abs(target.printed_down - 1));
    return off <= 0.01 ? text
                       : text +
                             "The printer has scaled this page. It can be used as recorded, but "
                             "better print it again at 100 %.\n";
}

void show(const Options& options) {
    const Target target = load_target(options.target_file);
    if (options.json) {
        std::cout << json_of(target).dump(2) << '\n';
    } else {
        std::cout << in_words(target);
    }
}

void run(const Options& options) {
    const bool measured = !options.measured_across.empty() || !options.measured_down.empty();
    if (options.target_file.empty()) {
        if (options.paper.empty() || options.out.empty()) {
            throw CLI::ValidationError("target",
                                       "needs --paper and --out to draw, or a TARGET.yaml");
        }
        if (measured || !options.on.empty()) {
            throw CLI::ValidationError("target", "name the TARGET.yaml whose print was measured");
        }
        draw(options);
        return;
    }
    if (!options.paper.empty() || !options.out.empty()) {
        throw CLI::ValidationError("target",
                                   "a TARGET.yaml and --paper or --out exclude each other");
    }
    if (measured && (options.measured_across.empty() || options.measured_down.empty())) {
        throw CLI::ValidationError("target", "needs both --measured-across and --measured-down");
    }
    if (measured) {
        record(options);
    }
    show(options);
}

}  // namespace

void add_target(CLI::App& app, int& exit_code) {
    const auto options = std::make_shared<Options>();
    CLI::App* command =
        app.add_subcommand("target", "Draws a target to print, or records its measured check bars");
    command->add_option("TARGET", options->target_file, "target file whose print was measured")
        ->type_name("TARGET.yaml");
    command->add_option("--paper", options->paper,
                        "sheet: A0-A4, B0-B4, ANSI A-E, ARCH A-E1, letter, tabloid, 24x36");
    auto* portrait = command->add_flag("--portrait", options->portrait, "sheet stands upright");
    command->add_flag("--landscape", options->landscape, "sheet lies on its side (the default)")
        ->excludes(portrait);
    command->add_flag("--checkerboard", options->checkerboard,
                      "plain checkerboard for the phone check (camera calibration)");
    command->add_option("--square", options->square,
                        "side of a square, such as 60mm; else as large as fits");
    command->add_option("--name", options->name, "name of the target and of its files");
    command->add_option("--out", options->out, "folder to write into")->type_name("DIR");
    command->add_option("--dpi", options->dpi, "resolution of the PNG")->capture_default_str();
    command->add_flag("--replace", options->replace, "overwrite a file whose print was measured");
    command->add_option("--measured-across", options->measured_across,
                        "what the check bar across reads, such as 799.2mm or 31 1/2 in");
    command->add_option("--measured-down", options->measured_down, "what the check bar down reads");
    auto* falling = command->add_option(
        "--measured-falling", options->measured_falling,
        "diagonal of the pattern from its top left outer corner to the bottom right one");
    auto* rising = command->add_option("--measured-rising", options->measured_rising,
                                       "the other diagonal; both show whether the print is skew");
    falling->needs(rising);
    rising->needs(falling);
    command->add_option("--on", options->on, "day of that check, as 2026-03-05 (default: today)");
    command->add_flag("--json", options->json, "print the target as JSON");
    command->footer(
        "Examples:\n"
        "  squaresight target --paper A1 --name bay-a1 --out targets\n"
        "  squaresight target --paper A3 --checkerboard --out targets\n"
        "  squaresight target targets/bay-a1.yaml --measured-across 799.2mm --measured-down "
        "499.5mm");
    command->callback([options, &exit_code] {
        run(*options);
        exit_code = done;
    });
}

}  // namespace squaresight::cli

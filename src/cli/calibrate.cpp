#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>

#include "calibrate/calibration_check.h"
#include "calibrate/phone_check.h"
#include "cli/commands.h"
#include "cli/progress.h"
#include "cli/today.h"
#include "job/json_parts.h"
#include "report/phone_page.h"
#include "report/summary.h"
#include "target/target.h"
#include "units/entry.h"
#include "units/error.h"
#include "units/files.h"
#include "units/quantity.h"

namespace squaresight::cli {
namespace {

struct CalibrateOptions {
    std::vector<std::string> photos;
    std::vector<std::string> boards;
    std::string inner_corners;
    std::string square;
    std::vector<std::string> taped;  // DISTANCE PHOTO... DISTANCE PHOTO...
    std::vector<std::string> still;
    std::string check;
    std::string bay;
    std::string lens_sag;
    std::string name;
    std::string date;
    std::string out;
    bool replace = false;
    bool json = false;
};

constexpr double usual_tape_limit_mm = 5;

Quantity quantity_flag(const std::string& flag, const std::string& text, Dimension dimension) {
    try {
        return parse_quantity(text, dimension);
    } catch (const std::invalid_argument& error) {
        throw InputError(flag, error.what(), "write number and unit together, as 25mm or 0.03deg");
    }
}

double square_mm_of(const std::string& text) {
    const double mm = quantity_flag("--square", text, Dimension::length).value;
    if (!(mm >= 1 && mm <= 1000)) {
        throw InputError("--square", fmt::format("'{}' is no side of a square", text),
                         "write what one square measures, as 25mm");
    }
    return mm;
}

/// "--square 25 mm" leaves its unit among the photos.
void join_unit(CalibrateOptions& options) {
    const auto unit = std::find_if(
        options.photos.begin(), options.photos.end(),
        [](const std::string& word) { return word == "mm" || word == "cm" || word == "in"; });
    const bool bare = options.square.find_first_not_of("0123456789./ ") == std::string::npos;
    if (!options.square.empty() && bare && unit != options.photos.end()) {
        options.square += " " + *unit;
        options.photos.erase(unit);
    }
}

/// "9x6" as columns and rows of inner corners.
std::pair<int, int> inner_corners_of(const std::string& text) {
    int across = 0;
    int down = 0;
    char rest = 0;
    if (std::sscanf(text.c_str(), "%4dx%4d%c", &across, &down, &rest) != 2 || across < 3 ||
        down < 3 || across > 200 || down > 200) {
        throw InputError("--inner-corners", fmt::format("'{}' is no grid of corners", text),
                         "count the places where four squares meet, across and down: 9x6");
    }
    return {across, down};
}

/// A plain checkerboard of no file.
Target described_board(const CalibrateOptions& options) {
    if (options.inner_corners.empty() || options.square.empty()) {
        throw InputError("calibrate", "--inner-corners and --square describe a board together",
                         "give both, such as --inner-corners 9x6 --square 25mm");
    }
    const auto [across, down] = inner_corners_of(options.inner_corners);
    Target board;
    board.name = fmt::format("checkerboard {}", options.inner_corners);
    board.pattern.across = across + 1;
    board.pattern.down = down + 1;
    board.pattern.square_mm = square_mm_of(options.square);
    board.sheet_width_mm = board.pattern.across * board.pattern.square_mm;
    board.sheet_height_mm = board.pattern.down * board.pattern.square_mm;
    board.centre_mm = {board.sheet_width_mm / 2, board.sheet_height_mm / 2};
    return board;
}

std::vector<Target> boards_of(const CalibrateOptions& options) {
    std::vector<Target> boards;
    for (const auto& file : options.boards) {
        boards.push_back(load_target(file));
    }
    if (!options.inner_corners.empty() || !options.square.empty()) {
        boards.push_back(described_board(options));
    }
    if (boards.empty()) {
        throw InputError("calibrate", "no board was given",
                         "name its file (--board targets/checkerboard-a3.yaml) or describe it "
                         "(--inner-corners 9x6 --square 25mm)");
    }
    return boards;
}

std::optional<Quantity> as_length(const std::string& text) {
    try {
        return parse_quantity(text, Dimension::length);
    } catch (const std::invalid_argument&) {
        return std::nullopt;
    }
}

/// Photos at no tape, then those of each taped distance.
struct Photos {
    std::vector<BoardPhotoFile> files;
    std::vector<TapedDistance> tapes;
    LengthUnit unit = LengthUnit::mm;  ///< that the last taped distance was written in
};

void add_taped(const std::vector<std::string>& words, Photos& photos) {
    bool has_photo = true;
    for (const auto& word : words) {
        if (const auto length = as_length(word)) {
            if (!has_photo) {
                throw InputError("--taped", "a distance without photos",
                                 "write the distance, then its photos: --taped 5000mm a.jpg b.jpg");
            }
            if (!(length->value >= 300 && length->value <= 100000)) {
                throw InputError("--taped", fmt::format("'{}' is no distance to a board", word),
                                 "tape from the phone's lens to the middle of the board");
            }
            photos.tapes.push_back(
                {length->value, standard_from_limit(length->limit.value_or(usual_tape_limit_mm))});
            photos.unit = length->in_inches ? LengthUnit::in : LengthUnit::mm;
            has_photo = false;
        } else if (photos.tapes.empty()) {
            throw InputError("--taped", fmt::format("'{}' is no distance", word),
                             "write the distance first, with its unit: --taped 5000mm a.jpg b.jpg");
        } else {
            photos.files.push_back({word, static_cast<int>(photos.tapes.size()) - 1});
            has_photo = true;
        }
    }
    if (!has_photo) {
        throw InputError("--taped", "a distance without photos",
                         "write the distance, then its photos: --taped 5000mm a.jpg b.jpg");
    }
    for (auto& tape : photos.tapes) {
        tape.standard_uncertainty_mm = std::max(tape.standard_uncertainty_mm, 0.1);
    }
}

Photos photos_of(const CalibrateOptions& options) {
    Photos photos;
    for (const auto& file : options.photos) {
        photos.files.push_back({file, -1});
    }
    add_taped(options.taped, photos);
    if (photos.files.empty()) {
        throw InputError("calibrate", "no photos were given",
                         "name the photos of the board after the flags");
    }
    return photos;
}

/// Empty where none was given: the photos then tell.
std::string date_of(const CalibrateOptions& options) {
    if (!options.date.empty() && !is_date(options.date)) {
        throw InputError("--date", fmt::format("'{}' is no day", options.date),
                         "write it as 2026-03-05");
    }
    return options.date;
}

/// The camera file that is there is never lost: with --replace it is kept under its own day.
std::filesystem::path kept_name(const std::filesystem::path& file) {
    std::string day;
    try {
        day = load_camera(file).date;
    } catch (const InputError&) {
    }
    const std::string stem = file.stem().string() + "-" + (day.empty() ? "before-" + today() : day);
    std::filesystem::path kept = file.parent_path() / (stem + file.extension().string());
    for (int n = 2; std::filesystem::exists(kept); ++n) {
        kept = file.parent_path() / fmt::format("{}-{}{}", stem, n, file.extension().string());
    }
    return kept;
}

void check_out(const CalibrateOptions& options) {
    if (options.out.empty()) {
        throw InputError("--out", "is missing",
                         "name the camera file to write: --out "
                         "calib/my-phone.yaml");
    }
    if (!options.replace && std::filesystem::exists(options.out)) {
        throw InputError(options.out, "is there already",
                         "choose another --out, or add --replace: the old one is then kept beside "
                         "it under its date");
    }
}

void photo_progress(std::size_t photo, std::size_t photos) {
    show_progress(fmt::format("photo {} of {}", photo, photos),
                  static_cast<double>(photo - 1) / static_cast<double>(photos));
}

std::string text_of(const PhoneCheck& check) {
    const Camera& camera = check.camera;
    std::string text = fmt::format("{}\n", check.verdict.words);
    if (!check.verdict.cost_of_no_tape.empty()) {
        text += check.verdict.cost_of_no_tape + "\n";
    }
    if (check.next) {
        text += fmt::format("Next photo: {}\n", check.next->words);
    }
    for (const auto& finding : check.findings) {
        text += fmt::format("{}: {}\n", level_words(finding.level), finding.text);
    }
    text += fmt::format("\nPhone '{}', {} x {} px, {} photos in use, {}\n", camera.name,
                        camera.width_px, camera.height_px, *camera.photos_used, camera.date);
    const auto line = [&](const char* what, double value, int parameter, const char* unit) {
        text += fmt::format("  {:<17}{:.2f}{} give or take {:.2f}\n", what, value, unit,
                            2 * std::sqrt(camera.covariance(parameter, parameter)));
    };
    line("focal length", camera.lens.fx, 0, " px,");
    line("  down", camera.lens.fy, 1, " px,");
    line("principal point", camera.lens.cx, 2, " px,");
    line("  down", camera.lens.cy, 3, " px,");
    text += fmt::format("  corners misfit   {:.3f} px; of photos left out in turn {:.3f} px\n",
                        check.solution.rms_px(), check.held_out_rms_px);
    text += fmt::format("  picture covered  {:.0f} %\n", 100 * check.seen_share);
    if (check.still) {
        text +=
            fmt::format("  pointing jitter  {:.4f} deg ({:.4f} to {:.4f}), from {} still photos\n",
                        check.still->jitter_deg, check.still->lower_95_deg,
                        check.still->upper_95_deg, check.still->photos);
    } else {
        text += fmt::format("  pointing jitter  {:g} deg, supposed: no still photos (--still)\n",
                            camera.pointing_jitter_deg);
    }
    return text;
}

void calibrate(const CalibrateOptions& options) {
    check_out(options);
    const std::filesystem::path out = options.out;
    PhoneCheckWish wish;
    wish.name = options.name.empty() ? out.stem().string() : options.name;
    wish.date = date_of(options);
    wish.boards = boards_of(options);
    const Photos photos = photos_of(options);
    wish.photos = photos.files;
    wish.tapes = photos.tapes;
    for (const auto& file : options.still) {
        wish.still.push_back({file, -1});
    }
    if (!options.lens_sag.empty()) {
        wish.lens_sag_deg = quantity_flag("--lens-sag", options.lens_sag, Dimension::angle).value;
        if (!(wish.lens_sag_deg >= 0 && wish.lens_sag_deg <= 5)) {
            throw InputError("--lens-sag", "is out of range", "write 0deg to 5deg");
        }
    }
    if (options.bay.empty()) {
        wish.bay = usual_bay();
        wish.bay.unit = photos.unit;
    } else {
        wish.bay = load_planned_bay(options.bay);
    }
    PhoneCheck check = check_phone(wish, photo_progress);
    end_progress();
    if (check.camera.date.empty()) {
        check.camera.date = today();
    }
    if (std::filesystem::exists(out)) {
        const auto kept = kept_name(out);
        std::filesystem::copy_file(out, kept);
        if (!options.json) {
            std::cout << fmt::format("The camera file that was there is kept as {}.\n",
                                     kept.string());
        }
    }
    std::filesystem::path page = out;
    page.replace_extension(".html");
    write_file(page, phone_page(check));
    write_file(out, camera_yaml(check.camera));
    if (options.json) {
        std::cout << phone_check_json(check);
    } else {
        std::cout << text_of(check)
                  << fmt::format("Camera file: {}\nPage:        {}\n", out.string(), page.string());
    }
}

Json json_of(const CalibrationCheck& check, const Camera& camera) {
    const char* standing = check.standing == CalibrationStanding::holds     ? "holds"
                           : check.standing == CalibrationStanding::changed ? "changed"
                                                                            : "cannot tell";
    return {{"schema", "squaresight/calibration-check/1"},
            {"camera", camera.name},
            {"standing", standing},
            {"text", check.words},
            {"photos", check.photos},
            {"left_out", check.left_out},
            {"chi_square", number_json(check.chi_square)},
            {"degrees_of_freedom", check.degrees_of_freedom},
            {"p", number_json(check.p)},
            {"focal_change", number_json(check.focal_change)},
            {"focal_change_standard_uncertainty", number_json(check.focal_change_u)},
            {"principal_point_moved_px", number_json(check.principal_moved_px)},
            {"pointing_change_deg", number_json(check.pointing_change_deg)},
            {"smallest_findable_change_deg", number_json(check.smallest_change_deg)}};
}

void check_existing(const CalibrateOptions& options) {
    if (!options.out.empty() || !options.still.empty()) {
        throw InputError("--check", "only looks at a camera file",
                         "leave out --out and --still, or calibrate without --check");
    }
    const Camera camera = load_camera(options.check);
    const Photos photos = photos_of(options);
    const auto check =
        check_calibration(camera, boards_of(options), photos.files, photos.tapes, photo_progress);
    end_progress();
    if (options.json) {
        std::cout << json_of(check, camera).dump(2) << '\n';
        return;
    }
    std::cout << check.words << '\n';
    for (const auto& photo : check.left_out) {
        std::cout << "Left out: " << photo << '\n';
    }
    std::cout << fmt::format(
        "  {} photos; test value {:.1f} for {} directions; a change that large by chance: p = "
        "{:.4f}\n",
        check.photos, check.chi_square, check.degrees_of_freedom, check.p);
}

}  // namespace

void add_calibrate(CLI::App& app, int& exit_code) {
    auto options = std::make_shared<CalibrateOptions>();
    CLI::App* command = app.add_subcommand(
        "calibrate", "Photos of a checkerboard -> the camera file of a phone (phone check)");
    command->add_option("PHOTO", options->photos, "Near photos of the boards (JPEG, HEIC, PNG)");
    command
        ->add_option("--board", options->boards,
                     "Board in the photos: a target file; once for each board")
        ->type_name("BOARD.yaml")
        ->allow_extra_args(false);
    command->add_option("--inner-corners", options->inner_corners,
                        "Instead of a file: corners where four squares meet, as 9x6");
    command->add_option("--square", options->square, "and the side of its squares, as 25mm");
    command->add_option("--taped", options->taped,
                        "Distance from lens to the middle of the board, then its photos: "
                        "'5000 mm +/- 3 mm' far-1.jpg far-2.jpg [+/- 5 mm]");
    command->add_option("--still", options->still,
                        "Five or more photos of a still target, phone untouched: pointing jitter");
    command
        ->add_option("--check", options->check,
                     "Only say whether this camera file still holds, by the photos")
        ->type_name("CAMERA.yaml");
    command->add_option("--bay", options->bay, "Bay that the phone is for [A1 board at 5 m]")
        ->type_name("BAY.yaml");
    command->add_option("--lens-sag", options->lens_sag,
                        "How far the lens sags under gravity, standard uncertainty [0.03 deg]");
    command->add_option("--name", options->name, "Name of the camera [that of its file]");
    command->add_option("--date", options->date,
                        "Day it stands for, as 2026-03-05 [that of the newest photo, else today]");
    command->add_option("--out", options->out, "Camera file to write; its page stands beside it");
    command->add_flag("--replace", options->replace,
                      "Put a new camera file in place of the one that is there, which is kept "
                      "under its date");
    command->add_flag("--json", options->json, "Print the figures (JSON) instead of words");
    command->footer(
        "Take about ten photos of the checkerboard from 0.5 to 0.8 m, tilted up to 40 deg to each "
        "side and\nreaching every corner of the picture, and two or more of the bay's board from "
        "where it is used, with\nthe distance taped from the lens.\n"
        "Examples:\n"
        "  squaresight calibrate --board targets/checkerboard-a3.yaml --board targets/bay-a1.yaml\n"
        "      near-*.jpg --taped 5000mm far-1.jpg far-2.jpg --out calib/my-phone.yaml\n"
        "  squaresight calibrate --inner-corners 9x6 --square 25mm near-*.jpg --out phone.yaml\n"
        "  squaresight calibrate --check calib/my-phone.yaml --board targets/checkerboard-a3.yaml "
        "again-*.jpg");
    command->callback([options, &exit_code] {
        join_unit(*options);
        if (options->check.empty()) {
            calibrate(*options);
        } else {
            check_existing(*options);
        }
        exit_code = done;
    });
}

}  // namespace squaresight::cli

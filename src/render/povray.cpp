#include "render/povray.h"

#include <fmt/format.h>
#include <unistd.h>

#include <cmath>
#include <cstdlib>
#include <opencv2/imgcodecs.hpp>
#include <vector>

#include "render/scenes/scenes.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight {
namespace {

namespace fs = std::filesystem;

using Declared = std::vector<std::pair<const char*, double>>;

Declared declared_of_job(const Scene& scene) {
    const TrueCradle& cradle = scene.cradle;
    return {{"Sag_Down", scene.lens.sag_down_deg}, {"Offset_Left", cradle.offset_left_deg},
            {"Offset_Up", cradle.offset_up_deg},   {"Lens_Ahead", cradle.lens_ahead_mm},
            {"Lens_Left", cradle.lens_left_mm},    {"Lens_Up", cradle.lens_up_mm},
            {"Phone_Up", cradle.phone_up_deg},     {"Bow_Across", scene.sheet.bow_across_mm},
            {"Bow_Down", scene.sheet.bow_down_mm}, {"Twist", scene.sheet.twist_mm},
            {"Light", scene.picture.light}};
}

Declared declared_of_stage(const TrueStage& stage) {
    const TrueSetup& setup = stage.setup;
    return {{"Yaw_Left", stage.yaw_left_deg},
            {"Pitch_Up", stage.pitch_up_deg},
            {"Moved_Ahead", stage.moved_ahead_mm},
            {"Line_Left", setup.line_left_deg},
            {"Distance", setup.distance_mm},
            {"Target_Left", setup.target_left_mm},
            {"Mount_Left", setup.mount_left_mm},
            {"Target_Height", setup.target_height_mm},
            {"Mount_Height", setup.mount_height_mm},
            {"Floor_Rise", setup.floor_rise_deg},
            {"Turned_Left", setup.target_turned_left_deg},
            {"Lean_Back", setup.target_lean_back_deg},
            {"Roll_Clockwise", setup.target_roll_clockwise_deg}};
}

Declared declared_of_photo(const TruePhoto& photo, const PhotoScatter& scatter,
                           const Window& window) {
    return {{"Roll", photo.roll_deg},
            {"Seating_Left", scatter.seating_left_deg},
            {"Seating_Up", scatter.seating_up_deg},
            {"Jitter_Left", scatter.jitter_left_deg},
            {"Jitter_Up", scatter.jitter_up_deg},
            {"Window_Right", (window.left + window.right) / 2},
            {"Window_Down", (window.top + window.bottom) / 2},
            {"Window_Width", window.width()},
            {"Window_Height", window.height()}};
}

std::string declarations(const Declared& values) {
    std::string text;
    for (const auto& [name, value] : values) {
        text += fmt::format("#declare {} = {:.12g};\n", name, value);
    }
    return text;
}

fs::path new_folder() {
    std::string pattern = (fs::temp_directory_path() / "squaresight-render-XXXXXX").string();
    if (mkdtemp(pattern.data()) == nullptr) {
        throw InputError(pattern, "could not be made", "free the temporary folder or set TMPDIR");
    }
    return pattern;
}

}  // namespace

void require_povray() {
    if (std::system("command -v povray >/dev/null 2>&1") != 0) {
        throw InputError("povray", "is not installed",
                         "install the package povray, or make jobs without pictures");
    }
}

PovRay::PovRay(const Scene& scene, const cv::Mat& sheet, double sheet_width_mm,
               double sheet_height_mm, PovRayOptions options)
    : scene_(scene),
      folder_(new_folder()),
      sheet_width_mm_(sheet_width_mm),
      sheet_height_mm_(sheet_height_mm),
      options_(options) {
    for (const auto& part : scene_files) {
        write_file(folder_ / part.name, part.text);
    }
    cv::imwrite((folder_ / "sheet.png").string(), sheet);
}

PovRay::~PovRay() {
    std::error_code ignored;
    fs::remove_all(folder_, ignored);
}

Pinhole PovRay::render(const TrueStage& stage, const TruePhoto& photo, const PhotoScatter& scatter,
                       const Window& window, double focal_px, Detail detail) const {
    const bool mask = detail == Detail::mask;
    write_file(folder_ / "photo.pov",
               "#version 3.7;\nglobal_settings { assumed_gamma 1.0 }\n" +
                   declarations(declared_of_job(scene_)) + declarations(declared_of_stage(stage)) +
                   declarations(declared_of_photo(photo, scatter, window)) +
                   declarations({{"Sheet_Width", sheet_width_mm_},
                                 {"Sheet_Height", sheet_height_mm_},
                                 {"Mask", mask ? 1.0 : 0.0},
                                 {"Plain", options_.plain ? 1.0 : 0.0}}) +
                   "#include \"camera_and_board.inc\"\n" + (mask ? "" : "#include \"bay.inc\"\n"));
    // Linear light in 16 bits; a regular grid of rays, for jitter would blur edges at random.
    const char* const rays = detail == Detail::smooth     ? "+AM1 +A0.03 +R2 -J"
                             : detail == Detail::smoother ? "+AM1 +A0.03 +R8 -J"
                                                          : "-A";
    const std::string command = fmt::format(
        "cd '{}' && povray +Iphoto.pov +Ophoto.ppm +FP16 File_Gamma=1.0 -D +W{} +H{} {} +WT{} "
        ">povray.log 2>&1",
        folder_.string(), std::lround(window.width() * focal_px),
        std::lround(window.height() * focal_px), rays, options_.threads);
    if (std::system(command.c_str()) != 0) {
        const std::string log = read_file(folder_ / "povray.log", 1 << 20);
        throw InputError("povray",
                         "failed:\n" + log.substr(log.size() > 1500 ? log.size() - 1500 : 0),
                         "see that the disk is not full, and that povray runs on its own");
    }
    Pinhole pinhole{{}, window};
    const cv::Mat read = cv::imread((folder_ / "photo.ppm").string(), cv::IMREAD_UNCHANGED);
    read.convertTo(pinhole.light, CV_32FC3, 1 / 65535.0);
    return pinhole;
}

}  // namespace squaresight

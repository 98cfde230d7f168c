#pragma once
#include <fmt/format.h>

#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>
#include <stdexcept>
#include <string>
#include <vector>

#include "support/command.h"
#include "support/scratch.h"

/// Jobs whose photos are ray-traced from a scene in vehicle coordinates (src/render/scenes), which
/// shares no projection code with the program. One stage, 3 MP.
namespace squaresight::test {

/// What is true of the scene; lengths in mm, angles in degrees, signs as the names say.
struct RaytracedTruth {
    double yaw_left_deg = 0.7, pitch_up_deg = -0.5;
    double upright_roll_deg = 0, inverted_roll_deg = 180;      ///< of the two photos
    double seating_deg = 0, jitter_deg = 0, sag_down_deg = 0;  ///< the first two: standard
    double offset_left_deg = 0, offset_up_deg = 0;
    double lens_ahead_mm = 15, lens_left_mm = 0, lens_up_mm = 0;
    std::string phone_up = "native";
    double line_left_deg = 0, distance_mm = 3500;
    double target_left_mm = 0, mount_left_mm = 0, target_height_mm = 900, mount_height_mm = 880;
    double floor_rise_deg = 0, rail_zero_deg = 0;
    double lean_back_deg = 0, turned_left_deg = 0, roll_clockwise_deg = 0;
    double bow_across_mm = 0, bow_down_mm = 0, twist_mm = 0, scale_across = 1, scale_down = 1;
    /// fx fy cx cy (px) k1 k2 p1 p2
    std::vector<double> lens{1518, 1518, 1007.5, 755.5, 0.06, -0.09, 0.0004, -0.0003};
};

/// The camera file's lens; the covariance is 0.1 % of focal length, 1.5 px, and a good
/// calibration's distortion.
inline const std::vector<double> stated_lens{1518, 1518, 1007.5, 755.5, 0.06, -0.09, 4e-4, -3e-4};
inline constexpr double focal_u_px = 1.518, centre_u_px = 1.5, k1_u = 0.002, k2_u = 0.004,
                        tangential_u = 1e-4;

inline std::string camera_text() {
    const double u[9] = {focal_u_px,   focal_u_px,   centre_u_px,
                         centre_u_px,  k1_u,         k2_u,
                         tangential_u, tangential_u, 0};
    std::string text = fmt::format(
        "schema: squaresight/camera/1\nname: small\nimage: {{width: 2016, height: 1512}}\n"
        "model: brown-conrady\nfx: {}\nfy: {}\ncx: {}\ncy: {}\n"
        "distortion: {{k1: {}, k2: {}, p1: {}, p2: {}, k3: 0}}\npointing_jitter: 0.02 deg\n"
        "identity: {{make: Quillfern, model: QF Bay 2, lens: QF main, focal_length: 5.4 mm}}\n"
        "covariance:\n",
        stated_lens[0], stated_lens[1], stated_lens[2], stated_lens[3], stated_lens[4],
        stated_lens[5], stated_lens[6], stated_lens[7]);
    for (int row = 0; row < 9; ++row) {
        text += "  - [";
        for (int column = 0; column < 9; ++column) {
            const bool same_focal = row < 2 && column < 2;  // one focal scale for both axes
            text += fmt::format("{}{}", column == 0 ? "" : ", ",
                                same_focal || row == column ? u[row] * u[column] : 0);
        }
        text += "]\n";
    }
    return text;
}

inline std::string target_text() {
    return "schema: squaresight/target/1\nname: bay\nsheet: {width: 841 mm, height: 594 mm}\n"
           "pattern: {across: 12, down: 8, square: 65 mm, marker: 48 mm, dictionary: "
           "DICT_4X4_100, first_id: 0, first_square: black}\n"
           "printed: {across: 1, down: 1}\nflatness: 2 mm\n";
}

inline std::string mount_text(double aim_yaw_left_deg, double aim_pitch_up_deg) {
    return fmt::format(
        "schema: squaresight/mount/1\nname: practice\nsource: practice data\n"
        "cradle_sits_on: sensor face\npivot: {{left: 55 mm, up: -45 mm}}\nscrews:\n"
        "  upper: {{turns: pitch, at: {{left: 55 mm, up: 60 mm}}, thread: M6 x 1.0, clockwise: in, "
        "travel: 6}}\n"
        "  side: {{turns: yaw, at: {{left: -65 mm, up: -45 mm}}, thread: M6 x 1.0, clockwise: out, "
        "travel: 6}}\n"
        "aim: {{yaw_left: {} deg, pitch_up: {} deg}}\ntolerance: {{yaw: 0.3 deg, pitch: 1.5 "
        "deg}}\n",
        aim_yaw_left_deg, aim_pitch_up_deg);
}

inline std::string scene_text(const RaytracedTruth& truth, int seed) {
    const auto& lens = truth.lens;
    std::string text = fmt::format(
        "schema: squaresight/scene/1\njob: \"t\"\nseed: {}\n"
        "picture: {{width_px: 2016, height_px: 1512, noise_levels: 2, jpeg_quality: 90, make: "
        "Quillfern, model: QF Bay 2, lens: QF main, focal_length_mm: 5.4}}\n"
        "lens: {{fx_px: {}, fy_px: {}, cx_px: {}, cy_px: {}, k1: {}, k2: {}, p1: {}, p2: {}, "
        "sag_down_deg: {}}}\n"
        "sheet: {{target: target.yaml, scale_across: {}, scale_down: {}, bow_across_mm: {}, "
        "bow_down_mm: {}, twist_mm: {}}}\n",
        seed, lens[0], lens[1], lens[2], lens[3], lens[4], lens[5], lens[6], lens[7],
        truth.sag_down_deg, truth.scale_across, truth.scale_down, truth.bow_across_mm,
        truth.bow_down_mm, truth.twist_mm);
    text += fmt::format(
        "cradle: {{offset_left_deg: {}, offset_up_deg: {}, lens_ahead_mm: {}, lens_left_mm: {}, "
        "lens_up_mm: {}, phone_up: {}}}\nscatter: {{seating_deg: {}, jitter_deg: {}}}\n",
        truth.offset_left_deg, truth.offset_up_deg, truth.lens_ahead_mm, truth.lens_left_mm,
        truth.lens_up_mm, truth.phone_up, truth.seating_deg, truth.jitter_deg);
    text += fmt::format(
        "stages:\n  - stage: as-found\n    taken_at: 2026-03-04 09:00:00\n    yaw_left_deg: {}\n"
        "    pitch_up_deg: {}\n    setup: {{line_left_deg: {}, distance_mm: {}, target_left_mm: "
        "{}, "
        "mount_left_mm: {}, target_height_mm: {}, mount_height_mm: {}, floor_rise_deg: {}, "
        "target_lean_back_deg: {}, target_turned_left_deg: {}, target_roll_clockwise_deg: {}}}\n"
        "    photos:\n",
        truth.yaw_left_deg, truth.pitch_up_deg, truth.line_left_deg, truth.distance_mm,
        truth.target_left_mm, truth.mount_left_mm, truth.target_height_mm, truth.mount_height_mm,
        truth.floor_rise_deg, truth.lean_back_deg, truth.turned_left_deg, truth.roll_clockwise_deg);
    return text + fmt::format(
                      "      - {{file: upright.jpg, roll_deg: {}}}\n"
                      "      - {{file: inverted.jpg, roll_deg: {}}}\n",
                      truth.upright_roll_deg, truth.inverted_roll_deg);
}

/// `setup` holds the readings as the job sheet writes them: {"distance", "3500 mm +/- 3 mm"}.
using Readings = std::map<std::string, std::string>;

inline std::string job_text(const Readings& setup) {
    std::string text =
        "schema: squaresight/job/1\njob: \"t\"\nmount: mount.yaml\ncamera: camera.yaml\n"
        "target: target.yaml\nsightings:\n  - stage: as-found\n    setup:\n";
    for (const auto& [key, reading] : setup) {
        text += fmt::format("      {}: {}\n", key, reading);
    }
    return text + "    photos: [{file: upright.jpg}, {file: inverted.jpg}]\n";
}

inline void write_text(const std::filesystem::path& file, const std::string& text) {
    std::filesystem::create_directories(file.parent_path());
    std::ofstream(file, std::ios::binary) << text;
}

/// Writes the files of a job into `folder` and renders its photos.
inline void render_job(const std::filesystem::path& folder, const RaytracedTruth& truth,
                       const Readings& readings, int seed) {
    write_text(folder / "camera.yaml", camera_text());
    write_text(folder / "target.yaml", target_text());
    write_text(folder / "mount.yaml", mount_text(0, 0));
    write_text(folder / "scene.yaml", scene_text(truth, seed));
    write_text(folder / "job.yaml", job_text(readings));
    const Finished rendered = run_command(fmt::format(
        "'{}' '{}' --plain --threads 1", SQUARESIGHT_RENDER, (folder / "scene.yaml").string()));
    if (rendered.exit_code != 0) {
        throw std::runtime_error(rendered.output);
    }
}

/// The result of the program itself for the job in `folder`.
inline nlohmann::json measured(const std::filesystem::path& folder) {
    const Finished finished =
        run_squaresight(fmt::format("measure '{}' --json", (folder / "job.yaml").string()));
    if (finished.exit_code != 0) {
        throw std::runtime_error(finished.output);
    }
    return nlohmann::json::parse(finished.output);
}

}  // namespace squaresight::test

#include "simulate/practice_bay.h"

#include <fmt/format.h>

#include "adjust/cradle_file.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight {
namespace {

constexpr std::uintmax_t largest_bytes = 1 << 20;

// The practice bay of an invented shop, as samples/bays/main-bay.yaml.
const char* const bay_text = R"(# A bay to practise in. Change what differs in yours.
schema: squaresight/bay/1
name: practice bay
mount: mount.yaml
camera: camera.yaml
target: target.yaml
units: in
setup:
  line: {base: 6 m, plumb: 2 mm}
  distance: 5000 mm +/- 3 mm
  target_left: 0 mm +/- 3 mm
  mount_left: 0 mm +/- 3 mm
  target_height: 900 mm +/- 5 mm
  mount_height: 850 mm +/- 5 mm
  floor_rise: 0 deg +/- 0.2 deg
  target_lean_back: 0 deg +/- 0.2 deg
  target_turned_left: 0 deg +/- 10 deg
  target_roll_clockwise: 0 deg +/- 0.2 deg
  rail_zero: 0 deg +/- 0.1 deg
  tapes:   # from where to where; a length stands for how well it is read
    - {from: {name: left hook, ahead: -60 mm, left: 900 mm, up: 600 mm}, to: right edge, length: 5250 mm +/- 3 mm}
    - {from: {name: right hook, ahead: -60 mm, left: -900 mm, up: 600 mm}, to: left edge, length: 5250 mm +/- 3 mm}
photos: {upright: 2, inverted: 2}
tape_and_level:
  {left_point: 20 in, right_point: 20 in, laser: beam, bumper_square: 3 mm, squared_by: diagonals}
)";

const char* const mount_text = R"(schema: squaresight/mount/1
name: practice mount
source: practice data, no service document
cradle_sits_on: sensor face
pivot: {left: 55 mm, up: -45 mm}
screws:
  upper: {turns: pitch, at: {left: 55 mm, up: 60 mm}, thread: M6 x 1.0, clockwise: in, travel: 6}
  side:  {turns: yaw, at: {left: -65 mm, up: -45 mm}, thread: M6 x 1.0, clockwise: out, travel: 6}
aim: {yaw_left: 0 deg, pitch_up: 0 deg}
tolerance: {yaw: 0.3 deg, pitch: 1.5 deg}
)";

const char* const camera_text = R"(schema: squaresight/camera/1
name: practice phone
image: {width: 4032, height: 3024}
model: brown-conrady
fx: 3038
fy: 3038
cx: 2018
cy: 1511
distortion: {k1: 0.06, k2: -0.09, p1: 0.0004, p2: -0.0003, k3: 0}
covariance:  # fx fy cx cy k1 k2 p1 p2 k3
  - [9.0, 8.82, 0, 0, 0, 0, 0, 0, 0]
  - [8.82, 9.0, 0, 0, 0, 0, 0, 0, 0]
  - [0, 0, 9.0, 0, 0, 0, 0, 0, 0]
  - [0, 0, 0, 9.0, 0, 0, 0, 0, 0]
  - [0, 0, 0, 0, 1.6e-05, -5.4e-05, 0, 0, 0]
  - [0, 0, 0, 0, -5.4e-05, 0.000225, 0, 0, 0]
  - [0, 0, 0, 0, 0, 0, 4e-08, 0, 0]
  - [0, 0, 0, 0, 0, 0, 0, 4e-08, 0]
  - [0, 0, 0, 0, 0, 0, 0, 0, 0]
identity: {make: Quillfern, model: QF Bay 2, lens: QF main, focal_length: 5.4 mm}
date: 2026-02-17
pointing_jitter: 0.02 deg
)";

const char* const target_text = R"(schema: squaresight/target/1
name: practice board
sheet: {width: 841 mm, height: 594 mm}
pattern: {across: 12, down: 8, square: 65 mm, marker: 48 mm, dictionary: DICT_4X4_100, first_id: 0, first_square: black}
printed: {across: 1.0002, down: 0.9998}
flatness: 2 mm
checked_on: 2026-02-12
)";

constexpr const char* override_schema = "squaresight/setup/1";

}  // namespace

PracticeBay load_practice_bay(const std::filesystem::path& bay_file) {
    PracticeBay practice;
    practice.bay = load_bay(bay_file);
    const Bay& bay = practice.bay;
    practice.mount = load_mount(bay.mount_file);
    practice.camera = load_camera(bay.camera_file);
    practice.target = load_target(bay.target_file);
    if (!practice.target.has_markers()) {
        throw InputError(bay.target_file.string(), "is a plain checkerboard without markers",
                         "name the file of a bay target");
    }
    practice.files = {{"mount.yaml", read_file(bay.mount_file, largest_bytes)},
                      {"camera.yaml", read_file(bay.camera_file, largest_bytes)},
                      {"target.yaml", read_file(bay.target_file, largest_bytes)}};
    if (bay.cradle_file) {
        practice.cradle = load_cradle(*bay.cradle_file);
        practice.files.push_back({"cradle.yaml", read_file(*bay.cradle_file, largest_bytes)});
    }
    return practice;
}

std::filesystem::path write_built_in_bay(const std::filesystem::path& folder) {
    write_file(folder / "mount.yaml", mount_text);
    write_file(folder / "camera.yaml", camera_text);
    write_file(folder / "target.yaml", target_text);
    write_file(folder / "bay.yaml", bay_text);
    return folder / "bay.yaml";
}

void change_setup(Bay& bay, const std::vector<std::string>& key_values) {
    std::string text = fmt::format("schema: {}\nsetup:\n", override_schema);
    for (const auto& one : key_values) {
        const auto equals = one.find('=');
        if (equals == std::string::npos || equals == 0 || one.find('\n') != std::string::npos) {
            throw InputError("--setup " + one, "is not KEY=VALUE",
                             "write it like --setup 'distance=4 m +/- 3 mm'");
        }
        text += fmt::format("  {}: {}\n", one.substr(0, equals), one.substr(equals + 1));
    }
    if (!key_values.empty()) {
        read_setup(Entry::parse(text, "--setup", override_schema).at("setup"), bay.setup);
    }
}

}  // namespace squaresight

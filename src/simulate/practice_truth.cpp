#include "simulate/practice_truth.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "units/entry.h"

namespace squaresight {
namespace {

using Named = std::pair<const char*, double>;

/// "{a: 1, b: 2}".
std::string map_text(const std::vector<Named>& values) {
    std::string text;
    for (const auto& [name, value] : values) {
        text += fmt::format("{}{}: {:.10g}", text.empty() ? "" : ", ", name, value);
    }
    return "{" + text + "}";
}

std::string setup_text(const PoseValues& q) {
    return map_text({{"line_left_deg", q[line_left_deg]},
                     {"distance_mm", q[distance_mm]},
                     {"target_left_mm", q[target_left_mm]},
                     {"mount_left_mm", q[mount_left_mm]},
                     {"target_height_mm", q[target_height_mm]},
                     {"mount_height_mm", q[mount_height_mm]},
                     {"floor_rise_deg", q[floor_rise_deg] + q[rail_zero_deg]},
                     {"target_lean_back_deg", q[target_lean_back_deg] - q[rail_zero_deg]},
                     {"target_turned_left_deg", q[target_turned_left_deg]},
                     {"target_roll_clockwise_deg", q[target_roll_clockwise_deg]},
                     {"rail_zero_deg", q[rail_zero_deg]}});
}

/// "{left_deg: 1, up_deg: 2}".
std::string left_up_text(const Eigen::Vector2d& deg) {
    return map_text({{"left_deg", deg.x()}, {"up_deg", deg.y()}});
}

std::string cradle_text(const PoseValues& q) {
    return left_up_text({q[offset_left_deg], q[offset_up_deg]});
}

std::string phone_text(const PracticeTruth& truth) {
    const Lens& lens = truth.lens;
    const PoseValues& q = truth.pose;
    return fmt::format("lens_place: {}\nlens: {}\n",
                       map_text({{"ahead_mm", q[lens_ahead_mm]},
                                 {"left_mm", q[lens_left_mm]},
                                 {"up_mm", q[lens_up_mm]}}),
                       map_text({{"fx_px", lens.fx},
                                 {"fy_px", lens.fy},
                                 {"cx_px", lens.cx},
                                 {"cy_px", lens.cy},
                                 {"k1", lens.k1},
                                 {"k2", lens.k2},
                                 {"p1", lens.p1},
                                 {"p2", lens.p2},
                                 {"k3", lens.k3},
                                 {"sag_down_deg", q[lens_sag_deg] - truth.cradle_sag_deg}}));
}

std::string seating_text(const PracticeTruth& truth) {
    std::string text = fmt::format("cradle: {}\nface_form: {}\nseating_of_one_way_up:\n",
                                   map_text({{"sag_down_deg", truth.cradle_sag_deg},
                                             {"place_left_mm", truth.pose[place_left_mm]},
                                             {"place_up_mm", truth.pose[place_up_mm]}}),
                                   left_up_text(truth.face_form_deg));
    for (const auto& [label, seating_deg] : truth.way_up_deg) {
        text += fmt::format("  {}: {}\n", cradle_label_text(label), left_up_text(seating_deg));
    }
    return text;
}

std::string sheet_text(const PracticeSheet& sheet) {
    return fmt::format("sheet: {}\n", map_text({{"scale_across", sheet.scale_across},
                                                {"scale_down", sheet.scale_down},
                                                {"skew", sheet.skew},
                                                {"bow_across_mm", sheet.bow_across_mm},
                                                {"bow_down_mm", sheet.bow_down_mm},
                                                {"twist_mm", sheet.twist_mm},
                                                {"s_bend_across_mm", sheet.s_bend_across_mm},
                                                {"s_bend_down_mm", sheet.s_bend_down_mm}}));
}

std::string points_text(const std::map<std::string, Eigen::Vector3d>& points_mm) {
    std::string text = points_mm.empty() ? "" : "points:\n";
    for (const auto& [name, at] : points_mm) {
        text += fmt::format("  - {{name: {}, ahead_mm: {:.6g}, left_mm: {:.6g}, up_mm: {:.6g}}}\n",
                            yaml_text(name), at.x(), at.y(), at.z());
    }
    return text;
}

const char* fault_text(ScrewFault fault) {
    return fault == ScrewFault::none ? "none" : fault == ScrewFault::dead ? "dead" : "reversed";
}

std::string mount_text(const PracticeTruth& truth) {
    std::string text = "mount:\n  screws:\n";
    for (std::size_t i = 0; i < truth.mount.screws.size(); ++i) {
        const ScrewErrors& errors = truth.mount_errors.screws[i];
        text += fmt::format(
            "    - {{screw: {}, a_turn_mm: {:.10g}, lever: {:.6g}, cross: {:.6g}, backlash_turns: "
            "{:.6g}, play: {:.6g}, fault: {}}}\n",
            yaml_text(truth.mount.screws[i].name), truth.mount.screws[i].pitch_mm, errors.lever,
            errors.cross, errors.backlash_turns, errors.play, fault_text(errors.fault));
    }
    return text +
           fmt::format("  locking: {}\n",
                       map_text({{"yaw_left_deg", truth.mount_errors.locking_yaw_left_deg},
                                 {"pitch_up_deg", truth.mount_errors.locking_pitch_up_deg}}));
}

std::string errors_text(const std::vector<HumanError>& errors) {
    if (errors.empty()) {
        return "";
    }
    std::string text = "errors:\n";
    for (const auto& error : errors) {
        text += fmt::format("  - {}\n", yaml_text(error.text()));
    }
    return text;
}

std::string photo_text(const PracticePhoto& photo) {
    const PoseValues& q = photo.pose;
    return fmt::format(
        "      - {{file: {}, roll_deg: {:.5f}, seating_left_deg: {:.5f}, seating_up_deg: {:.5f}, "
        "jitter_left_deg: {:.5f}, jitter_up_deg: {:.5f}}}\n",
        photo.file, q[cradle_roll_deg], q[seating_left_deg], q[seating_up_deg], q[jitter_left_deg],
        q[jitter_up_deg]);
}

/// "[[1, 2], [3, 4]]": left and right of each laying.
std::string seatings_text(const std::vector<Eigen::Vector2d>& layings_deg) {
    std::vector<std::string> layings;
    for (const auto& sides : layings_deg) {
        layings.push_back(fmt::format("[{:.6g}, {:.6g}]", sides.x(), sides.y()));
    }
    return fmt::format("[{}]", fmt::join(layings, ", "));
}

/// `before` is the setup and cradle text of the stage before: told again only where it changed.
std::string stage_text(const PracticeStage& stage, std::string& setup_before,
                       std::string& cradle_before) {
    const PoseValues& q = stage.pose;
    std::string text = fmt::format(
        "  - stage: {}\n    yaw_left_deg: {:.10g}\n    pitch_up_deg: {:.10g}\n    moved_ahead_mm: "
        "{:.6g}\n    beam_level_deg: {:.6g}\n",
        stage.stage, q[yaw_left_deg], q[pitch_up_deg], q[face_ahead_mm] + 0.0,
        stage.beam_level_deg);
    if (setup_text(q) != setup_before) {
        setup_before = setup_text(q);
        text += "    setup: " + setup_before + "\n";
    }
    if (cradle_text(q) != cradle_before) {
        cradle_before = cradle_text(q);
        text += "    cradle_offset: " + cradle_before + "\n";
    }
    text += fmt::format("    warming: {}\n", left_up_text(stage.warming_deg));
    if (!stage.laser_seating_deg.empty()) {
        text += fmt::format("    laser_seating_deg: {}\n", seatings_text(stage.laser_seating_deg));
    }
    if (!stage.photos.empty()) {
        text += "    photos:\n";
    }
    for (const auto& photo : stage.photos) {
        text += photo_text(photo);
    }
    std::vector<std::string> made;
    for (const auto& [screw, turns] : stage.made_turns) {
        made.push_back(fmt::format("{}: {:.6g}", yaml_text(screw), turns));
    }
    return made.empty()
               ? text
               : text + fmt::format("    made_turns_clockwise: {{{}}}\n", fmt::join(made, ", "));
}

}  // namespace

std::string truth_yaml(const PracticeTruth& truth) {
    std::string cradle_before = cradle_text(truth.pose);
    std::string setup_before;
    std::string text = fmt::format(
        "# What is true of this practice job. Lengths in mm, angles in degrees.\n"
        "schema: squaresight/truth/1\njob: {}\nseed: {}\ncradle_offset: {}\n",
        yaml_text(truth.job), truth.seed, cradle_before);
    text += phone_text(truth) + seating_text(truth) + sheet_text(truth.sheet);
    text += fmt::format("rail_bow_mm: {:.6g}\n", truth.rail_bow_mm) + points_text(truth.points_mm);
    text += fmt::format("tape_and_level: {}\n",
                        map_text({{"bumper_square_mm", truth.bumper_square_mm},
                                  {"laser_angle_deg", truth.laser_angle_deg},
                                  {"inclinometer_off_deg", truth.inclinometer_off_deg}}));
    text += mount_text(truth) + errors_text(truth.errors) + "stages:\n";
    for (const auto& stage : truth.stages) {
        text += stage_text(stage, setup_before, cradle_before);
    }
    return text;
}

}  // namespace squaresight

#include "simulate/mistakes.h"

#include <fmt/format.h>

#include <algorithm>

#include "units/error.h"

namespace squaresight {
namespace {

[[noreturn]] void refuse(const HumanError& error, const std::string& wrong,
                         const std::string& next) {
    throw InputError("--error " + error.text(), wrong, next);
}

/// Lengths on the sheet that go by this name: all passes of a side are misread alike, or its first.
std::vector<double*> lengths_named(const std::string& place, SheetSighting& sighting) {
    std::vector<double*> found;
    if (sighting.setup) {
        auto& setup = *sighting.setup;
        const std::pair<const char*, Reading Setup::*> readings[] = {
            {"distance", &Setup::distance_mm},
            {"target_left", &Setup::target_left_mm},
            {"mount_left", &Setup::mount_left_mm},
            {"target_height", &Setup::target_height_mm},
            {"mount_height", &Setup::mount_height_mm}};
        for (const auto& [name, reading] : readings) {
            if (place == name && (setup.readings.*reading).measured) {
                found.push_back(&(setup.readings.*reading).value);
            }
        }
        for (std::size_t i = 0; i < setup.tapes.size(); ++i) {
            if (place == fmt::format("tape_{}", i + 1)) {
                found.push_back(&setup.tapes[i].length_mm.value);
            }
        }
    }
    if (sighting.tape_and_level) {
        auto& tape = *sighting.tape_and_level;
        const bool one = place.starts_with("one_");
        const std::string side = one ? place.substr(4) : place;
        for (auto& pass : tape.passes) {
            if ((side == "left_pass" || side == "right_pass") && (found.empty() || !one)) {
                found.push_back(side == "left_pass" ? &pass.left_mm : &pass.right_mm);
            }
        }
        if (place == "left_point" || place == "right_point") {
            found.push_back(place == "left_point" ? &tape.left_point_mm : &tape.right_point_mm);
        }
    }
    return found;
}

std::vector<double*> lengths_of(const HumanError& error, SheetSighting& sighting) {
    if (!error.place.empty()) {
        return lengths_named(error.place, sighting);
    }
    for (const auto& place : error.kind().places) {
        if (auto found = lengths_named(std::string(place), sighting); !found.empty()) {
            return found;
        }
    }
    return {};
}

void require(const HumanError& error, bool reading_is_there) {
    if (!reading_is_there) {
        refuse(error, "is about a reading that is not taken at this stage of this bay's jobs",
               "choose another place");
    }
}

void swap_sides(const HumanError& error, SheetSighting& sighting) {
    const bool has_tape = sighting.tape_and_level.has_value();
    const std::string place = !error.place.empty() ? error.place
                              : has_tape           ? "passes"
                                                   : "target_left";
    if (place == "passes" && has_tape) {
        for (auto& pass : sighting.tape_and_level->passes) {
            std::swap(pass.left_mm, pass.right_mm);
        }
    } else if (place == "tapes" && sighting.setup && sighting.setup->tapes.size() >= 2) {
        std::swap(sighting.setup->tapes[0].length_mm, sighting.setup->tapes[1].length_mm);
    } else {
        const auto lengths = lengths_named(place, sighting);
        require(error, !lengths.empty());
        for (double* length : lengths) {
            *length = -*length;
        }
    }
}

/// What the inclinometer showed of the place that an error names.
std::vector<double*> levels_of(const HumanError& error, SheetSighting& sighting) {
    const bool has_tape = sighting.tape_and_level.has_value();
    const std::string place = !error.place.empty() ? error.place
                              : has_tape           ? "face_level"
                                                   : "floor_rise";
    std::vector<double*> found;
    if (place == "face_level" && has_tape) {
        for (double& level : sighting.tape_and_level->face_level_deg) {
            found.push_back(&level);
        }
    } else if (sighting.setup) {
        Setup& setup = sighting.setup->readings;
        Reading& reading = place == "floor_rise"         ? setup.floor_rise_deg
                           : place == "target_lean_back" ? setup.target_lean_back_deg
                                                         : setup.target_roll_clockwise_deg;
        found.push_back(&reading.value);
    }
    require(error, !found.empty());
    return found;
}

void change_levels(const HumanError& error, SheetSighting& sighting, double factor,
                   double added_deg) {
    for (double* level : levels_of(error, sighting)) {
        *level = *level * factor + added_deg;
    }
}

void change_lengths(const HumanError& error, SheetSighting& sighting, double factor,
                    double added_mm) {
    const auto lengths = lengths_of(error, sighting);
    require(error, !lengths.empty());
    for (double* length : lengths) {
        *length = *length * factor + added_mm;
    }
}

/// The picture of a lens so many times as long, about the middle of the sensor.
void enlarge(Lens& lens, const Camera& camera, double times) {
    const double middle_x = (camera.width_px - 1) / 2.0;
    const double middle_y = (camera.height_px - 1) / 2.0;
    lens.fx *= times;
    lens.fy *= times;
    lens.cx = middle_x + times * (lens.cx - middle_x);
    lens.cy = middle_y + times * (lens.cy - middle_y);
}

bool hits(const HumanError& error, Axis axis, const char* usual) {
    const std::string place = error.place.empty() ? usual : error.place;
    return place == "both" || place == (axis == Axis::yaw ? "yaw" : "pitch");
}

bool needs_tape_and_level(const HumanError& error) {
    const auto& place = error.place;
    return place.ends_with("left_pass") || place.ends_with("right_pass") || place == "left_point" ||
           place == "right_point" || place == "passes" || place == "face_level" ||
           error.mistake == Mistake::bumper_unsquare;
}

void check_place(const HumanError& error, const Bay& bay) {
    if (needs_tape_and_level(error) && !bay.tape_and_level) {
        refuse(error, "is about tape-and-level, which this bay does not use",
               "add tape_and_level to the bay file, or choose another place");
    }
    const std::size_t tapes = bay.setup.tapes.size();
    const bool needs_one =
        error.place == "tape_1" || error.mistake == Mistake::tape_point_elsewhere;
    const bool lacks = (needs_one && tapes < 1) ||
                       ((error.place == "tape_2" || error.place == "tapes") && tapes < 2);
    if (lacks) {
        refuse(error, fmt::format("is about a tape, and the bay's setup has {}", tapes),
               "add it to 'tapes' in the bay file, or choose another place");
    }
}

bool is_of_turning(Mistake mistake) {
    using enum Mistake;
    return mistake == wrong_screw || mistake == wrong_way || mistake == half_turned ||
           mistake == wrong_mount_profile || mistake == clockwise_sense;
}

bool is_from_the_start(Mistake mistake) {
    using enum Mistake;
    return mistake == board_off_line || mistake == wrong_line || mistake == rail_zero_place ||
           mistake == bumper_unsquare || mistake == tape_point_elsewhere ||
           mistake == print_scale || mistake == wrong_camera_file || mistake == wrong_lens ||
           mistake == zoom || mistake == wrong_mount_profile || mistake == clockwise_sense;
}

void check_size(const HumanError& error) {
    const bool factor = error.mistake == Mistake::wrong_lens || error.mistake == Mistake::zoom;
    const bool percent = error.mistake == Mistake::print_scale ||
                         error.mistake == Mistake::wrong_camera_file ||
                         error.mistake == Mistake::wrong_mount_profile;
    if ((factor && !(error.size >= 0.2 && error.size <= 5)) ||
        (percent && !(error.size > -80 && error.size < 400))) {
        refuse(error, "has a size that no such error has",
               fmt::format("try {:g}", error.kind().usual));
    }
}

}  // namespace

void check_errors(const std::vector<HumanError>& errors, const Bay& bay, bool full_run,
                  bool pictures) {
    for (const auto& error : errors) {
        check_place(error, bay);
        check_size(error);
        const bool later =
            error.stage.empty() ? error.kind().between_stages : error.stage != "as-found";
        if ((later || is_of_turning(error.mistake)) && !full_run) {
            refuse(error, "happens after the as-found measurement, and this job ends with it",
                   "make jobs with --stages full");
        }
        if (is_from_the_start(error.mistake) && !error.stage.empty() && later) {
            refuse(error, "is there from the start", "leave the stage out");
        }
        const bool knocked_later = error.mistake == Mistake::cradle_knocked && later;
        if (pictures && (error.mistake == Mistake::wrong_photo || knocked_later)) {
            refuse(error, "is not made with rendered photos", "leave --render out");
        }
        if (error.mistake == Mistake::wrong_photo && error.stage == "as-found") {
            refuse(error, "needs an earlier measurement", "leave the stage out");
        }
    }
}

bool hits_stage(const HumanError& error, const std::string& stage, std::size_t index) {
    if (!error.stage.empty()) {
        return error.stage == stage && (stage != "adjusted" || index == 1);
    }
    const bool second = error.kind().between_stages && !is_of_turning(error.mistake);
    return index == (second ? 1U : 0U);
}

void spoil_truth(const HumanError& error, const Camera& camera, PracticeTruth& truth) {
    const double larger = 1 + error.size / 100;
    switch (error.mistake) {
        case Mistake::board_off_line:
            truth.pose[target_left_mm] += error.size;
            return;
        case Mistake::wrong_line:
            truth.pose[line_left_deg] += error.size;
            return;
        case Mistake::rail_zero_place:
            truth.pose[rail_zero_deg] += error.size;
            return;
        case Mistake::bumper_unsquare:
            truth.bumper_square_mm += error.size;
            return;
        case Mistake::print_scale:
            truth.sheet.scale_across *= larger;
            truth.sheet.scale_down *= larger;
            return;
        case Mistake::wrong_camera_file:
            truth.lens.fx *= larger;
            truth.lens.fy *= larger;
            return;
        case Mistake::wrong_lens:
        case Mistake::zoom:
            enlarge(truth.lens, camera, error.size);
            return;
        case Mistake::wrong_mount_profile:
            for (auto& screw : truth.mount.screws) {
                screw.pitch_mm *= larger;
            }
            return;
        case Mistake::clockwise_sense:
            for (std::size_t i = 0; i < truth.mount.screws.size(); ++i) {
                if (hits(error, truth.mount.screws[i].turns, "yaw")) {
                    truth.mount_errors.screws[i].fault = ScrewFault::reversed;
                }
            }
            return;
        default:
            return;
    }
}

void spoil_points(const HumanError& error, const SheetSetup& written, PracticeTruth& truth) {
    if (error.mistake != Mistake::tape_point_elsewhere) {
        return;
    }
    const bool left = error.place.ends_with("left");
    for (auto& [name, at] : truth.points_mm) {
        if (!error.place.starts_with("one_") || name == written.tapes.front().from.name) {
            at[left ? 1 : 0] += error.size;
        }
    }
}

void spoil_stage(const HumanError& error, PoseValues& pose) {
    switch (error.mistake) {
        case Mistake::board_on_head:
            pose[target_roll_clockwise_deg] += 180;
            return;
        case Mistake::cradle_knocked:
            pose[error.place == "up" ? offset_up_deg : offset_left_deg] += error.size;
            return;
        case Mistake::truck_moved:
            if (error.place == "ahead") {
                pose[distance_mm] -= error.size;
            } else if (error.place == "turned") {
                pose[line_left_deg] -= error.size;
            } else {
                pose[mount_left_mm] += error.size;
            }
            return;
        default:
            return;
    }
}

void spoil_placement(const HumanError& error, std::size_t photo, PoseValues& pose) {
    if (error.mistake == Mistake::cradle_not_seated && photo == 0) {
        pose[error.place == "up" ? seating_up_deg : seating_left_deg] += error.size;
    }
}

void spoil_readings(const HumanError& error, SheetSighting& sighting) {
    switch (error.mistake) {
        case Mistake::sixteenth_misread:
            return change_lengths(error, sighting, 1, error.size * mm_per_inch / 16);
        case Mistake::inch_misread:
            return change_lengths(error, sighting, 1, error.size * mm_per_inch);
        case Mistake::feet_for_inches:
            return change_lengths(error, sighting, 12, 0);
        case Mistake::inches_for_mm:
            return change_lengths(error, sighting, mm_per_inch, 0);
        case Mistake::left_right_swapped:
            return swap_sides(error, sighting);
        case Mistake::nose_sign_swapped:
            return change_levels(error, sighting, -1, 0);
        case Mistake::degree_misread:
            return change_levels(error, sighting, 1, error.size);
        default:
            return;
    }
}

void spoil_labels(const HumanError& error, SheetSighting& sighting) {
    if (error.mistake != Mistake::cradle_labels) {
        return;
    }
    for (std::size_t i = 0; i < sighting.photos.size() && static_cast<double>(i) < error.size;
         ++i) {
        auto& label = sighting.photos[i].label;
        label = label == CradleLabel::upright ? CradleLabel::inverted : CradleLabel::upright;
    }
}

void spoil_facts(const HumanError& error, PhotoFacts& facts) {
    if (error.place == "untold") {
        return;
    }
    if (error.mistake == Mistake::zoom) {
        facts.digital_zoom = error.size;
    }
    if (error.mistake == Mistake::wrong_lens) {
        facts.identity.lens += " other";
        if (facts.identity.focal_length_mm) {
            *facts.identity.focal_length_mm *= error.size;
        }
    }
}

void spoil_turns(const HumanError& error, const Mount& profile, std::vector<double>& turns) {
    if (error.mistake == Mistake::wrong_screw) {
        std::swap(turns.at(0), turns.at(1));
    }
    for (std::size_t i = 0; i < turns.size(); ++i) {
        const Axis axis = profile.screws[i].turns;
        if (error.mistake == Mistake::wrong_way && hits(error, axis, "yaw")) {
            turns[i] = -turns[i];
        }
        if (error.mistake == Mistake::half_turned && hits(error, axis, "both")) {
            turns[i] *= error.size;
        }
    }
}

}  // namespace squaresight

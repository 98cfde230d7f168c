#include "job/bay_file.h"

#include "job/tape_words.h"
#include "units/entry.h"

namespace squaresight {
namespace {

constexpr int most_photos = 20;
constexpr int most_repetitions = 20;

void read_limit(const Entry& map, std::string_view key, Dimension dimension, double high,
                double& limit) {
    if (const auto entry = map.find(key)) {
        limit =
            dimension == Dimension::length ? entry->length_mm(0, high) : entry->angle_deg(0, high);
    }
}

BayTape read_tape(const Entry& entry) {
    entry.expect_keys({"left_point", "right_point", "passes", "face_readings", "beam_at", "pass",
                       "face", "bumper_square", "squared_by", "beam_level", "laser", "laser_angle",
                       "laser_seating", "layings", "reversed"});
    BayTape tape;
    read_laser(entry, tape);
    tape.laser_stated = entry.has("laser");
    tape.left_point_mm = entry.at("left_point").length_mm(1, 5000);
    tape.right_point_mm = entry.at("right_point").length_mm(1, 5000);
    if (const auto passes = entry.find("passes")) {
        tape.passes = passes->whole(1, most_repetitions);
    }
    if (const auto layings = entry.find("layings")) {
        tape.layings = layings->whole(1, most_repetitions);
    }
    if (const auto reversed = entry.find("reversed")) {
        tape.reversed = reversed->yes_no();
    }
    if (const auto readings = entry.find("face_readings")) {
        tape.face_readings = readings->whole(1, most_repetitions);
    }
    if (const auto beam = entry.find("beam_at")) {
        tape.beam_at_mm = beam->length_mm(1, 10000);
    }
    read_limit(entry, "pass", Dimension::length, 100, tape.pass_limit_mm);
    read_limit(entry, "face", Dimension::angle, 10, tape.face_limit_deg);
    read_limit(entry, "bumper_square", Dimension::length, 500, tape.bumper_square_limit_mm);
    read_limit(entry, "beam_level", Dimension::angle, 30, tape.beam_level_limit_deg);
    read_limit(entry, "laser_angle", Dimension::angle, 30, tape.laser_angle_limit_deg);
    return tape;
}

void read_photo_counts(const Entry& entry, Bay& bay) {
    entry.expect_keys({"upright", "inverted", "quarter"});
    bay.upright_photos = entry.at("upright").whole(1, most_photos);
    if (const auto inverted = entry.find("inverted")) {
        bay.inverted_photos = inverted->whole(0, most_photos);
    }
    if (const auto quarter = entry.find("quarter")) {
        bay.quarter_photos = quarter->whole(0, most_photos);
    }
}

}  // namespace

TapeAndLevel usual_readings(const BayTape& bay) {
    TapeAndLevel readings;
    readings.left_point_mm = bay.left_point_mm;
    readings.right_point_mm = bay.right_point_mm;
    readings.pass_limit_mm = bay.pass_limit_mm;
    readings.face_level_limit_deg = bay.face_limit_deg;
    readings.bumper_square_limit_mm = bay.bumper_square_limit_mm;
    readings.squared_by = bay.squared_by;
    readings.beam_level_limit_deg = bay.beam_level_limit_deg;
    readings.laser = bay.laser;
    readings.laser_angle_limit_deg = bay.laser_angle_limit_deg;
    readings.laser_seating_limit_deg = bay.laser_seating_limit_deg;
    return readings;
}

Bay load_bay(const std::filesystem::path& file) {
    const Entry root = Entry::load(file, "squaresight/bay/1");
    root.expect_keys({"schema", "name", "mount", "camera", "target", "cradle", "units", "setup",
                      "photos", "tape_and_level", "answer_from"});
    Bay bay;
    bay.file = file;
    bay.name = root.at("name").text();
    bay.mount_file = existing_path(root.at("mount"));
    bay.camera_file = existing_path(root.at("camera"));
    bay.target_file = existing_path(root.at("target"));
    if (const auto cradle = root.find("cradle")) {
        bay.cradle_file = existing_path(*cradle);
    }
    if (const auto unit = root.find("units")) {
        bay.unit = unit->word({"mm", "in"}) == "in" ? LengthUnit::in : LengthUnit::mm;
    }
    bay.tape_counts = read_tape_counts(root);
    bay.setup = unmeasured_setup();
    const Entry setup = root.at("setup");
    read_setup(setup, bay.setup);
    if (!bay.setup.has_distance) {
        setup.fail("has no distance", "add 'distance: 5000 mm +/- 5 mm', as it is taped there");
    }
    if (const auto photos = root.find("photos")) {
        read_photo_counts(*photos, bay);
    }
    if (const auto tape = root.find("tape_and_level")) {
        bay.tape_and_level = read_tape(*tape);
    }
    return bay;
}

}  // namespace squaresight

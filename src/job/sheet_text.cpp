#include "job/sheet_text.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <array>
#include <cmath>

#include "job/tape_words.h"
#include "units/entry.h"

namespace squaresight {
namespace {

struct ReadingEntry {
    const char* key;
    Dimension dimension;
    Reading Setup::*reading;
};

constexpr std::array<ReadingEntry, 10> reading_entries{{
    {"distance", Dimension::length, &Setup::distance_mm},
    {"target_left", Dimension::length, &Setup::target_left_mm},
    {"mount_left", Dimension::length, &Setup::mount_left_mm},
    {"target_height", Dimension::length, &Setup::target_height_mm},
    {"mount_height", Dimension::length, &Setup::mount_height_mm},
    {"floor_rise", Dimension::angle, &Setup::floor_rise_deg},
    {"target_lean_back", Dimension::angle, &Setup::target_lean_back_deg},
    {"target_turned_left", Dimension::angle, &Setup::target_turned_left_deg},
    {"target_roll_clockwise", Dimension::angle, &Setup::target_roll_clockwise_deg},
    {"rail_zero", Dimension::angle, &Setup::rail_zero_deg},
}};

class SheetWriter {
  public:
    SheetWriter(const JobSheet& sheet, LengthUnit unit) : sheet_(sheet), unit_(unit) {}

    std::string text() {
        line("schema: squaresight/job/1");
        line("job: {}", yaml_text(sheet_.job));
        optional_text("vehicle", sheet_.vehicle);
        optional_text("check_standard", sheet_.check_standard);
        optional_text("vehicle_model", sheet_.vehicle_model);
        optional_text("technician", sheet_.technician);
        optional_text("bay", sheet_.bay);
        line("units: {}", unit_ == LengthUnit::in ? "in" : "mm");
        optional_text("date", sheet_.date);
        path("mount", sheet_.mount_file);
        path("camera", sheet_.camera_file);
        path("target", sheet_.target_file);
        path("cradle", sheet_.cradle_file);
        if (sheet_.originals_only) {
            line("originals_only: yes");
        }
        if (sheet_.tape_counts) {
            line("answer_from: both");
        }
        line("sightings:");
        for (const auto& sighting : sheet_.sightings) {
            write(sighting);
        }
        answers("ready", sheet_.ready);
        answers("closing", sheet_.closing);
        texts("notes", sheet_.notes);
        texts("pictures", sheet_.pictures);
        optional_text("abandoned", sheet_.abandoned);
        return std::move(text_);
    }

  private:
    template <class... Values>
    void line(fmt::format_string<Values...> format, Values&&... values) {
        fmt::format_to(std::back_inserter(text_), format, std::forward<Values>(values)...);
        text_ += '\n';
    }

    void optional_text(const char* key, const std::string& value) {
        if (!value.empty()) {
            line("{}: {}", key, yaml_text(value));
        }
    }

    void texts(const char* key, const std::vector<std::string>& values) {
        if (!values.empty()) {
            line("{}:", key);
        }
        for (const auto& value : values) {
            line("  - {}", yaml_text(value));
        }
    }

    void path(const char* key, const std::optional<std::filesystem::path>& file) {
        if (file) {
            const auto folder = sheet_.file.parent_path();
            line("{}: {}", key, yaml_text(file->lexically_proximate(folder).generic_string()));
        }
    }

    std::string value_text(double value, Dimension dimension) const {
        return dimension == Dimension::length ? length_text(value, unit_)
                                              : fmt::format("{:.9g} deg", value);
    }

    std::string with_limit(double value, double limit, Dimension dimension) const {
        return fmt::format("{} +/- {}", value_text(value, dimension),
                           value_text(std::stod(fmt::format("{:.9g}", limit)), dimension));
    }

    std::string reading_text(const Reading& reading, Dimension dimension) const {
        return with_limit(reading.value, std::sqrt(3.0) * reading.standard_uncertainty, dimension);
    }

    void write(const SheetSetup& setup) {
        line("    setup:");
        const std::size_t begun = text_.size();
        const Setup& readings = setup.readings;
        if (setup.line_marks) {
            const PlumbMarks& marks = *setup.line_marks;
            const std::string bow =
                marks.bow_limit_mm == PlumbMarks{}.bow_limit_mm
                    ? ""
                    : ", bow: " + length_text(marks.bow_limit_mm, LengthUnit::mm);
            line("      line: {{base: {}, plumb: {}{}}}",
                 length_text(marks.base_mm, LengthUnit::mm),
                 length_text(marks.plumb_limit_mm, LengthUnit::mm), bow);
        } else if (readings.line_left_deg.measured) {
            line("      line: {}", reading_text(readings.line_left_deg, Dimension::angle));
        }
        for (const auto& entry : reading_entries) {
            const Reading& reading = readings.*entry.reading;
            const bool given =
                entry.reading == &Setup::distance_mm ? setup.has_distance : reading.measured;
            if (given) {
                line("      {}: {}", entry.key, reading_text(reading, entry.dimension));
            }
        }
        if (!readings.taken_twice.empty()) {
            line("      taken_twice: [{}]", fmt::join(readings.taken_twice, ", "));
        }
        if (!setup.tape_points.empty()) {
            line("      tape_points:");
        }
        for (const auto& point : setup.tape_points) {
            line("        - {}", point_text(point));
        }
        if (!setup.tapes.empty()) {
            line("      tapes:");
        }
        for (const auto& tape : setup.tapes) {
            write(tape);
        }
        if (text_.size() == begun) {
            text_.insert(begun - 1,
                         " {}");  // a setup of its own, of which nothing was measured yet
        }
    }

    std::string point_text(const TapePoint& point) const {
        const double limit_mm = std::sqrt(3.0) * point.standard_uncertainty_mm;
        const auto axis = [&](int index) {
            return with_limit(point.position_in_vehicle_mm[index], limit_mm, Dimension::length);
        };
        return fmt::format("{{name: {}, ahead: {}, left: {}, up: {}}}", yaml_text(point.name),
                           axis(0), axis(1), axis(2));
    }

    void write(const SheetTape& tape) {
        std::string to = tape.to.name;
        if (tape.to.place_mm) {
            to = fmt::format("{{right: {}, down: {}}}",
                             length_text(tape.to.place_mm->x(), LengthUnit::mm),
                             length_text(tape.to.place_mm->y(), LengthUnit::mm));
        }
        line("        - {{from: {}, to: {}, length: {}}}", point_text(tape.from), to,
             reading_text(tape.length_mm, Dimension::length));
    }

    void write(const SheetPhoto& photo) {
        std::string more;
        if (photo.label) {
            more += fmt::format(", cradle: {}", cradle_label_text(*photo.label));
        }
        if (photo.placement >= 0) {
            more += fmt::format(", placement: {}", photo.placement);
        }
        line("      - {{file: {}{}}}", yaml_text(photo.file), more);
    }

    void write(const TapeAndLevel& tape) {
        line("    tape_and_level:");
        const auto list = [&](const char* key, const auto& items, const auto& item_text) {
            std::string joined;
            for (const auto& item : items) {
                joined += (joined.empty() ? "" : ", ") + item_text(item);
            }
            line("      {}: [{}]", key, joined);
        };
        if (!tape.face_level_deg.empty()) {
            list("face_level", tape.face_level_deg, [&](double level_deg) {
                return with_limit(level_deg, tape.face_level_limit_deg, Dimension::angle);
            });
        }
        if (!tape.passes.empty()) {
            line("      left_point: {}", length_text(tape.left_point_mm, unit_));
            line("      right_point: {}", length_text(tape.right_point_mm, unit_));
            list("passes", tape.passes, [&](const TapePass& pass) {
                const auto one = [&](double length_mm) {
                    return with_limit(length_mm, tape.pass_limit_mm, Dimension::length);
                };
                const std::string laying =
                    pass.laying == 1 ? "" : fmt::format(", laying: {}", pass.laying);
                return fmt::format("{{left: {}, right: {}{}{}}}", one(pass.left_mm),
                                   one(pass.right_mm), laying,
                                   pass.reversed ? ", reversed: yes" : "");
            });
        }
        if (!tape.beam_ahead) {
            line("      beam: behind");
        }
        line("      bumper_square: {}",
             with_limit(tape.bumper_square_mm, tape.bumper_square_limit_mm, Dimension::length));
        if (tape.squared_by != SquaredBy::nothing) {
            line("      squared_by: {}", word_for(squared_by_words, tape.squared_by));
        }
        line("      beam_level: {}",
             with_limit(tape.beam_level_deg, tape.beam_level_limit_deg, Dimension::angle));
        if (!tape.passes.empty()) {
            line("      laser: {}", word_for(laser_words, tape.laser));
        }
        line("      laser_angle: {}",
             with_limit(tape.laser_angle_deg, tape.laser_angle_limit_deg, Dimension::angle));
        if (tape.laser_seating_limit_deg != TapeAndLevel{}.laser_seating_limit_deg) {
            line("      laser_seating: {:.9g} deg", tape.laser_seating_limit_deg);
        }
    }

    void write_sensor(const SheetSighting& sighting) {
        std::string values;
        if (sighting.sensor_yaw_deg) {
            values += fmt::format("yaw: {:.9g} deg", *sighting.sensor_yaw_deg);
        }
        if (sighting.sensor_pitch_deg) {
            values += fmt::format("{}pitch: {:.9g} deg", values.empty() ? "" : ", ",
                                  *sighting.sensor_pitch_deg);
        }
        if (!values.empty()) {
            line("    sensor_reading: {{{}}}", values);
        }
    }

    void write_turned(const SheetSighting& sighting) {
        std::string turned;
        for (const auto& [screw, turns] : sighting.turned_clockwise) {
            turned += fmt::format("{}{}: {}", turned.empty() ? "" : ", ", yaml_text(screw),
                                  sheet_turns_text(turns));
        }
        if (!turned.empty()) {
            line("    turned: {{{}}}", turned);
        }
    }

    void write(const SheetSighting& sighting) {
        line("  - stage: {}", sighting.stage);
        if (sighting.same_setup) {
            line("    setup: same");
        } else if (sighting.setup) {
            write(*sighting.setup);
        }
        if (!sighting.photos.empty()) {
            line("    photos:");
        }
        for (const auto& photo : sighting.photos) {
            write(photo);
        }
        if (sighting.tape_and_level) {
            write(*sighting.tape_and_level);
        }
        if (sighting.tape_left_out) {
            line("    tape_left_out: yes");
        }
        write_sensor(sighting);
        write_turned(sighting);
        if (sighting.locked) {
            line("    locked: {}", *sighting.locked ? "yes" : "no");
        }
    }

    /// Keys of an inner map were joined to "map.key" when the sheet was read.
    void answers(const char* name, const std::vector<std::pair<std::string, std::string>>& given) {
        if (given.empty()) {
            return;
        }
        line("{}:", name);
        std::string inner;
        for (const auto& [key, answer] : given) {
            const auto dot = key.find('.');
            if (dot == std::string::npos) {
                inner.clear();
                line("  {}: {}", key, yaml_text(answer));
                continue;
            }
            if (inner != key.substr(0, dot)) {
                inner = key.substr(0, dot);
                line("  {}:", inner);
            }
            line("    {}: {}", key.substr(dot + 1), yaml_text(answer));
        }
    }

    const JobSheet& sheet_;
    LengthUnit unit_;
    std::string text_;
};

}  // namespace

std::string job_sheet_yaml(const JobSheet& sheet, LengthUnit unit) {
    return SheetWriter(sheet, unit).text();
}

std::string sheet_turns_text(double turns_clockwise) {
    if (turns_clockwise == 0) {
        return "0";
    }
    const double eighths = 8 * std::abs(turns_clockwise);
    const std::string size = std::abs(eighths - std::round(eighths)) < 1e-9
                                 ? eighths_text(static_cast<int>(std::lround(eighths)))
                                 : fmt::format("{:.9g}", eighths / 8);
    return size + (turns_clockwise > 0 ? " clockwise" : " counter-clockwise");
}

}  // namespace squaresight

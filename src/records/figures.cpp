#include "records/figures.h"

#include <fmt/format.h>

#include <set>

#include "records/reading_scatter.h"
#include "units/error.h"

namespace squaresight {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t entry_columns = 4;  ///< entry, job, revision, recorded_at

/// What stands under a path of keys, or null.
Json at(const Json& json, std::initializer_list<const char*> path) {
    const Json* here = &json;
    for (const auto* key : path) {
        if (!here->is_object() || !here->contains(key)) {
            return nullptr;
        }
        here = &here->at(key);
    }
    return *here;
}

std::optional<double> number(const Json& json, std::initializer_list<const char*> path) {
    const Json found = at(json, path);
    return found.is_number() ? std::optional(found.get<double>()) : std::nullopt;
}

std::string word(const Json& json, std::initializer_list<const char*> path) {
    const Json found = at(json, path);
    return found.is_string() ? found.get<std::string>() : "";
}

void take_vision(const Json& vision, SightingFigures& figures) {
    figures.vision_yaw_left_deg = number(vision, {"yaw_left_deg", "value"});
    figures.vision_yaw_standard_uncertainty_deg =
        number(vision, {"yaw_left_deg", "standard_uncertainty"});
    figures.vision_pitch_up_deg = number(vision, {"pitch_up_deg", "value"});
    figures.vision_pitch_standard_uncertainty_deg =
        number(vision, {"pitch_up_deg", "standard_uncertainty"});
    figures.vision_correlation = number(vision, {"correlation"});
    figures.vision_yaw_call = word(vision, {"verdict", "yaw", "call"});
    figures.vision_yaw_probability = number(vision, {"verdict", "yaw", "probability"});
    figures.vision_pitch_call = word(vision, {"verdict", "pitch", "call"});
    figures.vision_pitch_probability = number(vision, {"verdict", "pitch", "probability"});
    figures.cradle_offset_left_deg = number(vision, {"cradle_offset", "left_deg"});
    figures.cradle_offset_up_deg = number(vision, {"cradle_offset", "up_deg"});
    for (const auto& photo : at(vision, {"photos"})) {
        figures.corners += photo.at("corners").get<int>();
    }
}

void take_tape(const Json& tape, SightingFigures& figures) {
    figures.tape_yaw_left_deg = number(tape, {"yaw_left_deg", "value"});
    figures.tape_yaw_standard_uncertainty_deg =
        number(tape, {"yaw_left_deg", "standard_uncertainty"});
    figures.tape_pitch_up_deg = number(tape, {"pitch_up_deg", "value"});
    figures.tape_pitch_standard_uncertainty_deg =
        number(tape, {"pitch_up_deg", "standard_uncertainty"});
    figures.tape_yaw_call = word(tape, {"verdict", "yaw", "call"});
    figures.tape_yaw_probability = number(tape, {"verdict", "yaw", "probability"});
    figures.tape_pitch_call = word(tape, {"verdict", "pitch", "call"});
    figures.tape_pitch_probability = number(tape, {"verdict", "pitch", "probability"});
    figures.tape_yaw_service_limit = word(tape, {"service_limit", "yaw"});
    figures.tape_pitch_service_limit = word(tape, {"service_limit", "pitch"});
}

void take_agreement(const Json& agreement, SightingFigures& figures) {
    figures.difference_yaw_left_deg = number(agreement, {"yaw", "difference_deg"});
    figures.difference_yaw_expanded_95_deg = number(agreement, {"yaw", "expanded_95"});
    figures.yaw_en = number(agreement, {"yaw", "en"});
    figures.yaw_agreement = word(agreement, {"yaw", "call"});
    figures.difference_pitch_up_deg = number(agreement, {"pitch", "difference_deg"});
    figures.difference_pitch_expanded_95_deg = number(agreement, {"pitch", "expanded_95"});
    figures.pitch_en = number(agreement, {"pitch", "en"});
    figures.pitch_agreement = word(agreement, {"pitch", "call"});
}

void take_findings(const Json& result, const Json& sighting, SightingFigures& figures) {
    std::set<std::string> codes;
    for (const Json& list :
         {at(result, {"findings"}), at(sighting, {"findings"}),
          at(sighting, {"vision", "findings"}), at(sighting, {"tape_and_level", "findings"})}) {
        for (const auto& finding : list) {
            codes.insert(finding.at("code").get<std::string>());
            figures.stops += finding.at("level") == "stop" ? 1 : 0;
        }
    }
    figures.findings = fmt::format("{}", fmt::join(codes, " "));
}

void count_repeats(const TapeAndLevel& readings, SightingFigures& figures) {
    const auto count = [&](double before, double again) {
        ++figures.repeated_readings;
        figures.readings_alike += before == again ? 1 : 0;
    };
    for (std::size_t i = 1; i < readings.passes.size(); ++i) {
        count(readings.passes[i - 1].left_mm, readings.passes[i].left_mm);
        count(readings.passes[i - 1].right_mm, readings.passes[i].right_mm);
    }
    for (std::size_t i = 1; i < readings.face_level_deg.size(); ++i) {
        count(readings.face_level_deg[i - 1], readings.face_level_deg[i]);
    }
}

SightingFigures figures_of_sighting(const Json& result, const Json& sighting, const JobSheet& sheet,
                                    const SheetSighting& stage, const EquipmentNames& equipment) {
    SightingFigures figures;
    figures.stage = stage.stage;
    figures.technician = sheet.technician;
    figures.vehicle = sheet.vehicle;
    figures.bay = sheet.bay;
    figures.check_standard = sheet.check_standard;
    figures.mount = equipment.mount;
    figures.camera = equipment.camera;
    figures.cradle = equipment.cradle;
    figures.target = equipment.target;
    figures.camera_date = equipment.camera_date;
    figures.cradle_date = equipment.cradle_date;
    figures.target_checked_on = equipment.target_checked_on;
    figures.aim_yaw_left_deg = equipment.aim_yaw_left_deg;
    figures.aim_pitch_up_deg = equipment.aim_pitch_up_deg;
    figures.tolerance_yaw_deg = equipment.tolerance_yaw_deg;
    figures.tolerance_pitch_deg = equipment.tolerance_pitch_deg;
    figures.measured_by = result.at("program").get<std::string>();
    figures.headline = word(result, {"headline"});
    figures.photos = static_cast<int>(stage.photos.size());
    if (stage.locked) {
        figures.locked = *stage.locked ? "yes" : "no";
    }
    if (stage.tape_and_level) {
        count_repeats(*stage.tape_and_level, figures);
    }
    take_vision(at(sighting, {"vision"}), figures);
    take_tape(at(sighting, {"tape_and_level"}), figures);
    take_agreement(at(sighting, {"agreement"}), figures);
    take_findings(result, sighting, figures);
    return figures;
}

}  // namespace

#define SQUARESIGHT_COLUMN(name, ...) \
    { #name, &SightingFigures::name __VA_OPT__(, ) __VA_ARGS__ }

const FigureColumns& figure_columns() {
    static const FigureColumns columns{
        SQUARESIGHT_COLUMN(entry),
        SQUARESIGHT_COLUMN(job),
        SQUARESIGHT_COLUMN(revision),
        SQUARESIGHT_COLUMN(recorded_at),
        SQUARESIGHT_COLUMN(sighting),
        SQUARESIGHT_COLUMN(stage),
        SQUARESIGHT_COLUMN(taken_at),
        SQUARESIGHT_COLUMN(technician),
        SQUARESIGHT_COLUMN(vehicle),
        SQUARESIGHT_COLUMN(bay),
        SQUARESIGHT_COLUMN(mount),
        SQUARESIGHT_COLUMN(camera),
        SQUARESIGHT_COLUMN(cradle),
        SQUARESIGHT_COLUMN(target),
        SQUARESIGHT_COLUMN(measured_by),
        SQUARESIGHT_COLUMN(aim_yaw_left_deg),
        SQUARESIGHT_COLUMN(aim_pitch_up_deg),
        SQUARESIGHT_COLUMN(tolerance_yaw_deg),
        SQUARESIGHT_COLUMN(tolerance_pitch_deg),
        SQUARESIGHT_COLUMN(vision_yaw_left_deg),
        SQUARESIGHT_COLUMN(vision_yaw_standard_uncertainty_deg),
        SQUARESIGHT_COLUMN(vision_pitch_up_deg),
        SQUARESIGHT_COLUMN(vision_pitch_standard_uncertainty_deg),
        SQUARESIGHT_COLUMN(vision_correlation),
        SQUARESIGHT_COLUMN(vision_yaw_call),
        SQUARESIGHT_COLUMN(vision_pitch_call),
        SQUARESIGHT_COLUMN(vision_yaw_probability),
        SQUARESIGHT_COLUMN(vision_pitch_probability),
        SQUARESIGHT_COLUMN(tape_yaw_left_deg),
        SQUARESIGHT_COLUMN(tape_yaw_standard_uncertainty_deg),
        SQUARESIGHT_COLUMN(tape_pitch_up_deg),
        SQUARESIGHT_COLUMN(tape_pitch_standard_uncertainty_deg),
        SQUARESIGHT_COLUMN(tape_yaw_call),
        SQUARESIGHT_COLUMN(tape_pitch_call),
        SQUARESIGHT_COLUMN(tape_yaw_probability),
        SQUARESIGHT_COLUMN(tape_pitch_probability),
        SQUARESIGHT_COLUMN(tape_yaw_service_limit),
        SQUARESIGHT_COLUMN(tape_pitch_service_limit),
        SQUARESIGHT_COLUMN(difference_yaw_left_deg),
        SQUARESIGHT_COLUMN(difference_yaw_expanded_95_deg),
        SQUARESIGHT_COLUMN(yaw_en),
        SQUARESIGHT_COLUMN(difference_pitch_up_deg),
        SQUARESIGHT_COLUMN(difference_pitch_expanded_95_deg),
        SQUARESIGHT_COLUMN(pitch_en),
        SQUARESIGHT_COLUMN(yaw_agreement),
        SQUARESIGHT_COLUMN(pitch_agreement),
        SQUARESIGHT_COLUMN(cradle_offset_left_deg),
        SQUARESIGHT_COLUMN(cradle_offset_up_deg),
        SQUARESIGHT_COLUMN(photos),
        SQUARESIGHT_COLUMN(corners),
        SQUARESIGHT_COLUMN(stops),
        SQUARESIGHT_COLUMN(findings),
        SQUARESIGHT_COLUMN(locked),
        SQUARESIGHT_COLUMN(repeated_readings, 2),
        SQUARESIGHT_COLUMN(readings_alike, 2),
        SQUARESIGHT_COLUMN(camera_date, 2),
        SQUARESIGHT_COLUMN(cradle_date, 2),
        SQUARESIGHT_COLUMN(target_checked_on, 2),
        SQUARESIGHT_COLUMN(headline, 3),
        SQUARESIGHT_COLUMN(check_standard, 4),
        SQUARESIGHT_COLUMN(reading_scatter, 4),
    };
    return columns;
}

#undef SQUARESIGHT_COLUMN

const char* FigureColumn::sql_type() const {
    constexpr std::array types{"TEXT NOT NULL", "INTEGER NOT NULL", "DOUBLE PRECISION"};
    return types[member.index()];
}

const char* FigureColumn::sql_default() const {
    constexpr std::array defaults{" DEFAULT ''", " DEFAULT 0", ""};
    return defaults[member.index()];
}

Json FigureColumn::json(const SightingFigures& figures) const {
    return std::visit(
        [&](auto pointer) {
            const auto& value = figures.*pointer;
            if constexpr (std::is_same_v<decltype(value), const std::optional<double>&>) {
                return value ? Json(*value) : Json(nullptr);
            } else {
                return Json(value);
            }
        },
        member);
}

std::string FigureColumn::text(const SightingFigures& figures) const {
    const Json value = json(figures);
    return value.is_null() ? "" : value.is_string() ? value.get<std::string>() : value.dump();
}

std::vector<SightingFigures> figures_of(const Json& result, const JobSheet& sheet,
                                        const EquipmentNames& equipment) {
    const Json& sightings = result.at("sightings");
    if (sightings.size() != sheet.sightings.size()) {
        throw InputError(sheet.file.string(), "and its result do not have the same stages",
                         "measure the job again");
    }
    const auto scatter = reading_scatter(result, sheet);
    std::vector<SightingFigures> all;
    for (std::size_t i = 0; i < sightings.size(); ++i) {
        all.push_back(
            figures_of_sighting(result, sightings[i], sheet, sheet.sightings[i], equipment));
        all.back().sighting = static_cast<int>(i) + 1;
        all.back().reading_scatter = scatter_text(scatter[i]);
    }
    return all;
}

Json figures_json(const SightingFigures& figures) {
    Json json;
    for (std::size_t i = entry_columns; i < figure_columns().size(); ++i) {
        const FigureColumn& column = figure_columns()[i];
        json[column.name] = column.json(figures);
    }
    return json;
}

SightingFigures figures_from_json(const Json& json) {
    SightingFigures figures;
    for (std::size_t i = entry_columns; i < figure_columns().size(); ++i) {
        const FigureColumn& column = figure_columns()[i];
        if (column.since > 1 && !json.contains(column.name)) {
            continue;
        }
        const Json& value = json.at(column.name);
        std::visit(
            [&](auto pointer) {
                auto& into = figures.*pointer;
                if constexpr (std::is_same_v<decltype(into), std::optional<double>&>) {
                    into = value.is_null() ? std::nullopt : std::optional(value.get<double>());
                } else {
                    value.get_to(into);
                }
            },
            column.member);
    }
    return figures;
}

}  // namespace squaresight

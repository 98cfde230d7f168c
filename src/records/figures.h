#pragma once
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "job/sheet.h"

namespace squaresight {

/// What one measurement (one stage of one job) came to: a row of the export, and what a review
/// reads. Units and signs are in the names; a text is empty and a number absent where there is
/// none. Every column is described in docs/records.md.
struct SightingFigures {
    int entry = 0;  ///< place in the shop's chain, from 1
    std::string job;
    int revision = 0;         ///< from 1
    std::string recorded_at;  ///< UTC, as 2026-03-05T10:12:40Z
    int sighting = 0;         ///< stage of the job, from 1
    std::string stage;
    std::string taken_at;  ///< first photo, the phone's clock; empty without
    std::string technician, vehicle, bay, mount, camera, cradle, target;
    std::string measured_by;  ///< the program, with its version

    std::optional<double> aim_yaw_left_deg, aim_pitch_up_deg;
    std::optional<double> tolerance_yaw_deg, tolerance_pitch_deg;
    std::optional<double> vision_yaw_left_deg, vision_yaw_standard_uncertainty_deg;
    std::optional<double> vision_pitch_up_deg, vision_pitch_standard_uncertainty_deg;
    std::optional<double> vision_correlation;
    std::string vision_yaw_call, vision_pitch_call;
    std::optional<double> vision_yaw_probability, vision_pitch_probability;
    std::optional<double> tape_yaw_left_deg, tape_yaw_standard_uncertainty_deg;
    std::optional<double> tape_pitch_up_deg, tape_pitch_standard_uncertainty_deg;
    std::string tape_yaw_call, tape_pitch_call;
    std::optional<double> tape_yaw_probability, tape_pitch_probability;
    std::string tape_yaw_service_limit, tape_pitch_service_limit;
    std::optional<double> difference_yaw_left_deg, difference_yaw_expanded_95_deg, yaw_en;
    std::optional<double> difference_pitch_up_deg, difference_pitch_expanded_95_deg, pitch_en;
    std::string yaw_agreement, pitch_agreement;
    std::optional<double> cradle_offset_left_deg, cradle_offset_up_deg;
    int photos = 0;
    int corners = 0;
    int stops = 0;         ///< findings of level stop, of this stage and of the whole job
    std::string findings;  ///< codes of all findings of both, each once, parted by spaces
    std::string locked;    ///< yes, no or empty
    /// Readings by tape and level that repeat one of the same stage, and how many of these are
    /// exactly as the one before: (passes - 1) * 2 tapes, and further readings of the face.
    int repeated_readings = 0, readings_alike = 0;
    /// When the camera was calibrated, the cradle determined, the board's print checked; as in
    /// their files, empty where these do not tell.
    std::string camera_date, cradle_date, target_checked_on;
    std::string headline;         ///< of the whole job (job/headline.h); empty where none was kept
    std::string check_standard;   ///< as on the job sheet; empty for a vehicle
    std::string reading_scatter;  ///< of the setup's readings, by kind (reading_scatter.h)
};

/// A member of SightingFigures under its own name. Those up to `recorded_at` are the entry's.
struct FigureColumn {
    const char* name;
    std::variant<std::string SightingFigures::*, int SightingFigures::*,
                 std::optional<double> SightingFigures::*>
        member;
    int since = 1;  ///< version of the store's schema that has it

    const char* sql_type() const;
    const char* sql_default() const;  ///< " DEFAULT 0"; empty where that is null
    /// As it stands in a table: numbers in the fewest digits that read back alike.
    std::string text(const SightingFigures& figures) const;
    /// Text, number, or null for a number that is not there.
    nlohmann::ordered_json json(const SightingFigures& figures) const;
};

using FigureColumns = std::vector<FigureColumn>;

/// All columns, in the order of the struct.
const FigureColumns& figure_columns();

/// Names of the files that a job stands on; empty where it names none.
struct EquipmentNames {
    std::string mount, camera, cradle, target;
    std::string camera_date, cradle_date, target_checked_on;
    std::optional<double> aim_yaw_left_deg, aim_pitch_up_deg;
    std::optional<double> tolerance_yaw_deg, tolerance_pitch_deg;
};

/// The figures of each stage of a result (squaresight/result/1) and its sheet. The entry's own
/// columns and `taken_at` are left for who knows them. InputError where they do not fit together.
std::vector<SightingFigures> figures_of(const nlohmann::ordered_json& result, const JobSheet& sheet,
                                        const EquipmentNames& equipment);

/// The columns that are not the entry's own, by name; and read again. What an entry of an earlier
/// version does not have stays as it is in a new SightingFigures.
nlohmann::ordered_json figures_json(const SightingFigures& figures);
SightingFigures figures_from_json(const nlohmann::ordered_json& json);

}  // namespace squaresight

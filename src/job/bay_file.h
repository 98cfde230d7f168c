#pragma once
#include <filesystem>
#include <optional>
#include <string>

#include "job/sheet.h"
#include "units/quantity.h"

namespace squaresight {

/// How a bay uses tape-and-level beside the photos. Limits are limits of error (rectangular).
struct BayTape {
    double left_point_mm = 0;  ///< from the sensor's centreline, positive
    double right_point_mm = 0;
    int passes = 2;         ///< to each laying of the laser
    int layings = 1;        ///< of the laser on the face
    bool reversed = false;  ///< every second laying end for end
    int face_readings = 2;
    double beam_at_mm = 7 * mm_per_inch;  ///< tape length to the beam of a mount that is square
    double pass_limit_mm = mm_per_inch / 32;
    double face_limit_deg = 0.1;
    double bumper_square_limit_mm = unmeasured_bumper_limit_mm;
    SquaredBy squared_by = SquaredBy::nothing;
    double beam_level_limit_deg = 1;
    Laser laser = Laser::line;
    bool laser_stated = false;  ///< the file says what the laser throws
    double laser_angle_limit_deg = 0.2;
    double laser_seating_limit_deg = 0.1;
};

/// Tape-and-level as a stage there begins with: points, limits, laser; nothing read yet.
TapeAndLevel usual_readings(const BayTape& bay);

/// A place where mounts are measured (schema squaresight/bay/1): what stands there, how well each
/// reading is taken there and how many photos are made. Paths are resolved.
struct Bay {
    std::filesystem::path file;
    std::string name;
    std::filesystem::path mount_file, camera_file, target_file;
    std::optional<std::filesystem::path> cradle_file;
    LengthUnit unit = LengthUnit::mm;
    SheetSetup setup;  ///< usual values with their standard uncertainties; has a distance
    int upright_photos = 2;
    int inverted_photos = 2;
    int quarter_photos = 0;                 ///< the cradle a quarter turn either way, by turns
    std::optional<BayTape> tape_and_level;  ///< absent: photos only
    bool tape_counts = false;               ///< as JobSheet::tape_counts, of jobs begun there
};

/// Reads and checks a bay file; InputError as in units/entry.h (a file that is not there, a setup
/// without distance, ...).
Bay load_bay(const std::filesystem::path& file);

}  // namespace squaresight

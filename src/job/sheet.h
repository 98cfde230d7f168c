#pragma once
#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "adjust/measurement.h"
#include "tape/tape.h"
#include "units/entry.h"

namespace squaresight {

struct SheetPhoto {
    std::string file;            ///< as written
    std::filesystem::path path;  ///< resolved
    std::optional<CradleLabel> label;
    int placement = -1;
};

/// The end of a tape on the sheet: a named mark, or a place right and down of the sheet's top left
/// corner.
struct TapeEnd {
    std::string name;
    std::optional<Eigen::Vector2d> place_mm;
};

struct SheetTape {
    TapePoint from;
    TapeEnd to;
    Reading length_mm;
};

/// The plumb marks that the rails' line was drawn through.
struct PlumbMarks {
    double base_mm = 0;         ///< between them
    double plumb_limit_mm = 0;  ///< limit of error of each
    /// How far the rails may be bowed sideways between them, limit; assumption, no source.
    double bow_limit_mm = 1;
};

/// A setup as the sheet gives it: readings with their standard uncertainties, defaults filled in.
/// Tapes stay apart until the target is known.
struct SheetSetup {
    Setup readings;
    bool has_distance = false;
    std::optional<PlumbMarks> line_marks;  ///< absent where the line is given as an angle
    std::vector<SheetTape> tapes;
    /// Where tapes start, measured on this vehicle or taken over from its model: names differ.
    std::vector<TapePoint> tape_points;
};

/// The point of a name; null where there is none.
const TapePoint* find_point(const std::vector<TapePoint>& points, const std::string& name);

/// One stage of a job sheet.
struct SheetSighting {
    std::string stage;
    bool same_setup = false;  ///< `setup: same`
    std::optional<SheetSetup> setup;
    std::vector<SheetPhoto> photos;
    std::optional<TapeAndLevel> tape_and_level;
    bool tape_left_out = false;            ///< it was asked for, and left out knowingly
    std::optional<double> sensor_yaw_deg;  ///< the sensor's own sign
    std::optional<double> sensor_pitch_deg;
    std::vector<std::pair<std::string, double>> turned_clockwise;  ///< screw name, turns
    std::optional<bool> locked;
};

/// A technician's job sheet (schema squaresight/job/1), checked, paths resolved.
struct JobSheet {
    std::filesystem::path file;
    std::string job;
    std::string vehicle;
    std::string check_standard;  ///< that was measured in place of a vehicle; else empty
    std::string vehicle_model;   ///< as the shop calls it; vehicles of one model are built alike
    std::string technician;
    std::string bay;   ///< where it was measured
    std::string date;  ///< when it was begun, as 2026-03-05; may be empty
    /// In which findings and report tell lengths: `units`; where the sheet has none, the unit in
    /// which the first stage's distance is written, without one that of its left reference point.
    LengthUnit unit = LengthUnit::mm;
    std::filesystem::path mount_file;
    std::optional<std::filesystem::path> camera_file, target_file, cradle_file;
    bool tape_counts = false;     ///< tape-and-level counts for the photos' answer too
    bool originals_only = false;  ///< a photo that tells nothing of its phone does not serve
    std::vector<SheetSighting> sightings;
    /// `ready` and `closing` as written: key, answer ("yes", "no", a reason, a date). Keys of the
    /// design that were not answered are absent and are open items.
    std::vector<std::pair<std::string, std::string>> ready;
    std::vector<std::pair<std::string, std::string>> closing;
    std::vector<std::string> notes;     ///< of whoever works on it, in their order
    std::vector<std::string> pictures;  ///< of bracket or damage, as written; not measured with
    std::string abandoned;              ///< why it is not carried on; empty where it is
};

JobSheet load_job_sheet(const std::filesystem::path& file);

/// The same of text at hand, whatever became of the files that it names.
JobSheet parse_job_sheet(const std::string& text, const std::filesystem::path& file);

/// The same of a job that is still being measured: a stage may hold neither photos nor
/// tape-and-level.
JobSheet parse_begun_job_sheet(const std::string& text, const std::filesystem::path& file);

/// The path of a file that must be there; an InputError where it is not.
std::filesystem::path existing_path(const Entry& entry);

/// A setup of which nothing was measured: every reading about zero with its wide limits.
SheetSetup unmeasured_setup();

/// A setup of which all but tapes was measured within the limits of a sheet that gives none: board
/// square and straight ahead, at the mount's height.
SheetSetup usual_setup(double distance_value_mm, double line_base_mm);

/// The rails' line drawn through plumb marks, straight along the rails.
void plumb_line(const PlumbMarks& marks, SheetSetup& setup);

/// Puts the entries of a `setup:` map into `setup`, each with its usual limits where the map gives
/// none. What the map does not name stays as it is. InputError as in units/entry.h.
void read_setup(const Entry& entry, SheetSetup& setup);

/// The setup's readings with its tapes, whose ends on the sheet are known by the target.
Setup measured_setup(const SheetSetup& sheet, const Target& target);

}  // namespace squaresight

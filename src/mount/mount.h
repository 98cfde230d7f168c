#pragma once
#include <Eigen/Core>
#include <array>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "adjust/decision.h"
#include "adjust/measurement.h"
#include "units/finding.h"

namespace squaresight {

enum class Axis { yaw, pitch };

struct Screw {
    std::string name;
    Axis turns = Axis::yaw;          ///< the angle it is there for
    double left_mm = 0;              ///< of the face's centre, parallel to V's Y
    double up_mm = 0;                ///< parallel to V's Z
    std::string thread;              ///< as written: "M6 x 1.0"
    double pitch_mm = 0;             ///< travel a turn
    bool clockwise_moves_in = true;  ///< in: toward the truck (-X)
    double travel_turns = 0;         ///< net turns allowed either way since as-found
};

/// One line of the vehicle maker's table; readings have the sensor's own sign.
struct TableRow {
    std::string screw;
    double reading_deg = 0;
    Axis axis = Axis::yaw;  ///< which reading: yaw_reading or pitch_reading
    double turns_clockwise = 0;
};

/// A mount (schema squaresight/mount/1).
struct Mount {
    std::string name;
    std::string source;  ///< document and date; empty: limits unproven
    std::string cradle_sits_on;
    double pivot_left_mm = 0;
    double pivot_up_mm = 0;
    std::vector<Screw> screws;  ///< one for each axis
    double aim_yaw_left_deg = 0;
    double aim_pitch_up_deg = 0;
    double tolerance_yaw_deg = 0.3;    ///< unless the file states it: common practice, no source
    double tolerance_pitch_deg = 1.5;  ///< unless the file states it: common practice, no source
    bool tolerance_stated = false;     ///< by the file
    double face_form_deg = usual_face_form_deg;  ///< as MeasuredJob::face_form_deg
    bool sensor_positive_left = true;  ///< sign of the sensor's yaw reading and of the table
    std::vector<TableRow> table;

    double aim_deg(Axis axis) const {
        return axis == Axis::yaw ? aim_yaw_left_deg : aim_pitch_up_deg;
    }
    AxisLimits limits(Axis axis) const { return {aim_deg(axis), tolerance_deg(axis)}; }
    double tolerance_deg(Axis axis) const {
        return axis == Axis::yaw ? tolerance_yaw_deg : tolerance_pitch_deg;
    }
};

/// Reads and checks a mount file; InputError as in units/entry.h (screws on one line with the
/// pivot, both for the same aim, an unknown thread, ...). `source`, `cradle_sits_on`, `aim` (0, 0),
/// `tolerance`, `sensor_reading` and `turn_table` may be left out; a table needs `sensor_reading`.
Mount load_mount(const std::filesystem::path& file);

/// What to know about the profile itself, once a job: `mount-unsourced`, `limit-assumed`.
Findings mount_findings(const Mount& mount);

/// What to do with one screw.
struct Correction {
    std::string screw;
    double turns = 0;  ///< rounded to 1/8, never negative
    bool clockwise = true;
    double exact_turns = 0;  ///< not rounded, in the same direction, never negative
    double uncertainty_turns =
        0;  ///< standard: of the angles, and of what was learned of the mount
    std::optional<double> table_turns_clockwise;  ///< what the service table says, signed
    double play_turns = 0;  ///< in exact_turns: to take up the play where the screw reverses
    bool aim_in_tolerance = false;  ///< the angle that it turns is in tolerance as it is
    /// Also if this screw is left and the other is turned, this angle is in tolerance and the other
    /// one is to be expected within its limit.
    bool may_be_left = false;
};

struct CorrectionPlan {
    std::vector<Correction> corrections;  ///< every screw of the mount, in the profile's order
    double remaining_yaw_left_deg = 0;    ///< expected off aim after the rounded turns
    double remaining_pitch_up_deg = 0;
    double remaining_yaw_uncertainty_deg = 0;  ///< standard: of angles, mount and turning
    double remaining_pitch_uncertainty_deg = 0;
    Findings findings;  ///< beyond-travel, table-differs, ...
};

/// Turns that bring the face from (yaw, pitch) to the mount's aim, cross-coupling included.
/// `turned_clockwise` holds the net turns already made since as-found, by screw in profile order;
/// empty: none. `correlation` is that of yaw and pitch. Findings: `beyond-travel` (stop; the turns
/// are still given, as a size), `table-differs` (warning, when a row of the table and the geometry
/// differ by more than 10 % and by more than rounding to 1/8 turn explains; turns follow the
/// geometry). An angle that is not finite or beyond 45 deg gives no corrections and the stop
/// `cannot-correct`.
CorrectionPlan plan_correction(const Mount& mount, const Estimate& yaw_left_deg,
                               const Estimate& pitch_up_deg, double correlation,
                               const std::vector<double>& turned_clockwise);

/// The face as the plane x = x0 + p * left + q * up of V: p = -tan(yaw), q = -tan(pitch) /
/// cos(yaw).
Eigen::Vector2d face_slopes(double yaw_left_deg, double pitch_up_deg);

/// How far one turn of each screw tips the face: the length of the change of both slopes.
Eigen::Vector2d turn_sizes(const Mount& mount);

/// Exact turns (clockwise positive, profile order) from one attitude of the face to another.
std::vector<double> exact_turns_clockwise(const Mount& mount, double from_yaw_left_deg,
                                          double from_pitch_up_deg, double to_yaw_left_deg,
                                          double to_pitch_up_deg);

/// Attitude (yaw left, pitch up; deg) after turning screws from a given attitude.
Eigen::Vector2d attitude_after(const Mount& mount, double yaw_left_deg, double pitch_up_deg,
                               const std::vector<double>& turns_clockwise);

/// Turns (clockwise, profile order: rows) a degree of change of yaw left and pitch up (columns).
Eigen::Matrix2d turns_per_deg(const Mount& mount, double yaw_left_deg, double pitch_up_deg);

/// The sensor's own reading for an attitude and back. A reading of zero is a face at its aim; yaw
/// is signed as the profile says, pitch is nose up positive.
double reading_from_angle_deg(const Mount& mount, Axis axis, double angle_deg);
double angle_from_reading_deg(const Mount& mount, Axis axis, double reading_deg);

/// Interpolated turns (clockwise positive) of the service table for a sensor reading; a reading of
/// zero is no turn. Nothing outside the table or where there is none for that axis.
std::optional<double> table_turns_clockwise(const Mount& mount, Axis axis, double reading_deg);

/// To the nearest eighth: "1 1/2 turns clockwise", "5/8 turn counter-clockwise", "no turn".
std::string turns_words(double turns_clockwise);
std::string turns_words(const Correction& correction);

}  // namespace squaresight

#pragma once
#include <Eigen/Core>
#include <array>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "camera/camera.h"
#include "sight/sight.h"
#include "target/target.h"
#include "units/quantity.h"

/// What was measured in a job, ready for the adjustment: numbers with their standard
/// uncertainties, no files and no units to parse. Lengths in mm, angles in degrees; names carry
/// the sign (docs/conventions.md).
namespace squaresight {

/// One reading. `measured` is false where the entry was left out and stands with wide limits.
struct Reading {
    double value = 0;
    double standard_uncertainty = 0;
    bool measured = true;
};

/// A point on the vehicle from which tapes are stretched, in V.
struct TapePoint {
    std::string name;                                 ///< points of one name share their error
    Eigen::Vector3d position_in_vehicle_mm{0, 0, 0};  ///< ahead, left, up
    double standard_uncertainty_mm = 0;               ///< of each axis
};

/// A tape stretched from a point on the vehicle to a point of the sheet.
struct TapeReading {
    TapePoint from;
    Eigen::Vector2d to_in_target_mm{0, 0};  ///< right, down of the pattern's centre, nominal
    std::string to_name;                    ///< "left edge", "centre", ...
    Reading length_mm;
};

/// The readings of one setup of truck and board, in the order of `setup_reading_names`.
struct Setup {
    Reading line_left_deg, distance_mm, target_left_mm, mount_left_mm, target_height_mm,
        mount_height_mm, floor_rise_deg, target_lean_back_deg, target_turned_left_deg,
        target_roll_clockwise_deg, rail_zero_deg;
    /// Standard uncertainty of the rails' direction itself: rails that are bowed sideways have more
    /// than one. No reading shows it.
    double rail_bow_deg = 0;
    std::vector<TapeReading> tapes;
    /// Names of readings that were taken a second time, by themselves: a blunder would have shown.
    std::set<std::string> taken_twice;
};

/// How the cradle sits on the face, seen by someone who faces the truck.
enum class CradleLabel { upright, inverted, quarter_clockwise, quarter_counter };

/// Roll about the face's normal (out of it) that a label states, deg.
double label_roll_deg(CradleLabel label);

/// As job sheets write them: "upright", "inverted", "quarter-clockwise",
/// "quarter-counter-clockwise".
const char* cradle_label_text(CradleLabel label);
/// The label of such a text; nothing for any other.
std::optional<CradleLabel> cradle_label_of(std::string_view text);

/// The way up of the photo after so many of a stage: upright, inverted, inverted, upright, and so
/// on. What drifts evenly from photo to photo then leaves the answer.
constexpr CradleLabel ways_up_in_turn(int taken) {
    return taken % 4 == 1 || taken % 4 == 2 ? CradleLabel::inverted : CradleLabel::upright;
}

/// So many photos of a stage in that order; quarter turns, either way by turns, come after them.
std::vector<CradleLabel> ways_up_of(int upright, int inverted, int quarters);

inline constexpr std::array<CradleLabel, 4> all_cradle_labels{
    CradleLabel::upright, CradleLabel::inverted, CradleLabel::quarter_clockwise,
    CradleLabel::quarter_counter};

/// How the sensor-native image stands when the cradle is upright; the value is the turn in degrees
/// that a viewer must give the native image, clockwise, to see it upright.
enum class PhoneUp { native = 0, clockwise = 90, half = 180, counter_clockwise = 270 };

/// One photo with the corners found in it.
struct PhotoSight {
    std::string file;  ///< as the job sheet names it
    std::vector<Corner> corners;
    std::optional<CradleLabel> label;
    int placement = -1;              ///< photos of equal placement >= 0 share it; -1: its own
    std::optional<int> orientation;  ///< EXIF 1..8
};

/// One angle of the face by tape and level, as a witness of what the photos say. Standard
/// uncertainties, deg.
struct WitnessAngle {
    double value_deg = 0;
    double own_deg = 0;           ///< of this stage alone: tapes, laser's seating
    double common_deg = 0;        ///< of all stages: bumper, the laser's own angle, inclinometer
    bool from_line = false;       ///< counted from the setup's line: the bumper was squared with it
    bool from_rail_zero = false;  ///< counted from the setup's zeroing on the rail
};

/// Tape-and-level of one stage.
struct Witness {
    std::optional<WitnessAngle> yaw_left;
    std::optional<WitnessAngle> pitch_up;
};

/// One stage of the job: all photos taken before anything was turned again.
struct Sighting {
    std::string stage;  ///< as-found, adjusted, as-left
    int setup = 0;  ///< index into MeasuredJob::setups, shared where truck and board stayed; any
                    ///< where there are no photos
    std::vector<PhotoSight> photos;
    Witness witness = {};
};

/// What is stored of a cradle (schema squaresight/cradle/1).
struct Cradle {
    std::string name;
    std::string camera;
    std::optional<PhoneUp> phone_up;
    std::optional<Eigen::Vector2d> offset_deg;  ///< left, up
    std::optional<Eigen::Vector3d> lens_mm;     ///< ahead, left, up of the face's centre
    /// Of (offset left, offset up, lens ahead, lens left, lens up), deg and mm.
    std::optional<Eigen::Matrix<double, 5, 5>> covariance;
    double seating_deg = 0.03;  ///< standard uncertainty of each placement
    /// What placements share; standard uncertainties unless called limits. Assumptions, no source.
    double way_up_deg = 0.02;   ///< seating that all placements of one way up have in common
    double sag_deg = 0.02;      ///< down under the phone's weight, either way up
    double place_limit_mm = 2;  ///< of where its centre sits on the face, left and up
    std::string date;
};

/// Standard uncertainty of the plane that a cradle meets against the face's own: a face that is not
/// flat. Assumption, no source.
inline constexpr double usual_face_form_deg = 0.02;

/// Everything measured in a job that the photos depend on.
struct MeasuredJob {
    Camera camera;
    Target target;
    Cradle cradle;  ///< defaults where no cradle file was given
    std::vector<Setup> setups;
    std::vector<Sighting> sightings;
    LengthUnit unit = LengthUnit::mm;            ///< in which findings tell lengths
    double face_form_deg = usual_face_form_deg;  ///< of the mount's face
    bool witness_answers = false;    ///< tape-and-level counts for the angles, not for tests alone
    double tolerance_yaw_deg = 0.3;  ///< for `unchecked-reading` and `cannot-decide` only
    double tolerance_pitch_deg = 1.5;
};

}  // namespace squaresight

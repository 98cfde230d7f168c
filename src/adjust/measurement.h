#pragma once
#include <Eigen/Core>
#include <array>
#include <optional>
#include <string>
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
    std::vector<TapeReading> tapes;
};

enum class CradleLabel { upright, inverted };

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

/// One stage of the job: all photos taken before anything was turned again.
struct Sighting {
    std::string stage;  ///< as-found, adjusted, as-left
    int setup = 0;  ///< index into MeasuredJob::setups, shared where truck and board stayed; any
                    ///< where there are no photos
    std::vector<PhotoSight> photos;
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
    std::string date;
};

/// Everything measured in a job that the photos depend on.
struct MeasuredJob {
    Camera camera;
    Target target;
    Cradle cradle;  ///< defaults where no cradle file was given
    std::vector<Setup> setups;
    std::vector<Sighting> sightings;
    LengthUnit unit = LengthUnit::mm;  ///< in which findings tell lengths
    double tolerance_yaw_deg = 0.3;    ///< for `unchecked-reading` and `cannot-decide` only
    double tolerance_pitch_deg = 1.5;
};

}  // namespace squaresight

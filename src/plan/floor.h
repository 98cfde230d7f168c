#pragma once
#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "adjust/measurement.h"
#include "units/quantity.h"

/// What is laid out on the floor for a bay: where line, board and tapes go, with the lengths that
/// show that all of it stands right. Lengths in mm; left is the truck's own.
namespace squaresight {

/// A point on the front of the truck from which tapes are stretched.
struct BumperPoint {
    std::string name;
    Eigen::Vector3d position_in_vehicle_mm{0, 0, 0};  ///< ahead, left, up
};

struct Floor {
    std::string bay;
    LengthUnit unit = LengthUnit::mm;  ///< the shop's
    Target target;
    Setup setup;              ///< where things shall stand; the line is straight along the rails
    double line_base_mm = 0;  ///< between the plumb marks; 0 where the line is not plumbed
    double plumb_limit_mm = 0;
    /// Smallest base with which side-to-side aim can be decided at all.
    std::optional<double> smallest_base_mm;
    /// Base from which the line adds less than a tenth to the give-or-take.
    std::optional<double> ample_base_mm;
    std::optional<double> tape_left_point_mm;  ///< tape-and-level's, from the sensor's centreline
    std::optional<double> tape_right_point_mm;
    std::vector<BumperPoint> points;  ///< of the crossed tapes; none, or left and right
};

/// A tape that a layout should show.
struct ExpectedTape {
    std::string from;
    std::string to;  ///< "left edge", "centre", "right edge"
    double length_mm = 0;
};

/// Sizes that follow from a Floor.
struct FloorSizes {
    double front_mark_behind_mm = 0;  ///< plumb mark nearest the face, behind it
    double string_mm = 0;             ///< from the rear mark over the front one and past the board
    double rectangle_length_mm = 0;   ///< along the line, from under the face to under the board
    double rectangle_width_mm = 0;    ///< half on each side of the line
    double diagonal_mm = 0;           ///< both, where the rectangle is square
    /// How far out of square the rectangle is when its diagonals differ by 1/8 in.
    double diagonals_eighth_deg = 0;
    double board_bottom_mm = 0;  ///< lower edge above the floor
    Eigen::Vector3d left_mark_in_vehicle_mm{0, 0, 0}, centre_in_vehicle_mm{0, 0, 0},
        right_mark_in_vehicle_mm{0, 0, 0};
    std::vector<ExpectedTape> tapes;  ///< each point to left edge, centre, right edge
    /// What 1/8 in between left and right tape to the laser's line means, at these points.
    std::optional<double> points_eighth_deg;
};

FloorSizes floor_sizes(const Floor& floor);

/// Angle in degrees that 1/8 in makes over points that lie `apart_mm` from each other.
double eighth_inch_deg(double apart_mm);

}  // namespace squaresight

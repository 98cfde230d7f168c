#include "plan/floor.h"

#include <array>
#include <cmath>

#include "adjust/model.h"
#include "adjust/pose_chain.h"
#include "units/quantity.h"

namespace squaresight {
namespace {

constexpr double eighth_inch_mm = mm_per_inch / 8;
/// Where frame rails can be plumbed behind a bumper; common practice, no source.
constexpr double front_mark_behind_mm = 600;
constexpr double string_past_board_mm = 300;
/// A wider rectangle is squared closer; this one passes between the wheels.
constexpr double rectangle_width_mm = 1800;
constexpr double rectangle_width_inches_mm = 72 * mm_per_inch;

void place_board(const Floor& floor, FloorSizes& sizes) {
    std::array<double, pose_input_count> q{};
    for (const auto& entry : setup_reading_names) {
        q[entry.input] = (floor.setup.*entry.reading).value;
    }
    q[line_left_deg] = 0;
    const Pose<double> board = vehicle_from_target(q.data());
    const auto mark = [&](double right_mm) -> Eigen::Vector3d {
        return board.rotation * Eigen::Vector3d(right_mm - floor.target.centre_mm.x(), 0, 0) +
               board.translation_mm;
    };
    sizes.left_mark_in_vehicle_mm = mark(0);
    sizes.centre_in_vehicle_mm = board.translation_mm;
    sizes.right_mark_in_vehicle_mm = mark(floor.target.sheet_width_mm);
    sizes.board_bottom_mm = floor.setup.target_height_mm.value -
                            (floor.target.sheet_height_mm - floor.target.centre_mm.y());
}

void expect_tapes(const Floor& floor, FloorSizes& sizes) {
    const std::array<std::pair<const char*, Eigen::Vector3d>, 3> marks{
        {{"left edge", sizes.left_mark_in_vehicle_mm},
         {"centre", sizes.centre_in_vehicle_mm},
         {"right edge", sizes.right_mark_in_vehicle_mm}}};
    for (const auto& point : floor.points) {
        for (const auto& [name, mark] : marks) {
            sizes.tapes.push_back({point.name, name, (mark - point.position_in_vehicle_mm).norm()});
        }
    }
}

}  // namespace

double eighth_inch_deg(double apart_mm) {
    return std::atan(eighth_inch_mm / apart_mm) * deg_per_rad;
}

FloorSizes floor_sizes(const Floor& floor) {
    FloorSizes sizes;
    const double distance = floor.setup.distance_mm.value;
    sizes.front_mark_behind_mm = front_mark_behind_mm;
    sizes.string_mm = (floor.line_base_mm > 0 ? front_mark_behind_mm + floor.line_base_mm : 0) +
                      distance + string_past_board_mm;
    const double length = sizes.rectangle_length_mm = distance;
    const double width = sizes.rectangle_width_mm =
        floor.unit == LengthUnit::in ? rectangle_width_inches_mm : rectangle_width_mm;
    sizes.diagonal_mm = std::hypot(length, width);
    // Out of square by a small angle a, the diagonals become sqrt(l^2 + w^2 +- 2 l w sin a).
    sizes.diagonals_eighth_deg =
        std::asin(eighth_inch_mm * sizes.diagonal_mm / (2 * length * width)) * deg_per_rad;
    place_board(floor, sizes);
    expect_tapes(floor, sizes);
    if (floor.tape_left_point_mm && floor.tape_right_point_mm) {
        sizes.points_eighth_deg =
            eighth_inch_deg(*floor.tape_left_point_mm + *floor.tape_right_point_mm);
    }
    return sizes;
}

}  // namespace squaresight

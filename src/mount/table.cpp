#include <algorithm>

#include "mount/mount.h"

namespace squaresight {
namespace {

double reading_sign(const Mount& mount, Axis axis) {
    return axis == Axis::yaw && !mount.sensor_positive_left ? -1 : 1;
}

double aim_deg(const Mount& mount, Axis axis) {
    return axis == Axis::yaw ? mount.aim_yaw_left_deg : mount.aim_pitch_up_deg;
}

}  // namespace

double reading_from_angle_deg(const Mount& mount, Axis axis, double angle_deg) {
    return reading_sign(mount, axis) * (angle_deg - aim_deg(mount, axis));
}

double angle_from_reading_deg(const Mount& mount, Axis axis, double reading_deg) {
    return aim_deg(mount, axis) + reading_sign(mount, axis) * reading_deg;
}

std::optional<double> table_turns_clockwise(const Mount& mount, Axis axis, double reading_deg) {
    std::vector<std::pair<double, double>> points{{0, 0}};
    for (const auto& row : mount.table) {
        if (row.axis == axis && row.reading_deg != 0) {
            points.emplace_back(row.reading_deg, row.turns_clockwise);
        }
    }
    std::sort(points.begin(), points.end());
    // A table's end, reached through sums of decimals, is still in the table.
    const double slack = 1e-9;
    if (points.size() == 1 || !(reading_deg >= points.front().first - slack &&
                                reading_deg <= points.back().first + slack)) {
        return std::nullopt;
    }
    const double reading = std::clamp(reading_deg, points.front().first, points.back().first);
    const auto above = std::find_if(points.begin() + 1, points.end(),
                                    [&](const auto& point) { return point.first >= reading; });
    const auto below = above - 1;
    const double part = (reading - below->first) / (above->first - below->first);
    return below->second + part * (above->second - below->second);
}

}  // namespace squaresight

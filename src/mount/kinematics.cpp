#include <Eigen/LU>
#include <cmath>

#include "mount/mount.h"
#include "units/quantity.h"

/// The face is the plane x = x0 + p * left + q * up of V, with p = -tan(yaw) and
/// q = -tan(pitch) / cos(yaw); the pivot's point of it stays, a screw's point follows its screw.
namespace squaresight {
namespace {

/// Turns (clockwise, profile order) for a change of the two slopes.
Eigen::Matrix2d turns_from_slopes(const Mount& mount) {
    Eigen::Matrix2d turns;
    for (int i = 0; i < 2; ++i) {
        const Screw& screw = mount.screws[i];
        const double ahead_per_turn_mm =
            screw.clockwise_moves_in ? -screw.pitch_mm : screw.pitch_mm;
        turns.row(i) << (screw.left_mm - mount.pivot_left_mm) / ahead_per_turn_mm,
            (screw.up_mm - mount.pivot_up_mm) / ahead_per_turn_mm;
    }
    return turns;
}

}  // namespace

Eigen::Vector2d face_slopes(double yaw_left_deg, double pitch_up_deg) {
    const double yaw = yaw_left_deg * rad_per_deg;
    const double pitch = pitch_up_deg * rad_per_deg;
    return {-std::tan(yaw), -std::tan(pitch) / std::cos(yaw)};
}

Eigen::Vector2d turn_sizes(const Mount& mount) {
    return turns_from_slopes(mount).inverse().colwise().norm();
}

std::vector<double> exact_turns_clockwise(const Mount& mount, double from_yaw_left_deg,
                                          double from_pitch_up_deg, double to_yaw_left_deg,
                                          double to_pitch_up_deg) {
    const Eigen::Vector2d turns =
        turns_from_slopes(mount) * (face_slopes(to_yaw_left_deg, to_pitch_up_deg) -
                                    face_slopes(from_yaw_left_deg, from_pitch_up_deg));
    return {turns[0], turns[1]};
}

Eigen::Vector2d attitude_after(const Mount& mount, double yaw_left_deg, double pitch_up_deg,
                               const std::vector<double>& turns_clockwise) {
    const Eigen::Vector2d turns(turns_clockwise.at(0), turns_clockwise.at(1));
    const Eigen::Vector2d slopes =
        face_slopes(yaw_left_deg, pitch_up_deg) + turns_from_slopes(mount).inverse() * turns;
    const double yaw = -std::atan(slopes[0]);
    const double pitch = -std::atan(slopes[1] * std::cos(yaw));
    return {yaw * deg_per_rad, pitch * deg_per_rad};
}

Eigen::Matrix2d turns_per_deg(const Mount& mount, double yaw_left_deg, double pitch_up_deg) {
    const double yaw = yaw_left_deg * rad_per_deg;
    const double pitch = pitch_up_deg * rad_per_deg;
    const double cos_yaw = std::cos(yaw);
    const double cos_pitch = std::cos(pitch);
    Eigen::Matrix2d slopes_per_rad;
    slopes_per_rad << -1 / (cos_yaw * cos_yaw), 0,
        -std::tan(pitch) * std::sin(yaw) / (cos_yaw * cos_yaw),
        -1 / (cos_pitch * cos_pitch * cos_yaw);
    return turns_from_slopes(mount) * slopes_per_rad * rad_per_deg;
}

}  // namespace squaresight

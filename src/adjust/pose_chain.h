#pragma once
#include "frames/pose_inputs.h"
#include "frames/rotations.h"
#include "units/quantity.h"

/// The chain of frames from the board to the camera (docs/conventions.md), as one function of the
/// quantities that a job measures. Internal to `adjust`.
namespace squaresight {

template <class T>
struct Pose {
    Matrix3<T> rotation;
    Vector3<T> translation_mm;
};

template <class T>
T radians(const T& deg) {
    return deg * T(rad_per_deg);
}

/// The board in V: orientation, and position of its centre. `q` holds pose_input_count values;
/// only those of the setup are used.
template <class T>
Pose<T> vehicle_from_target(const T* q) {
    using std::tan;
    const Matrix3<T> ahead_from_in = ahead_left_up_from_right_down_in().template cast<T>();
    const Matrix3<T> vehicle_from_line = rotation_z<T>(radians(q[line_left_deg]));
    const T lean_back = radians(q[target_lean_back_deg] - q[rail_zero_deg]);
    const T rise = radians(q[floor_rise_deg] + q[rail_zero_deg]);
    Pose<T> pose;
    pose.rotation = vehicle_from_line * rotation_z<T>(radians(q[target_turned_left_deg])) *
                    rotation_y<T>(lean_back) *
                    rotation_x<T>(radians(q[target_roll_clockwise_deg])) * ahead_from_in;
    pose.translation_mm =
        vehicle_from_line * Vector3<T>(q[distance_mm], q[target_left_mm] - q[mount_left_mm], T(0));
    pose.translation_mm.z() = q[target_height_mm] + q[distance_mm] * tan(rise);
    return pose;
}

/// The board in the camera. `image_turn_deg` is how the sensor-native image stands when the cradle
/// is upright (PhoneUp).
template <class T>
Pose<T> camera_from_target(const T* q, double image_turn_deg) {
    const Matrix3<T> ahead_from_in = ahead_left_up_from_right_down_in().template cast<T>();
    const Matrix3<T> vehicle_from_mount =
        turned_left_then_up<T>(radians(q[yaw_left_deg]), radians(q[pitch_up_deg]));
    const Matrix3<T> vehicle_from_cradle =
        vehicle_from_mount * rotation_x<T>(radians(q[cradle_roll_deg]));
    const Matrix3<T> vehicle_from_camera =
        rotation_y<T>(radians(q[lens_sag_deg])) * vehicle_from_cradle *
        turned_left_then_up<T>(radians(q[seating_left_deg]), radians(q[seating_up_deg])) *
        turned_left_then_up<T>(radians(q[offset_left_deg]), radians(q[offset_up_deg])) *
        turned_left_then_up<T>(radians(q[jitter_left_deg]), radians(q[jitter_up_deg])) *
        rotation_x<T>(T(image_turn_deg * rad_per_deg)) * ahead_from_in;
    const Vector3<T> lens_in_vehicle =
        Vector3<T>(q[face_ahead_mm], T(0), q[mount_height_mm]) +
        vehicle_from_mount * Vector3<T>(T(0), q[place_left_mm], q[place_up_mm]) +
        vehicle_from_cradle * Vector3<T>(q[lens_ahead_mm], q[lens_left_mm], q[lens_up_mm]);
    const Pose<T> target = vehicle_from_target(q);
    Pose<T> pose;
    pose.rotation = vehicle_from_camera.transpose() * target.rotation;
    pose.translation_mm =
        vehicle_from_camera.transpose() * (target.translation_mm - lens_in_vehicle);
    return pose;
}

}  // namespace squaresight

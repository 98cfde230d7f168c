#pragma once

namespace squaresight {

/// What the pose of the board in a photo depends on, by name only: the geometry is a matter of who
/// uses them (docs/conventions.md). Lengths in mm, angles in degrees, signs as their names say.
/// Indices into an array of pose_input_count values.
enum PoseInput {
    lens_sag_deg,  ///< camera's axis down in V
    offset_left_deg,
    offset_up_deg,
    lens_ahead_mm,
    lens_left_mm,
    lens_up_mm,
    line_left_deg,
    distance_mm,
    target_left_mm,
    mount_left_mm,
    target_height_mm,
    mount_height_mm,
    floor_rise_deg,
    target_lean_back_deg,  ///< as read; true = read - rail zero
    target_turned_left_deg,
    target_roll_clockwise_deg,
    rail_zero_deg,
    yaw_left_deg,
    pitch_up_deg,
    face_ahead_mm,  ///< how far the face's centre moved ahead since the first stage of the setup
    cradle_roll_deg,
    seating_left_deg,
    seating_up_deg,
    jitter_left_deg,
    jitter_up_deg,
    place_left_mm,  ///< of the cradle's centre on the face
    place_up_mm,
    pose_input_count
};

}  // namespace squaresight

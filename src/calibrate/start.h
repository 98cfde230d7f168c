#pragma once
#include <optional>

#include "calibrate/calibration.h"

/// Where the adjustment of a calibration starts. Internal to `calibrate`.
namespace squaresight {

/// A lens without distortion whose focal length the boards' perspective tells roughly.
Lens starting_lens(const CalibrationData& data);

/// Where a photo was taken from, roughly, by this lens; nothing where its corners show no plane.
std::optional<Pose<double>> starting_pose(const CalibrationData& data, std::size_t view,
                                          const Lens& lens);

/// The other pose under which a small or distant board looks nearly alike: its normal reflected
/// about the line of sight.
Pose<double> mirrored(const Pose<double>& camera_from_board);

}  // namespace squaresight

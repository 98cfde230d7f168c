#pragma once
#include <Eigen/Geometry>
#include <optional>
#include <vector>

#include "camera/camera.h"
#include "job/bay_file.h"
#include "simulate/practice_truth.h"

/// Where everything of a practice job stands and what is seen and taped there: written from
/// docs/conventions.md by itself, so that it shares no geometry with the adjustment that it tests.
namespace squaresight {

/// Corner `index` (row by row from the top left) of a pattern: mm right and down of its centre.
Eigen::Vector2d nominal_corner_mm(const Pattern& pattern, int index);

/// Where on the sheet a tape ends: mm right and down of the pattern's centre.
Eigen::Vector2d tape_end_mm(const TapeEnd& end, const Target& target);

/// A nominal point of the sheet (mm right and down of the pattern's centre) as it really lies in T,
/// whose plane is the sheet's mean plane.
Eigen::Vector3d point_in_target_mm(const PracticeSheet& sheet, const Target& target,
                                   const Eigen::Vector2d& nominal_mm);

/// Where the middle of the sheet lies behind its mean plane.
double centre_behind_mm(const PracticeSheet& sheet);

Eigen::Isometry3d vehicle_from_board(const PoseValues& pose);
Eigen::Isometry3d vehicle_from_face(const PoseValues& pose);

/// `face_form_deg` (left, up) turns the plane that a cradle meets off the face.
Eigen::Isometry3d vehicle_from_camera(const PoseValues& pose, const Eigen::Vector2d& face_form_deg,
                                      int phone_up_deg);

/// Pixels of points in C, each within a picture of this size as a lens without distortion shows it,
/// give or take a quarter; nothing for others, or behind the lens.
std::vector<std::optional<Eigen::Vector2d>> pixels_of(const Lens& lens, const Camera& camera,
                                                      const Eigen::Matrix3Xd& points_in_camera_mm);

/// How far the laser's beam leaves the face to the left and to the right, away from it positive. Of
/// a line, which is straight, one is the other's opposite.
struct BeamAngles {
    double left_deg = 0;
    double right_deg = 0;
};

/// What tapes from a pair of reference points show, straight ahead to the beam that runs across the
/// face's centre.
struct TapesToBeam {
    double left_mm = 0;
    double right_mm = 0;
};

/// `points` are as far to the left and right as the bay says; the left one is ahead by what the
/// bumper is not square.
TapesToBeam tapes_to_beam(const PoseValues& pose, const BayTape& bay, const BeamAngles& angles,
                          double beam_level_deg, double bumper_square_mm);

/// What a faultless inclinometer that was zeroed on the rail shows on the face, nose up positive.
double face_level_deg(const PoseValues& pose);

}  // namespace squaresight

#pragma once
#include <array>
#include <cstdint>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "adjust/measurement.h"
#include "camera/camera.h"
#include "frames/pose_inputs.h"
#include "simulate/human_error.h"
#include "simulate/simulated_mount.h"
#include "target/target.h"

namespace squaresight {

/// What a photo depends on, in the order of PoseInput.
using PoseValues = std::array<double, pose_input_count>;

/// A sheet as it was really printed and lies on its board: over nominal size, how far right a point
/// lies for each mm that it lies lower, how far its edges and its top left corner lie behind its
/// centre, and how far behind the right (lower) edge of an S-bend lies.
struct PracticeSheet {
    double scale_across = 1, scale_down = 1, skew = 0;
    double bow_across_mm = 0, bow_down_mm = 0, twist_mm = 0;
    double s_bend_across_mm = 0, s_bend_down_mm = 0;
};

struct PracticePhoto {
    std::string file;
    PoseValues pose{};  ///< of the stage, with this placement and this photo's own
};

struct PracticeStage {
    std::string stage;
    PoseValues pose{};  ///< of the face and the setup
    double beam_level_deg = 0;
    /// How far the phone, as it warms, swings to the left and up from first photo to last.
    Eigen::Vector2d warming_deg{0, 0};
    /// Of each laying of the laser, left and right: of a line the seating of its left end.
    std::vector<Eigen::Vector2d> laser_seating_deg;
    std::vector<PracticePhoto> photos;
    /// Turns really made after this stage, clockwise positive, by screw name.
    std::vector<std::pair<std::string, double>> made_turns;
};

/// Everything that is true of a practice job: schema squaresight/truth/1.
struct PracticeTruth {
    std::string job;
    std::uint64_t seed = 0;
    Lens lens;
    PracticeSheet sheet;
    PoseValues pose{};          ///< sag, cradle and setup before anything happened
    int phone_up_deg = 0;       ///< as PhoneUp
    double cradle_sag_deg = 0;  ///< down; the sag of `pose` is that of lens and cradle together
    Eigen::Vector2d face_form_deg{0, 0};  ///< left, up: the plane that a cradle meets off the face
    std::map<CradleLabel, Eigen::Vector2d> way_up_deg;  ///< seating left, up of all that way up
    double rail_bow_mm = 0;  ///< sideways over the marks' base; the line's error holds it
    std::map<std::string, Eigen::Vector3d> points_mm;  ///< that tapes start from, in V
    double bumper_square_mm = 0;  ///< left point ahead; with the line's error if squared with it
    double laser_angle_deg = 0;   ///< off the face, away from it; of a line: its left end
    double inclinometer_off_deg = 0;  ///< what it shows of a level face
    Mount mount;                      ///< the mount itself, where its profile may be of another
    MountErrors mount_errors;
    std::vector<HumanError> errors;
    std::vector<PracticeStage> stages;
};

/// The file's text.
std::string truth_yaml(const PracticeTruth& truth);

}  // namespace squaresight

#pragma once
#include <array>
#include <cstdint>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "adjust/pose_chain.h"
#include "camera/camera.h"
#include "simulate/human_error.h"
#include "simulate/simulated_mount.h"
#include "target/target.h"

namespace squaresight {

/// What a photo depends on, in the order of PoseInput.
using PoseValues = std::array<double, pose_input_count>;

/// A sheet as it was really printed and lies on its board: over nominal size, and how far its
/// edges and its top left corner lie behind its centre.
struct PracticeSheet {
    double scale_across = 1, scale_down = 1;
    double bow_across_mm = 0, bow_down_mm = 0, twist_mm = 0;
};

struct PracticePhoto {
    std::string file;
    PoseValues pose{};  ///< of the stage, with this placement and this photo's own
};

struct PracticeStage {
    std::string stage;
    PoseValues pose{};  ///< of the face and the setup
    double beam_level_deg = 0;
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
    PoseValues pose{};     ///< lens sag, cradle and setup before anything happened
    int phone_up_deg = 0;  ///< as PhoneUp
    std::map<std::string, Eigen::Vector3d> points_mm;  ///< that tapes start from, in V
    double bumper_square_mm = 0;
    double laser_angle_deg = 0;
    Mount mount;  ///< the mount itself, where its profile may be of another
    MountErrors mount_errors;
    std::vector<HumanError> errors;
    std::vector<PracticeStage> stages;
};

/// A nominal point of the sheet (mm right and down of the pattern's centre) as it really lies in T,
/// whose plane is the sheet's mean plane.
Eigen::Vector3d point_in_target_mm(const PracticeSheet& sheet, const Target& target,
                                   const Eigen::Vector2d& nominal_mm);

/// The file's text.
std::string truth_yaml(const PracticeTruth& truth);

}  // namespace squaresight

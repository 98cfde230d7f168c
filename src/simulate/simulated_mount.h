#pragma once
#include <array>
#include <vector>

#include "mount/mount.h"
#include "simulate/draw.h"

namespace squaresight {

enum class ScrewFault { none, dead, reversed };

/// What is wrong with one screw of a real mount, against its profile.
struct ScrewErrors {
    double lever = 0;  ///< relative: a turn does (1 + lever) times what the profile says
    double cross = 0;  ///< relative: this part of what it does also goes the other screw's way
    double backlash_turns = 0;  ///< turns without effect when the direction reverses
    double play =
        0.5;  ///< where it stands in that backlash: 0 at its clockwise end, 1 at the other
    ScrewFault fault = ScrewFault::none;
    double share_made = 1;  ///< of the turns that were told: 0.5 when half of them were made
};

struct MountErrors {
    std::array<ScrewErrors, 2> screws;  ///< in the profile's order
    bool swapped = false;               ///< each screw is turned in the place of the other
    double locking_yaw_left_deg = 0;    ///< what locking does to the face
    double locking_pitch_up_deg = 0;
};

/// Levers, cross-coupling and backlash as the prior of mount/response.h has them; no faults.
MountErrors draw_mount_errors(Draw& draw);

/// A mount that is turned by hand, with known truth: it keeps its attitude and the play of its
/// screws. Angles of the face in V, deg.
class SimulatedMount {
  public:
    SimulatedMount(const Mount& profile, const MountErrors& errors, double yaw_left_deg,
                   double pitch_up_deg);

    /// Turns told, clockwise positive, by screw in the profile's order.
    void turn(const std::vector<double>& turns_clockwise);
    void lock();

    double yaw_left_deg() const { return attitude_deg_[0]; }
    double pitch_up_deg() const { return attitude_deg_[1]; }
    /// How far the face's centre moved ahead since the start: the pivot stays where it is.
    double centre_ahead_mm() const;

  private:
    double moved_turns(std::size_t screw, double turned);

    Mount profile_;
    MountErrors errors_;
    Eigen::Vector2d start_deg_;
    Eigen::Vector2d attitude_deg_;
};

}  // namespace squaresight

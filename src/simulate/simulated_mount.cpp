#include "simulate/simulated_mount.h"

#include <algorithm>

#include "mount/response.h"

namespace squaresight {

MountErrors draw_mount_errors(Draw& draw) {
    const ResponsePrior prior;
    MountErrors errors;
    for (auto& screw : errors.screws) {
        screw.lever = draw.normal(prior.lever);
        screw.cross = draw.normal(prior.cross);
        screw.backlash_turns = draw.uniform(0, prior.largest_backlash_turns);
        screw.play = draw.uniform(0, 1);
    }
    return errors;
}

SimulatedMount::SimulatedMount(const Mount& profile, const MountErrors& errors, double yaw_left_deg,
                               double pitch_up_deg)
    : profile_(profile),
      errors_(errors),
      start_deg_(yaw_left_deg, pitch_up_deg),
      attitude_deg_(start_deg_) {}

/// What is left of a screw's turns once its play is taken up.
double SimulatedMount::moved_turns(std::size_t screw, double turned) {
    auto& own = errors_.screws[screw];
    if (own.backlash_turns <= 0) {
        return turned;
    }
    const double within = own.play * own.backlash_turns - turned;
    const double kept = std::clamp(within, 0.0, own.backlash_turns);
    own.play = kept / own.backlash_turns;
    return kept - within;
}

void SimulatedMount::turn(const std::vector<double>& turns_clockwise) {
    const Eigen::Vector2d sizes = turn_sizes(profile_);
    std::vector<double> effective(2, 0.0);
    for (std::size_t i = 0; i < 2; ++i) {
        const std::size_t other = 1 - i;
        const auto& own = errors_.screws[i];
        const double told = turns_clockwise.at(errors_.swapped ? other : i);
        double moved = moved_turns(i, told * own.share_made);
        if (own.fault == ScrewFault::dead) {
            continue;
        }
        moved *= own.fault == ScrewFault::reversed ? -1 : 1;
        effective[i] += (1 + own.lever) * moved;
        effective[other] += own.cross * sizes[static_cast<Eigen::Index>(i)] /
                            sizes[static_cast<Eigen::Index>(other)] * moved;
    }
    attitude_deg_ = attitude_after(profile_, attitude_deg_[0], attitude_deg_[1], effective);
}

void SimulatedMount::lock() {
    attitude_deg_ += Eigen::Vector2d(errors_.locking_yaw_left_deg, errors_.locking_pitch_up_deg);
}

double SimulatedMount::centre_ahead_mm() const {
    const Eigen::Vector2d change =
        face_slopes(attitude_deg_[0], attitude_deg_[1]) - face_slopes(start_deg_[0], start_deg_[1]);
    return -change.dot(Eigen::Vector2d(profile_.pivot_left_mm, profile_.pivot_up_mm));
}

}  // namespace squaresight

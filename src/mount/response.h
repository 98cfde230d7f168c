#pragma once
#include <Eigen/Core>
#include <array>
#include <vector>

#include "mount/mount.h"

/// How one mount answers to its screws: learned from rounds of turning, on top of its profile.
///
/// Everything is told in turns of the profile: a measured change of attitude is as many turns as
/// the profile would need for it. Of the turns written on the sheet each screw loses what its play
/// takes; the rest acts as (I + E) times as many turns of the profile. E holds, for each screw,
/// what its own lever is wrong by and what part of it goes the way of the other screw.
namespace squaresight {

/// How far a mount may be from its profile before anything was learned of it. Assumptions, without
/// a published source: arms read off a drawing, brackets that were bent and straightened.
struct ResponsePrior {
    double lever = 0.25;          ///< standard, relative: of what a turn of a screw does
    double cross = 0.1;           ///< standard, relative: of that, what goes the other screw's way
    double between_mounts = 0.1;  ///< standard, relative: part of `lever` (and as large a part of
                                  ///< `cross`) that is each truck's own: brackets differ, threads
                                  ///< and arms of one profile hardly do
    double largest_backlash_turns = 0.5;  ///< anywhere from 0 to this, each truck's own
    double turning_limit_turns = 0.125;   ///< how closely a person makes a number of turns
};

/// One round of turning and what it did, as it was measured.
struct Round {
    std::vector<double> turns_clockwise;  ///< as written, by screw in the profile's order
    Eigen::Vector2d before_deg{0, 0};     ///< yaw left, pitch up
    Eigen::Vector2d change_deg{0, 0};
    Eigen::Matrix2d covariance_deg2 = Eigen::Matrix2d::Zero();  ///< of the change
};

/// Two correlated numbers, one for each screw (turns, clockwise) or angle (deg, yaw left, pitch
/// up).
struct Pair {
    Eigen::Vector2d value{0, 0};
    Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();
    Estimate at(int index) const;
};

/// Turns that bring the face somewhere, clockwise positive, not rounded.
struct NeededTurns {
    Pair turns;                     ///< play not counted; covariance of what was learned alone
    Eigen::Vector2d play{0, 0};     ///< turns to add, in the same direction, where it reverses
    Eigen::Matrix2d per_effective;  ///< turns a turn of the profile: inverse of I + E
};

class Response {
  public:
    /// As the profile says, uncertain by the prior.
    explicit Response(const Mount& mount);
    /// The profile taken at its word: no play, nothing uncertain, turns made exactly.
    static Response exact(const Mount& mount);

    /// Another truck: its own part of E and its backlash are unknown again.
    void start_vehicle();
    /// Something was turned that was not measured: where the play stands is unknown again.
    void lose_play();
    /// Takes a round in, linearised (Kalman). The round must have been made as told.
    void learn(const Round& round);

    const Mount& mount() const { return mount_; }
    int rounds_learned() const { return rounds_; }
    /// Turn of screw `column` acts as this many turns of screw `row` in the profile: I + E.
    Eigen::Matrix2d effect() const;
    Estimate lever(int screw) const;           ///< relative: E's diagonal
    Estimate backlash_turns(int screw) const;  ///< lost when the direction reverses

    /// What turns do, as turns of the profile; uncertain also by how exactly they are made.
    Pair effective_turns(const Eigen::Vector2d& turns_clockwise) const;
    /// What turns do to the face, starting from an attitude.
    Pair expected_change_deg(const Eigen::Vector2d& before_deg,
                             const Eigen::Vector2d& turns_clockwise) const;
    NeededTurns needed_turns(const Eigen::Vector2d& from_deg, const Eigen::Vector2d& to_deg) const;

  private:
    /// E of all mounts of the profile (4, by rows), of this truck beyond that (4), backlash (2),
    /// free turns before a clockwise turn acts (2).
    static constexpr int size = 12;
    using State = Eigen::Matrix<double, size, 1>;
    using Covariance = Eigen::Matrix<double, size, size>;
    struct Effect {
        Eigen::Vector2d turns{0, 0};
        Eigen::Matrix<double, 2, size> jacobian = Eigen::Matrix<double, 2, size>::Zero();
        Eigen::Matrix2d noise = Eigen::Matrix2d::Zero();
    };
    struct Freed {
        double mean = 0;
        double variance = 0;
        double moved = 0;            ///< what the play leaves of the turns, never negative
        double moved_per_freed = 0;  ///< derivative
        double rest = 0;             ///< variance beyond that derivative
    };

    Freed freed(int screw, double turns_clockwise) const;
    Effect effect_of(const Eigen::Vector2d& turns_clockwise) const;
    void take_up_play(int screw, double turns_clockwise);
    void forget_play(int screw);
    void set_independent(int first, const Eigen::Vector4d& variances);

    Mount mount_;
    ResponsePrior prior_;
    State mean_ = State::Zero();
    Covariance covariance_ = Covariance::Zero();
    std::array<int, 2> last_direction_{0, 0};  ///< 1 clockwise, -1 counter, 0 not known
    int rounds_ = 0;
};

/// As the function of mount/mount.h, for a mount that was learned of: turns follow the learned
/// response; where a screw reverses, its play is added.
CorrectionPlan plan_correction(const Response& response, const Estimate& yaw_left_deg,
                               const Estimate& pitch_up_deg, double correlation,
                               const std::vector<double>& turned_clockwise);

/// A measured change of attitude as turns of the profile.
Pair seen_turns(const Mount& mount, const Round& round);

}  // namespace squaresight

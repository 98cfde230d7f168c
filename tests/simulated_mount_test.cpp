#include "simulate/simulated_mount.h"

#include <gtest/gtest.h>

#include "support/practice_mount.h"
#include "support/scratch.h"

namespace squaresight {
namespace {

class PracticeMount : public ::testing::Test {
  protected:
    /// Attitude after some rounds of turns, from 2 deg right and 1 deg up.
    Eigen::Vector2d after(const MountErrors& errors,
                          const std::vector<std::vector<double>>& rounds) const {
        SimulatedMount simulated(mount, errors, -2, 1);
        for (const auto& turns : rounds) {
            simulated.turn(turns);
        }
        return {simulated.yaw_left_deg(), simulated.pitch_up_deg()};
    }
    void expect_same(const MountErrors& errors, const std::vector<std::vector<double>>& rounds,
                     const std::vector<double>& effective) const {
        EXPECT_LT((after(errors, rounds) - attitude_after(mount, -2, 1, effective)).norm(), 1e-12);
    }

    Scratch scratch;
    Mount mount = load_mount(scratch.write("mount.yaml", practice_mount));
};

TEST_F(PracticeMount, WithoutErrorsDoesWhatItsProfileSays) {
    expect_same({}, {{1.5, -2}, {-0.25, 4}}, {1.25, 2});
}

TEST_F(PracticeMount, WithALongLeverMovesLess) {
    MountErrors errors;
    errors.screws[0].lever = -0.2;
    expect_same(errors, {{2, 1}}, {1.6, 1});
}

TEST_F(PracticeMount, WithCrossCouplingMovesTheOtherAimByThatPart) {
    MountErrors errors;
    errors.screws[1].cross = 0.1;
    const Eigen::Vector2d plain = attitude_after(mount, 0, 0, {0, 1});
    SimulatedMount simulated(mount, errors, 0, 0);
    simulated.turn({0, 1});
    EXPECT_NEAR(plain[1], 0, 1e-12);
    EXPECT_NEAR(simulated.yaw_left_deg(), plain[0], 1e-4);
    EXPECT_NEAR(std::abs(simulated.pitch_up_deg()), 0.1 * std::abs(plain[0]), 1e-4);
}

TEST_F(PracticeMount, WithBacklashLosesTurnsOnlyWhereTheDirectionReverses) {
    MountErrors errors;
    errors.screws[1].backlash_turns = 0.25;
    errors.screws[1].play = 0;
    expect_same(errors, {{0, 1}}, {0, 1});
    expect_same(errors, {{0, 1}, {0, 1}}, {0, 2});
    expect_same(errors, {{0, 1}, {0, -1}}, {0, 0.25});
    expect_same(errors, {{0, 1}, {0, -0.125}}, {0, 1});
    expect_same(errors, {{0, 1}, {0, -0.125}, {0, -1}}, {0, 0.125});
    expect_same(errors, {{0, 1}, {0, -1}, {0, 1}}, {0, 1});
    errors.screws[1].play = 0.5;
    expect_same(errors, {{0, 1}}, {0, 0.875});
    expect_same(errors, {{0, -1}}, {0, -0.875});
}

TEST_F(PracticeMount, WithFaultsDoesWhatTheySay) {
    MountErrors errors;
    errors.screws[0].fault = ScrewFault::dead;
    expect_same(errors, {{2, 1}}, {0, 1});
    errors.screws[0].fault = ScrewFault::reversed;
    expect_same(errors, {{2, 1}}, {-2, 1});
    errors.screws[0] = {};
    errors.screws[0].share_made = 0.5;
    expect_same(errors, {{2, 1}}, {1, 1});
    MountErrors swapped;
    swapped.swapped = true;
    expect_same(swapped, {{2, 1}}, {1, 2});
}

TEST_F(PracticeMount, MovesItsCentreAboutThePivotAndWhenItIsLocked) {
    MountErrors errors;
    errors.locking_yaw_left_deg = 0.25;
    SimulatedMount simulated(mount, errors, 0, 0);
    simulated.turn({0, 1});
    // A turn of the side screw brings its point, 120 mm from the pivot, 1 mm ahead; the centre lies
    // 55 mm from the pivot.
    EXPECT_NEAR(simulated.centre_ahead_mm(), 55.0 / 120, 1e-9);
    const double before = simulated.yaw_left_deg();
    simulated.lock();
    EXPECT_NEAR(simulated.yaw_left_deg() - before, 0.25, 1e-12);
    EXPECT_EQ(simulated.pitch_up_deg(), 0);
}

}  // namespace
}  // namespace squaresight

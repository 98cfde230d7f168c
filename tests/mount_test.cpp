#include "mount/mount.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <Eigen/Geometry>
#include <cmath>
#include <limits>
#include <random>

#include "mount/thread.h"
#include "support/practice_mount.h"
#include "support/scratch.h"
#include "units/error.h"
#include "units/quantity.h"

namespace squaresight {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;

constexpr double nan_value = std::numeric_limits<double>::quiet_NaN();

class MountFile : public ::testing::Test {
  protected:
    Mount load(const std::string& text = practice_mount) {
        return load_mount(scratch_.write("mount.yaml", text));
    }
    std::string refusal(const std::string& text) {
        try {
            load(text);
        } catch (const InputError& error) {
            return error.what();
        }
        return "accepted";
    }

  private:
    Scratch scratch_;
};

std::string with(const std::string& from, const std::string& to) {
    std::string text = practice_mount;
    const auto at = text.find(from);
    EXPECT_NE(at, std::string::npos) << from;
    return text.replace(at, from.size(), to);
}

/// An exact rigid body: the face is the plane through three points, two of which stand on screws.
class RigidFace {
  public:
    RigidFace(const Mount& mount, double yaw_left_deg, double pitch_up_deg) : mount_(mount) {
        const double yaw = yaw_left_deg / deg_per_rad;
        const double pitch = pitch_up_deg / deg_per_rad;
        const Eigen::Vector3d normal(std::cos(yaw) * std::cos(pitch),
                                     std::sin(yaw) * std::cos(pitch), std::sin(pitch));
        const auto on_plane = [&](double left, double up) {
            return Eigen::Vector3d(-(normal.y() * left + normal.z() * up) / normal.x(), left, up);
        };
        points_[0] = on_plane(mount.pivot_left_mm, mount.pivot_up_mm);
        for (int i = 0; i < 2; ++i) {
            points_[i + 1] = on_plane(mount.screws[i].left_mm, mount.screws[i].up_mm);
        }
    }
    void turn(int screw, double turns_clockwise) {
        const double ahead = mount_.screws[screw].clockwise_moves_in ? -1 : 1;
        points_[screw + 1].x() += ahead * mount_.screws[screw].pitch_mm * turns_clockwise;
    }
    double yaw_left_deg() const { return std::atan2(normal().y(), normal().x()) * deg_per_rad; }
    double pitch_up_deg() const { return std::asin(normal().z()) * deg_per_rad; }

  private:
    Eigen::Vector3d normal() const {
        const Eigen::Vector3d n =
            (points_[1] - points_[0]).cross(points_[2] - points_[0]).normalized();
        return n.x() < 0 ? Eigen::Vector3d(-n) : n;
    }
    Mount mount_;
    Eigen::Vector3d points_[3];
};

/// A mount with its screws anywhere that a profile may put them.
Mount random_mount(std::mt19937& random) {
    std::uniform_real_distribution<double> place(-120, 120);
    std::uniform_real_distribution<double> aim(-3, 3);
    std::uniform_real_distribution<double> pitch(0.5, 2);
    std::uniform_int_distribution<int> coin(0, 1);
    for (;;) {
        Mount mount;
        mount.pivot_left_mm = place(random);
        mount.pivot_up_mm = place(random);
        for (const Axis axis : {Axis::pitch, Axis::yaw}) {
            Screw screw;
            screw.name = axis == Axis::yaw ? "side" : "upper";
            screw.turns = axis;
            screw.left_mm = place(random);
            screw.up_mm = place(random);
            screw.pitch_mm = pitch(random);
            screw.clockwise_moves_in = coin(random) == 1;
            screw.travel_turns = 100;
            mount.screws.push_back(screw);
        }
        mount.aim_yaw_left_deg = aim(random);
        mount.aim_pitch_up_deg = aim(random);
        const double a = mount.screws[0].left_mm - mount.pivot_left_mm;
        const double b = mount.screws[0].up_mm - mount.pivot_up_mm;
        const double c = mount.screws[1].left_mm - mount.pivot_left_mm;
        const double d = mount.screws[1].up_mm - mount.pivot_up_mm;
        if (std::abs(a * d - b * c) > 0.3 * std::hypot(a, b) * std::hypot(c, d) &&
            std::hypot(a, b) > 20 && std::hypot(c, d) > 20) {
            return mount;
        }
    }
}

double signed_turns(const Correction& c) { return c.clockwise ? c.turns : -c.turns; }
double signed_exact(const Correction& c) { return c.clockwise ? c.exact_turns : -c.exact_turns; }

bool has_finding(const Findings& findings, const std::string& code) {
    return std::any_of(findings.begin(), findings.end(),
                       [&](const Finding& f) { return f.code == code; });
}

std::string text_of(const Findings& findings, const std::string& code) {
    for (const auto& finding : findings) {
        if (finding.code == code) {
            return finding.text;
        }
    }
    return "no " + code;
}

// ---- reading the profile

TEST_F(MountFile, ReadsEveryKeyOfThePracticeMount) {
    const Mount mount = load();
    EXPECT_EQ(mount.name, "practice mount");
    EXPECT_EQ(mount.source, "practice data, no service document");
    EXPECT_EQ(mount.cradle_sits_on, "sensor face");
    EXPECT_EQ(mount.pivot_left_mm, 55);
    EXPECT_EQ(mount.pivot_up_mm, -45);
    ASSERT_EQ(mount.screws.size(), 2u);
    EXPECT_EQ(mount.screws[0].name, "upper");
    EXPECT_EQ(mount.screws[0].turns, Axis::pitch);
    EXPECT_EQ(mount.screws[0].up_mm, 60);
    EXPECT_TRUE(mount.screws[0].clockwise_moves_in);
    EXPECT_EQ(mount.screws[1].left_mm, -65);
    EXPECT_EQ(mount.screws[1].pitch_mm, 1);
    EXPECT_FALSE(mount.screws[1].clockwise_moves_in);
    EXPECT_EQ(mount.screws[1].travel_turns, 6);
    EXPECT_EQ(mount.tolerance_yaw_deg, 0.3);
    EXPECT_EQ(mount.tolerance_pitch_deg, 1.5);
    EXPECT_TRUE(mount.sensor_positive_left);
    ASSERT_EQ(mount.table.size(), 1u);
    EXPECT_EQ(mount.table[0].turns_clockwise, -2);
    EXPECT_TRUE(mount_findings(mount).empty());
}

TEST_F(MountFile, WithoutASourceSaysThatItsLimitsAreUnproven) {
    const Mount mount = load(with("source: practice data, no service document\n", ""));
    EXPECT_THAT(text_of(mount_findings(mount), "mount-unsourced"), HasSubstr("unproven"));
    EXPECT_EQ(mount_findings(mount).at(0).level, Level::note);
}

TEST_F(MountFile, RefusesWhatAScrewCannotBe) {
    struct Bad {
        const char* from;
        const char* to;
        const char* says;
    };
    const Bad cases[] = {
        {"pivot:", "pivto:", "did you mean 'pivot'"},
        {"thread: M6 x 1.0, clockwise: in", "thred: M6 x 1.0, clockwise: in", "'thread'"},
        {"left: 55 mm, up: -45 mm}", "left: 55, up: -45 mm}", "no unit"},
        {"left: 55 mm, up: -45 mm}", "left: 55 deg, up: -45 mm}", "no length"},
        {"left: 55 mm, up: -45 mm}", "left: 55e9 mm, up: -45 mm}", "out of range"},
        {"left: 55 mm, up: -45 mm}", "left: nan mm, up: -45 mm}", "not a number"},
        {"left: 55 mm, up: -45 mm}", "left: 55 mm, left: 55 mm, up: -45 mm}", "twice"},
        {"left: 55 mm, up: -45 mm}", "left: 55 mm}", "has no 'up'"},
        {"  side:", "  upper:", "twice"},
        {"turns: yaw", "turns: pitch", "same aim"},
        {"turns: yaw", "turns: yew", "did you mean 'yaw'"},
        {"clockwise: out", "clockwise: left", "Allowed: in, out"},
        {"thread: M6 x 1.0, clockwise: in", "thread: M6 x 10, clockwise: in", "10 mm a turn"},
        {"thread: M6 x 1.0, clockwise: in", "thread: six, clockwise: in", "M6 x 1.0 or 1/4-20"},
        {"clockwise: in, travel: 6", "clockwise: in, travel: -6", "out of range"},
        {"clockwise: in, travel: 6", "clockwise: in, travel: 6 mm", "not a number"},
        {"up: 60 mm", "up: -45 mm", "at the pivot"},
        {"at: {left: 55 mm, up: 60 mm}", "at: {left: 120 mm, up: -45 mm}", "on one line"},
        {"turns: pitch, at: {left: 55 mm, up: 60 mm}, thread: M6 x 1.0, clockwise: in, travel: "
         "6}\n  side:  {turns: yaw",
         "turns: yaw, at: {left: 55 mm, up: 60 mm}, thread: M6 x 1.0, clockwise: in, travel: "
         "6}\n  side:  {turns: pitch",
         "are the two screws swapped"},
        {"tolerance: {yaw: 0.3 deg", "tolerance: {yaw: 0 deg", "out of range"},
        {"{screw: side, yaw_reading", "{screw: sied, yaw_reading", "did you mean 'side'"},
        {"yaw_reading: 0.96 deg", "pitch_reading: 0.96 deg", "other screw"},
        {"yaw_reading: 0.96 deg", "yaw_reading: 0.96 deg, pitch_reading: 1 deg", "one reading"},
        {"yaw_reading: 0.96 deg", "yaw_reading: 0 deg", "reading of zero"},
        {"turns: 2 counter-clockwise", "turns: 2", "no direction"},
        {"turns: 2 counter-clockwise", "turns: 2000 clockwise", "more turns"},
        {"sensor_reading: {positive: left}\n", "", "sign is not said"},
        {"squaresight/mount/1", "squaresight/job/1", "squaresight/mount/1"},
    };
    for (const auto& bad : cases) {
        const std::string said = refusal(with(bad.from, bad.to));
        EXPECT_THAT(said, AllOf(HasSubstr(bad.says), HasSubstr("mount.yaml:"))) << bad.to;
        EXPECT_EQ(said.find('\n'), std::string::npos) << said;
    }
}

TEST_F(MountFile, RefusesFilesThatAreNone) {
    EXPECT_THROW(load_mount("no-such-mount.yaml"), InputError);
    EXPECT_THROW(load_mount(std::filesystem::path(::testing::TempDir())), InputError);
    for (const std::string& text : {std::string(), std::string("{"), std::string("- a"),
                                    std::string("schema: squaresight/mount/1"),
                                    std::string("\0\1\2", 3), practice_mount.substr(0, 260)}) {
        EXPECT_THROW(load(text), InputError) << text;
    }
    EXPECT_THAT(refusal(with("turn_table:\n  - ", "turn_table: []\nx: ")), HasSubstr("x"));
}

// ---- threads

TEST(Thread, AloneHasTheCoarsePitchOfIso261) {
    // ISO 261, coarse series: nominal diameter and pitch in mm.
    const double coarse[][2] = {{1.6, 0.35}, {2, 0.4},  {2.5, 0.45}, {3, 0.5},  {4, 0.7},
                                {5, 0.8},    {6, 1},    {8, 1.25},   {10, 1.5}, {12, 1.75},
                                {14, 2},     {16, 2},   {20, 2.5},   {24, 3},   {30, 3.5},
                                {36, 4},     {42, 4.5}, {48, 5}};
    for (const auto& [diameter, pitch] : coarse) {
        char text[32];
        std::snprintf(text, sizeof text, "M%g", diameter);
        EXPECT_DOUBLE_EQ(thread_pitch_mm(text), pitch) << text;
        std::snprintf(text, sizeof text, "M%g x %g", diameter, pitch);
        EXPECT_DOUBLE_EQ(thread_pitch_mm(text), pitch) << text;
    }
}

TEST(Thread, IsReadInTheFormsOfDrawings) {
    EXPECT_DOUBLE_EQ(thread_pitch_mm("M6 x 1.0"), 1);
    EXPECT_DOUBLE_EQ(thread_pitch_mm("M6x0.75"), 0.75);
    EXPECT_DOUBLE_EQ(thread_pitch_mm("M8X1"), 1);
    EXPECT_DOUBLE_EQ(thread_pitch_mm("1/4-20 UNC"), 25.4 / 20);
    EXPECT_DOUBLE_EQ(thread_pitch_mm("1/4-28 UNF"), 25.4 / 28);
    EXPECT_DOUBLE_EQ(thread_pitch_mm("5/16 - 18"), 25.4 / 18);
    EXPECT_DOUBLE_EQ(thread_pitch_mm("#10-24 UNC"), 25.4 / 24);
    EXPECT_DOUBLE_EQ(thread_pitch_mm("10-32 UNF"), 25.4 / 32);
    EXPECT_DOUBLE_EQ(thread_pitch_mm("1 1/8-7 UNC"), 25.4 / 7);
}

TEST(Thread, IsRefusedWhereNoScrewHasIt) {
    for (const char* text :
         {"", "M", "M6 x", "M6 x 0", "M6 x 6", "M1.0 x 6", "M7.3", "M0", "M999", "1/4-2", "1/0-20",
          "5/4/3-20", "0/4-20", "6", "x 1.0", "M6 x -1", "1/4-20 BSW", "M6 x 1.0 and more"}) {
        EXPECT_THROW(thread_pitch_mm(text), std::invalid_argument) << text;
    }
    EXPECT_THROW(thread_pitch_mm(std::string(100000, '1')), std::invalid_argument);
}

// ---- kinematics

TEST(Kinematics, BringAnExactRigidBodyToItsAim) {
    const unsigned seed = 1301;
    SCOPED_TRACE(seed);
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> angle(-8, 8);
    for (int i = 0; i < 500; ++i) {
        const Mount mount = random_mount(random);
        const double yaw = angle(random);
        const double pitch = angle(random);
        const auto plan = plan_correction(mount, {yaw, 0.05}, {pitch, 0.05}, 0, {});
        RigidFace face(mount, yaw, pitch);
        ASSERT_NEAR(face.yaw_left_deg(), yaw, 1e-9);
        ASSERT_NEAR(face.pitch_up_deg(), pitch, 1e-9);
        for (int k = 0; k < 2; ++k) {
            face.turn(k, signed_exact(plan.corrections[k]));
        }
        EXPECT_NEAR(face.yaw_left_deg(), mount.aim_yaw_left_deg, 1e-9);
        EXPECT_NEAR(face.pitch_up_deg(), mount.aim_pitch_up_deg, 1e-9);
    }
}

TEST(Kinematics, PredictWhatTheRoundedTurnsLeave) {
    const unsigned seed = 1302;
    SCOPED_TRACE(seed);
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> angle(-5, 5);
    for (int i = 0; i < 500; ++i) {
        const Mount mount = random_mount(random);
        const double yaw = angle(random);
        const double pitch = angle(random);
        const auto plan = plan_correction(mount, {yaw, 0.05}, {pitch, 0.05}, 0, {});
        RigidFace face(mount, yaw, pitch);
        for (int k = 0; k < 2; ++k) {
            face.turn(k, signed_turns(plan.corrections[k]));
        }
        EXPECT_NEAR(face.yaw_left_deg() - mount.aim_yaw_left_deg, plan.remaining_yaw_left_deg,
                    1e-9);
        EXPECT_NEAR(face.pitch_up_deg() - mount.aim_pitch_up_deg, plan.remaining_pitch_up_deg,
                    1e-9);
    }
}

TEST(Kinematics, AttitudeAfterTurnsIsTheExactInverse) {
    const unsigned seed = 1303;
    SCOPED_TRACE(seed);
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> angle(-15, 15);
    for (int i = 0; i < 500; ++i) {
        const Mount mount = random_mount(random);
        const double from[] = {angle(random), angle(random)};
        const double to[] = {angle(random), angle(random)};
        const auto turns = exact_turns_clockwise(mount, from[0], from[1], to[0], to[1]);
        const auto reached = attitude_after(mount, from[0], from[1], turns);
        EXPECT_NEAR(reached[0], to[0], 1e-9);
        EXPECT_NEAR(reached[1], to[1], 1e-9);
    }
}

TEST(Kinematics, AMirroredMountTakesMirroredTurns) {
    // Left and right exchanged: yaw changes sign, the points too, the turns stay as they are, since
    // clockwise still moves each screw's point the same way along the truck.
    const unsigned seed = 1304;
    SCOPED_TRACE(seed);
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> angle(-5, 5);
    for (int i = 0; i < 200; ++i) {
        const Mount mount = random_mount(random);
        Mount mirrored = mount;
        mirrored.pivot_left_mm *= -1;
        mirrored.screws[0].left_mm *= -1;
        mirrored.screws[1].left_mm *= -1;
        mirrored.aim_yaw_left_deg *= -1;
        const double yaw = angle(random);
        const double pitch = angle(random);
        const auto plan = plan_correction(mount, {yaw, 0.05}, {pitch, 0.06}, 0.4, {});
        const auto other = plan_correction(mirrored, {-yaw, 0.05}, {pitch, 0.06}, -0.4, {});
        for (int k = 0; k < 2; ++k) {
            EXPECT_NEAR(signed_exact(plan.corrections[k]), signed_exact(other.corrections[k]),
                        1e-9);
            EXPECT_NEAR(plan.corrections[k].uncertainty_turns,
                        other.corrections[k].uncertainty_turns, 1e-9);
        }
        EXPECT_NEAR(plan.remaining_yaw_left_deg, -other.remaining_yaw_left_deg, 1e-9);
        EXPECT_NEAR(plan.remaining_pitch_up_deg, other.remaining_pitch_up_deg, 1e-9);
    }
}

TEST(Kinematics, JacobianEqualsDifferences) {
    const unsigned seed = 1305;
    SCOPED_TRACE(seed);
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> angle(-8, 8);
    const double step = 1e-4;
    for (int i = 0; i < 200; ++i) {
        const Mount mount = random_mount(random);
        const double yaw = angle(random);
        const double pitch = angle(random);
        const auto jacobian = turns_per_deg(mount, yaw, pitch);
        const auto by_yaw = exact_turns_clockwise(mount, yaw - step, pitch, yaw + step, pitch);
        const auto by_pitch = exact_turns_clockwise(mount, yaw, pitch - step, yaw, pitch + step);
        for (int k = 0; k < 2; ++k) {
            // Central differences of a tangent: third derivative times step squared, under 1e-9.
            EXPECT_NEAR(jacobian(k, 0), by_yaw[k] / (2 * step), 1e-8);
            EXPECT_NEAR(jacobian(k, 1), by_pitch[k] / (2 * step), 1e-8);
        }
    }
}

// ---- what to do

TEST_F(MountFile, TurnsAreRoundedToEighthsWithTheirDirection) {
    const auto plan = plan_correction(load(), {0.7, 0.05}, {-0.6, 0.08}, 0, {});
    // 120 mm * tan(0.7 deg) = 1.466 mm and 105 mm * tan(0.6 deg) = 1.100 mm on a pitch of 1 mm.
    const Correction& upper = plan.corrections[0];
    const Correction& side = plan.corrections[1];
    EXPECT_EQ(side.turns, 1.5);
    EXPECT_FALSE(side.clockwise);
    EXPECT_NEAR(side.exact_turns, 1.4662, 1e-4);
    EXPECT_EQ(upper.turns, 1.125);
    EXPECT_TRUE(upper.clockwise);  // the nose is down: the top comes in
    EXPECT_EQ(turns_words(side), "1 1/2 turns counter-clockwise");
    EXPECT_EQ(turns_words(upper), "1 1/8 turns clockwise");
    // An eighth turn is 0.06 deg here: what is left is at most half of that.
    EXPECT_NEAR(plan.remaining_yaw_left_deg, -0.0161, 1e-4);
    EXPECT_NEAR(plan.remaining_pitch_up_deg, 0.0139, 1e-4);
    EXPECT_TRUE(plan.findings.empty());
    EXPECT_NEAR(side.table_turns_clockwise.value(), -0.7 / 0.96 * 2, 1e-12);
    EXPECT_FALSE(upper.table_turns_clockwise.has_value());
}

TEST_F(MountFile, AFaceAtItsAimNeedsNoTurn) {
    const auto plan = plan_correction(load(), {0, 0.05}, {0, 0.08}, 0, {});
    for (const auto& correction : plan.corrections) {
        EXPECT_EQ(correction.turns, 0);
        EXPECT_EQ(turns_words(correction), "no turn");
    }
    EXPECT_EQ(turns_words(1), "1 turn clockwise");
    EXPECT_EQ(turns_words(-0.625), "5/8 turn counter-clockwise");
    EXPECT_EQ(turns_words(nan_value), "turns unknown");
}

TEST(Plan, TurnsScatterAsPredicted) {
    const unsigned seed = 1306;
    SCOPED_TRACE(seed);
    std::mt19937 random(seed);
    std::normal_distribution<double> normal(0, 1);
    const double uy = 0.05, up = 0.09, correlation = 0.6;
    for (int trial = 0; trial < 5; ++trial) {
        const Mount mount = random_mount(random);
        const double yaw = 1.2, pitch = -0.8;
        const auto plan = plan_correction(mount, {yaw, uy}, {pitch, up}, correlation, {});
        const int samples = 20000;
        double sum[2] = {0, 0}, squares[2] = {0, 0};
        for (int i = 0; i < samples; ++i) {
            const double a = normal(random);
            const double b = normal(random);
            const auto turns = exact_turns_clockwise(
                mount, yaw + uy * a,
                pitch + up * (correlation * a + std::sqrt(1 - correlation * correlation) * b),
                mount.aim_yaw_left_deg, mount.aim_pitch_up_deg);
            for (int k = 0; k < 2; ++k) {
                sum[k] += turns[k];
                squares[k] += turns[k] * turns[k];
            }
        }
        for (int k = 0; k < 2; ++k) {
            const double mean = sum[k] / samples;
            const double spread = std::sqrt(squares[k] / samples - mean * mean);
            // 20000 samples know a standard deviation to 0.5 %; 4 of these.
            EXPECT_NEAR(spread / plan.corrections[k].uncertainty_turns, 1, 0.02);
        }
    }
}

TEST_F(MountFile, StopsWhereTheScrewRunsOutOfTravel) {
    const Mount mount = load();
    // 6 turns of the side screw are atan(6 / 120) = 2.862 deg.
    EXPECT_FALSE(has_stop(plan_correction(mount, {2.85, 0.05}, {0, 0.05}, 0, {}).findings));
    const auto bent = plan_correction(mount, {3.2, 0.05}, {0, 0.05}, 0, {});
    EXPECT_TRUE(has_stop(bent.findings));
    EXPECT_THAT(text_of(bent.findings, "beyond-travel"),
                AllOf(HasSubstr("'side'"), HasSubstr("6 3/4 turns counter-clockwise"),
                      HasSubstr("replaced, not screwed straight")));
    // Turns already made count: back toward where it was found is free, further is not.
    EXPECT_FALSE(has_stop(plan_correction(mount, {3.2, 0.05}, {0, 0.05}, 0, {0, 2}).findings));
    EXPECT_TRUE(has_stop(plan_correction(mount, {1.5, 0.05}, {0, 0.05}, 0, {0, -4}).findings));
    EXPECT_TRUE(has_stop(plan_correction(mount, {0, 0.05}, {0, 0.05}, 0, {6.125, 0}).findings));
}

TEST_F(MountFile, GivesNoTurnsForAnglesThatNoFaceHas) {
    const Mount mount = load();
    const Estimate good{0, 1};
    for (const double deg : {nan_value, 90.0, -46.0, std::numeric_limits<double>::infinity()}) {
        for (const auto& plan : {plan_correction(mount, {deg, 1}, good, 0, {}),
                                 plan_correction(mount, good, {deg, 1}, 0, {})}) {
            EXPECT_TRUE(has_stop(plan.findings));
            EXPECT_TRUE(plan.corrections.empty());
        }
    }
}

// ---- the service table

TEST_F(MountFile, ATableOf035DegATurnMakesMinus14DegFourTurnsClockwise) {
    // Common practice, no source. The reading is the sensor's, positive to the left.
    const Mount mount =
        load(with("  - {screw: side, yaw_reading: 0.96 deg, turns: 2 counter-clockwise}\n",
                  "  - {screw: side, yaw_reading: -1.75 deg, turns: 5 clockwise}\n"
                  "  - {screw: side, yaw_reading: -0.35 deg, turns: 1 clockwise}\n"
                  "  - {screw: side, yaw_reading: 1.75 deg, turns: 5 "
                  "counter-clockwise}\n"));
    EXPECT_NEAR(table_turns_clockwise(mount, Axis::yaw, -1.4).value(), 4, 1e-12);
    EXPECT_NEAR(table_turns_clockwise(mount, Axis::yaw, 0.7).value(), -2, 1e-12);
    EXPECT_EQ(table_turns_clockwise(mount, Axis::yaw, 0).value(), 0);
}

TEST_F(MountFile, GeometryOfThatTableGivesTheSameFourTurns) {
    // 1 mm a turn on 163.7 mm is 0.35 deg a turn.
    Mount mount = load();
    mount.screws[1].left_mm = mount.pivot_left_mm - 163.7;
    const double yaw = angle_from_reading_deg(mount, Axis::yaw, -1.4);
    const auto plan = plan_correction(mount, {yaw, 0.05}, {0, 0.05}, 0, {});
    EXPECT_EQ(plan.corrections[1].turns, 4);
    EXPECT_TRUE(plan.corrections[1].clockwise);
}

TEST_F(MountFile, TableIsNeverExtrapolated) {
    const Mount mount = load();
    EXPECT_NEAR(table_turns_clockwise(mount, Axis::yaw, 0.96).value(), -2, 1e-12);
    EXPECT_NEAR(table_turns_clockwise(mount, Axis::yaw, 0.48).value(), -1, 1e-12);
    EXPECT_FALSE(table_turns_clockwise(mount, Axis::yaw, 0.97).has_value());
    EXPECT_FALSE(table_turns_clockwise(mount, Axis::yaw, -0.1).has_value());
    EXPECT_FALSE(table_turns_clockwise(mount, Axis::pitch, 0.1).has_value());
    EXPECT_FALSE(table_turns_clockwise(mount, Axis::yaw, nan_value).has_value());
}

TEST_F(MountFile, TellsWhereTableAndGeometryDiffer) {
    const auto plan_with = [&](const std::string& turns) {
        return plan_correction(load(with("turns: 2 counter-clockwise", "turns: " + turns)),
                               {0.5, 0.05}, {0, 0.05}, 0, {});
    };
    // Geometry: 120 mm * tan(0.96 deg) = 2.011 turns; 10 % of that is 0.2.
    EXPECT_FALSE(has_finding(plan_with("2.2 counter-clockwise").findings, "table-differs"));
    EXPECT_FALSE(has_finding(plan_with("1.82 counter-clockwise").findings, "table-differs"));
    for (const char* turns : {"2.25 counter-clockwise", "1.75 counter-clockwise", "2 clockwise"}) {
        const auto plan = plan_with(turns);
        EXPECT_THAT(text_of(plan.findings, "table-differs"),
                    AllOf(HasSubstr("'side' at a sensor reading of 0.96 deg to the left"),
                          HasSubstr(turns_words(parse_turns_clockwise(turns))),
                          HasSubstr("2 turns counter-clockwise")));
        EXPECT_FALSE(has_stop(plan.findings));
    }
}

TEST_F(MountFile, ASensorThatCountsToTheRightTurnsTheTableRound) {
    const Mount mount = load(with("positive: left", "positive: right"));
    EXPECT_EQ(reading_from_angle_deg(mount, Axis::yaw, 0.5), -0.5);
    EXPECT_EQ(angle_from_reading_deg(mount, Axis::yaw, -0.5), 0.5);
    EXPECT_EQ(reading_from_angle_deg(mount, Axis::pitch, 0.5), 0.5);
    // 0.96 deg to the right would need clockwise turns: the profile's table then contradicts it.
    EXPECT_TRUE(has_finding(plan_correction(mount, {0.5, 0.05}, {0, 0.05}, 0, {}).findings,
                            "table-differs"));
}

TEST_F(MountFile, ReadingsCountFromTheAim) {
    const Mount mount = load(with("yaw_left: 0 deg", "yaw_left: 1.5 deg"));
    EXPECT_EQ(reading_from_angle_deg(mount, Axis::yaw, 1.5), 0);
    EXPECT_EQ(angle_from_reading_deg(mount, Axis::yaw, 0.25), 1.75);
    const auto plan = plan_correction(mount, {1.5, 0.05}, {0, 0.05}, 0, {});
    EXPECT_EQ(plan.corrections[1].turns, 0);
    EXPECT_EQ(plan.corrections[1].table_turns_clockwise.value(), 0);
}

}  // namespace
}  // namespace squaresight

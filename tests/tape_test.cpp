#include "tape/tape.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <limits>
#include <random>

#include "frames/rotations.h"
#include "units/error.h"

namespace squaresight {
namespace {

using ::testing::HasSubstr;

constexpr double nan_value = std::numeric_limits<double>::quiet_NaN();

/// What is really there; the tapes follow from rays and planes in three dimensions.
struct Scene {
    double yaw_left_deg = 0;
    double pitch_up_deg = 0;
    double left_point_mm = 500;
    double right_point_mm = 500;
    bool beam_ahead = true;
    double left_point_ahead_mm = 0;
    double laser_off_face_deg = 0;
    double left_seating_deg = 0;  ///< of the laser when it is laid for that side
    double right_seating_deg = 0;
    bool line = false;  ///< one straight line to both sides, its left end away from the face
    double beam_left_end_up_deg = 0;
};

/// The tapes of a scene: from the face's centre two rays run to the sides; each meets the upright
/// plane (parallel to the rails) that holds its reference point.
TapePass tapes_of(const Scene& scene) {
    const Eigen::Matrix3d vehicle_from_mount =
        turned_left_then_up(scene.yaw_left_deg * rad_per_deg, scene.pitch_up_deg * rad_per_deg);
    const Eigen::Vector3d normal = vehicle_from_mount.col(0);
    const double tilt = std::tan(scene.beam_left_end_up_deg * rad_per_deg);
    // In the face's plane, and rising by `tilt` toward the left as seen along the rails.
    const Eigen::Vector3d along =
        Eigen::Vector3d(-(normal.y() + normal.z() * tilt) / normal.x(), 1, tilt).normalized();
    const double off_left = (scene.laser_off_face_deg + scene.left_seating_deg) * rad_per_deg;
    const double off_right =
        scene.line ? -off_left : (scene.laser_off_face_deg + scene.right_seating_deg) * rad_per_deg;
    const auto ahead_at = [&](const Eigen::Vector3d& ray, double left_mm) {
        return ray.x() * left_mm / ray.y();
    };
    const double left_beam =
        ahead_at(std::cos(off_left) * along + std::sin(off_left) * normal, scene.left_point_mm);
    const double right_beam = ahead_at(-std::cos(off_right) * along + std::sin(off_right) * normal,
                                       -scene.right_point_mm);
    const double points = scene.beam_ahead ? -200 : 200;  // ahead of the face's centre
    TapePass pass{left_beam - (points + scene.left_point_ahead_mm), right_beam - points};
    if (!scene.beam_ahead) {
        pass = {-pass.left_mm, -pass.right_mm};
    }
    return pass;
}

TapeAndLevel readings_of(const Scene& scene) {
    TapeAndLevel readings;
    readings.face_level_deg = {scene.pitch_up_deg};
    readings.left_point_mm = scene.left_point_mm;
    readings.right_point_mm = scene.right_point_mm;
    readings.beam_ahead = scene.beam_ahead;
    readings.laser = scene.line ? Laser::line : Laser::beam;
    readings.bumper_square_mm = scene.left_point_ahead_mm;
    readings.laser_angle_deg = scene.laser_off_face_deg;
    readings.beam_level_deg = scene.beam_left_end_up_deg;
    readings.passes = {tapes_of(scene)};
    return readings;
}

TapeAndLevel inches(double left_in, double right_in, double point_in) {
    TapeAndLevel readings;
    readings.face_level_deg = {0};
    readings.left_point_mm = readings.right_point_mm = point_in * mm_per_inch;
    readings.passes = {{left_in * mm_per_inch, right_in * mm_per_inch}};
    return readings;
}

std::string text_of(const Findings& findings, const std::string& code) {
    for (const auto& finding : findings) {
        if (finding.code == code) {
            return finding.text;
        }
    }
    return "no " + code;
}

double share(const TapeOutcome& outcome, const std::string& source, double BudgetLine::*axis) {
    for (const auto& line : outcome.budget) {
        if (line.source == source) {
            return line.*axis;
        }
    }
    ADD_FAILURE() << "no budget line " << source;
    return nan_value;
}

// ---- against common practice and published formulas

TEST(Tape, AnEighthOnTapes12InEachSideIs0298Deg) {
    // Common practice, no source.
    const auto outcome = solve_tape(inches(8, 8.125, 12), 0, 0);
    EXPECT_NEAR(outcome.yaw_left_deg.value, 0.298, 0.0005);
    EXPECT_NEAR(outcome.service_limit.yaw_equivalent_deg, 0.298, 0.0005);
    EXPECT_NEAR(solve_tape(inches(8, 8.125, 24), 0, 0).service_limit.yaw_equivalent_deg, 0.149,
                0.0005);
}

TEST(Tape, TwoSidesAreTheReversalOfALevel) {
    // Level reversal: r1 = a + z, r2 = -a + z, so a = (r1 - r2) / 2, z drops out and
    // u(a)^2 = u(r)^2 / 2 (reversion principle: J. Mahun, Open Access Surveying, total station,
    // chapter D; the straightedge form is Evans, Hocken and Estler, CIRP Annals 45(2), 1996).
    // Turned half a turn about the face normal the laser's own angle and place are z.
    const double arm_mm = 500;
    for (const double z_mm : {180.0, 250.0}) {
        for (const double a_mm : {-4.0, 0.0, 6.5}) {
            TapeAndLevel readings;
            readings.laser = Laser::beam;
            readings.left_point_mm = readings.right_point_mm = arm_mm;
            readings.passes = {{-a_mm + z_mm, a_mm + z_mm}};
            const auto outcome = solve_tape(readings, 0, 0);
            const double tangent = std::tan(outcome.yaw_left_deg.value * rad_per_deg);
            EXPECT_NEAR(tangent * arm_mm, a_mm, 1e-12);
            const double u_reading_mm = standard_from_limit(readings.pass_limit_mm);
            EXPECT_NEAR(share(outcome, "tape passes", &BudgetLine::yaw_deg) * rad_per_deg *
                            (1 + tangent * tangent) * arm_mm,
                        u_reading_mm / std::sqrt(2.0), 1e-12);
            EXPECT_EQ(share(outcome, "laser angle", &BudgetLine::yaw_deg), 0);
        }
    }
}

TEST(Tape, AnUprightDisplayOf894IsANose06Up) {
    // Common practice, no source.
    EXPECT_NEAR(face_level_from_display_deg(89.4), 0.6, 1e-12);
    EXPECT_NEAR(face_level_from_display_deg(91), -1, 1e-12);
}

// ---- against rays and planes

TEST(Tape, ExactGeometryComesBackExactly) {
    const unsigned seed = 1401;
    SCOPED_TRACE(seed);
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> angle(-5, 5);
    std::uniform_real_distribution<double> point(305, 700);
    std::uniform_real_distribution<double> bumper(-20, 20);
    for (int i = 0; i < 500; ++i) {
        Scene scene;
        scene.yaw_left_deg = angle(random);
        scene.pitch_up_deg = angle(random);
        scene.left_point_mm = point(random);
        scene.right_point_mm = point(random);
        scene.left_point_ahead_mm = bumper(random);
        scene.beam_ahead = i % 2 == 0;
        const auto outcome = solve_tape(readings_of(scene), 0, 0);
        EXPECT_NEAR(outcome.yaw_left_deg.value, scene.yaw_left_deg, 1e-9);
        EXPECT_NEAR(outcome.pitch_up_deg.value, scene.pitch_up_deg, 1e-9);
    }
}

TEST(Tape, ReadsLeftWhereTheRightTapeIsLonger) {
    EXPECT_GT(solve_tape(inches(7, 7.5, 20), 0, 0).yaw_left_deg.value, 0);
    auto behind = inches(7, 7.5, 20);
    behind.beam_ahead = false;
    EXPECT_LT(solve_tape(behind, 0, 0).yaw_left_deg.value, 0);
}

TEST(Tape, EveryDeclaredErrorIsTakenOutWithItsSign) {
    // One at a time, both ways, ahead and behind. The formula is of first order in the laser's
    // angle and leaves out 1 / cos(yaw) of the beam's tilt: under 0.0005 deg at these sizes, and
    // each error moves the raw answer by 0.02 deg or more.
    Scene plain;
    plain.yaw_left_deg = 1.0;
    plain.pitch_up_deg = -1.5;
    plain.left_point_mm = 400;
    plain.right_point_mm = 650;
    double Scene::*errors[] = {&Scene::left_point_ahead_mm, &Scene::laser_off_face_deg,
                               &Scene::beam_left_end_up_deg};
    const double sizes[] = {3, 0.2, 1};
    for (int i = 0; i < 3; ++i) {
        for (const double sign : {-1.0, 1.0}) {
            for (const bool ahead : {true, false}) {
                Scene scene = plain;
                scene.beam_ahead = ahead;
                scene.*errors[i] = sign * sizes[i];
                auto readings = readings_of(scene);
                EXPECT_NEAR(solve_tape(readings, 0, 0).yaw_left_deg.value, 1.0, 0.0005) << i;
                readings.bumper_square_mm = readings.laser_angle_deg = readings.beam_level_deg = 0;
                EXPECT_GT(std::abs(solve_tape(readings, 0, 0).yaw_left_deg.value - 1.0), 0.02) << i;
            }
        }
    }
}

TEST(Tape, LaserAngleDropsOutOfEqualPoints) {
    Scene scene;
    scene.yaw_left_deg = 1;
    scene.laser_off_face_deg = 0.5;
    auto readings = readings_of(scene);
    readings.laser_angle_deg = 0;
    EXPECT_NEAR(solve_tape(readings, 0, 0).yaw_left_deg.value, 1, 1e-4);
}

TEST(Tape, AMirroredVehicleHasTheMirroredAnswer) {
    const unsigned seed = 1402;
    SCOPED_TRACE(seed);
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> some(-1, 1);
    for (int i = 0; i < 200; ++i) {
        TapeAndLevel readings;
        readings.laser = i % 2 == 0 ? Laser::beam : Laser::line;
        readings.face_level_deg = {2 * some(random)};
        readings.left_point_mm = 500 + 100 * some(random);
        readings.right_point_mm = 500 + 100 * some(random);
        readings.passes = {{200 + 10 * some(random), 200 + 10 * some(random)}};
        readings.bumper_square_mm = 5 * some(random);
        readings.beam_level_deg = some(random);
        readings.laser_angle_deg = 0.2 * some(random);
        TapeAndLevel mirrored = readings;
        std::swap(mirrored.left_point_mm, mirrored.right_point_mm);
        mirrored.bumper_square_mm *= -1;
        mirrored.beam_level_deg *= -1;
        mirrored.laser_angle_deg *= readings.laser == Laser::line ? -1 : 1;
        mirrored.passes = {{readings.passes[0].right_mm, readings.passes[0].left_mm}};
        const auto a = solve_tape(readings, 0.2, 0);
        const auto b = solve_tape(mirrored, -0.2, 0);
        EXPECT_NEAR(a.yaw_left_deg.value, -b.yaw_left_deg.value, 1e-9);
        EXPECT_NEAR(a.yaw_left_deg.standard_uncertainty, b.yaw_left_deg.standard_uncertainty,
                    1e-12);
        EXPECT_EQ(a.service_limit.yaw_met, b.service_limit.yaw_met);
    }
}

// ---- uncertainty

TEST(Tape, SquaresOfTheBudgetSumToUSquared) {
    Scene scene;
    scene.yaw_left_deg = 1;
    scene.pitch_up_deg = 1.2;
    scene.right_point_mm = 700;
    const auto outcome = solve_tape(readings_of(scene), 0, 0);
    double yaw = 0;
    double pitch = 0;
    for (const auto& line : outcome.budget) {
        EXPECT_GE(line.yaw_deg, 0);
        EXPECT_GE(line.pitch_deg, 0);
        yaw += line.yaw_deg * line.yaw_deg;
        pitch += line.pitch_deg * line.pitch_deg;
    }
    EXPECT_NEAR(yaw, std::pow(outcome.yaw_left_deg.standard_uncertainty, 2), 1e-15);
    EXPECT_NEAR(pitch, std::pow(outcome.pitch_up_deg.standard_uncertainty, 2), 1e-15);
    EXPECT_TRUE(std::is_sorted(outcome.budget.begin(), outcome.budget.end(),
                               [](const auto& a, const auto& b) { return a.yaw_deg > b.yaw_deg; }));
}

TEST(Tape, PredictsTheSpreadOfSimulatedMeasurements) {
    const unsigned seed = 1403;
    SCOPED_TRACE(seed);
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> within(-1, 1);
    Scene scene;
    scene.yaw_left_deg = 0.8;
    scene.pitch_up_deg = -1.2;
    scene.left_point_mm = 350;
    scene.right_point_mm = 600;
    TapeAndLevel nominal = readings_of(scene);
    nominal.passes.assign(3, nominal.passes[0]);
    nominal.face_level_deg = {-1.2, -1.2};
    const auto predicted = solve_tape(nominal, 0, 0);
    const int samples = 20000;
    double sums[2] = {0, 0};
    double squares[2] = {0, 0};
    for (int i = 0; i < samples; ++i) {
        Scene real = scene;
        real.left_point_ahead_mm = nominal.bumper_square_limit_mm * within(random);
        real.laser_off_face_deg = nominal.laser_angle_limit_deg * within(random);
        real.beam_left_end_up_deg = nominal.beam_level_limit_deg * within(random);
        real.left_seating_deg = nominal.laser_seating_limit_deg * within(random);
        real.right_seating_deg = nominal.laser_seating_limit_deg * within(random);
        TapeAndLevel readings = nominal;
        for (auto& pass : readings.passes) {
            pass = tapes_of(real);
            pass.left_mm += nominal.pass_limit_mm * within(random);
            pass.right_mm += nominal.pass_limit_mm * within(random);
        }
        const double level_error = nominal.face_level_limit_deg * within(random) +
                                   nominal.rail_zero_limit_deg * within(random);
        readings.face_level_deg = {-1.2 + level_error, -1.2 + level_error};
        const auto outcome = solve_tape(readings, 0, 0);
        const double errors[] = {outcome.yaw_left_deg.value - 0.8,
                                 outcome.pitch_up_deg.value + 1.2};
        for (int k = 0; k < 2; ++k) {
            sums[k] += errors[k];
            squares[k] += errors[k] * errors[k];
        }
    }
    const double predicted_u[] = {predicted.yaw_left_deg.standard_uncertainty,
                                  predicted.pitch_up_deg.standard_uncertainty};
    for (int k = 0; k < 2; ++k) {
        const double mean = sums[k] / samples;
        EXPECT_NEAR(mean, 0, 4 * predicted_u[k] / std::sqrt(samples));
        // 20000 samples know a standard deviation to 0.5 %; 4 of these.
        EXPECT_NEAR(std::sqrt(squares[k] / samples - mean * mean) / predicted_u[k], 1, 0.02) << k;
    }
}

TEST(Tape, AveragingShrinksTheReadingOnly) {
    auto once = inches(7.25, 7.5, 20);
    auto often = once;
    often.passes.assign(16, once.passes[0]);
    often.face_level_deg.assign(16, 0.0);
    const auto a = solve_tape(once, 0, 0);
    const auto b = solve_tape(often, 0, 0);
    EXPECT_NEAR(share(b, "tape passes", &BudgetLine::yaw_deg),
                share(a, "tape passes", &BudgetLine::yaw_deg) / 4, 1e-12);
    EXPECT_NEAR(share(b, "bumper square", &BudgetLine::yaw_deg),
                share(a, "bumper square", &BudgetLine::yaw_deg), 1e-12);
    EXPECT_EQ(b.pitch_up_deg.standard_uncertainty, a.pitch_up_deg.standard_uncertainty);
    EXPECT_GT(b.yaw_left_deg.standard_uncertainty, share(a, "bumper square", &BudgetLine::yaw_deg));
}

TEST(Tape, RailZeroEntersPitchOneToOne) {
    auto readings = inches(7, 7, 20);
    readings.face_level_deg = {0.55, 0.55};
    readings.rail_zero_deg = 0.1;
    const auto outcome = solve_tape(readings, 0, 0);
    EXPECT_NEAR(outcome.pitch_up_deg.value, 0.65, 1e-12);
    EXPECT_NEAR(outcome.pitch_from_rail_zero_deg, 0.1 / std::sqrt(3.0), 1e-12);
    EXPECT_NEAR(outcome.pitch_up_deg.standard_uncertainty, 0.1 * std::sqrt(2.0 / 3), 1e-12);
}

TEST(Tape, ReadingsThatScatterBeyondTheirLimitsAreReported) {
    auto steady = inches(7, 7.25, 20);
    steady.passes.push_back({7 * mm_per_inch, 7.3125 * mm_per_inch});
    EXPECT_EQ(text_of(solve_tape(steady, 0, 0).findings, "tape-scatter"), "no tape-scatter");
    auto wild = steady;
    wild.passes[1].right_mm = 7.75 * mm_per_inch;
    const auto outcome = solve_tape(wild, 0, 0);
    EXPECT_THAT(text_of(outcome.findings, "tape-scatter"), HasSubstr("1/2 in"));
    wild.unit = LengthUnit::mm;
    EXPECT_THAT(text_of(solve_tape(wild, 0, 0).findings, "tape-scatter"), HasSubstr("12.7 mm"));
    EXPECT_GT(outcome.yaw_left_deg.standard_uncertainty,
              solve_tape(steady, 0, 0).yaw_left_deg.standard_uncertainty);
    EXPECT_NEAR(outcome.pass_repeatability_mm, 12.7 / std::sqrt(2.0), 1e-9);

    auto level = inches(7, 7, 20);
    level.face_level_deg = {0, 0.2};
    EXPECT_EQ(text_of(solve_tape(level, 0, 0).findings, "level-scatter"), "no level-scatter");
    level.face_level_deg = {0, 0.8};
    EXPECT_THAT(text_of(solve_tape(level, 0, 0).findings, "level-scatter"), HasSubstr("0.80 deg"));
}

TEST(Tape, ScatterOfRepeatsCountsBesideTheirLimits) {
    // Two passes 3 mm apart: s = 3 / sqrt(2), s / sqrt(2) = 1.5 mm over 40 in.
    auto readings = inches(7, 7, 20);
    readings.passes.push_back({readings.passes[0].left_mm, readings.passes[0].right_mm + 3});
    const double base_mm = 40 * mm_per_inch;
    const double limit_deg = standard_from_limit(readings.pass_limit_mm) / base_mm * deg_per_rad;
    EXPECT_NEAR(share(solve_tape(readings, 0, 0), "tape passes", &BudgetLine::yaw_deg),
                std::hypot(1.5 / base_mm * deg_per_rad, limit_deg), 1e-6);

    auto level = inches(7, 7, 20);
    level.face_level_deg = {0.1, 0.5};
    const auto outcome = solve_tape(level, 0, 0);
    EXPECT_NEAR(share(outcome, "level readings", &BudgetLine::pitch_deg), 0.2, 1e-12);
    EXPECT_NEAR(share(outcome, "inclinometer", &BudgetLine::pitch_deg), 0.1 / std::sqrt(3.0),
                1e-12);
}

TEST(Tape, FewRepeatsWidenUToStudentsT) {
    // Nothing but scatter: 2 u is then the 95.45 % interval of s / sqrt(n). GUM table G.2, column
    // 95.45 %: t = 13.97 for one degree of freedom, 4.53 for two.
    const double t[] = {13.97, 4.53};
    for (int more = 1; more <= 2; ++more) {
        TapeAndLevel level;
        level.face_level_limit_deg = level.rail_zero_limit_deg = 0;
        level.face_level_deg = {0, 0.1};
        if (more == 2) {
            level.face_level_deg.push_back(0.05);
        }
        const double n = more + 1;
        const double s = more == 1 ? 0.1 / std::sqrt(2.0) : 0.05;
        EXPECT_NEAR(solve_tape(level, 0, 0).pitch_up_deg.expanded_95(),
                    t[more - 1] * s / std::sqrt(n), 0.005 * s);
    }
}

TEST(Tape, ALineCountsItsAngleInFullAndReversedItDropsOut) {
    Scene scene;
    scene.yaw_left_deg = 0.7;
    scene.line = true;
    scene.laser_off_face_deg = 0.15;
    auto readings = readings_of(scene);
    EXPECT_NEAR(solve_tape(readings, 0, 0).yaw_left_deg.value, 0.7, 1e-4);
    readings.laser_angle_deg = 0;
    EXPECT_NEAR(solve_tape(readings, 0, 0).yaw_left_deg.value, 0.55, 1e-4);
    EXPECT_NEAR(share(solve_tape(readings, 0, 0), "laser angle", &BudgetLine::yaw_deg),
                0.2 / std::sqrt(3.0), 1e-12);

    scene.laser_off_face_deg = -0.15;
    TapePass reversed = tapes_of(scene);
    reversed.reversed = true;
    readings.passes.push_back(reversed);
    readings.passes.push_back(reversed);  // weighs no more for being taped twice
    const auto both = solve_tape(readings, 0, 0);
    EXPECT_NEAR(both.yaw_left_deg.value, 0.7, 1e-4);
    EXPECT_EQ(share(both, "laser angle", &BudgetLine::yaw_deg), 0);
}

/// The mean square of errors over u of layings that scatter by so much, `passes` to each.
double relaid_mean_square(int layings, int passes, double scatter_mm, double& within_2u) {
    std::mt19937 random(1404);
    std::uniform_real_distribution<double> within(-1, 1);
    std::normal_distribution<double> normal(0, 1);
    const int samples = 4000;
    double squares = 0;
    int held = 0;
    for (int i = 0; i < samples; ++i) {
        TapeAndLevel readings = inches(0, 0, 20);
        readings.laser = Laser::beam;
        readings.passes.clear();
        const double bumper_mm = readings.bumper_square_limit_mm * within(random);
        for (int laying = 1; laying <= layings; ++laying) {
            const double laid_mm = scatter_mm * normal(random);
            for (int pass = 0; pass < passes; ++pass) {
                readings.passes.push_back(
                    {180 + readings.pass_limit_mm * within(random),
                     180 + laid_mm + bumper_mm + readings.pass_limit_mm * within(random), laying});
            }
        }
        const Estimate yaw = solve_tape(readings, 0, 0).yaw_left_deg;
        squares += std::pow(yaw.value / yaw.standard_uncertainty, 2) / samples;
        held += std::abs(yaw.value) <= yaw.expanded_95() ? 1 : 0;
    }
    within_2u = static_cast<double>(held) / samples;
    return squares;
}

TEST(Tape, TwoUHoldsALaserThatIsRelaidWithScatter) {
    SCOPED_TRACE("seed 1404");
    for (const int layings : {2, 3, 5}) {
        double held = 0;
        EXPECT_LT(relaid_mean_square(layings, 2, 2, held), 1.05) << layings;
        EXPECT_GT(held, 0.945) << layings;  // 4000 samples know 0.954 to 0.0033
    }
}

TEST(Tape, PassesOfOneLayingDoNotShrinkItsSeating) {
    auto readings = inches(7, 7, 20);
    readings.passes.assign(4, readings.passes[0]);
    const auto one = solve_tape(readings, 0, 0);
    for (int pass = 0; pass < 4; ++pass) {
        readings.passes[static_cast<std::size_t>(pass)].laying = pass + 1;
    }
    const auto four = solve_tape(readings, 0, 0);
    EXPECT_NEAR(share(one, "laser seating", &BudgetLine::yaw_deg), 0.1 / std::sqrt(3.0), 1e-12);
    EXPECT_NEAR(share(four, "laser seating", &BudgetLine::yaw_deg), 0.05 / std::sqrt(3.0), 1e-12);
}

TEST(Tape, ABumperSquaredWithTheLineHasTheLinesError) {
    auto readings = inches(7, 7, 20);
    readings.line_deg = 0.04;
    EXPECT_EQ(solve_tape(readings, 0, 0).yaw_from_line_deg, 0);
    readings.squared_by = SquaredBy::line;
    const auto outcome = solve_tape(readings, 0, 0);
    EXPECT_EQ(outcome.yaw_from_line_deg, 0.04);
    EXPECT_EQ(share(outcome, "rails' line", &BudgetLine::yaw_deg), 0.04);
}

// ---- the trade's plain rule

TEST(Tape, ServiceLimitIsAnEighthWhateverTheDistance) {
    for (const double point_in : {12.0, 20.0, 24.0}) {
        EXPECT_TRUE(solve_tape(inches(7.3125, 7.4375, point_in), 0, 0).service_limit.yaw_met);
        EXPECT_TRUE(solve_tape(inches(7.4375, 7.3125, point_in), 0, 0).service_limit.yaw_met);
        EXPECT_FALSE(solve_tape(inches(7.3125, 7.45, point_in), 0, 0).service_limit.yaw_met);
        EXPECT_FALSE(solve_tape(inches(7.45, 7.3125, point_in), 0, 0).service_limit.yaw_met);
    }
}

TEST(Tape, ServiceLimitFollowsAnAimThatIsNotStraightAhead) {
    Scene scene;
    scene.yaw_left_deg = 1.5;
    const auto readings = readings_of(scene);
    EXPECT_FALSE(solve_tape(readings, 0, 0).service_limit.yaw_met);
    EXPECT_TRUE(solve_tape(readings, 1.5, 0).service_limit.yaw_met);
    EXPECT_FALSE(solve_tape(readings, -1.5, 0).service_limit.yaw_met);
}

TEST(Tape, ServiceLimitOfPitchIs15DegFromTheAim) {
    // Common practice, no source.
    auto readings = inches(7, 7, 20);
    for (const double level : {-1.5, 0.0, 1.5}) {
        readings.face_level_deg = {level};
        EXPECT_TRUE(solve_tape(readings, 0, 0).service_limit.pitch_met) << level;
    }
    readings.face_level_deg = {1.6};
    EXPECT_FALSE(solve_tape(readings, 0, 0).service_limit.pitch_met);
    EXPECT_TRUE(solve_tape(readings, 0, 0.5).service_limit.pitch_met);
}

// ---- findings and bad readings

TEST(Tape, SaysWhatIsWrongWithThePoints) {
    EXPECT_THAT(text_of(solve_tape(inches(7, 7, 11.5), 0, 0).findings, "tape-points-close"),
                HasSubstr("11 1/2 in"));
    EXPECT_TRUE(solve_tape(inches(7, 7, 12), 0, 0).findings.empty());
    auto unequal = inches(7, 7, 20);
    unequal.right_point_mm = 24 * mm_per_inch;
    EXPECT_THAT(text_of(solve_tape(unequal, 0, 0).findings, "tape-points-unequal"),
                HasSubstr("24 in"));
    EXPECT_THAT(text_of(solve_tape(inches(7, 12, 20), 0, 0).findings, "tape-implausible"),
                HasSubstr("pass 1"));
}

TEST(Tape, OneAxisAloneIsGivenAlone) {
    TapeAndLevel level;
    level.face_level_deg = {0.4};
    const auto pitch_only = solve_tape(level, 0, 0);
    EXPECT_TRUE(pitch_only.has_pitch);
    EXPECT_FALSE(pitch_only.has_yaw);
    EXPECT_EQ(pitch_only.yaw_left_deg.standard_uncertainty, 0);
    auto tapes = inches(7, 7.25, 20);
    tapes.face_level_deg.clear();
    const auto yaw_only = solve_tape(tapes, 0, 0);
    EXPECT_TRUE(yaw_only.has_yaw);
    EXPECT_FALSE(yaw_only.has_pitch);
    // Nose unknown: the beam's level counts for more than with a level on the face.
    EXPECT_GT(share(yaw_only, "beam level", &BudgetLine::yaw_deg),
              share(solve_tape(inches(7, 7.25, 20), 0, 0), "beam level", &BudgetLine::yaw_deg));
}

TEST(Tape, RefusesReadingsThatGiveNoAngle) {
    EXPECT_THROW(solve_tape({}, 0, 0), InputError);
    const auto refused = [](auto change) {
        auto readings = inches(7, 7.25, 20);
        change(readings);
        EXPECT_THROW(solve_tape(readings, 0, 0), InputError);
    };
    refused([](auto& r) { r.left_point_mm = 0; });
    refused([](auto& r) { r.right_point_mm = -500; });
    refused([](auto& r) { r.right_point_mm = nan_value; });
    refused([](auto& r) { r.passes[0].left_mm = -1; });
    refused([](auto& r) { r.passes[0].right_mm = nan_value; });
    refused([](auto& r) { r.pass_limit_mm = -1; });
    refused([](auto& r) { r.face_level_deg = {89.4}; });
    refused([](auto& r) { r.face_level_deg = {nan_value}; });
    refused([](auto& r) { r.bumper_square_mm = nan_value; });
    refused([](auto& r) { r.laser_angle_limit_deg = nan_value; });
}

}  // namespace
}  // namespace squaresight

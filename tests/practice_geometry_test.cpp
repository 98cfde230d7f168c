#include "simulate/practice_geometry.h"

#include <gtest/gtest.h>

#include <iostream>

#include "adjust/corner_rows.h"
#include "job/bay_file.h"
#include "simulate/draw.h"
#include "simulate/practice_readings.h"

/// Practice jobs and the adjustment each have a geometry of their own, written from
/// docs/conventions.md: here both are held against each other.
namespace squaresight {
namespace {

constexpr std::uint64_t seed = 20261201;
constexpr int tries = 200;

Target a1_target() {
    Target target;
    target.sheet_width_mm = 841;
    target.sheet_height_mm = 594;
    target.pattern = {12, 8, 65, 48, "DICT_4X4_100", 0, SquareColour::black};
    target.centre_mm = {420.5, 297};
    return target;
}

/// Angles of up to 3 deg, which is far for a mount, and lengths of a bay.
PoseValues random_pose(Draw& draw) {
    PoseValues q;
    for (double& value : q) {
        value = draw.uniform(-3, 3);
    }
    q[distance_mm] = draw.uniform(3000, 8000);
    for (const PoseInput side : {target_left_mm, mount_left_mm, lens_left_mm, lens_up_mm}) {
        q[side] = draw.uniform(-80, 80);
    }
    q[lens_ahead_mm] = draw.uniform(0, 30);
    q[target_height_mm] = draw.uniform(700, 1100);
    q[mount_height_mm] = draw.uniform(700, 1100);
    q[cradle_roll_deg] = draw.uniform(-180, 180);
    q[target_turned_left_deg] = draw.uniform(-10, 10);
    return q;
}

PracticeSheet random_sheet(Draw& draw) {
    PracticeSheet sheet;
    sheet.scale_across = draw.uniform(0.98, 1.02);
    sheet.scale_down = draw.uniform(0.98, 1.02);
    sheet.skew = draw.uniform(-0.01, 0.01);
    for (double* depth_mm : {&sheet.bow_across_mm, &sheet.bow_down_mm, &sheet.twist_mm,
                             &sheet.s_bend_across_mm, &sheet.s_bend_down_mm}) {
        *depth_mm = draw.uniform(-5, 5);
    }
    return sheet;
}

SheetInputs inputs_of(const PracticeSheet& sheet) {
    return {sheet.scale_across, sheet.scale_down,       sheet.bow_across_mm,  sheet.bow_down_mm,
            sheet.twist_mm,     sheet.s_bend_across_mm, sheet.s_bend_down_mm, sheet.skew};
}

Lens random_lens(Draw& draw) {
    Lens lens{3000, 3020, 2010, 1490, 0, 0, 0, 0, 0};
    for (double* term : {&lens.k1, &lens.k2, &lens.k3, &lens.k4, &lens.k5, &lens.k6}) {
        *term = draw.uniform(-0.05, 0.05);
    }
    lens.p1 = draw.uniform(-1e-3, 1e-3);
    lens.p2 = draw.uniform(-1e-3, 1e-3);
    lens.skew = draw.uniform(-5, 5);
    return lens;
}

TEST(PracticeGeometry, PutsTheBoardBeforeTheCameraAsTheAdjustmentDoes) {
    std::cout << "seed " << seed << '\n';
    Draw draw(seed);
    for (int i = 0; i < tries; ++i) {
        const PoseValues q = random_pose(draw);
        const int phone_up_deg = 90 * draw.whole(0, 3);
        const Eigen::Isometry3d own =
            vehicle_from_camera(q, {0, 0}, phone_up_deg).inverse() * vehicle_from_board(q);
        const Pose<double> theirs = camera_from_target(q.data(), phone_up_deg);
        EXPECT_LT((own.linear() - theirs.rotation).norm(), 1e-12);
        EXPECT_LT((own.translation() - theirs.translation_mm).norm(), 1e-6);
    }
}

TEST(PracticeGeometry, SeesCornersWhereTheAdjustmentPredictsThem) {
    std::cout << "seed " << seed << '\n';
    Draw draw(seed);
    const Target target = a1_target();
    Camera camera;
    camera.width_px = 4000;
    camera.height_px = 3000;
    std::vector<Corner> at_zero;
    for (int index = 0; index < target.pattern.corner_count(); ++index) {
        at_zero.push_back({index, {0, 0}, Eigen::Matrix2d::Identity()});
    }
    const ViewedBoard viewed(corners_in_target_mm(target.pattern),
                             {target.sheet_width_mm / 2, target.sheet_height_mm / 2}, at_zero, 1,
                             false);
    for (int i = 0; i < tries; ++i) {
        const PoseValues q = random_pose(draw);
        const PracticeSheet sheet = random_sheet(draw);
        const Lens lens = random_lens(draw);
        const auto predicted =
            viewed.misfits_px(lens, camera_from_target(q.data(), 0), inputs_of(sheet));
        ASSERT_TRUE(predicted);
        const Eigen::Isometry3d camera_from_board =
            vehicle_from_camera(q, {0, 0}, 0).inverse() * vehicle_from_board(q);
        Eigen::Matrix3Xd in_camera(3, target.pattern.corner_count());
        for (int index = 0; index < in_camera.cols(); ++index) {
            in_camera.col(index) =
                camera_from_board *
                point_in_target_mm(sheet, target, nominal_corner_mm(target.pattern, index));
        }
        const auto seen = pixels_of(lens, camera, in_camera);
        for (std::size_t c = 0; c < seen.size(); ++c) {
            if (seen[c]) {
                EXPECT_LT((*seen[c] - (*predicted)[c]).norm(), 1e-6);
            }
        }
        EXPECT_TRUE(seen.front());
    }
}

TEST(PracticeGeometry, SeesNothingBehindTheLensOrFarOutsideThePicture) {
    Camera camera;
    camera.width_px = 4000;
    camera.height_px = 3000;
    const Lens lens{3000, 3000, 2000, 1500, -0.2, 0, 0, 0, 0};
    Eigen::Matrix3Xd points(3, 3);
    points << 0, 0, 9000, 0, 0, 0, 5000, -5000, 5000;
    const auto seen = pixels_of(lens, camera, points);
    EXPECT_TRUE(seen[0]);
    EXPECT_FALSE(seen[1]);
    EXPECT_FALSE(seen[2]);
}

/// A plane off the face moves the camera as a face turned by as much does.
TEST(PracticeGeometry, TurnsTheCameraByTheFormOfTheFace) {
    Draw draw(seed);
    PoseValues q = random_pose(draw);
    q[yaw_left_deg] = q[pitch_up_deg] = 0;
    const Eigen::Isometry3d with_form = vehicle_from_camera(q, {0.03, -0.02}, 0);
    q[yaw_left_deg] = 0.03;
    q[pitch_up_deg] = -0.02;
    EXPECT_TRUE(with_form.isApprox(vehicle_from_camera(q, {0, 0}, 0), 1e-12));
}

TEST(PracticeGeometry, EndsTapesWhereTheSheetHasThem) {
    const Target target = a1_target();
    SheetSetup setup = unmeasured_setup();
    for (const char* name : {"left edge", "right edge", "top edge", "bottom edge", "centre"}) {
        setup.tapes.push_back({{}, {name, std::nullopt}, {}});
    }
    setup.tapes.push_back({{}, {"", Eigen::Vector2d(100, 50)}, {}});
    const auto theirs = measured_setup(setup, target).tapes;
    for (std::size_t i = 0; i < theirs.size(); ++i) {
        EXPECT_LT((tape_end_mm(setup.tapes[i].to, target) - theirs[i].to_in_target_mm).norm(),
                  1e-9);
    }
}

// --- tape and level

BayTape random_tape(Draw& draw) {
    BayTape bay;
    bay.left_point_mm = draw.uniform(300, 700);
    bay.right_point_mm = draw.uniform(300, 700);
    bay.laser = draw.chance(0.5) ? Laser::line : Laser::beam;
    return bay;
}

/// What tape-and-level makes of faultless tapes, with everything that is true written down.
TapeOutcome solved(const PoseValues& q, const BayTape& bay, double angle_deg, double level_deg,
                   double bumper_mm) {
    const double right_deg = bay.laser == Laser::beam ? angle_deg : -angle_deg;
    const TapesToBeam tapes = tapes_to_beam(q, bay, {angle_deg, right_deg}, level_deg, bumper_mm);
    TapeAndLevel readings = usual_readings(bay);
    readings.passes = {{tapes.left_mm, tapes.right_mm}};
    readings.face_level_deg = {face_level_deg(q)};
    readings.rail_zero_deg = q[rail_zero_deg];
    readings.laser_angle_deg = angle_deg;
    readings.beam_level_deg = level_deg;
    readings.bumper_square_mm = bumper_mm;
    return solve_tape(readings, 0, 0);
}

TEST(PracticeGeometry, IsTapedAsTapeAndLevelReducesIt) {
    std::cout << "seed " << seed << '\n';
    Draw draw(seed);
    for (int i = 0; i < tries; ++i) {
        const PoseValues q = random_pose(draw);
        const TapeOutcome outcome = solved(q, random_tape(draw), 0, 0, draw.uniform(-6, 6));
        EXPECT_NEAR(outcome.yaw_left_deg.value, q[yaw_left_deg], 1e-6);
        EXPECT_NEAR(outcome.pitch_up_deg.value, q[pitch_up_deg], 1e-6);
    }
}

/// The laser's angle and the beam's tilt enter tape-and-level to first order: their products with a
/// face 3 deg off its aim remain, a hundredth of what such readings can show.
TEST(PracticeGeometry, IsTapedWithLaserAndBeamLevelToFirstOrder) {
    std::cout << "seed " << seed << '\n';
    Draw draw(seed);
    for (int i = 0; i < tries; ++i) {
        const PoseValues q = random_pose(draw);
        const TapeOutcome outcome =
            solved(q, random_tape(draw), draw.rectangular(0.3), draw.rectangular(1), 0);
        EXPECT_NEAR(outcome.yaw_left_deg.value, q[yaw_left_deg], 2e-3);
    }
}

TEST(PracticeGeometry, SquaresTheBumperWithTheLineIfTheBayDoes) {
    BayTape bay;
    bay.left_point_mm = bay.right_point_mm = 500;
    PracticeTruth truth;
    truth.pose[line_left_deg] = 0.2;
    truth.pose[yaw_left_deg] = 1;
    square_bumper(bay, truth);
    EXPECT_EQ(truth.bumper_square_mm, 0);
    bay.squared_by = SquaredBy::line;
    square_bumper(bay, truth);
    const TapesToBeam tapes = tapes_to_beam(truth.pose, bay, {0, 0}, 0, truth.bumper_square_mm);
    TapeAndLevel readings = usual_readings(bay);
    readings.passes = {{tapes.left_mm, tapes.right_mm}};
    EXPECT_NEAR(solve_tape(readings, 0, 0).yaw_left_deg.value, 1 - 0.2, 1e-3);
}

}  // namespace
}  // namespace squaresight

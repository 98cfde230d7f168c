#include "simulate/practice_scene.h"

#include <algorithm>

#include "simulate/mistakes.h"
#include "simulate/practice_geometry.h"
#include "simulate/practice_photo.h"

namespace squaresight {
namespace {

constexpr std::uint64_t largest_scene_seed = 1'000'000;

Picture picture_of(const PracticeTruth& truth, const Camera& camera) {
    PhotoFacts facts = practice_facts(camera, 0, 0);
    for (const auto& error : truth.errors) {
        spoil_facts(error, facts);
    }
    Picture picture;
    picture.width_px = camera.width_px;
    picture.height_px = camera.height_px;
    picture.make = facts.identity.make;
    picture.model = facts.identity.model;
    picture.lens = facts.identity.lens;
    picture.focal_length_mm = facts.identity.focal_length_mm.value_or(0);
    picture.focal_length_35mm_mm = facts.identity.focal_length_35mm_mm.value_or(0);
    picture.digital_zoom = facts.digital_zoom.value_or(1);
    return picture;
}

/// Of a board whose mean plane stands as the pose tells: a scene places the middle of the sheet.
TrueSetup setup_of(const PoseValues& q, const PracticeSheet& sheet) {
    const Eigen::Vector3d shift_mm =
        vehicle_from_board(q).linear() * Eigen::Vector3d(0, 0, centre_behind_mm(sheet));
    TrueSetup setup;
    setup.line_left_deg = q[line_left_deg];
    setup.distance_mm = q[distance_mm] + shift_mm.x();
    setup.target_left_mm = q[target_left_mm] + shift_mm.y();
    setup.mount_left_mm = q[mount_left_mm];
    setup.target_height_mm = q[target_height_mm] + shift_mm.z();
    setup.mount_height_mm = q[mount_height_mm];
    setup.floor_rise_deg = q[floor_rise_deg] + q[rail_zero_deg];
    setup.target_lean_back_deg = q[target_lean_back_deg] - q[rail_zero_deg];
    setup.target_turned_left_deg = q[target_turned_left_deg];
    setup.target_roll_clockwise_deg = q[target_roll_clockwise_deg];
    return setup;
}

TrueStage stage_of(const PracticeStage& stage, const PracticeSheet& sheet,
                   const std::string& taken_at) {
    TrueStage scene;
    scene.stage = stage.stage;
    scene.taken_at = taken_at;
    std::replace(scene.taken_at.begin(), scene.taken_at.begin() + 10, ':', '-');
    scene.yaw_left_deg = stage.pose[yaw_left_deg];
    scene.pitch_up_deg = stage.pose[pitch_up_deg];
    scene.moved_ahead_mm = stage.pose[face_ahead_mm];
    scene.setup = setup_of(stage.pose, sheet);
    for (const auto& photo : stage.photos) {
        const PoseValues& q = photo.pose;
        scene.photos.push_back({photo.file, q[cradle_roll_deg], -1,
                                PhotoScatter{q[seating_left_deg], q[seating_up_deg],
                                             q[jitter_left_deg], q[jitter_up_deg]}});
    }
    return scene;
}

}  // namespace

Scene practice_scene(const PracticeTruth& truth, const PracticeBay& practice,
                     const std::filesystem::path& folder) {
    const Lens& lens = truth.lens;
    const PoseValues& q = truth.stages.front().pose;
    Scene scene;
    scene.folder = std::filesystem::absolute(folder);
    scene.job = truth.job;
    scene.seed = static_cast<int>(truth.seed % largest_scene_seed);
    scene.picture = picture_of(truth, practice.camera);
    scene.lens = {lens.fx, lens.fy, lens.cx, lens.cy, lens.k1,
                  lens.k2, lens.p1, lens.p2, lens.k3, q[lens_sag_deg]};
    scene.sheet = {scene.folder / "target.yaml", truth.sheet.scale_across, truth.sheet.scale_down,
                   truth.sheet.bow_across_mm,    truth.sheet.bow_down_mm,  truth.sheet.twist_mm};
    scene.cradle = {q[offset_left_deg], q[offset_up_deg], q[lens_ahead_mm],
                    q[lens_left_mm],    q[lens_up_mm],    truth.phone_up_deg};
    for (std::size_t i = 0; i < truth.stages.size(); ++i) {
        const int seconds = static_cast<int>(i) * seconds_between_stages;
        scene.stages.push_back(stage_of(truth.stages[i], truth.sheet,
                                        practice_facts(practice.camera, 0, seconds).taken_at));
    }
    return scene;
}

}  // namespace squaresight

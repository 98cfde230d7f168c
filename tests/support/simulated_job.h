#pragma once
#include <Eigen/Core>
#include <array>
#include <random>
#include <stdexcept>

#include "adjust/measurement.h"
#include "adjust/pose_chain.h"

/// Jobs at the level of corners, with known truth: for tests of the adjustment.
namespace squaresight::test {

inline constexpr double exact = 1e-9;  ///< a standard uncertainty that holds a quantity fixed

/// The truth of one photo, as inputs of the pose chain.
using Truth = std::array<double, pose_input_count>;

inline Target a1_target() {
    Target target;
    target.name = "a1";
    target.sheet_width_mm = 841;
    target.sheet_height_mm = 594;
    target.pattern = {12, 8, 65, 48, "DICT_4X4_100", 0, SquareColour::black};
    target.centre_mm = {420.5, 297};
    target.print_checked = true;
    target.flatness_mm = 0;
    return target;
}

/// 4000 x 3000 px, f = 3000 px known to 0.1 %, principal point to 3 px.
inline Camera plain_camera() {
    Camera camera;
    camera.name = "plain";
    camera.width_px = 4000;
    camera.height_px = 3000;
    camera.lens = {3000, 3000, 1999.5, 1499.5, 0, 0, 0, 0, 0};
    camera.covariance.setZero();
    camera.covariance.topLeftCorner<2, 2>().setConstant(9);  // one focal scale: 3 px of 3000
    camera.covariance(2, 2) = camera.covariance(3, 3) = 9;
    camera.covariance_given = true;
    camera.pointing_jitter_deg = 0.02;
    return camera;
}

/// Setup of the design's table of expected numbers: lateral offsets 2 mm, heights 3 mm, board roll
/// 0.12 deg (standard), line, floor rise and rail zero known.
inline Setup table_setup(double distance_mm_value) {
    Setup setup;
    setup.line_left_deg = {0, exact};
    setup.distance_mm = {distance_mm_value, standard_from_limit(5)};
    setup.target_left_mm = {0, 2};
    setup.mount_left_mm = {0, 2};
    setup.target_height_mm = {900, 3};
    setup.mount_height_mm = {900, 3};
    setup.floor_rise_deg = {0, exact};
    setup.target_lean_back_deg = {0, standard_from_limit(1)};
    setup.target_turned_left_deg = {0, standard_from_limit(10)};
    setup.target_roll_clockwise_deg = {0, 0.12};
    setup.rail_zero_deg = {0, exact};
    return setup;
}

/// The truth that a setup's readings state, mount square, lens 15 mm ahead of the face.
inline Truth stated_truth(const Setup& setup) {
    Truth truth{};
    truth[lens_ahead_mm] = 15;
    truth[line_left_deg] = setup.line_left_deg.value;
    truth[distance_mm] = setup.distance_mm.value;
    truth[target_left_mm] = setup.target_left_mm.value;
    truth[mount_left_mm] = setup.mount_left_mm.value;
    truth[target_height_mm] = setup.target_height_mm.value;
    truth[mount_height_mm] = setup.mount_height_mm.value;
    truth[floor_rise_deg] = setup.floor_rise_deg.value;
    truth[target_lean_back_deg] = setup.target_lean_back_deg.value;
    truth[target_turned_left_deg] = setup.target_turned_left_deg.value;
    truth[target_roll_clockwise_deg] = setup.target_roll_clockwise_deg.value;
    return truth;
}

/// Corners of a photo, `noise_px` of Gaussian noise on each coordinate (0: none).
inline PhotoSight photograph(const Camera& camera, const Target& target, const Truth& truth,
                             double noise_px, std::mt19937& random, double stated_px = 0.2) {
    std::normal_distribution<double> noise(0, 1);
    const Pose<double> pose = camera_from_target(truth.data(), 0);
    PhotoSight photo;
    photo.file = "simulated";
    for (int index = 0; index < target.pattern.corner_count(); ++index) {
        const Eigen::Vector2d flat = corner_in_target_mm(target.pattern, index);
        const Eigen::Vector3d in_camera =
            pose.rotation * Eigen::Vector3d(flat.x() * target.printed_across,
                                            flat.y() * target.printed_down, 0) +
            pose.translation_mm;
        const auto pixel = project(camera.lens, in_camera);
        if (!pixel) {
            throw std::logic_error("a simulated corner is behind the camera");
        }
        photo.corners.push_back({index,
                                 *pixel + noise_px * Eigen::Vector2d(noise(random), noise(random)),
                                 stated_px * stated_px * Eigen::Matrix2d::Identity()});
    }
    return photo;
}

/// Leaves out the small errors that have a term of their own in every job: for tests of figures
/// that were found without them.
inline void without_small_errors(MeasuredJob& job) {
    job.camera.warming_deg = job.camera.corner_field_px = 0;
    job.cradle.way_up_deg = job.cradle.sag_deg = job.cradle.place_limit_mm = 0;
    job.face_form_deg = 0;
    job.target.skew_checked = true;
    for (auto& setup : job.setups) {
        setup.rail_bow_deg = 0;
    }
}

/// A job with one stage and a photo at each of `rolls_deg`.
inline MeasuredJob one_stage(const Setup& setup, const Truth& truth,
                             const std::vector<double>& rolls_deg, double noise_px,
                             std::mt19937& random) {
    MeasuredJob job;
    job.camera = plain_camera();
    job.target = a1_target();
    job.cradle.seating_deg = 0.02;
    job.camera.lens_sag_deg = 0;
    job.setups = {setup};
    job.sightings = {{"as-found", 0, {}}};
    for (const double roll_deg : rolls_deg) {
        Truth rolled = truth;
        rolled[cradle_roll_deg] = roll_deg;
        job.sightings[0].photos.push_back(
            photograph(job.camera, job.target, rolled, noise_px, random));
    }
    without_small_errors(job);
    return job;
}

}  // namespace squaresight::test

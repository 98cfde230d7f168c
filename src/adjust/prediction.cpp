#include "adjust/prediction.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "adjust/solved_job.h"
#include "adjust/stage_report.h"

namespace squaresight {
namespace {

/// In standard uncertainties of a rectangular distribution: sqrt(3) / 2.
constexpr double half_a_limit = 0.8660254;

/// Corners of one photo at the start, where every unknown is what was read or expected.
std::vector<Corner> expected_corners(const Model& model, const PhotoTerm& photo,
                                     const Camera& camera, double noise_px) {
    std::array<double, pose_input_count> q{};
    for (int i = 0; i < pose_input_count; ++i) {
        q[i] = photo.pose[i].mean;
    }
    const Pose<double> pose = camera_from_target(q.data(), photo.image_turn_deg);
    const Eigen::Matrix2d covariance = noise_px * noise_px * Eigen::Matrix2d::Identity();
    std::vector<Corner> corners;
    for (int index = 0; index < static_cast<int>(model.corners_mm.size()); ++index) {
        const Eigen::Vector2d flat = model.corners_mm[static_cast<std::size_t>(index)];
        const Eigen::Vector3d on_board(flat.x() * model.sheet[0].mean,
                                       flat.y() * model.sheet[1].mean, 0);
        const auto pixel = project(camera.lens, pose.rotation * on_board + pose.translation_mm);
        if (pixel && pixel->x() >= 0 && pixel->y() >= 0 && pixel->x() <= camera.width_px - 1 &&
            pixel->y() <= camera.height_px - 1) {
            corners.push_back({index, *pixel, covariance});
        }
    }
    return corners;
}

/// Readings as read, but every board as far from square-on to the line of sight as half of the
/// boards within its limits are: exactly square-on is the weakest pose there is, and no board
/// stands so.
Eigen::VectorXd typical(const Model& model) {
    Eigen::VectorXd z = start_at_readings(model);
    for (const auto& setup : model.setups) {
        const auto& [unknown, u_deg] = setup[target_turned_left_deg].parts.front();
        const double bearing_deg =
            std::atan2(setup[target_left_mm].mean - setup[mount_left_mm].mean,
                       setup[distance_mm].mean) *
            deg_per_rad;
        const double off_deg = setup[target_turned_left_deg].mean - bearing_deg;
        const double missing_deg = half_a_limit * u_deg - std::abs(off_deg);
        if (missing_deg > 0 && u_deg > 0) {
            z[unknown] = std::copysign(missing_deg / u_deg, off_deg);
        }
    }
    return z;
}

/// The job with placeholders for corners, so that the model takes every photo.
MeasuredJob with_photos(MeasuredJob job) {
    for (auto& sighting : job.sightings) {
        for (auto& photo : sighting.photos) {
            photo.corners.resize(fewest_corners);
        }
    }
    return job;
}

std::vector<std::vector<PhotoStand>> stands_by_label(const MeasuredJob& job) {
    std::vector<std::vector<PhotoStand>> stands;
    for (const auto& sighting : job.sightings) {
        stands.emplace_back();
        for (const auto& photo : sighting.photos) {
            stands.back().push_back({photo.label ? label_roll_deg(*photo.label) : 0});
        }
    }
    return stands;
}

int corners_of_the_smallest(const Model& model) {
    std::size_t fewest = model.photos.front().corners.size();
    for (const auto& photo : model.photos) {
        fewest = std::min(fewest, photo.corners.size());
    }
    return static_cast<int>(fewest);
}

/// Side of a square in the photo, from two neighbouring corners near its start.
double square_px(const std::vector<Corner>& corners) {
    for (std::size_t i = 1; i < corners.size(); ++i) {
        if (corners[i].index == corners[i - 1].index + 1) {
            return (corners[i].pixel - corners[i - 1].pixel).norm();
        }
    }
    return 0;
}

}  // namespace

Prediction predict(const MeasuredJob& job, double corner_noise_px) {
    Prediction prediction;
    const MeasuredJob whole = with_photos(job);
    ModelOptions options;
    options.stored_cradle = has_stored_offset(job.cradle);
    const double image_turn_deg =
        job.cradle.phone_up ? static_cast<double>(*job.cradle.phone_up) : 0;
    Solved solved;
    solved.model = build_model(whole, stands_by_label(job), image_turn_deg, options);
    for (auto& photo : solved.model.photos) {
        photo.corners = expected_corners(solved.model, photo, job.camera, corner_noise_px);
        if (static_cast<int>(photo.corners.size()) < fewest_corners) {
            return prediction;
        }
    }
    solved.solution = linearise(terms_of(solved.model, false), typical(solved.model));
    if (solved.model.photos.empty() || !solved.solution.solved) {
        return prediction;
    }
    solved.solution.residuals.setZero();
    add_shared_corner_errors(solved.model, solved.solution);
    solved.tested = with_witnesses(solved.model, solved.solution);
    if (job.witness_answers) {
        solved.solution = solved.tested;
    }
    solved.checks = check_readings(solved.model, solved.tested, {});
    prediction.stages = report_stages(job, solved);
    prediction.fewest_corners = corners_of_the_smallest(solved.model);
    prediction.pixels_per_square = square_px(solved.model.photos.front().corners);
    prediction.cradle_covariance = cradle_estimate(solved.model, solved.solution).covariance;
    prediction.solved = true;
    return prediction;
}

}  // namespace squaresight

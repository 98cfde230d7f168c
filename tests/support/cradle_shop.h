#pragma once
#include <Eigen/Eigenvalues>
#include <cmath>

#include "adjust/adjustment.h"
#include "support/simulated_job.h"

namespace squaresight::test {

/// One phone in one cradle, jobs made with it: the camera's file, the cradle's offset and the
/// lens's place are truly wrong by draws from what is stated of them, once; readings, seating and
/// jitter are drawn for each job.
class CradleShop {
  public:
    double seating_deg = 0.03;  ///< true scatter
    double knock_left_deg = 0;  ///< of the cradle since the jobs before

    explicit CradleShop(std::mt19937& random) : random_(random) {
        file_ = plain_camera();
        true_lens_ = file_;
        auto parameters = file_.lens.parameters();
        const double focal_error = normal(std::sqrt(file_.covariance(0, 0)));
        parameters[0] += focal_error;
        parameters[1] += focal_error;
        parameters[2] += normal(std::sqrt(file_.covariance(2, 2)));
        parameters[3] += normal(std::sqrt(file_.covariance(3, 3)));
        true_lens_.lens = file_.lens.with_parameters(parameters);
        true_cradle_[offset_left_deg] = normal(1);
        true_cradle_[offset_up_deg] = normal(1);
        true_cradle_[lens_ahead_mm] = 15 + normal(standard_from_limit(20));
        true_cradle_[lens_left_mm] = normal(standard_from_limit(80));
        true_cradle_[lens_up_mm] = normal(standard_from_limit(80));
    }

    /// One stage for each list of rolls, all in one setup; every photo a placement of its own.
    MeasuredJob job(const std::vector<std::vector<double>>& rolls_by_stage,
                    double distance_value_mm = 5000) {
        MeasuredJob job;
        job.camera = file_;
        job.target = a1_target();
        job.cradle.name = "shop";
        Truth truth = draw_setup(distance_value_mm, job);
        without_small_errors(job);
        for (const auto& rolls_deg : rolls_by_stage) {
            const bool first = job.sightings.empty();
            job.sightings.push_back({first ? "as-found" : "adjusted", 0, {}});
            truth[yaw_left_deg] = normal(1);
            truth[pitch_up_deg] = normal(1);
            truth[face_ahead_mm] = first ? 0 : normal(standard_from_limit(5));
            true_stages.push_back(truth);
            for (const double roll_deg : rolls_deg) {
                job.sightings.back().photos.push_back(photo_of(truth, roll_deg, job.target));
            }
        }
        return job;
    }

    /// One more photo of a stage, by a new placement.
    PhotoSight photo_of(Truth truth, double roll_deg, const Target& target) {
        truth[cradle_roll_deg] = roll_deg + normal(1);
        truth[seating_left_deg] = normal(seating_deg) + knock_left_deg;
        truth[seating_up_deg] = normal(seating_deg);
        truth[jitter_left_deg] = normal(file_.pointing_jitter_deg);
        truth[jitter_up_deg] = normal(file_.pointing_jitter_deg);
        return photograph(true_lens_, target, truth, 0.07, random_);
    }

    std::vector<Truth> true_stages;  ///< of all stages made, in their order

  private:
    double normal(double standard_uncertainty) { return standard_uncertainty * unit_(random_); }

    Truth draw_setup(double distance_value_mm, MeasuredJob& job) {
        Setup setup = table_setup(distance_value_mm);
        setup.line_left_deg.standard_uncertainty = 0.02;
        setup.floor_rise_deg.standard_uncertainty = 0.1;
        Truth truth = stated_truth(setup);
        truth[target_turned_left_deg] = normal(3);
        for (const auto& [reading, input] :
             {std::pair(&setup.line_left_deg, line_left_deg),
              {&setup.distance_mm, distance_mm},
              {&setup.target_left_mm, target_left_mm},
              {&setup.mount_left_mm, mount_left_mm},
              {&setup.target_height_mm, target_height_mm},
              {&setup.mount_height_mm, mount_height_mm},
              {&setup.floor_rise_deg, floor_rise_deg},
              {&setup.target_roll_clockwise_deg, target_roll_clockwise_deg}}) {
            reading->value = truth[input] + normal(reading->standard_uncertainty);
        }
        job.setups = {setup};
        truth[lens_sag_deg] = normal(job.camera.lens_sag_deg);
        std::copy(true_cradle_.begin() + offset_left_deg, true_cradle_.begin() + lens_up_mm + 1,
                  truth.begin() + offset_left_deg);
        return truth;
    }

    std::mt19937& random_;
    std::normal_distribution<double> unit_{0, 1};
    Camera file_, true_lens_;
    Truth true_cradle_{};
};

inline const std::vector<double> full_set{0, 180, 0, 180};
inline const std::vector<double> upright_only{0, 0};

/// Jobs joined as one: the same phone, board and cradle.
inline MeasuredJob joined(MeasuredJob all, const MeasuredJob& more) {
    const int before = static_cast<int>(all.setups.size());
    all.setups.insert(all.setups.end(), more.setups.begin(), more.setups.end());
    for (Sighting sighting : more.sightings) {
        sighting.setup += before;
        all.sightings.push_back(std::move(sighting));
    }
    return all;
}

}  // namespace squaresight::test

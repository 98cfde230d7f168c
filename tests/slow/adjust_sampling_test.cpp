#include <gtest/gtest.h>

#include <Eigen/Eigenvalues>
#include <cmath>

#include "adjust/adjustment.h"
#include "support/simulated_job.h"

/// The stated uncertainty against 500 measurements in which everything that has an uncertainty is
/// drawn anew. What this does not prove: that the stated inputs are those of a real bay.
namespace squaresight {
namespace {

using JobSetup = squaresight::Setup;
using test::Truth;

constexpr int jobs = 500;
constexpr unsigned seed = 106;

class Draw {
  public:
    double normal(double standard_uncertainty) { return standard_uncertainty * unit_(random_); }

    /// A camera whose file is wrong by a draw from its own covariance.
    Camera wrong_file(const Camera& truth) {
        const Eigen::SelfAdjointEigenSolver<Eigen::Matrix<double, 9, 9>> parts(truth.covariance);
        auto parameters = truth.lens.parameters();
        for (int k = 0; k < 9; ++k) {
            const double step = normal(std::sqrt(std::max(0.0, parts.eigenvalues()[k])));
            for (int row = 0; row < 9; ++row) {
                parameters[row] += step * parts.eigenvectors()(row, k);
            }
        }
        Camera camera = truth;
        camera.lens = truth.lens.with_parameters(parameters);
        return camera;
    }

    std::mt19937& random() { return random_; }

  private:
    std::mt19937 random_{seed};
    std::normal_distribution<double> unit_{0, 1};
};

struct Sample {
    double yaw_error[2], pitch_error[2], yaw_u[2], pitch_u[2], correlation[2];
    double change_error, change_u;
};

JobSetup bay() {
    JobSetup setup = test::table_setup(4000);
    setup.line_left_deg.standard_uncertainty = 0.02;
    setup.floor_rise_deg.standard_uncertainty = 0.1;
    setup.rail_zero_deg.standard_uncertainty = 0.06;
    return setup;
}

Sample measure_once(Draw& draw) {
    const JobSetup stated = bay();
    Truth truth = test::stated_truth(stated);
    JobSetup read = stated;
    const auto misread = [&](Reading& reading, int input) {
        reading.value = truth[input] + draw.normal(reading.standard_uncertainty);
    };
    truth[target_turned_left_deg] = 3;
    misread(read.line_left_deg, line_left_deg);
    misread(read.distance_mm, distance_mm);
    misread(read.target_left_mm, target_left_mm);
    misread(read.mount_left_mm, mount_left_mm);
    misread(read.target_height_mm, target_height_mm);
    misread(read.mount_height_mm, mount_height_mm);
    misread(read.target_lean_back_deg, target_lean_back_deg);
    misread(read.target_turned_left_deg, target_turned_left_deg);
    misread(read.target_roll_clockwise_deg, target_roll_clockwise_deg);
    // The zero itself is taken as read (0); what varies is the truth, and with it the readings
    // that were taken from that zero.
    misread(read.floor_rise_deg, floor_rise_deg);
    truth[rail_zero_deg] = draw.normal(stated.rail_zero_deg.standard_uncertainty);
    truth[lens_sag_deg] = draw.normal(0.03);
    truth[offset_left_deg] = draw.normal(1);
    truth[offset_up_deg] = draw.normal(1);
    truth[lens_left_mm] = draw.normal(30);
    truth[lens_up_mm] = draw.normal(30);
    truth[lens_ahead_mm] = 15 + draw.normal(10);

    MeasuredJob job;
    const Camera camera = test::plain_camera();
    job.camera = draw.wrong_file(camera);
    job.target = test::a1_target();
    job.target.flatness_mm = 1;
    job.cradle.seating_deg = 0.03;
    job.setups = {read};
    test::without_small_errors(job);  // they are not drawn here; job_study draws them
    Target printed = job.target;
    printed.printed_across = 1 + draw.normal(0.0005);
    printed.printed_down = 1 + draw.normal(0.0005);
    const double yaw[2] = {1.1, 0.1}, pitch[2] = {-0.8, 0.2};
    for (int stage = 0; stage < 2; ++stage) {
        truth[yaw_left_deg] = yaw[stage];
        truth[pitch_up_deg] = pitch[stage];
        truth[face_ahead_mm] = stage == 0 ? 0 : draw.normal(standard_from_limit(5));
        job.sightings.push_back({stage == 0 ? "as-found" : "adjusted", 0, {}});
        for (const double roll_deg : {0.0, 180.0, 2.0}) {
            if (stage == 1 && roll_deg == 180) {
                continue;
            }
            Truth photo = truth;
            photo[cradle_roll_deg] = roll_deg + draw.normal(1);
            photo[seating_left_deg] = draw.normal(0.03);
            photo[seating_up_deg] = draw.normal(0.03);
            photo[jitter_left_deg] = draw.normal(0.02);
            photo[jitter_up_deg] = draw.normal(0.02);
            job.sightings.back().photos.push_back(
                test::photograph(camera, printed, photo, 0.1, draw.random()));
        }
    }
    const Adjustment adjustment = adjust(job);
    Sample sample{};
    for (int stage = 0; stage < 2; ++stage) {
        const AdjustedStage& solved = adjustment.stages.at(static_cast<std::size_t>(stage));
        sample.yaw_error[stage] = solved.yaw_left_deg.value - yaw[stage];
        sample.pitch_error[stage] = solved.pitch_up_deg.value - pitch[stage];
        sample.yaw_u[stage] = solved.yaw_left_deg.standard_uncertainty;
        sample.pitch_u[stage] = solved.pitch_up_deg.standard_uncertainty;
        sample.correlation[stage] = solved.correlation;
    }
    sample.change_error = adjustment.stages[1].yaw_change_left_deg->value - (yaw[1] - yaw[0]);
    sample.change_u = adjustment.stages[1].yaw_change_left_deg->standard_uncertainty;
    return sample;
}

/// Root mean square of error / u over the jobs: 1 +/- 1 / sqrt(2 n), here 0.032; three of these.
constexpr double allowed = 0.1;

template <class Ratio>
double rms(const std::vector<Sample>& samples, Ratio ratio) {
    double sum = 0;
    for (const auto& sample : samples) {
        sum += std::pow(ratio(sample), 2);
    }
    return std::sqrt(sum / static_cast<double>(samples.size()));
}

TEST(Sampling, ErrorsSpreadAsTheUncertaintySays) {
    std::cout << "seed " << seed << '\n';
    Draw draw;
    std::vector<Sample> samples;
    for (int i = 0; i < jobs; ++i) {
        samples.push_back(measure_once(draw));
    }
    for (int stage = 0; stage < 2; ++stage) {
        const double yaw =
            rms(samples, [&](const Sample& s) { return s.yaw_error[stage] / s.yaw_u[stage]; });
        const double pitch =
            rms(samples, [&](const Sample& s) { return s.pitch_error[stage] / s.pitch_u[stage]; });
        std::cout << "stage " << stage << ": rms(err/u) yaw " << yaw << ", pitch " << pitch
                  << ", u " << samples[0].yaw_u[stage] << ", " << samples[0].pitch_u[stage] << '\n';
        EXPECT_NEAR(yaw, 1, allowed);
        EXPECT_NEAR(pitch, 1, allowed);
        double together = 0, stated = 0;
        for (const auto& s : samples) {
            together +=
                s.yaw_error[stage] * s.pitch_error[stage] / (s.yaw_u[stage] * s.pitch_u[stage]);
            stated += s.correlation[stage];
        }
        EXPECT_NEAR(together / jobs, stated / jobs, 3 / std::sqrt(jobs));
    }
    const double change = rms(samples, [](const Sample& s) { return s.change_error / s.change_u; });
    std::cout << "change: rms(err/u) " << change << ", u " << samples[0].change_u << '\n';
    EXPECT_NEAR(change, 1, allowed);
}

}  // namespace
}  // namespace squaresight

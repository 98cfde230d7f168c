#include <gtest/gtest.h>

#include <algorithm>

#include "job/measure.h"
#include "plan/planned_bay.h"
#include "simulate/practice_job.h"
#include "support/scratch.h"

/// What a plan predicts against what measuring states of practice jobs, over bays that differ. What
/// this does not prove: that a real bay is as its file says.
namespace squaresight {
namespace {

constexpr std::uint64_t seed = 20261125;
constexpr std::uint64_t jobs = 21;

struct Case {
    std::string name;
    std::vector<std::string> setup;
    int upright, inverted;
    double noise_px;
};

double median(std::vector<double> values) {
    std::sort(values.begin(), values.end());
    return values[values.size() / 2];
}

TEST(PlanStudy, PredictsWhatMeasuringStatesInEveryBay) {
    RecordProperty("seed", static_cast<int>(seed));
    const Scratch scratch;
    const std::filesystem::path file =
        std::filesystem::path(SQUARESIGHT_SOURCE_DIR) / "samples/bays/main-bay.yaml";
    const std::vector<Case> cases{
        {"as it is", {}, 2, 2, 0.05},
        {"near", {"distance=2500 mm +/- 3 mm"}, 2, 2, 0.05},
        {"far", {"distance=8 m +/- 5 mm"}, 2, 2, 0.05},
        {"short line", {"line={base: 1 m, plumb: 2 mm}"}, 1, 1, 0.05},
        {"board aside", {"target_left=400 mm +/- 5 mm", "mount_left=-150 mm +/- 5 mm"}, 2, 1, 0.1},
        {"grainy photos", {}, 2, 2, 0.3}};
    for (const auto& one : cases) {
        PracticeBay practice = load_practice_bay(file);
        change_setup(practice.bay, one.setup);
        practice.bay.upright_photos = one.upright;
        practice.bay.inverted_photos = one.inverted;
        PlannedBay planned = load_planned_bay(file);
        planned.setup = practice.bay.setup;
        planned.upright_photos = one.upright;
        planned.inverted_photos = one.inverted;
        planned.corner_noise_px = one.noise_px;
        const auto predicted = predict_in(planned).aim;
        ASSERT_TRUE(predicted.has_value()) << one.name;
        PracticeOptions options;
        options.seed = seed;
        options.run = PracticeRun::as_found;
        options.corner_noise_px = one.noise_px;
        std::vector<double> yaw, pitch;
        for (std::uint64_t number = 1; number <= jobs; ++number) {
            const auto folder = scratch.folder() / (one.name + std::to_string(number));
            std::filesystem::create_directories(folder);
            const auto job = make_practice_job(practice, options, number, folder);
            const auto vision = measure_job(job.sheet).sightings.at(0).vision;
            ASSERT_TRUE(vision.has_value());
            yaw.push_back(vision->stage.yaw_left_deg.standard_uncertainty);
            pitch.push_back(vision->stage.pitch_up_deg.standard_uncertainty);
        }
        EXPECT_NEAR(median(yaw), predicted->yaw_deg, 0.05 * predicted->yaw_deg) << one.name;
        EXPECT_NEAR(median(pitch), predicted->pitch_deg, 0.05 * predicted->pitch_deg) << one.name;
        std::printf("%s: yaw %.4f predicted, %.4f stated; pitch %.4f, %.4f\n", one.name.c_str(),
                    predicted->yaw_deg, median(yaw), predicted->pitch_deg, median(pitch));
    }
}

}  // namespace
}  // namespace squaresight

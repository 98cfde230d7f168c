#include <benchmark/benchmark.h>
#include <sys/resource.h>

#include <iostream>
#include <map>
#include <opencv2/core/utility.hpp>

#include "benchmarks/cpu_times.h"
#include "job/measure.h"
#include "plan/plan.h"
#include "report/report.h"
#include "support/simulated_job.h"

/// Where the time of `measure` goes, on the sample photos (12 megapixels), one thread.
/// Ratios are printed at the end: they are what to quote.
namespace squaresight {
namespace {

const std::filesystem::path samples = std::filesystem::path(SQUARESIGHT_SOURCE_DIR) / "samples";
const std::filesystem::path sheet = samples / "jobs/1045-no-inverted/job.yaml";

std::filesystem::path first_photo() { return load_job_sheet(sheet).sightings[0].photos[0].path; }

void decode(benchmark::State& state) {
    const auto file = first_photo();
    for (auto _ : state) {
        benchmark::DoNotOptimize(load_photo(file));
    }
}

void find_and_refine(benchmark::State& state) {
    const JobSheet job = load_job_sheet(sheet);
    const Camera camera = load_camera(*job.camera_file);
    const Target target = load_target(*job.target_file);
    const Photo photo = load_photo(first_photo());
    for (auto _ : state) {
        benchmark::DoNotOptimize(find_target(photo.grey, target, camera.lens));
    }
}

void adjust_pair(benchmark::State& state) {
    std::mt19937 random(1);
    const Setup setup = test::table_setup(5000);
    const MeasuredJob job =
        test::one_stage(setup, test::stated_truth(setup), {0, 180}, 0.1, random);
    for (auto _ : state) {
        benchmark::DoNotOptimize(adjust(job));
    }
}

/// Stages of eight photos each, on one setup: how the adjustment grows with photos.
void adjust_stages(benchmark::State& state) {
    std::mt19937 random(1);
    const Setup setup = test::table_setup(5000);
    const std::vector<double> rolls_deg{0, 180, 1, 181, -1, 179, 0.5, 180.5};
    MeasuredJob job = test::one_stage(setup, test::stated_truth(setup), rolls_deg, 0.1, random);
    while (static_cast<long>(job.sightings.size()) < state.range(0)) {
        const MeasuredJob next =
            test::one_stage(setup, test::stated_truth(setup), rolls_deg, 0.1, random);
        job.sightings.push_back(next.sightings.front());
        job.sightings.back().stage = "adjusted";
    }
    for (auto _ : state) {
        benchmark::DoNotOptimize(adjust(job));
    }
    state.SetComplexityN(state.range(0));
}

/// The whole of `plan`, page and layout aside.
void plan(benchmark::State& state) {
    const PlannedBay planned = load_planned_bay(samples / "bays/main-bay.yaml");
    for (auto _ : state) {
        benchmark::DoNotOptimize(plan_bay(planned));
    }
}

void report(benchmark::State& state) {
    const JobResult result = measure_job(sheet);
    for (auto _ : state) {
        benchmark::DoNotOptimize(report_html(result));
    }
}

void measure_two_photos(benchmark::State& state) {
    for (auto _ : state) {
        benchmark::DoNotOptimize(measure_job(sheet));
    }
}

BENCHMARK(decode)->Unit(benchmark::kMillisecond);
BENCHMARK(find_and_refine)->Unit(benchmark::kMillisecond);
BENCHMARK(adjust_pair)->Unit(benchmark::kMillisecond);
BENCHMARK(adjust_stages)->DenseRange(1, 5, 2)->Unit(benchmark::kMillisecond);
BENCHMARK(plan)->Unit(benchmark::kMillisecond);
BENCHMARK(report)->Unit(benchmark::kMillisecond);
BENCHMARK(measure_two_photos)->Unit(benchmark::kMillisecond);

class Ratios : public CpuTimes {
  public:
    void Finalize() override {
        fmt::print("\n");
        say("find_and_refine", "decode");
        say("adjust_pair", "decode");
        say("adjust_stages/3", "adjust_stages/1");
        say("adjust_stages/5", "adjust_stages/1");
        say("plan", "decode");
        say("report", "decode");
        say("measure_two_photos", "decode");
        rusage usage{};
        getrusage(RUSAGE_SELF, &usage);
        fmt::print("largest memory of the whole run: {} MiB\n", usage.ru_maxrss / 1024);
    }
};

}  // namespace
}  // namespace squaresight

int main(int argc, char** argv) {
    return squaresight::run_benchmarks<squaresight::Ratios>(argc, argv);
}

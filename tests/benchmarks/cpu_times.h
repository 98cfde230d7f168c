#pragma once
#include <benchmark/benchmark.h>
#include <fmt/format.h>

#include <map>
#include <opencv2/core/utility.hpp>
#include <string>

namespace squaresight {

/// Prints as usual, and keeps what each benchmark took for the ratios that Finalize prints.
class CpuTimes : public benchmark::ConsoleReporter {
  public:
    void ReportRuns(const std::vector<Run>& runs) override {
        ConsoleReporter::ReportRuns(runs);
        for (const auto& run : runs) {
            const std::string name = run.benchmark_name();
            cpu_[name.substr(0, name.find("/iterations"))] = run.GetAdjustedCPUTime();
        }
    }

  protected:
    /// Nothing where one of both was not run.
    void say(const std::string& a, const std::string& b) {
        if (cpu_.contains(a) && cpu_.contains(b)) {
            fmt::print("{} / {} = {:.2f}\n", a, b, cpu_[a] / cpu_[b]);
        }
    }

    /// By name, in the benchmark's own unit of time.
    std::map<std::string, double> cpu_;
};

/// Runs all benchmarks, OpenCV on one thread.
template <class Reporter>
int run_benchmarks(int argc, char** argv) {
    cv::setNumThreads(1);
    benchmark::Initialize(&argc, argv);
    Reporter reporter;
    benchmark::RunSpecifiedBenchmarks(&reporter);
    return 0;
}

}  // namespace squaresight

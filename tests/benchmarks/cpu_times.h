#pragma once
#include <benchmark/benchmark.h>
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <opencv2/core/utility.hpp>
#include <string>
#include <vector>

namespace squaresight {

/// Prints as usual, and keeps the least that each benchmark took for the ratios that Finalize
/// prints: what else the machine does only adds to it.
class CpuTimes : public benchmark::ConsoleReporter {
  public:
    void ReportRuns(const std::vector<Run>& runs) override {
        ConsoleReporter::ReportRuns(runs);
        for (const auto& run : runs) {
            if (run.run_type == Run::RT_Iteration) {
                const std::string whole = run.benchmark_name();
                const std::string name = whole.substr(0, whole.find("/iterations"));
                const double time = run.GetAdjustedCPUTime();
                cpu_[name] = cpu_.contains(name) ? std::min(cpu_[name], time) : time;
            }
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

/// Runs all benchmarks, OpenCV on one thread, with the library's settings that are given, which
/// those of the command line override.
template <class Reporter>
int run_benchmarks(int argc, char** argv, std::vector<std::string> settings = {}) {
    cv::setNumThreads(1);
    std::vector<char*> all{argv[0]};
    for (auto& setting : settings) {
        all.push_back(setting.data());
    }
    all.insert(all.end(), argv + 1, argv + argc);
    int count = static_cast<int>(all.size());
    benchmark::Initialize(&count, all.data());
    Reporter reporter;
    benchmark::RunSpecifiedBenchmarks(&reporter);
    return 0;
}

}  // namespace squaresight

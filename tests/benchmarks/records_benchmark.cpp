#include <fmt/format.h>
#include <sys/resource.h>

#include <chrono>
#include <ctime>
#include <filesystem>
#include <iostream>

#include "records/add_jobs.h"
#include "records/verify.h"
#include "simulate/practice_job.h"
#include "support/small_record.h"
#include "units/files.h"

/// How fast measured jobs are stored, and how reading grows with their number. A command of its
/// own: jobs a second and growth are printed; nothing is asserted.
///     records_benchmark [jobs]       in a scratch folder of the disk that TMPDIR names
namespace squaresight {
namespace {

double seconds(const std::function<void()>& work) {
    const auto start = std::chrono::steady_clock::now();
    work();
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

double processor_seconds(const std::function<void()>& work) {
    const std::clock_t start = std::clock();
    work();
    return static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC;
}

double peak_mib() {
    rusage usage{};
    ::getrusage(RUSAGE_SELF, &usage);
    return static_cast<double>(usage.ru_maxrss) / 1024;
}

/// Practice jobs with their results beside them, as after `measure`.
std::vector<std::filesystem::path> measured_jobs(const std::filesystem::path& folder, int jobs) {
    const auto bay = load_practice_bay(write_built_in_bay(folder / "bay"));
    PracticeOptions options;
    options.run = PracticeRun::as_found;
    std::vector<std::filesystem::path> sheets;
    for (int job = 1; job <= jobs; ++job) {
        sheets.push_back(make_practice_job(bay, options, static_cast<std::uint64_t>(job),
                                           folder / std::to_string(job))
                             .sheet);
        write_file(sheets.back().parent_path() / "job.result.json",
                   result_json(measure_job(sheets.back())));
    }
    return sheets;
}

void store_measured_jobs(const std::filesystem::path& folder, int jobs) {
    const auto sheets = measured_jobs(folder, jobs);
    const auto file = (folder / "measured.sqlite").string();
    Store store(parse_store_address(file), usual_shop, Access::write);
    const double gather_s = seconds([&] {
        for (const auto& sheet : sheets) {
            gather_job(read_job_inputs(sheet));
        }
    });
    int stored = 0;
    const AddListener listener{[](const std::string&, double) {},
                               [&](const StoredOutcome&) { ++stored; },
                               [](const std::string& sentence) { std::cerr << sentence << '\n'; }};
    double add_s = 0;
    const double add_processor_s =
        processor_seconds([&] { add_s = seconds([&] { add_jobs(store, sheets, listener); }); });
    const double again_s = seconds([&] { add_jobs(store, sheets, listener); });
    std::cout << fmt::format(
        "{} measured jobs stored: {:.0f} a second, {:.0f} a second of the processor ({:.0f} % of "
        "it "
        "reading them); known already: {:.0f} a second; {:.0f} kB a job\n",
        stored / 2, jobs / add_s, jobs / add_processor_s, 100 * gather_s / add_s, jobs / again_s,
        static_cast<double>(std::filesystem::file_size(file)) / 1000 / jobs);
}

void read_many(const std::filesystem::path& folder) {
    double before_s = 0;
    for (const int jobs : {25000, 50000, 100000}) {
        const auto address =
            parse_store_address((folder / fmt::format("{}.sqlite", jobs)).string());
        Store store(address, usual_shop, Access::write);
        std::vector<JobRecord> batch;
        for (int job = 0; job < jobs; ++job) {
            batch.push_back(test::small_record("J" + std::to_string(job)));
            if (batch.size() == 1000) {
                store.add(batch);
                batch.clear();
            }
        }
        int rows = 0;
        const double read_s =
            seconds([&] { store.each_sighting(true, [&](const auto&) { ++rows; }); });
        const double verify_s = seconds([&] { verify_store(store); });
        std::cout << fmt::format(
            "{} jobs: all figures in {:.2f} s{}, verified in {:.2f} s; {:.0f} MiB at most\n", rows,
            read_s,
            before_s > 0 ? fmt::format(" ({:.2f} times those of half)", read_s / before_s) : "",
            verify_s, peak_mib());
        before_s = read_s;
    }
}

}  // namespace
}  // namespace squaresight

int main(int argc, char** argv) {
    std::cout << std::unitbuf;
    const auto folder = std::filesystem::temp_directory_path() /
                        fmt::format("squaresight-records-benchmark-{}", ::getpid());
    std::filesystem::create_directories(folder);
    squaresight::store_measured_jobs(folder, argc > 1 ? std::stoi(argv[1]) : 1000);
    squaresight::read_many(folder);
    std::filesystem::remove_all(folder);
}

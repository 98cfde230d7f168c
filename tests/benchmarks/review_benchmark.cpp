#include <fmt/format.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <filesystem>
#include <functional>
#include <iostream>
#include <memory>
#include <random>

#include "records/store.h"
#include "support/postgresql_server.h"
#include "support/small_record.h"

/// What `squaresight review` takes from a store of many jobs, each with two stages by both methods
/// and a signature: the real command, with its largest memory and its page. A command of its own:
/// times and growth are printed; nothing is asserted.
///     review_benchmark sqlite|postgresql [jobs...]       in a scratch folder of TMPDIR
namespace squaresight {
namespace {

constexpr int jobs_a_day = 25;

/// An invented shop: photos with u 0.05 deg, tape with u 0.12 deg, no bias.
class Shop {
  public:
    JobRecord job(int number) {
        JobRecord record = test::small_record(fmt::format("J{}", number));
        record.figures.clear();
        const std::chrono::year_month_day day{std::chrono::sys_days(std::chrono::days(
            10957 + number / jobs_a_day))};  // from 2000 on, so that a million jobs have days
        for (const char* stage : {"as-found", "as-left"}) {
            record.figures.push_back(measured(number, stage, day));
            record.figures.back().sighting = static_cast<int>(record.figures.size());
        }
        return record;
    }

  private:
    SightingFigures measured(int number, const char* stage, std::chrono::year_month_day day) {
        SightingFigures f;
        f.stage = stage;
        f.taken_at =
            fmt::format("{:04}-{:02}-{:02}T09:12:00", static_cast<int>(day.year()),
                        static_cast<unsigned>(day.month()), static_cast<unsigned>(day.day()));
        f.technician = fmt::format("T{}", number % 8 + 1);
        f.vehicle = fmt::format("unit {}", number - number % 5);
        f.camera = fmt::format("bay phone {}", number % 6 + 1);
        f.cradle = fmt::format("cradle {}", number % 4 + 1);
        f.bay = fmt::format("bay {}", number % 3 + 1);
        f.mount = "practice mount";
        f.target = "bay board";
        f.measured_by = "squaresight 0.1.0";
        f.tolerance_yaw_deg = 0.3;
        f.tolerance_pitch_deg = 1.5;
        f.locked = f.stage == "as-left" ? "yes" : "no";
        f.findings = number % 7 == 0 ? "unchecked-reading mount-unsourced" : "unchecked-reading";
        f.camera_date = "2000-01-01";
        f.photos = 4;
        f.corners = 308;
        f.repeated_readings = 3;
        const double truth = 0.4 * normal_(random_);
        take(truth, 0.05, f.vision_yaw_left_deg, f.vision_yaw_standard_uncertainty_deg);
        take(truth, 0.12, f.tape_yaw_left_deg, f.tape_yaw_standard_uncertainty_deg);
        take(truth, 0.05, f.vision_pitch_up_deg, f.vision_pitch_standard_uncertainty_deg);
        take(truth, 0.1, f.tape_pitch_up_deg, f.tape_pitch_standard_uncertainty_deg);
        f.difference_yaw_left_deg = *f.vision_yaw_left_deg - *f.tape_yaw_left_deg;
        f.difference_pitch_up_deg = *f.vision_pitch_up_deg - *f.tape_pitch_up_deg;
        f.difference_yaw_expanded_95_deg = 2 * std::hypot(0.05, 0.12);
        f.difference_pitch_expanded_95_deg = 2 * std::hypot(0.05, 0.1);
        f.vision_yaw_call = f.vision_pitch_call = f.tape_pitch_call = "in tolerance";
        f.tape_yaw_call = "too close to call";
        f.yaw_agreement = f.pitch_agreement = "agree";
        f.cradle_offset_left_deg = 0.7 + 0.02 * normal_(random_);
        f.cradle_offset_up_deg = -0.4 + 0.02 * normal_(random_);
        return f;
    }
    void take(double truth, double u, std::optional<double>& value, std::optional<double>& stated) {
        value = truth + u * normal_(random_);
        stated = u;
    }

    std::mt19937 random_{7};
    std::normal_distribution<double> normal_;
};

double seconds(const std::function<void()>& work) {
    const auto start = std::chrono::steady_clock::now();
    work();
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

void add_jobs(const StoreAddress& address, int jobs) {
    Shop shop;
    Store store(address, usual_shop, Access::write);
    std::vector<JobRecord> batch;
    for (int job = 0; job < jobs; ++job) {
        batch.push_back(shop.job(job));
        if (batch.size() == 2000 || job + 1 == jobs) {
            store.add(batch);
            batch.clear();
        }
    }
}

/// A signature under each job, past the chain: a review asks only for their texts.
void sign_all(const StoreAddress& address, int jobs) {
    Database database(address, Access::write);
    database.write(usual_shop, [&](soci::session& sql) {
        RecordEntry entry;
        entry.shop = usual_shop;
        entry.kind = EntryKind::signature;
        entry.revision = 1;
        entry.content = {
            {"decision", "accepted"}, {"reviewer", "R1"}, {"reason", ""}, {"entry", no_hash}};
        std::string text;
        soci::statement statement =
            (sql.prepare << "INSERT INTO records_entries VALUES (:shop, :seq, 'signature', :job, "
                            "1, '', '', :text)",
             soci::use(entry.shop), soci::use(entry.seq), soci::use(entry.job), soci::use(text));
        for (int job = 0; job < jobs; ++job) {
            entry.seq = jobs + 1 + job;
            entry.job = fmt::format("J{}", job);
            text = entry_text(entry);
            statement.execute(true);
        }
    });
}

struct Taken {
    double seconds = 0;
    double processor_s = 0;  ///< what other work on the machine does not change
    double peak_mib = 0;
};

double processor_seconds(const rusage& usage) {
    const auto of = [](const timeval& time) {
        return static_cast<double>(time.tv_sec) + 1e-6 * static_cast<double>(time.tv_usec);
    };
    return of(usage.ru_utime) + of(usage.ru_stime);
}

/// Runs the command to its end.
Taken run(const std::vector<std::string>& words) {
    Taken taken;
    rusage usage{};
    taken.seconds = seconds([&] {
        const pid_t child = ::fork();
        if (child == 0) {
            std::vector<char*> arguments;
            for (const auto& word : words) {
                arguments.push_back(const_cast<char*>(word.c_str()));
            }
            arguments.push_back(nullptr);
            static_cast<void>(std::freopen("/dev/null", "w", stdout));
            ::execv(arguments[0], arguments.data());
            ::_exit(127);
        }
        int status = 0;
        ::wait4(child, &status, 0, &usage);
        if (status != 0) {
            throw std::runtime_error("the command failed");
        }
    });
    taken.processor_s = processor_seconds(usage);
    taken.peak_mib = static_cast<double>(usage.ru_maxrss) / 1024;
    return taken;
}

void review_many(const std::vector<int>& sizes, const std::filesystem::path& folder,
                 const std::function<std::string(int)>& store_of) {
    double before_s = 0;
    int before_jobs = 0;
    for (const int jobs : sizes) {
        const std::string store = store_of(jobs);
        const double fill_s = seconds([&] {
            add_jobs(parse_store_address(store), jobs);
            sign_all(parse_store_address(store), jobs);
        });
        const auto page = folder / "page.html";
        run({SQUARESIGHT_BINARY, "review", store, "--out", page.string()});  // warms the disk
        const Taken taken = run({SQUARESIGHT_BINARY, "review", store, "--out", page.string()});
        std::cout << fmt::format(
            "{} jobs: reviewed in {:.2f} s, {:.2f} s of the processor{}, {:.0f} MiB at most, page "
            "of {:.2f} MiB (filled at {:.0f} jobs a second)\n",
            jobs, taken.seconds, taken.processor_s,
            before_jobs > 0 ? fmt::format(" ({:.2f} times for {:.2f} times as many)",
                                          taken.processor_s / before_s, 1.0 * jobs / before_jobs)
                            : "",
            taken.peak_mib, static_cast<double>(std::filesystem::file_size(page)) / (1 << 20),
            jobs / fill_s);
        before_s = taken.processor_s;
        before_jobs = jobs;
    }
}

}  // namespace
}  // namespace squaresight

int main(int argc, char** argv) {
    using namespace squaresight;
    std::cout << std::unitbuf;
    const bool postgresql = argc > 1 && std::string(argv[1]) == "postgresql";
    std::vector<int> sizes;
    for (int i = 2; i < argc; ++i) {
        sizes.push_back(std::stoi(argv[i]));
    }
    if (sizes.empty()) {
        sizes = {25000, 50000, 100000};
    }
    const auto folder = std::filesystem::temp_directory_path() /
                        fmt::format("squaresight-review-benchmark-{}", ::getpid());
    std::filesystem::create_directories(folder);
    if (postgresql) {
        ::setenv("PGPASSWORD", test::PostgresqlServer::password, 1);
        test::PostgresqlServer server;
        review_many(sizes, folder, [&](int) { return server.make_database(); });
    } else {
        review_many(sizes, folder,
                    [&](int jobs) { return (folder / fmt::format("{}.sqlite", jobs)).string(); });
    }
    std::filesystem::remove_all(folder);
}

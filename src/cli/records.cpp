#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <iostream>
#include <memory>

#include "cli/commands.h"
#include "cli/progress.h"
#include "records/verify.h"

namespace squaresight::cli {
namespace {

using Json = nlohmann::ordered_json;

struct RecordsOptions {
    std::string store = usual_store;
    std::string shop = usual_shop;
    int wait_s = 10;
    bool json = false;
    std::vector<std::filesystem::path> jobs;
    std::string noted_head;
};

Store open_store(const RecordsOptions& options, Access access) {
    StoreAddress address = parse_store_address(options.store);
    address.wait_s = options.wait_s;
    return Store(address, options.shop, access);
}

/// Sheets as they are; of a folder every file job.yaml in it, by name.
std::vector<std::filesystem::path> sheets_of(const std::vector<std::filesystem::path>& given) {
    std::vector<std::filesystem::path> sheets;
    for (const auto& path : given) {
        if (!std::filesystem::is_directory(path)) {
            sheets.push_back(path);
            continue;
        }
        const auto first = sheets.size();
        for (const auto& file : std::filesystem::recursive_directory_iterator(path)) {
            if (file.path().filename() == "job.yaml") {
                sheets.push_back(file.path());
            }
        }
        if (sheets.size() == first) {
            throw InputError(path.string(), "holds no job.yaml", "name a folder with jobs");
        }
        std::sort(sheets.begin() + static_cast<std::ptrdiff_t>(first), sheets.end());
    }
    return sheets;
}

const char* stored_text(Stored stored) {
    switch (stored) {
        case Stored::first:
            return "stored";
        case Stored::revision:
            return "stored as a new revision";
        case Stored::unchanged:
            break;
    }
    return "unchanged";
}

Json outcome_json(const StoredOutcome& outcome) {
    return {{"job", outcome.job},
            {"stored", stored_text(outcome.stored)},
            {"entry", outcome.seq},
            {"revision", outcome.revision}};
}

/// Tells of what is on disk, at once, so that nobody waits in doubt.
void tell_stored(const RecordsOptions& options, const StoredOutcome& outcome, Json& list) {
    if (options.json) {
        list.push_back(outcome_json(outcome));
    } else {
        std::cout << fmt::format("job {}: {} (entry {}, revision {})\n", outcome.job,
                                 stored_text(outcome.stored), outcome.seq, outcome.revision)
                  << std::flush;
    }
}

std::string head_words(const ChainHead& head) {
    return fmt::format("Head: entry {}, {}\n", head.seq, head.hash);
}

Json head_json(const ChainHead& head) { return {{"entry", head.seq}, {"hash", head.hash}}; }

void add(const RecordsOptions& options) {
    const auto sheets = sheets_of(options.jobs);
    Store store = open_store(options, Access::write);
    Json list = Json::array();
    for (std::size_t i = 0; i < sheets.size(); ++i) {
        show_progress("adding " + sheets[i].string(),
                      static_cast<double>(i) / static_cast<double>(sheets.size()));
        const JobRecord record = gather_job(sheets[i]);
        const auto outcome = store.add({record}).front();
        end_progress();
        tell_stored(options, outcome, list);
    }
    const ChainHead head = store.head().value_or(ChainHead{});
    if (options.json) {
        std::cout << Json{{"jobs", list}, {"head", head_json(head)}}.dump(2) << '\n';
    } else {
        std::cout << head_words(head);
    }
}

/// The last stage of a job's newest revision, and where its review stands.
struct ListedJob {
    SightingFigures last;
    std::string state;
};

std::string state_of(const std::map<std::string, RecordEntry>& signatures,
                     const SightingFigures& figures) {
    const auto found = signatures.find(figures.job);
    return found != signatures.end() && found->second.revision == figures.revision
               ? found->second.content.at("decision").get<std::string>()
               : "waiting";
}

std::vector<ListedJob> listed_jobs(Store& store) {
    const auto signatures = store.newest_signatures();
    std::vector<ListedJob> jobs;
    store.each_sighting(true, [&](const SightingFigures& figures) {
        if (jobs.empty() || jobs.back().last.entry != figures.entry) {
            jobs.emplace_back();
        }
        jobs.back() = {figures, state_of(signatures, figures)};
    });
    return jobs;
}

/// What photos say where they say anything, else tape-and-level.
std::string call_of(const std::string& vision, const std::string& tape) {
    return !vision.empty() ? vision : !tape.empty() ? tape : "-";
}

void list(const RecordsOptions& options) {
    Store store = open_store(options, Access::read);
    const auto jobs = listed_jobs(store);
    const ChainHead head = store.head().value_or(ChainHead{});
    if (options.json) {
        Json all = Json::array();
        for (const auto& job : jobs) {
            Json one;
            for (const auto& column : figure_columns()) {
                one[column.name] = column.json(job.last);
            }
            one["state"] = job.state;
            all.push_back(one);
        }
        std::cout << Json{{"shop", store.shop()}, {"jobs", all}, {"head", head_json(head)}}.dump(2)
                  << '\n';
        return;
    }
    std::cout << fmt::format("{:>6}  {:<16} {:>3}  {:<20}  {:<10} {:<9} {:<18} {:<18} {}\n",
                             "entry", "job", "rev", "recorded", "technician", "stage",
                             "side to side", "up and down", "review");
    for (const auto& job : jobs) {
        const auto& last = job.last;
        std::cout << fmt::format("{:>6}  {:<16} {:>3}  {:<20}  {:<10} {:<9} {:<18} {:<18} {}\n",
                                 last.entry, last.job, last.revision, last.recorded_at,
                                 last.technician, last.stage,
                                 call_of(last.vision_yaw_call, last.tape_yaw_call),
                                 call_of(last.vision_pitch_call, last.tape_pitch_call), job.state);
    }
    std::cout << fmt::format("{} {} in the shop '{}'. ", jobs.size(),
                             jobs.size() == 1 ? "job" : "jobs", store.shop())
              << head_words(head);
}

std::string noted_words(const Verification& found) {
    return found.noted_at ? fmt::format(
                                "The head that was written down is entry {}: up to there "
                                "the chain is as it was then.\n",
                                *found.noted_at)
                          : "";
}

int verify(const RecordsOptions& options) {
    Store store = open_store(options, Access::read);
    const Verification found = verify_store(store, options.noted_head);
    if (options.json) {
        Json problems = Json::array();
        for (const auto& problem : found.problems) {
            problems.push_back({{"entry", problem.seq},
                                {"fault", fault_text(problem.fault)},
                                {"text", problem.text}});
        }
        std::cout << Json{{"shop", store.shop()},
                          {"intact", found.problems.empty()},
                          {"entries", found.entries},
                          {"head", head_json(found.head)},
                          {"problems", problems}}
                         .dump(2)
                  << '\n';
    } else if (found.problems.empty()) {
        std::cout << fmt::format("All {} entries of the shop '{}' are as they were written.\n",
                                 found.entries, store.shop())
                  << noted_words(found) << head_words(found.head);
    } else {
        for (const auto& problem : found.problems) {
            std::cout << problem.text << '\n';
        }
        std::cout << fmt::format(
            "{} {} in {} entries of the shop '{}'. Compare with a backup.\n", found.problems.size(),
            found.problems.size() == 1 ? "fault" : "faults", found.entries, store.shop());
    }
    return found.problems.empty() ? done : answer_is_no;
}

CLI::App* add_part(CLI::App* records, const std::shared_ptr<RecordsOptions>& options,
                   const char* name, const char* what, const char* example) {
    CLI::App* part = records->add_subcommand(name, what);
    part->add_option("--store", options->store,
                     "SQLite file, or postgresql://user@host/database (password: PGPASSWORD or "
                     "pass file)")
        ->capture_default_str();
    part->add_option("--shop", options->shop, "Whose records")->capture_default_str();
    part->add_option("--wait", options->wait_s, "Seconds to wait for another writer")
        ->check(CLI::Range(0, 3600))
        ->capture_default_str();
    part->add_flag("--json", options->json, "Print JSON instead of words");
    part->footer(std::string("Example: squaresight records ") + example);
    return part;
}

}  // namespace

void add_records(CLI::App& app, int& exit_code) {
    auto options = std::make_shared<RecordsOptions>();
    CLI::App* records =
        app.add_subcommand("records", "Keeps measured jobs for good, and shows that none changed");
    records->require_subcommand(1);
    records->footer("Example: squaresight records add samples/jobs/1042-full/job.yaml");

    CLI::App* part = add_part(records, options, "add", "Stores measured jobs",
                              "add samples/jobs --store shop.sqlite");
    part->add_option("JOB", options->jobs, "Job sheets, or folders that hold files job.yaml")
        ->required();
    part->callback([options, &exit_code] {
        add(*options);
        exit_code = done;
    });

    part =
        add_part(records, options, "list", "Lists the jobs of a shop", "list --store shop.sqlite");
    part->callback([options, &exit_code] {
        list(*options);
        exit_code = done;
    });

    part = add_part(records, options, "verify",
                    "Names every entry that was altered, removed, inserted or reordered (exit 1)",
                    "verify --store shop.sqlite");
    part->add_option("--head", options->noted_head,
                     "A head's hash that was written down earlier: it must be in the chain");
    part->callback([options, &exit_code] { exit_code = verify(*options); });
}

}  // namespace squaresight::cli

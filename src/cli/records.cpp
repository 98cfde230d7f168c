#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <iostream>
#include <memory>
#include <sstream>

#include "cli/commands.h"
#include "cli/progress.h"
#include "job/words.h"
#include "photo/photo.h"
#include "records/add_jobs.h"
#include "records/export.h"
#include "records/job_sheets.h"
#include "records/rebuild.h"
#include "records/verify.h"
#include "units/files.h"

namespace squaresight::cli {
namespace {

using Json = nlohmann::ordered_json;

struct RecordsOptions {
    std::string store = usual_store;
    std::string shop = usual_shop;
    int wait_s = 10;
    bool json = false;
    std::vector<std::filesystem::path> jobs;
    JobEdit edit;
    std::string noted_head;
    std::string job;
    int revision = 0;
    std::filesystem::path out;
    bool all_revisions = false;
    bool gate = false;
    bool replace = false;
};

Store open_store(const RecordsOptions& options, Access access) {
    StoreAddress address = parse_store_address(options.store);
    address.wait_s = options.wait_s;
    return Store(address, options.shop, access);
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
    return {{"job", outcome.job},   {"stored", stored_text(outcome.stored)},
            {"entry", outcome.seq}, {"revision", outcome.revision},
            {"hash", outcome.hash}, {"identity", outcome.identity}};
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

int add(const RecordsOptions& options) {
    const auto sheets = job_sheets_in(options.jobs);
    Store store = open_store(options, Access::write);
    Json list = Json::array();
    bool refused = false;
    const AddListener listener{show_progress,
                               [&](const StoredOutcome& outcome) {
                                   end_progress();
                                   tell_stored(options, outcome, list);
                               },
                               [&](const std::string& sentence) {
                                   end_progress();
                                   std::cerr << "squaresight: " << sentence << '\n';
                                   refused = true;
                               }};
    add_jobs(store, sheets, listener, options.edit);
    end_progress();
    const ChainHead head = store.head().value_or(ChainHead{});
    if (options.json) {
        std::cout << Json{{"jobs", list}, {"head", head_json(head)}}.dump(2) << '\n';
    } else {
        std::cout << head_words(head);
    }
    return refused ? unusable_input : done;
}

/// The last stage of a job's newest revision, and where its review stands.
struct ListedJob {
    SightingFigures last;
    std::string review;
    bool stopped = false;  ///< a finding of level stop, at any stage
};

std::vector<ListedJob> listed_jobs(Store& store) {
    const auto states = store.review_states();
    std::vector<ListedJob> jobs;
    store.each_sighting(true, [&](const SightingFigures& figures) {
        if (jobs.empty() || jobs.back().last.entry != figures.entry) {
            jobs.emplace_back();
        }
        jobs.back() = {figures, review_state(states, figures.job, figures.revision).decision,
                       jobs.back().stopped || figures.stops > 0};
    });
    return jobs;
}

/// As the report calls it: none under a stop, else what photos say where they say anything, else
/// tape-and-level.
std::string call_of(const ListedJob& job, const std::string& vision, const std::string& tape) {
    return job.stopped ? "no verdict" : !vision.empty() ? vision : !tape.empty() ? tape : "-";
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
            one["review"] = job.review;
            all.push_back(one);
        }
        std::cout << Json{{"shop", store.shop()}, {"jobs", all}, {"head", head_json(head)}}.dump(2)
                  << '\n';
        return;
    }
    std::cout << fmt::format("{:>6}  {:<16} {:>3}  {:<20}  {:<10} {:<9} {:<9} {:<18} {:<18} {}\n",
                             "entry", "job", "rev", "recorded", "technician", "stage", "on top",
                             "side to side", "up and down", "review");
    for (const auto& job : jobs) {
        const auto& last = job.last;
        std::cout << fmt::format(
            "{:>6}  {:<16} {:>3}  {:<20}  {:<10} {:<9} {:<9} {:<18} {:<18} {}\n", last.entry,
            last.job, last.revision, last.recorded_at, last.technician, last.stage, last.headline,
            call_of(job, last.vision_yaw_call, last.tape_yaw_call),
            call_of(job, last.vision_pitch_call, last.tape_pitch_call), job.review);
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

std::string method_words(const char* method, const std::optional<double>& yaw_left_deg,
                         const std::optional<double>& yaw_u_deg, const std::string& yaw_call,
                         const std::optional<double>& pitch_up_deg,
                         const std::optional<double>& pitch_u_deg, const std::string& pitch_call) {
    std::string text;
    if (yaw_left_deg && yaw_u_deg) {
        text += fmt::format("    {:<9} {}, {}: {}\n", method, side_words(*yaw_left_deg),
                            give_or_take(2 * *yaw_u_deg), yaw_call);
    }
    if (pitch_up_deg && pitch_u_deg) {
        text += fmt::format("    {:<9} {}, {}: {}\n", method, nose_words(*pitch_up_deg),
                            give_or_take(2 * *pitch_u_deg), pitch_call);
    }
    return text;
}

std::string stage_words(const SightingFigures& stage) {
    return fmt::format("  {} {}, {}\n", stage.sighting, stage.stage,
                       stage.taken_at.empty() ? "no time told" : stage.taken_at) +
           method_words("photos", stage.vision_yaw_left_deg,
                        stage.vision_yaw_standard_uncertainty_deg, stage.vision_yaw_call,
                        stage.vision_pitch_up_deg, stage.vision_pitch_standard_uncertainty_deg,
                        stage.vision_pitch_call) +
           method_words("tape", stage.tape_yaw_left_deg, stage.tape_yaw_standard_uncertainty_deg,
                        stage.tape_yaw_call, stage.tape_pitch_up_deg,
                        stage.tape_pitch_standard_uncertainty_deg, stage.tape_pitch_call) +
           (stage.findings.empty() ? "" : "    findings  " + stage.findings + "\n");
}

std::string file_words(const Json& file) {
    return fmt::format("  {:<8} {}  {} bytes\n           SHA-256 {}\n",
                       file.at("role").get<std::string>(), file.at("name").get<std::string>(),
                       file.at("bytes").get<std::uintmax_t>(),
                       file.at("sha256").get<std::string>());
}

std::string signature_words(const RecordEntry& entry) {
    const ReviewState state = review_state(entry);
    return fmt::format("  entry {}, {}: revision {}{} {} by {}{}\n", entry.seq, entry.at,
                       entry.revision, state.headline.empty() ? "" : " (" + state.headline + ")",
                       state.decision, state.reviewer,
                       state.reason.empty() ? "" : ": " + state.reason);
}

std::string job_words(const RecordEntry& entry, const std::vector<RecordEntry>& signatures) {
    const auto stages = entry_figures(entry);
    const SightingFigures& first = stages.front();
    const auto told = [](const std::string& text) { return text.empty() ? "not told" : text; };
    std::string text = fmt::format(
        "Job {}, revision {} (entry {}), recorded {}\n  hash {}\n  technician {}, vehicle {}, "
        "mount {}, measured by {}\n",
        entry.job, entry.revision, entry.seq, entry.at, sha256_hex(entry_text(entry)),
        told(first.technician), told(first.vehicle), first.mount, first.measured_by);
    const JobEdit edit = edit_of(entry);
    if (!edit.by.empty() || !edit.reason.empty()) {
        text += fmt::format("  changed by {}: {}\n", edit.by.empty() ? "nobody told" : edit.by,
                            edit.reason.empty() ? "no reason told" : edit.reason);
    }
    text += "Stages\n";
    for (const auto& stage : stages) {
        text += stage_words(stage);
    }
    text += "What it stands on\n";
    for (const auto& list : {"files", "photos"}) {
        for (const auto& file : entry.content.at(list)) {
            text += file_words(file);
        }
    }
    const bool decided = std::any_of(
        signatures.begin(), signatures.end(),
        [&](const RecordEntry& signature) { return signature.revision == entry.revision; });
    text += decided ? "Review\n" : "Review: waiting\n";
    for (const auto& signature : signatures) {
        text += signature_words(signature);
    }
    return text;
}

void show(const RecordsOptions& options) {
    Store store = open_store(options, Access::read);
    const RecordEntry entry = store.job_entry(options.job, options.revision);
    const auto signatures = store.signatures(options.job);
    const auto text_of = [&](const std::string& sha256) { return store.stored_text(sha256); };
    if (!options.out.empty()) {
        write_job_files(entry.content, text_of, options.out);
    }
    if (options.json) {
        Json json{{"entry", Json::parse(entry_text(entry))},
                  {"result", Json::parse(text_of(entry.content.at("result")))},
                  {"signatures", Json::array()}};
        for (const auto& signature : signatures) {
            json["signatures"].push_back(Json::parse(entry_text(signature)));
        }
        std::cout << json.dump(2) << '\n';
    } else {
        std::cout << job_words(entry, signatures);
        if (!options.out.empty()) {
            std::cout << "Files:  " << options.out.string() << '\n';
        }
    }
}

/// The newest revisions of the jobs asked for; of all where none was.
std::vector<RecordEntry> jobs_to_rebuild(Store& store, const std::string& job, int revision) {
    std::vector<RecordEntry> entries;
    if (!job.empty()) {
        return {store.job_entry(job, revision)};
    }
    for (const auto& listed : listed_jobs(store)) {
        entries.push_back(store.job_entry(listed.last.job));
    }
    return entries;
}

Json rebuilt_json(const RebuiltJob& rebuilt) {
    Json changes = Json::array();
    for (const auto& change : rebuilt.changes) {
        changes.push_back({{"where", change.where},
                           {"before", change.before},
                           {"after", change.after},
                           {"by", change.by ? Json(*change.by) : Json(nullptr)}});
    }
    return {{"job", rebuilt.job},
            {"revision", rebuilt.revision},
            {"entry", rebuilt.seq},
            {"measured_by", rebuilt.measured_by},
            {"failure", rebuilt.failure.empty() ? Json(nullptr) : Json(rebuilt.failure)},
            {"changes", changes}};
}

std::string rebuilt_words(const RebuiltJob& rebuilt) {
    if (!rebuilt.failure.empty()) {
        return fmt::format("job {}: cannot be solved again: {}\n", rebuilt.job, rebuilt.failure);
    }
    std::string text =
        fmt::format("job {} (revision {}, measured by {}): {} {} more than rounding\n", rebuilt.job,
                    rebuilt.revision, rebuilt.measured_by, rebuilt.changes.size(),
                    rebuilt.changes.size() == 1 ? "figure differs by" : "figures differ by");
    for (const auto& change : rebuilt.changes) {
        text += fmt::format("  {}: {} -> {}", change.where, change.before, change.after);
        text += change.by ? fmt::format(" (by {:.3g})\n", *change.by) : "\n";
    }
    return text;
}

int rebuild(const RecordsOptions& options) {
    Store store = open_store(options, Access::read);
    const auto entries = jobs_to_rebuild(store, options.job, options.revision);
    Json list = Json::array();
    std::size_t changed = 0;
    for (std::size_t i = 0; i < entries.size(); ++i) {
        show_progress("solving " + entries[i].job,
                      static_cast<double>(i) / static_cast<double>(entries.size()));
        const RebuiltJob rebuilt = rebuild_job(store, entries[i]);
        end_progress();
        const bool differs = !rebuilt.failure.empty() || !rebuilt.changes.empty();
        changed += differs ? 1 : 0;
        if (options.json) {
            list.push_back(rebuilt_json(rebuilt));
        } else if (differs) {
            std::cout << rebuilt_words(rebuilt) << std::flush;
        }
    }
    if (options.json) {
        std::cout << Json{{"shop", store.shop()}, {"rounding", rounding}, {"jobs", list}}.dump(2)
                  << '\n';
    } else {
        std::cout << fmt::format("{} {} solved again, {} changed by more than rounding ({:g}).\n",
                                 entries.size(), entries.size() == 1 ? "job" : "jobs", changed,
                                 rounding);
    }
    return options.gate && changed > 0 ? answer_is_no : done;
}

void export_all(const RecordsOptions& options) {
    if (!options.out.empty() && !options.replace && std::filesystem::exists(options.out)) {
        throw InputError(options.out.string(), "is there already",
                         "choose another --out, or add --replace to lose it");
    }
    Store store = open_store(options, Access::read);
    const auto write_to = [&](std::ostream& out) {
        export_records(store, options.json ? ExportFormat::json : ExportFormat::csv,
                       options.all_revisions, out);
    };
    if (options.out.empty()) {
        write_to(std::cout);
        return;
    }
    std::ostringstream text;
    write_to(text);
    write_file(options.out, text.view());
    std::cerr << "Export: " << options.out.string() << '\n';
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
    part->add_option("--by", options->edit.by,
                     "Of a job that was edited: who did, if not the sheet's technician");
    part->add_option("--reason", options->edit.reason, "Of a job that was edited: why");
    part->callback([options, &exit_code] { exit_code = add(*options); });

    part =
        add_part(records, options, "list", "Lists the jobs of a shop", "list --store shop.sqlite");
    part->callback([options, &exit_code] {
        list(*options);
        exit_code = done;
    });

    part = add_part(records, options, "show", "Tells what is stored of a job",
                    "show 1042 --store shop.sqlite --out kept");
    part->add_option("JOB", options->job, "The job's name, as on its sheet")->required();
    part->add_option("--revision", options->revision, "Which one [the newest]")
        ->check(CLI::PositiveNumber);
    part->add_option("--out", options->out,
                     "Folder to write sheet, files, corners and result to, as they were stored");
    part->callback([options, &exit_code] {
        show(*options);
        exit_code = done;
    });

    part = add_part(records, options, "verify",
                    "Names every entry that was altered, removed, inserted or reordered (exit 1)",
                    "verify --store shop.sqlite");
    part->add_option("--head", options->noted_head,
                     "A head's hash that was written down earlier: it must be in the chain");
    part->callback([options, &exit_code] { exit_code = verify(*options); });

    part = add_part(records, options, "export",
                    "Writes a row for each measurement as CSV (or JSON); docs/records.md tells "
                    "the columns",
                    "export --store shop.sqlite --out records.csv");
    part->add_flag("--all-revisions", options->all_revisions,
                   "Earlier revisions of changed jobs too");
    part->add_option("--out", options->out, "Write to this file [standard output]");
    part->add_flag("--replace", options->replace, "Overwrite a file that is there");
    part->callback([options, &exit_code] {
        export_all(*options);
        exit_code = done;
    });

    part = add_part(records, options, "rebuild",
                    "Solves stored jobs again from their corners and tells which results changed",
                    "rebuild --store shop.sqlite");
    part->add_option("JOB", options->job, "The job's name, as on its sheet [all jobs]");
    part->add_option("--revision", options->revision, "Of that job [the newest]")
        ->check(CLI::PositiveNumber);
    part->add_flag("--gate", options->gate, "Exit 1 when a result changed");
    part->callback([options, &exit_code] { exit_code = rebuild(*options); });
}

}  // namespace squaresight::cli

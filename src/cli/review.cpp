#include <fmt/format.h>

#include <iostream>
#include <memory>

#include "cli/commands.h"
#include "records/store.h"

namespace squaresight::cli {
namespace {

struct SignOptions {
    std::string store = usual_store;
    std::string shop = usual_shop;
    Signature signature;
    bool json = false;
};

void sign(const SignOptions& options) {
    Store store(parse_store_address(options.store), options.shop, Access::change);
    const StoredOutcome outcome = store.sign(options.signature);
    const bool again = outcome.stored == Stored::unchanged;
    if (options.json) {
        std::cout << nlohmann::ordered_json{{"job", outcome.job},
                                            {"revision", outcome.revision},
                                            {"decision", options.signature.decision},
                                            {"reviewer", options.signature.reviewer},
                                            {"entry", outcome.seq},
                                            {"stored", again ? "unchanged" : "stored"}}
                         .dump(2)
                  << '\n';
    } else {
        std::cout << fmt::format("job {}, revision {}: {} by {}{} (entry {})\n", outcome.job,
                                 outcome.revision, options.signature.decision,
                                 options.signature.reviewer, again ? ", as before" : "",
                                 outcome.seq);
    }
}

}  // namespace

void add_review(CLI::App& app, int& exit_code) {
    CLI::App* review = app.add_subcommand(
        "review", "Photos against tape over many jobs: one page; and a reviewer's decisions");
    review->require_subcommand(0, 1);
    add_review_page(*review, exit_code);
    review->footer(
        "Examples: squaresight review records.sqlite --from 2026-01-01 --out review.html\n"
        "          squaresight review records.sqlite --job 1042 --out 1042.html\n"
        "          squaresight review --gauge study.yaml --out gauge.html\n"
        "          squaresight review records.sqlite --repeated photos-yaw --out gauge.html\n"
        "          squaresight review sign 1042 --decision accepted --reviewer R1");
    auto options = std::make_shared<SignOptions>();
    CLI::App* part = review->add_subcommand("sign", "Signs the newest revision of a stored job");
    part->add_option("JOB", options->signature.job, "The job's name, as on its sheet")->required();
    part->add_option("--decision", options->signature.decision, "What the reviewer decides")
        ->required()
        ->check(CLI::IsMember({"accepted", "returned"}));
    part->add_option("--reviewer", options->signature.reviewer, "The reviewer's code")->required();
    part->add_option("--reason", options->signature.reason,
                     "Why; needed to return a job, and to accept one that is not done");
    part->add_option("--entry", options->signature.entry,
                     "Hash of the entry that you looked at (records show tells it): any other is "
                     "refused [the newest]");
    part->add_option("--store", options->store,
                     "SQLite file, or postgresql://user@host/database (password: PGPASSWORD or "
                     "pass file)")
        ->capture_default_str();
    part->add_option("--shop", options->shop, "Whose records")->capture_default_str();
    part->add_flag("--json", options->json, "Print JSON instead of words");
    part->footer(
        "Nobody can sign a job that they measured.\n"
        "Example: squaresight review sign 1042 --decision returned --reviewer R1 --reason \"tape "
        "the distance again\"");
    part->callback([options, &exit_code] {
        sign(*options);
        exit_code = done;
    });
}

}  // namespace squaresight::cli

#include <filesystem>
#include <iostream>
#include <memory>

#include "cli/commands.h"
#include "cli/progress.h"
#include "job/measure.h"
#include "report/report.h"

namespace squaresight::cli {
namespace {

struct CompareOptions {
    std::filesystem::path job;
    bool json = false;
    bool gate = false;
};

int run(const CompareOptions& options) {
    const JobResult result = measure_job(options.job, show_progress);
    end_progress();
    std::cout << (options.json ? result_json(result) : comparison_text(result));
    return options.gate && !answer_is_yes(result) ? answer_is_no : done;
}

}  // namespace

void add_compare(CLI::App& app, int& exit_code) {
    auto options = std::make_shared<CompareOptions>();
    CLI::App* command = app.add_subcommand(
        "compare", "Photos against tape-and-level of one job: do they agree, and if not, why");
    command->add_option("JOB", options->job, "Job sheet (YAML) with both methods")->required();
    command->add_flag("--json", options->json, "Print the result file instead of words");
    command->add_flag("--gate", options->gate,
                      "Exit 1 when the last stage is not in tolerance, something stops the job, or "
                      "the methods disagree");
    command->footer(
        "Writes nothing.\nExample: squaresight compare samples/jobs/1043-tape-misread/job.yaml");
    command->callback([options, &exit_code] { exit_code = run(*options); });
}

}  // namespace squaresight::cli

#include <fmt/format.h>

#include <filesystem>
#include <iostream>
#include <memory>

#include "cli/commands.h"
#include "cli/progress.h"
#include "job/measure.h"
#include "job/turning.h"
#include "report/explain.h"
#include "report/report.h"
#include "units/files.h"

namespace squaresight::cli {
namespace {

struct MeasureOptions {
    std::filesystem::path job;
    std::filesystem::path out;
    bool json = false;
    bool gate = false;
    bool learn = false;
    bool explain = false;
};

/// "job" of "somewhere/job.yaml", in the folder that results go to.
std::filesystem::path beside(const MeasureOptions& options, const std::string& ending) {
    const auto folder = options.out.empty() ? options.job.parent_path() : options.out;
    return folder / (options.job.stem().string() + ending);
}

std::string learned_words(const JobResult& result, int rounds) {
    const std::string file = history_file(result.sheet.mount_file).string();
    return rounds == 0
               ? "Learned: no round of this job was made as told, unlocked and measured by "
                 "photos, so none is kept in " +
                     file
               : fmt::format("Learned: {} {} of this job {} kept in {}", rounds,
                             rounds == 1 ? "round" : "rounds", rounds == 1 ? "is" : "are", file);
}

int run(const MeasureOptions& options) {
    const JobResult result = measure_job(options.job, show_progress);
    end_progress();
    const std::string json = result_json(result);
    const auto result_file = beside(options, ".result.json");
    const auto report_file = beside(options, ".report.html");
    const auto photos = beside(options, ".photos");
    write_file(result_file, json);
    write_file(report_file, report_html(result));
    write_annotated_photos(result, photos);
    if (options.explain) {
        write_explained_photos(result, photos);
    }
    if (options.json) {
        std::cout << json;
    } else {
        std::cout << report_text(result) << "\nReport:  " << report_file.string()
                  << "\nResult:  " << result_file.string() << "\nPhotos:  " << photos.string()
                  << '\n';
    }
    if (options.learn) {
        const int rounds = keep_rounds(result);
        (options.json ? std::cerr : std::cout) << learned_words(result, rounds) << '\n';
    }
    return options.gate && !answer_is_yes(result) ? answer_is_no : done;
}

}  // namespace

void add_measure(CLI::App& app, int& exit_code) {
    auto options = std::make_shared<MeasureOptions>();
    CLI::App* command = app.add_subcommand(
        "measure", "Job sheet with photos -> where the mount points, and which screw to turn");
    command->add_option("JOB", options->job, "Job sheet (YAML)")->required();
    command->add_option("--out", options->out,
                        "Folder for result, report and photos [beside the job sheet]");
    command->add_flag("--json", options->json, "Print the result file instead of words");
    command->add_flag("--gate", options->gate,
                      "Exit 1 when the last stage is not in tolerance, something stops the job, or "
                      "the methods disagree");
    command->add_flag("--learn", options->learn,
                      "Keep what this job's turns showed of the mount for later jobs, in "
                      "MOUNT.history.yaml beside its profile");
    command->add_flag("--explain", options->explain,
                      "Also draw for each photo what was found and what was rejected, and why, "
                      "into JOB.photos/ (...-explained.jpg)");
    command->footer(
        "Writes JOB.result.json, JOB.report.html and JOB.photos/ beside the job sheet.\n"
        "Example: squaresight measure samples/jobs/1042-full/job.yaml");
    command->callback([options, &exit_code] { exit_code = run(*options); });
}

}  // namespace squaresight::cli

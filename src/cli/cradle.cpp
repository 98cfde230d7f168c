#include <fmt/format.h>

#include <filesystem>
#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>

#include "adjust/cradle_file.h"
#include "adjust/cradle_study.h"
#include "cli/commands.h"
#include "cli/progress.h"
#include "cli/today.h"
#include "job/cradle_jobs.h"
#include "report/summary.h"
#include "units/entry.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight::cli {
namespace {

struct CradleOptions {
    std::vector<std::filesystem::path> jobs;
    std::filesystem::path out;
    std::string date;
    bool replace = false;
    bool json = false;
};

void check_options(const CradleOptions& options) {
    if (!options.date.empty() && !is_date(options.date)) {
        throw InputError("--date", fmt::format("'{}' is no day", options.date),
                         "write it as 2026-03-05");
    }
    if (!options.replace && std::filesystem::exists(options.out)) {
        throw InputError(options.out.string(), "is there already",
                         "choose another --out, or add --replace to lose it");
    }
}

/// The usual cradle name where the jobs name no cradle file.
void name_cradle(const CradleOptions& options, Cradle& cradle) {
    if (cradle.name.empty()) {
        cradle.name = options.out.stem().string();
    }
}

std::string date_of(const CradleOptions& options, const JoinedJobs& jobs) {
    if (!options.date.empty()) {
        return options.date;
    }
    return jobs.last_photo.empty() ? today() : jobs.last_photo;
}

CradleStudy study(const JoinedJobs& jobs) {
    CradleStudy study = study_cradle(jobs.together);
    if (!study.solved) {
        throw InputError("cradle: " + study.findings.back().text);
    }
    return study;
}

std::string seating_words(const SeatingScatter& seating) {
    if (seating.usual_kept) {
        return fmt::format(
            "give or take {:.3f} deg each time it is set down: the usual figure, for these\n"
            "           jobs have too few placements to find it ({:.1f} to spare, {:.0f} needed)",
            2 * seating.standard_deg, seating.degrees_of_freedom, fewest_seating_freedom);
    }
    return fmt::format(
        "{} {:.3f} deg each time it is set down (that figure is good to {:.0f} %,"
        "\n           from {:.0f} differences)",
        seating.jitter_hides_it ? "give or take no more than" : "give or take",
        2 * seating.standard_deg, 100 * seating.standard_uncertainty_deg / seating.standard_deg,
        seating.degrees_of_freedom);
}

std::string side_words(double deg, const char* positive, const char* negative) {
    return fmt::format("{:.3f} deg {}", std::abs(deg), deg < 0 ? negative : positive);
}

std::string text_of(const CradleStudy& study, int jobs) {
    const Cradle& cradle = study.cradle;
    std::string text =
        fmt::format("Cradle '{}' with '{}', from {} {} ({} placements), {}\n", cradle.name,
                    cradle.camera, jobs, jobs == 1 ? "job" : "jobs", study.placements, cradle.date);
    text += fmt::format("  Phone points {} and {} of where the face points\n",
                        side_words(cradle.offset_deg->x(), "left", "right"),
                        side_words(cradle.offset_deg->y(), "up", "down"));
    text += fmt::format(
        "  Known to  give or take {:.3f} deg side to side, {:.3f} deg up and down, with the board "
        "at {:.1f} m\n",
        2 * study.pointing_u_deg.x(), 2 * study.pointing_u_deg.y(), study.distance_mm / 1000);
    text += fmt::format("  Seating   {}\n", seating_words(study.seating));
    if (study.upright_only_u_deg) {
        text += fmt::format(
            "  A job like the first of these, with two upright photos alone, then gives "
            "side-to-side aim\n  to give or take {:.2f} deg. As left still takes photos upright "
            "and upside down.\n",
            2 * *study.upright_only_u_deg);
    }
    for (const auto& finding : study.findings) {
        text += fmt::format("{}: {}\n", level_words(finding.level), finding.text);
    }
    return text;
}

nlohmann::ordered_json json_of(const CradleStudy& study, int jobs) {
    const Cradle& cradle = study.cradle;
    nlohmann::ordered_json covariance = nlohmann::ordered_json::array();
    for (const auto& row : cradle.covariance->rowwise()) {
        covariance.push_back(std::vector<double>(row.begin(), row.end()));
    }
    nlohmann::ordered_json findings = nlohmann::ordered_json::array();
    for (const auto& finding : study.findings) {
        findings.push_back(
            {{"level", level_text(finding.level)}, {"code", finding.code}, {"text", finding.text}});
    }
    nlohmann::ordered_json json{
        {"schema", "squaresight/cradle-study/1"},
        {"name", cradle.name},
        {"camera", cradle.camera},
        {"date", cradle.date},
        {"jobs", jobs},
        {"placements", study.placements},
        {"offset", {{"left_deg", cradle.offset_deg->x()}, {"up_deg", cradle.offset_deg->y()}}},
        {"lens",
         {{"ahead_mm", cradle.lens_mm->x()},
          {"left_mm", cradle.lens_mm->y()},
          {"up_mm", cradle.lens_mm->z()}}},
        {"covariance", covariance},
        {"pointing",
         {{"distance_mm", study.distance_mm},
          {"left_standard_uncertainty_deg", study.pointing_u_deg.x()},
          {"up_standard_uncertainty_deg", study.pointing_u_deg.y()}}},
        {"seating",
         {{"standard_uncertainty_deg", study.seating.standard_deg},
          {"degrees_of_freedom", study.seating.degrees_of_freedom},
          {"found", !study.seating.usual_kept},
          {"upper_limit", study.seating.jitter_hides_it}}}};
    json["seating"]["known_to_deg"] =
        study.seating.usual_kept ? nlohmann::ordered_json(nullptr)
                                 : nlohmann::ordered_json(study.seating.standard_uncertainty_deg);
    json["upright_only_yaw_standard_uncertainty_deg"] =
        study.upright_only_u_deg ? nlohmann::ordered_json(*study.upright_only_u_deg)
                                 : nlohmann::ordered_json(nullptr);
    json["findings"] = findings;
    return json;
}

void run(const CradleOptions& options) {
    check_options(options);
    const JoinedJobs jobs = join_jobs(options.jobs, show_progress);
    end_progress();
    CradleStudy found = study(jobs);
    name_cradle(options, found.cradle);
    found.cradle.date = date_of(options, jobs);
    write_file(options.out, cradle_yaml(found.cradle));
    if (options.json) {
        std::cout << json_of(found, jobs.jobs).dump(2) << '\n';
    } else {
        std::cout << text_of(found, jobs.jobs) << "Cradle file:  " << options.out.string() << '\n';
    }
}

}  // namespace

void add_cradle(CLI::App& app, int& exit_code) {
    auto options = std::make_shared<CradleOptions>();
    CLI::App* command = app.add_subcommand(
        "cradle", "Jobs with upright and upside-down photos -> how the cradle holds the phone");
    command->add_option("JOB", options->jobs, "Job sheets (YAML), of one phone, board and cradle")
        ->required();
    command->add_option("--out", options->out, "Cradle file to write")->required();
    command->add_option("--date", options->date,
                        "Day it stands for, as 2026-03-05 [of the newest photo]");
    command->add_flag("--replace", options->replace, "Overwrite a cradle file that is there");
    command->add_flag("--json", options->json, "Print the figures (JSON) instead of words");
    command->footer(
        "For how well it sits, photograph one stage several times, lifting the phone with its "
        "cradle and\nsetting it down again for each photo, upright and upside down, nothing "
        "turned.\n"
        "Example: squaresight cradle samples/jobs/1042-full/job.yaml --out cradle.yaml");
    command->callback([options, &exit_code] {
        run(*options);
        exit_code = done;
    });
}

}  // namespace squaresight::cli

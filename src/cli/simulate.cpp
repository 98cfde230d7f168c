#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <cstdint>
#include <exception>
#include <filesystem>
#include <iostream>
#include <memory>
#include <mutex>
#include <nlohmann/json.hpp>
#include <random>
#include <string>
#include <thread>
#include <vector>

#include "cli/commands.h"
#include "cli/progress.h"
#include "job/sheet.h"
#include "render/povray.h"
#include "render/render.h"
#include "simulate/practice_job.h"
#include "simulate/quiz.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight::cli {
namespace {

namespace fs = std::filesystem;

struct SimulateOptions {
    fs::path out, bay;
    std::int64_t seed = 1;
    bool seed_given = false;
    int jobs = 1;
    std::string stages;
    std::vector<std::string> setup, errors, answers;
    double noise_px = 0.05;
    bool json = false, list_errors = false, quiz = false, render = false;
};

std::string error_list() {
    std::string text =
        "Human errors for --error KIND, KIND=SIZE, KIND=SIZE@PLACE, KIND@STAGE, "
        "KIND=SIZE@STAGE/PLACE\n";
    for (const auto& kind : human_error_kinds()) {
        text += fmt::format("  {:<20} {}\n", kind.name, kind.meaning);
        if (!kind.unit.empty()) {
            text += fmt::format("  {:<20}   size: {}, usual {:g}\n", "", kind.unit, kind.usual);
        }
        std::string places;
        for (const auto& place : kind.places) {
            places += (places.empty() ? "" : ", ") + std::string(place);
        }
        if (!places.empty()) {
            text += fmt::format("  {:<20}   places: {}\n", "", places);
        }
    }
    return text;
}

bool is_empty_or_new(const fs::path& folder) {
    std::error_code error;
    return !fs::exists(folder, error) || (fs::is_directory(folder, error) && fs::is_empty(folder));
}

void require_new_folder(const fs::path& folder) {
    if (!is_empty_or_new(folder)) {
        throw InputError("--out " + folder.string(), "holds something already",
                         "name a new folder, or empty this one");
    }
}

/// A folder that was new: what stands in it is gone unless everything could be made.
class NewFolder {
  public:
    explicit NewFolder(fs::path folder) : folder_(std::move(folder)) {
        require_new_folder(folder_);
    }
    ~NewFolder() {
        std::error_code ignored;
        if (!kept_ && fs::is_directory(folder_, ignored)) {
            for (const auto& entry : fs::directory_iterator(folder_, ignored)) {
                fs::remove_all(entry.path(), ignored);
            }
        }
    }
    NewFolder(const NewFolder&) = delete;
    NewFolder& operator=(const NewFolder&) = delete;
    void keep() { kept_ = true; }

  private:
    fs::path folder_;
    bool kept_ = false;
};

PracticeBay bay_of(const SimulateOptions& options) {
    PracticeBay practice = load_practice_bay(
        options.bay.empty() ? write_built_in_bay(options.out / "bay") : options.bay);
    change_setup(practice.bay, options.setup);
    return practice;
}

PracticeOptions practice_options(const SimulateOptions& options) {
    PracticeOptions practice;
    practice.seed = static_cast<std::uint64_t>(options.seed);
    if (options.quiz && !options.seed_given) {
        practice.seed = std::random_device{}();  // another quiz every time
    }
    const bool as_found = options.stages == "as-found" || (options.stages.empty() && options.quiz);
    practice.run = as_found ? PracticeRun::as_found : PracticeRun::full;
    if (!std::isfinite(options.noise_px)) {
        throw InputError("--noise", "is no number", "write pixels, such as 0.05");
    }
    practice.corner_noise_px = options.noise_px;
    practice.hide_truth = options.quiz;
    practice.pictures = options.render;
    for (const auto& error : options.errors) {
        practice.errors.push_back(parse_human_error(error));
    }
    return practice;
}

nlohmann::ordered_json job_json(const PracticeJob& job, const PracticeOptions& options) {
    nlohmann::ordered_json stages = nlohmann::ordered_json::array();
    for (const auto& stage : job.truth.stages) {
        stages.push_back(stage.stage);
    }
    nlohmann::ordered_json errors = nlohmann::ordered_json::array();
    for (const auto& error : job.truth.errors) {
        errors.push_back(error.text());
    }
    nlohmann::ordered_json json{{"job", job.truth.job},
                                {"sheet", job.sheet.string()},
                                {"stages", stages},
                                {"errors", errors}};
    json["truth"] = options.hide_truth
                        ? nlohmann::ordered_json()
                        : nlohmann::ordered_json((job.sheet.parent_path() / "truth.yaml").string());
    return json;
}

void tell_made(const SimulateOptions& options, const std::vector<PracticeJob>& jobs) {
    const std::string& sheet = jobs.front().sheet.string();
    if (jobs.size() > 1) {
        fmt::print("{} practice jobs in {}, the first: {}\n", jobs.size(), options.out.string(),
                   sheet);
    } else {
        fmt::print("Practice job:  {}\n", sheet);
    }
    if (options.quiz) {
        fmt::print(
            "The answer is hidden. Work out where the face points and what to turn, then:\n"
            "  squaresight simulate --quiz --out {} --answer 'yaw_left=...' --answer "
            "'pitch_up=...' --answer 'SCREW=...'\n",
            options.out.string());
        return;
    }
    fmt::print("What is true:  truth.yaml beside it\nMeasure it:    squaresight measure {}\n",
               sheet);
}

void render(const PracticeJob& job, bool keep_scene) {
    const fs::path scene_file = job.sheet.parent_path() / "scene.yaml";
    const Scene scene = load_scene(scene_file);
    render_photos(scene, scatter_of(scene), {}, [](const fs::path& file, double share) {
        show_progress("rendered " + file.filename().string(), share);
    });
    if (!keep_scene) {
        fs::remove(scene_file);
    }
}

/// Jobs side by side, each from a sequence of its own. The first failure ends them all.
std::vector<PracticeJob> made_jobs(const SimulateOptions& options, const PracticeOptions& practice,
                                   const PracticeBay& bay) {
    const auto count = static_cast<std::size_t>(options.jobs);
    std::vector<PracticeJob> jobs(count);
    std::atomic<std::size_t> next = 0;
    std::size_t finished = 0;
    std::exception_ptr failure;
    std::mutex guard;
    const auto work = [&] {
        for (std::size_t i = next++; i < count; i = next++) {
            const fs::path at =
                count == 1 ? options.out : options.out / fmt::format("{:04}", i + 1);
            try {
                jobs[i] = make_practice_job(bay, practice, i + 1, at);
            } catch (...) {
                const std::scoped_lock lock(guard);
                failure = std::current_exception();
                next = count;
            }
            const std::scoped_lock lock(guard);
            show_progress("making jobs",
                          static_cast<double>(++finished) / static_cast<double>(count));
        }
    };
    {
        std::vector<std::jthread> workers;
        const auto cores = std::max(1U, std::thread::hardware_concurrency());
        for (std::size_t i = 0; i < std::min<std::size_t>(cores, count); ++i) {
            workers.emplace_back(work);
        }
    }
    end_progress();
    if (failure) {
        std::rethrow_exception(failure);
    }
    return jobs;
}

nlohmann::ordered_json jobs_json(const SimulateOptions& options, const PracticeOptions& practice,
                                 const std::vector<PracticeJob>& jobs) {
    nlohmann::ordered_json json;
    json["seed"] = options.quiz ? nlohmann::ordered_json() : nlohmann::ordered_json(practice.seed);
    json["jobs"] = nlohmann::ordered_json::array();
    for (const auto& job : jobs) {
        json["jobs"].push_back(job_json(job, practice));
    }
    return json;
}

int make_jobs(const SimulateOptions& options) {
    NewFolder folder(options.out);
    if (options.render) {
        require_povray();
    }
    const PracticeOptions practice = practice_options(options);
    const auto jobs = made_jobs(options, practice, bay_of(options));
    if (options.render) {
        for (const auto& job : jobs) {
            render(job, !options.quiz);
        }
        end_progress();
    }
    folder.keep();
    if (options.json) {
        std::cout << jobs_json(options, practice, jobs).dump(2) << '\n';
    } else {
        tell_made(options, jobs);
    }
    return done;
}

std::string asked(const std::string& question) {
    std::cerr << question << ": ";
    std::string answer;
    std::getline(std::cin, answer);
    return answer;
}

/// Questions on a terminal; what is left empty is not answered.
QuizAnswer asked_answer(const Mount& mount) {
    QuizAnswer answer;
    const auto ask = [&](const std::string& key, const std::string& question) {
        const std::string value = asked(question);
        if (!value.empty()) {
            read_answer(key + "=" + value, mount, answer);
        }
    };
    ask("yaw_left", "Side-to-side aim, left positive, such as 0.7 deg");
    ask("pitch_up", "Up-down aim, nose up positive, such as -0.6 deg");
    for (const auto& screw : mount.screws) {
        ask(screw.name, fmt::format("Screw '{}', such as 1 1/2 clockwise or 0", screw.name));
    }
    return answer;
}

QuizAnswer answer_of(const SimulateOptions& options, const Mount& mount) {
    QuizAnswer answer;
    for (const auto& one : options.answers) {
        read_answer(one, mount, answer);
    }
    if (answer.empty() && isatty(STDIN_FILENO) != 0) {
        answer = asked_answer(mount);
    }
    if (answer.empty()) {
        throw InputError("--answer", "is missing: a quiz stands in this folder",
                         "give --answer 'yaw_left=0.7 deg' and what else you know, or name a new "
                         "folder for another quiz");
    }
    return answer;
}

nlohmann::ordered_json score_json(const QuizScore& score) {
    const auto angle = [](double truth, const std::optional<double>& off) {
        nlohmann::ordered_json json{{"true", truth}};
        json["off"] = off ? nlohmann::ordered_json(*off) : nlohmann::ordered_json();
        return json;
    };
    nlohmann::ordered_json json{
        {"yaw_left_deg", angle(score.true_yaw_left_deg, score.yaw_off_deg)},
        {"pitch_up_deg", angle(score.true_pitch_up_deg, score.pitch_off_deg)},
        {"screws", nlohmann::ordered_json::array()}};
    for (const auto& screw : score.screws) {
        json["screws"].push_back({{"screw", screw.screw},
                                  {"answered_clockwise", screw.answered_clockwise},
                                  {"needed_clockwise", screw.needed_clockwise},
                                  {"words", screw.words}});
    }
    if (score.in_tolerance_after) {
        json["after"] = {{"yaw_left_deg", score.yaw_left_after_deg},
                         {"pitch_up_deg", score.pitch_up_after_deg},
                         {"in_tolerance", *score.in_tolerance_after}};
    } else {
        json["after"] = nullptr;
    }
    return json;
}

int score_quiz(const SimulateOptions& options) {
    const std::string truth = revealed_truth(options.out / "truth.hidden");
    const Mount mount = load_mount(load_job_sheet(options.out / "job.yaml").mount_file);
    const QuizScore score = score_answer(answer_of(options, mount), truth, mount);
    write_file(options.out / "truth.yaml", truth);
    if (options.json) {
        std::cout << score_json(score).dump(2) << '\n';
        return done;
    }
    for (const auto& line : score.words) {
        fmt::print("{}\n", line);
    }
    fmt::print("Everything that is true of this job: {}\n", (options.out / "truth.yaml").string());
    return done;
}

int run(const SimulateOptions& options) {
    if (options.list_errors) {
        fmt::print("{}", error_list());
        return done;
    }
    if (options.out.empty()) {
        throw CLI::RequiredError("--out");
    }
    const bool quiz_stands_there = fs::exists(options.out / "truth.hidden");
    if (options.quiz && (quiz_stands_there || !options.answers.empty())) {
        if (!quiz_stands_there) {
            throw InputError("--out " + options.out.string(), "holds no quiz to answer",
                             "make one first: leave out --answer");
        }
        return score_quiz(options);
    }
    return make_jobs(options);
}

}  // namespace

void add_simulate(CLI::App& app, int& exit_code) {
    auto options = std::make_shared<SimulateOptions>();
    CLI::App* command = app.add_subcommand(
        "simulate", "Practice jobs with known truth, also with errors made on purpose");
    command->add_option("--out", options->out, "New folder for the jobs");
    command->add_option("--bay", options->bay,
                        "Bay file [a practice bay, written to OUT/bay to start from]");
    CLI::Option* seed = command
                            ->add_option("--seed", options->seed,
                                         "The same seed makes the same jobs [1; a quiz: any]")
                            ->check(CLI::NonNegativeNumber);
    command->add_option("--jobs", options->jobs, "How many; more than one go to OUT/0001 ... [1]")
        ->check(CLI::Range(1, 9999));
    command
        ->add_option("--stages", options->stages,
                     "as-found, or full: turned as measure tells, to as-left [full]")
        ->check(CLI::IsMember({"as-found", "full"}));
    command->add_option("--setup", options->setup,
                        "Entry of the setup, KEY=VALUE as on a job sheet; repeat for more");
    command->add_option("--error", options->errors,
                        "Human error to make, KIND=SIZE; repeat for more; see --errors");
    command->add_flag("--errors", options->list_errors, "List the human errors and stop");
    command->add_option("--noise", options->noise_px, "Noise of a corner in pixels [0.05]")
        ->check(CLI::Range(0.0, 10.0));
    CLI::Option* quiz =
        command->add_flag("--quiz", options->quiz,
                          "Hide what is true; on a second call score --answer, or ask for it");
    command
        ->add_option("--answer", options->answers,
                     "yaw_left=ANGLE, pitch_up=ANGLE or SCREW=TURNS; repeat for more")
        ->needs(quiz);
    command->add_flag("--render", options->render,
                      "Render photos with POV-Ray in place of corners (a minute each)");
    command->add_flag("--json", options->json, "Print the list of jobs, or the score, as JSON");
    command->footer(
        "Writes job.yaml, truth.yaml, photos/ (corners in place of pictures) and the files that "
        "the "
        "sheet names.\n"
        "Example: squaresight simulate --out practice --seed 7 --error inch-misread=1@distance\n"
        "         squaresight simulate --quiz --out quiz");
    command->callback([options, seed, &exit_code] {
        options->seed_given = seed->count() > 0;
        exit_code = run(*options);
    });
}

}  // namespace squaresight::cli

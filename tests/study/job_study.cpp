#include <unistd.h>

#include <chrono>
#include <cstdlib>
#include <iostream>

#include "study/blunders.h"
#include "study/coverage.h"
#include "study/coverage_figure.h"
#include "study/human_errors.h"
#include "units/files.h"

/// The full studies, as tables for docs/proof.md:
///   job_study coverage [JOBS] [SVG] stated uncertainty against true errors, and a figure
///   job_study errors [JOBS] [KIND]  human errors, JOBS for each size; each size on standard error
///   job_study errors-without-tape [JOBS] [KIND]  the same of photos alone
///   job_study blunders [JOBS] [ERRORS]  whole jobs with random human errors, one or two each; jobs
///                                       that pass falsely and false alarms on standard error
namespace squaresight::study {
namespace {

constexpr std::uint64_t seed = 2026;

std::filesystem::path work_folder() {
    return std::filesystem::temp_directory_path() /
           ("squaresight-study-" + std::to_string(::getpid()));
}

PracticeOptions options_for(PracticeRun run) {
    PracticeOptions options;
    options.seed = seed;
    options.run = run;
    return options;
}

void print_coverage(int count, const std::string& figure) {
    const auto begin = std::chrono::steady_clock::now();
    const auto jobs = study_jobs(main_bay(), options_for(PracticeRun::full), count, work_folder());
    const std::chrono::duration<double> took = std::chrono::steady_clock::now() - begin;
    CoverageStudy study;
    for (const auto& job : jobs) {
        study.add(job);
    }
    const Coverage coverage = study.finished();
    if (!figure.empty()) {
        write_file(figure, coverage_figure(coverage));
    }
    fmt::print("Seed {}, {} jobs, {:.0f} s on {} cores\n\n", seed, coverage.jobs, took.count(),
               std::thread::hardware_concurrency());
    fmt::print("| quantity | values | rms(error / u) | within 2 u |\n| --- | --- | --- | --- |\n");
    for (const auto& [name, ratios] : coverage.of) {
        fmt::print("| {} | {} | {:.3f} +/- {:.3f} | {:.1f} % |\n", name, ratios.error_over_u.size(),
                   ratios.rms(), ratios.rms_uncertainty(), 100 * ratios.covered());
    }
    fmt::print("\nfalse 'in tolerance': {} of {}\n", coverage.falsely_in_tolerance,
               coverage.in_tolerance);
    fmt::print("E_n beyond 1 in {} of {}\n", coverage.beyond_one, coverage.agreements);
    fmt::print(
        "correlation of errors, obtained (stated): stages yaw {:.3f} ({:.3f}), stages pitch {:.3f} "
        "({:.3f}), yaw with pitch {:.3f} ({:.3f})\n",
        coverage.stage_correlation[0], coverage.stated_stage_correlation[0],
        coverage.stage_correlation[1], coverage.stated_stage_correlation[1],
        coverage.yaw_pitch_correlation, coverage.stated_yaw_pitch_correlation);
    fmt::print("truly in tolerance after at most two rounds: {} of {}\n",
               coverage.in_tolerance_after_two_rounds, coverage.runs);
    fmt::print("\n| finding (warning or stop) | jobs |\n| --- | --- |\n");
    for (const auto& [code, count_of] : coverage.jobs_with) {
        fmt::print("| {} | {} |\n", code, count_of);
    }
}

std::string most_said(const ErrorOutcome& outcome) {
    std::string text;
    for (const auto& [code, count_of] : outcome.said) {
        if (10 * count_of >= outcome.jobs) {
            text += (text.empty() ? "" : ", ") + fmt::format("{} {}", code, count_of);
        }
    }
    return text.empty() ? "-" : text;
}

std::string size_text(const HumanError& error) {
    return error.kind().unit.empty() ? std::string("made")
                                     : fmt::format("{:g} {}", error.size, error.kind().unit);
}

/// One line for one error at one place: `outcomes` from the smallest size.
void print_line(const std::vector<ErrorOutcome>& outcomes) {
    constexpr double nearly_all = 0.95;
    const auto from = std::find_if_not(outcomes.rbegin(), outcomes.rend(), [&](const auto& one) {
                          return one.safe() >= nearly_all;
                      }).base();
    const std::string found_from =
        from == outcomes.end() ? "not sure at any size tried" : size_text(from->error);
    const ErrorOutcome& most =
        *std::max_element(outcomes.begin(), outcomes.end(),
                          [](const auto& a, const auto& b) { return a.found < b.found; });
    const ErrorOutcome& there = from == outcomes.end() ? outcomes.back() : *from;
    int found = 0;
    int yet_wrong = 0;
    for (const auto& one : outcomes) {
        found += one.found;
        yet_wrong += one.found_yet_wrong;
    }
    ErrorOutcome below;
    for (auto one = outcomes.begin(); one != outcomes.end(); ++one) {
        below.worst_yaw_deg = std::max(below.worst_yaw_deg, one->worst_yaw_deg);
        below.worst_pitch_deg = std::max(below.worst_pitch_deg, one->worst_pitch_deg);
        below.jobs += one->silent();
        below.told_unchecked += one->told_unchecked;
    }
    fmt::print(
        "| {} | {} | {} | {}, {} of {} | {} of {} | {} of {} | {} | {:.2f} | {:.2f} | {} |\n",
        most.error.kind().name, most.error.place, found_from, there.found, there.harmless,
        there.jobs, most.named, most.found, yet_wrong, found, most_said(most), below.worst_yaw_deg,
        below.worst_pitch_deg,
        below.jobs == 0 ? std::string("-")
                        : fmt::format("{} of {}", below.told_unchecked, below.jobs));
    std::cout.flush();
}

void print_sizes(const std::vector<ErrorOutcome>& outcomes) {
    for (const auto& one : outcomes) {
        fmt::print(stderr, "{} {} {}: found {}, named {}, harmless {} of {}; {}\n",
                   one.error.kind().name, one.error.place, size_text(one.error), one.found,
                   one.named, one.harmless, one.jobs, most_said(one));
    }
}

void study_error(const PracticeBay& bay, const std::vector<HumanError>& sizes,
                 const std::map<PracticeRun, std::vector<StudyJob>>& twins) {
    const PracticeRun run =
        sizes.front().kind().between_stages ? PracticeRun::full : PracticeRun::as_found;
    std::vector<ErrorOutcome> outcomes;
    try {
        for (const auto& error : sizes) {
            outcomes.push_back(
                try_error(bay, options_for(run), error, twins.at(run), work_folder()));
        }
    } catch (const InputError& refused) {
        fmt::print(stderr, "{} {}: not possible in this bay: {}\n", sizes.front().kind().name,
                   sizes.front().place, refused.what());
        return;
    }
    print_sizes(outcomes);
    print_line(outcomes);
}

/// The table on standard output, every size on standard error.
void print_errors(const PracticeBay& bay, int count, const std::string& only) {
    std::map<PracticeRun, std::vector<StudyJob>> twins;
    for (const PracticeRun run : {PracticeRun::as_found, PracticeRun::full}) {
        twins[run] = study_jobs(bay, options_for(run), count, work_folder());
    }
    fmt::print("Seed {}, {} jobs for each size\n\n", seed, count);
    fmt::print(
        "| error | at | found or harmless from | found, harmless there | rightly named where most "
        "are "
        "found | found, and yet wrong by more than 2 u | says there, in jobs | yaw moved unseen, "
        "deg | pitch moved unseen, deg | of these `unchecked-reading` |\n"
        "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n");
    for (const auto& sizes : all_errors()) {
        if (only.empty() || sizes.front().kind().name == only) {
            study_error(bay, sizes, twins);
        }
    }
}

/// What became of jobs with tape-and-level and of jobs by photos alone, line by line.
void print_tallies(const BlunderTally (&of)[2]) {
    const auto row = [&](const char* name, const auto& text) {
        fmt::print("| {} | {} | {} |\n", name, text(of[0]), text(of[1]));
    };
    const auto counted = [&](const char* name, int BlunderTally::*member) {
        row(name, [&](const BlunderTally& one) { return std::to_string(one.*member); });
    };
    const auto passes = [&](const char* name, Passes BlunderTally::*stage) {
        row(name, [&](const BlunderTally& one) {
            return fmt::format("{} of {}", (one.*stage).falsely, (one.*stage).passed);
        });
    };
    counted("with an error that was made", &BlunderTally::jobs);
    counted("refused", &BlunderTally::refused);
    counted("found: a warning, stop or refusal that the twin lacks", &BlunderTally::detected);
    counted("with readings or photos set aside", &BlunderTally::set_aside);
    counted("yaw wrong by more than 0.3 deg", &BlunderTally::far_off);
    counted("yaw wrong by more than 2 u", &BlunderTally::beyond_2u);
    passes("falsely in tolerance as found, of those that pass", &BlunderTally::as_found);
    passes("falsely in tolerance as left, of those that pass", &BlunderTally::as_left);
    passes("the same of clean twins, as found", &BlunderTally::clean_as_found);
    passes("the same of clean twins, as left", &BlunderTally::clean_as_left);
    row("false alarms of clean twins", [](const BlunderTally& one) {
        return fmt::format("{} of {}", one.false_alarms, one.clean);
    });
}

void print_blunders(int count, int errors) {
    const PracticeBay bays[2] = {main_bay(), without_tape_and_level(main_bay())};
    const PracticeOptions options = options_for(PracticeRun::full);
    BlunderTally of[2];
    std::string deciding;
    for (int i = 0; i < 2; ++i) {
        of[i] = study_blunders(bays[i], options, count, errors, work_folder());
        const InchTally inches =
            study_inches(bays[i], options, std::max(1, count / 10), work_folder());
        deciding += fmt::format(" {} of {} ({} misread) |", inches.still_decide, inches.detected,
                                inches.jobs);
        for (const auto& line : of[i].to_look_at) {
            fmt::print(stderr, "{}: {}\n", i == 0 ? "with tape" : "photos alone", line);
        }
    }
    fmt::print("Seed {}, {} jobs, errors in each: {}\n\n", seed, count, errors);
    fmt::print("| jobs | with tape-and-level | photos alone |\n| --- | --- | --- |\n");
    print_tallies(of);
    fmt::print("| a tape misread by 1 in, found, where u of yaw still decides |{}\n", deciding);
}

}  // namespace
}  // namespace squaresight::study

int main(int argc, char** argv) {
    namespace study = squaresight::study;
    const std::string what = argc > 1 ? argv[1] : "";
    const std::string third = argc > 3 ? argv[3] : "";
    const int count = argc > 2 ? std::atoi(argv[2]) : 0;
    const int error_jobs = count > 0 ? count : 40;
    if (what == "coverage") {
        study::print_coverage(count > 0 ? count : 1000, third);
    } else if (what == "errors") {
        study::print_errors(study::main_bay(), error_jobs, third);
    } else if (what == "errors-without-tape") {
        study::print_errors(study::without_tape_and_level(study::main_bay()), error_jobs, third);
    } else if (what == "blunders") {
        study::print_blunders(count > 0 ? count : 1000, third == "2" ? 2 : 1);
    } else {
        std::cerr << "usage: job_study coverage [JOBS] [SVG] | job_study errors [JOBS] [KIND] | "
                     "job_study errors-without-tape [JOBS] [KIND] | "
                     "job_study blunders [JOBS] [ERRORS]\n";
        return 2;
    }
    return 0;
}

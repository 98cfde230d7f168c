#pragma once
#include <CLI/CLI.hpp>

namespace squaresight::cli {

/// Exit codes of the program (docs/file-formats.md, "Command line").
enum Exit { done = 0, answer_is_no = 1, wrong_usage = 2, unusable_input = 3 };

/// Each command lives in a file of its own: it adds itself to `app` and, when chosen, runs from
/// its callback and leaves its exit code in `exit_code`.
void add_target(CLI::App& app, int& exit_code);
void add_calibrate(CLI::App& app, int& exit_code);
void add_cradle(CLI::App& app, int& exit_code);
void add_plan(CLI::App& app, int& exit_code);
void add_measure(CLI::App& app, int& exit_code);
void add_page_work(CLI::App& app, int& exit_code);
void add_compare(CLI::App& app, int& exit_code);
void add_records(CLI::App& app, int& exit_code);
void add_review(CLI::App& app, int& exit_code);
void add_review_page(CLI::App& review, int& exit_code);  ///< of `review` without a subcommand
void add_serve(CLI::App& app, int& exit_code);
void add_simulate(CLI::App& app, int& exit_code);
void add_tape(CLI::App& app, int& exit_code);
void add_turns(CLI::App& app, int& exit_code);

}  // namespace squaresight::cli

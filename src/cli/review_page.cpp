#include <fmt/format.h>

#include <functional>
#include <iostream>
#include <memory>

#include "cli/commands.h"
#include "cli/progress.h"
#include "records/job_sheets.h"
#include "records/store.h"
#include "report/gauge_report.h"
#include "report/review_report.h"
#include "report/stored_job.h"
#include "review/repeated_measurements.h"
#include "units/files.h"

namespace squaresight::cli {
namespace {

struct ReviewOptions {
    std::string source = usual_store;
    std::string shop = usual_shop;
    ReviewSelection selection;
    std::filesystem::path gauge;
    std::string repeated;
    std::filesystem::path photos;
    std::string job;
    std::filesystem::path out;
    bool json = false;
};

Measurements stored_measurements(const ReviewOptions& options) {
    Store store(parse_store_address(options.source), options.shop, Access::read);
    const auto states = store.review_states();
    Measurements all;
    store.each_sighting(
        false,
        [&](const SightingFigures& figures) {
            all.add(figures, review_state(states, figures.job, figures.revision));
        },
        measurement_columns());
    return all;
}

/// Of a folder's jobs; one that cannot be measured is told and left out.
Measurements measured_now(const ReviewOptions& options) {
    const auto sheets = job_sheets_in({options.source});
    Measurements all;
    for (std::size_t i = 0; i < sheets.size(); ++i) {
        show_progress("measuring " + sheets[i].string(),
                      static_cast<double>(i) / static_cast<double>(sheets.size()));
        try {
            JobRecord record = gather_job(read_job_inputs(sheets[i]));
            for (auto& figures : record.figures) {
                figures.job = record.job;
                figures.recorded_at = utc_now();
                all.add(figures, {});
            }
        } catch (const InputError& error) {
            end_progress();
            std::cerr << "squaresight: left out: " << error.what() << '\n';
        }
    }
    end_progress();
    if (all.list.empty()) {
        throw InputError(options.source, "holds no job that could be measured",
                         "measure one of its jobs to see why");
    }
    return all;
}

Measurements measurements(const ReviewOptions& options) {
    check_selection(options.selection);
    return std::filesystem::is_directory(options.source) ? measured_now(options)
                                                         : stored_measurements(options);
}

/// What may be asked for of a review or a study; only that is made.
struct Answer {
    std::function<std::string()> json, text, html;
};

/// Prints figures or words, and writes the page where one is wanted.
void tell(const ReviewOptions& options, const Answer& answer) {
    if (!options.out.empty()) {
        write_file(options.out, answer.html());
    }
    std::cout << (options.json ? answer.json() : answer.text());
    if (!options.json && !options.out.empty()) {
        std::cout << "Page: " << options.out.string() << '\n';
    }
}

void review_jobs(const ReviewOptions& options) {
    const Review made = review(measurements(options), options.selection);
    tell(options, {[&] { return review_json(made, review_tables(made)); },
                   [&] { return review_text(made); }, [&] { return review_html(made); }});
}

void tell_study(const ReviewOptions& options, const GaugeStudyFile& file) {
    const GaugeStudy study = gauge_study(file.readings, file.tolerance_width_deg);
    tell(options,
         {[&] { return gauge_json(file, study, gauge_tables(file, study)); },
          [&] { return gauge_text(file, study); }, [&] { return gauge_html(file, study); }});
}

/// The page of one stored job.
void review_job(const ReviewOptions& options) {
    if (options.out.empty()) {
        throw InputError("review", "--job makes a page, and no file is named for it",
                         "add --out PAGE.html");
    }
    Store store(parse_store_address(options.source), options.shop, Access::read);
    write_file(options.out, stored_job_html(store, options.job, options.photos));
    std::cout << "Page: " << options.out.string() << '\n';
}

void review_what_is_asked(const ReviewOptions& options) {
    if (!options.gauge.empty()) {
        tell_study(options, load_gauge_study(options.gauge));
    } else if (!options.repeated.empty()) {
        tell_study(options, repeated_measurements(measurements(options), options.selection,
                                                  options.repeated));
    } else if (!options.job.empty()) {
        review_job(options);
    } else {
        review_jobs(options);
    }
}

}  // namespace

void add_review_page(CLI::App& review, int& exit_code) {
    auto options = std::make_shared<ReviewOptions>();
    review
        .add_option("STORE", options->source,
                    "SQLite file, postgresql://user@host/database, or a folder with jobs, which "
                    "are then measured")
        ->capture_default_str();
    review.add_option("--shop", options->shop, "Whose records")->capture_default_str();
    review.add_option("--from", options->selection.from, "First day, as 2026-03-05");
    review.add_option("--to", options->selection.to, "Last day");
    review.add_option("--phone", options->selection.phone, "Only this camera file's name");
    review.add_option("--cradle", options->selection.cradle, "Only this cradle");
    review.add_option("--bay", options->selection.bay, "Only this bay");
    review.add_option("--technician", options->selection.technician, "Only this technician's code");
    review.add_option("--mount", options->selection.mount, "Only this mount");
    review.add_option("--vehicle", options->selection.vehicle, "Only this vehicle");
    review.add_option("--job", options->job, "The page of this one stored job, into --out");
    review
        .add_option("--photos", options->photos,
                    "With --job: the folder of its sheet, to draw corners on the photos that lie "
                    "there as they were measured (SHA-256)")
        ->check(CLI::ExistingDirectory);
    review.add_option("--gauge", options->gauge, "A gauge study (YAML) instead of jobs");
    review
        .add_option("--repeated", options->repeated,
                    "A gauge study of stored jobs: vehicles that were measured as found several "
                    "times by each of several technicians, nothing turned between")
        ->check(CLI::IsMember(repeated_quantities()));
    review.add_option("--out", options->out, "Write the page to this HTML file");
    review.add_flag("--json", options->json, "Print the figures instead of words");
    review.callback([&review, options, &exit_code] {
        if (!review.get_subcommands().empty()) {
            return;
        }
        review_what_is_asked(*options);
        exit_code = done;
    });
}

}  // namespace squaresight::cli

#pragma once
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "report/charts.h"

/// The reviewer's page of many jobs, laid out. Internal to `report`.
namespace squaresight {

/// A sentence of the page's top, and the part that shows what it rests on.
struct ReviewSentence {
    std::string text;
    std::string part;     ///< its id; empty where there is none
    bool urgent = false;  ///< needs a person today
};

struct CaptionedChart {
    std::string caption;
    Chart chart;
};

struct CaptionedTable {
    std::string caption;
    ChartTable table;
    /// Of a table with a row for each job: the column of its name. Sentences about a job lead to
    /// its row.
    std::optional<std::size_t> job_column = {};
};

struct PartSentence {
    std::string text;
    std::string job;  ///< that it is about; empty where it is about none

    PartSentence(const char* words) : text(words) {}
    PartSentence(std::string words, std::string about_job = {})
        : text(std::move(words)), job(std::move(about_job)) {}
};

/// A part of the page: sentences, charts with their tables, tables.
struct ReviewPart {
    std::string id;  ///< letters and digits
    std::string title;
    std::vector<PartSentence> sentences;
    std::vector<CaptionedChart> charts;
    std::vector<CaptionedTable> tables;
};

struct ReviewLayout {
    std::string heading;    ///< what kind of page
    std::string period;     ///< "2026-01-05 to 2026-03-30"
    std::string selection;  ///< what was asked for, in words; empty for all
    std::vector<ReviewSentence> summary;
    std::vector<ReviewPart> parts;
    std::vector<std::string> notes;  ///< what the page is not, where its numbers come from
};

/// One self-contained page, no network, no script; prints on paper.
std::string review_page(const ReviewLayout& layout);

/// Its heading, summary and first note for a terminal.
std::string layout_text(const ReviewLayout& layout);

/// Its tables, those of charts too: [{part, caption, columns, rows}].
nlohmann::ordered_json layout_tables(const ReviewLayout& layout);

/// "1 job", "2 jobs".
std::string counted(std::size_t count, const char* one, const char* many);

}  // namespace squaresight

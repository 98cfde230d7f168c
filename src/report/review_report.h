#pragma once
#include <nlohmann/json.hpp>
#include <string>

#include "review/review.h"

namespace squaresight {

/// The reviewer's page: one self-contained HTML file, no network; figures as SVG with their numbers
/// as tables, whose size does not grow with the number of jobs.
std::string review_html(const Review& review);

/// The tables of that page, those of its figures too: [{part, caption, columns, rows}], cells as
/// they are printed.
nlohmann::ordered_json review_tables(const Review& review);

/// Its sentences for a terminal.
std::string review_text(const Review& review);

}  // namespace squaresight

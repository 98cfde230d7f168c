#include "records/export.h"

#include <fmt/format.h>

namespace squaresight {
namespace {

using Json = nlohmann::ordered_json;

std::string csv_field(const std::string& text) {
    if (text.find_first_of(",\"\r\n") == std::string::npos) {
        return text;
    }
    std::string quoted = "\"";
    for (const char letter : text) {
        quoted += letter == '"' ? "\"\"" : std::string{letter};
    }
    return quoted + '"';
}

void write_csv_header(std::ostream& out) {
    for (const auto& column : figure_columns()) {
        out << column.name << ',';
    }
    out << "review,reviewer,review_reason\r\n";
}

void write_csv_row(const SightingFigures& figures, const ReviewState& review, std::ostream& out) {
    for (const auto& column : figure_columns()) {
        out << csv_field(column.text(figures)) << ',';
    }
    out << csv_field(review.decision) << ',' << csv_field(review.reviewer) << ','
        << csv_field(review.reason) << "\r\n";
}

Json json_row(const SightingFigures& figures, const ReviewState& review) {
    Json row;
    for (const auto& column : figure_columns()) {
        row[column.name] = column.json(figures);
    }
    row["review"] = review.decision;
    row["reviewer"] = review.reviewer;
    row["review_reason"] = review.reason;
    return row;
}

}  // namespace

void export_records(Store& store, ExportFormat format, bool all_revisions, std::ostream& out) {
    const auto states = store.review_states();
    const bool csv = format == ExportFormat::csv;
    bool first = true;
    if (csv) {
        write_csv_header(out);
    } else {
        out << "{\"schema\": \"squaresight/records-export/1\", \"shop\": "
            << Json(store.shop()).dump() << ", \"rows\": [";
    }
    store.each_sighting(!all_revisions, [&](const SightingFigures& figures) {
        const auto review = review_state(states, figures.job, figures.revision);
        if (csv) {
            write_csv_row(figures, review, out);
        } else {
            out << (first ? "\n" : ",\n") << json_row(figures, review).dump();
        }
        first = false;
    });
    if (!csv) {
        out << "\n]}\n";
    }
}

}  // namespace squaresight

#include "report/stored_job.h"

#include <fmt/format.h>

#include "job/sheet_changes.h"
#include "records/export.h"
#include "records/rebuild.h"
#include "report/report.h"

namespace squaresight {
namespace {

constexpr std::size_t most_edits = 40;

std::string state_words(const ReviewState& state) {
    if (state.decision == "waiting") {
        return "Waiting for a reviewer.";
    }
    return fmt::format("{} by {}{}", state.decision == "accepted" ? "Accepted" : "Returned",
                       state.reviewer, state.reason.empty() ? "." : ": " + state.reason);
}

std::vector<std::string> signature_words(const std::vector<RecordEntry>& signatures) {
    std::vector<std::string> words;
    for (const auto& entry : signatures) {
        const auto said = [&](const char* key) { return entry.content.at(key).get<std::string>(); };
        words.push_back(fmt::format("{}: revision {} {} by {}{}", entry.at, entry.revision,
                                    said("decision"), said("reviewer"),
                                    said("reason").empty() ? "" : ": " + said("reason")));
    }
    return words;
}

std::string value_words(const std::string& value) { return value.empty() ? "nothing" : value; }

std::string sheet_of(Store& store, const RecordEntry& entry) {
    for (const auto& file : entry.content.at("files")) {
        if (file.at("role") == "sheet") {
            return store.stored_text(file.at("sha256"));
        }
    }
    return "";
}

/// Edits of the sheet from each revision to the next.
std::vector<std::string> edit_words(Store& store, const RecordEntry& newest) {
    std::vector<std::string> words;
    std::string before;
    for (int revision = 1; revision <= newest.revision; ++revision) {
        const RecordEntry entry = store.job_entry(newest.job, revision);
        const std::string after = sheet_of(store, entry);
        if (revision > 1) {
            const auto technician = entry.content.at("technician").get<std::string>();
            for (const auto& change : sheet_changes(before, after)) {
                words.push_back(
                    fmt::format("{}: {}, then {} (revision {}, stored {}, technician {})",
                                change.key, value_words(change.before), value_words(change.after),
                                revision, entry.at, technician.empty() ? "not told" : technician));
            }
        }
        before = after;
    }
    if (words.size() > most_edits) {
        words.resize(most_edits);
        words.push_back("More are in the store: squaresight records show.");
    }
    return words;
}

}  // namespace

std::string stored_job_html(Store& store, const std::string& job) {
    const RecordEntry newest = store.job_entry(job);
    ReviewerNotes notes;
    notes.state = state_words(review_state(store.newest_signatures(), job, newest.revision));
    notes.signatures = signature_words(store.signatures(job));
    notes.edits = edit_words(store, newest);
    return report_html(measure_stored(store, newest), &notes);
}

}  // namespace squaresight

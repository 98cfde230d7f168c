#include "report/stored_job.h"

#include <fmt/format.h>

#include "job/corners_file.h"
#include "job/sheet_changes.h"
#include "photo/photo.h"
#include "records/export.h"
#include "records/rebuild.h"
#include "report/report.h"
#include "review/review.h"
#include "units/files.h"

namespace squaresight {
namespace {

constexpr std::size_t most_edits = 40;
constexpr std::uintmax_t largest_photo_bytes = 1 << 30;

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
        const ReviewState said = review_state(entry);
        words.push_back(fmt::format("{}: revision {}{} {} by {}{}", entry.at, entry.revision,
                                    said.headline.empty() ? "" : " (" + said.headline + ")",
                                    said.decision, said.reviewer,
                                    said.reason.empty() ? "" : ": " + said.reason));
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

/// Who told so when it was stored, else the technician of the sheet.
std::string edited_by(const RecordEntry& entry) {
    const std::string by = edit_of(entry).by;
    if (!by.empty()) {
        return by;
    }
    const auto technician = entry.content.at("technician").get<std::string>();
    return technician.empty() ? "nobody told" : "technician " + technician;
}

std::string reason_words(const RecordEntry& entry) {
    const std::string reason = edit_of(entry).reason;
    return reason.empty() ? "no reason told" : "because: " + reason;
}

/// Edits of the sheet from each revision to the next.
std::vector<std::string> edit_words(Store& store, const RecordEntry& newest) {
    std::vector<std::string> words;
    std::string before;
    for (int revision = 1; revision <= newest.revision; ++revision) {
        const RecordEntry entry = store.job_entry(newest.job, revision);
        const std::string after = sheet_of(store, entry);
        if (revision > 1) {
            for (const auto& change : sheet_changes(before, after)) {
                words.push_back(fmt::format("{}: {}, then {} (revision {}, stored {}, by {}, {})",
                                            change.key, value_words(change.before),
                                            value_words(change.after), revision, entry.at,
                                            edited_by(entry), reason_words(entry)));
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

/// "phone bay phone: dated 2025-01-10, 412 days before it was used: PAST ITS DATE (a year)".
std::string age_words(const char* kind, const std::string& name, const std::string& dated,
                      Day used) {
    if (day_of(dated) == 0 || used == 0) {
        return fmt::format("{} {}: its file tells no date, so its age is not known.", kind, name);
    }
    const int days = used - day_of(dated);
    return fmt::format("{} {}: dated {}, {} days before this measurement{}.", kind, name, dated,
                       days, days > equipment_lasts_days ? ": PAST ITS DATE (a year)" : "");
}

std::vector<std::string> equipment_words(const RecordEntry& entry) {
    const SightingFigures last = entry_figures(entry).back();
    const Day used = day_of(last.taken_at) != 0 ? day_of(last.taken_at) : day_of(last.recorded_at);
    std::vector<std::string> words;
    const auto add = [&](const char* kind, const std::string& name, const std::string& dated) {
        if (!name.empty()) {
            words.push_back(age_words(kind, name, dated, used));
        }
    };
    add("Check of the phone", last.camera, last.camera_date);
    add("File of the cradle", last.cradle, last.cradle_date);
    add("Check bars of the board", last.target, last.target_checked_on);
    return words;
}

std::vector<std::string> stored_words(Store& store, const RecordEntry& entry,
                                      const JobResult& again) {
    const auto before =
        nlohmann::ordered_json::parse(store.stored_text(entry.content.at("result")));
    const auto changes = result_changes(before, nlohmann::ordered_json::parse(result_json(again)));
    return {fmt::format("Revision {}, entry {}, stored {}, measured by {}.", entry.revision,
                        entry.seq, entry.at, before.at("program").get<std::string>()),
            changes.empty()
                ? std::string("Solved again for this page: as when it was stored.")
                : fmt::format("Solved again for this page: {} of its figures differ from those "
                              "stored by more than rounding (squaresight records rebuild).",
                              changes.size())};
}

/// Puts photos that still lie in the folder in the place of their corners. Tells what came of it.
std::string take_photos(const RecordEntry& entry, const std::filesystem::path& folder,
                        JobResult& result) {
    std::size_t number = 0, found = 0, others = 0;
    for (auto& sighting : result.sightings) {
        for (auto& photo : sighting.photos) {
            const auto& kept = entry.content.at("photos").at(number++);
            const auto path = folder / kept.at("name").get<std::string>();
            std::error_code ignored;
            if (is_corners_file(path) || !std::filesystem::is_regular_file(path, ignored)) {
                continue;
            }
            const bool same = sha256_hex(read_file(path, largest_photo_bytes)) == kept.at("sha256");
            (same ? found : others) += 1;
            if (same) {
                photo.path = path;
            }
        }
    }
    return fmt::format(
        "Photos: {} of {} lie in {} as they were measured{}; of the others the "
        "corners are drawn on a plain ground.",
        found, number, folder.string(),
        others == 0 ? ""
                    : fmt::format(", {} {} there but are other files by their "
                                  "SHA-256",
                                  others, others == 1 ? "lies" : "lie"));
}

}  // namespace

std::string stored_job_html(Store& store, const std::string& job,
                            const std::filesystem::path& photos) {
    const RecordEntry newest = store.job_entry(job);
    ReviewerNotes notes;
    const auto signatures = store.signatures(job);
    const ReviewState state = review_state(signatures, newest.revision);
    notes.state = state_words(state);
    notes.signatures = signature_words(signatures);
    notes.edits = edit_words(store, newest);
    notes.equipment = equipment_words(newest);
    JobResult result = measure_stored(store, newest);
    notes.stored = stored_words(store, newest, result);
    if (!photos.empty()) {
        notes.stored.push_back(take_photos(newest, photos, result));
    } else if (!newest.content.at("photos").empty()) {
        notes.stored.emplace_back(
            "Photos are not stored: their corners are drawn on a plain ground. With --photos "
            "FOLDER, where they lie, they are drawn on the photos.");
    }
    std::string page = report_html(result, &notes);
    return state.decision == "returned"
               ? returned_report(std::move(page), state.reviewer, state.reason)
               : page;
}

}  // namespace squaresight

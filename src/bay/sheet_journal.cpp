#include "bay/sheet_journal.h"

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>
#include <sstream>
#include <utility>

#include "units/files.h"

namespace squaresight::bay {
namespace {

using Json = nlohmann::json;

constexpr std::uintmax_t largest_journal_bytes = 256 << 20;

constexpr std::array<std::pair<Deed, const char*>, 17> names{{
    {Deed::entry, "entry"},
    {Deed::ready, "ready"},
    {Deed::board, "board"},
    {Deed::tape, "tape"},
    {Deed::finish, "finish"},
    {Deed::photo, "photo"},
    {Deed::photo_out, "photo_out"},
    {Deed::photo_stands, "photo_stands"},
    {Deed::turned, "turned"},
    {Deed::locked, "locked"},
    {Deed::moved, "moved"},
    {Deed::tape_left_out, "tape_left_out"},
    {Deed::note, "note"},
    {Deed::picture, "picture"},
    {Deed::abandoned, "abandoned"},
    {Deed::taken_up, "taken_up"},
    {Deed::undone, "undone"},
}};

Deed deed_named(const std::string& name) {
    const auto found = std::find_if(names.begin(), names.end(),
                                    [&](const auto& one) { return one.second == name; });
    return found == names.end() ? Deed::entry : found->first;
}

std::filesystem::path journal_of(const std::filesystem::path& job_folder) {
    return job_folder / "job.changes.jsonl";
}

}  // namespace

const char* deed_name(Deed deed) {
    return std::find_if(names.begin(), names.end(),
                        [&](const auto& one) { return one.first == deed; })
        ->second;
}

std::vector<JournalEntry> read_journal(const std::filesystem::path& job_folder) {
    std::vector<JournalEntry> entries;
    const auto file = journal_of(job_folder);
    if (!std::filesystem::is_regular_file(std::filesystem::symlink_status(file)) ||
        std::filesystem::file_size(file) == 0) {
        return entries;
    }
    std::istringstream lines(read_file(file, largest_journal_bytes));
    for (std::string line; std::getline(lines, line);) {
        const Json one = Json::parse(line, nullptr, false);
        const auto text = [&](const char* key) {
            const auto found = one.find(key);
            return found != one.end() && found->is_string() ? found->get<std::string>() : "";
        };
        if (one.is_object()) {
            entries.push_back({text("at"), deed_named(text("deed")), text("before"), text("after"),
                               text("text")});
        }
    }
    return entries;
}

void add_to_journal(const std::filesystem::path& job_folder, const JournalEntry& entry) {
    append_line(journal_of(job_folder), Json{{"at", entry.at},
                                             {"deed", deed_name(entry.deed)},
                                             {"before", entry.before},
                                             {"after", entry.after},
                                             {"text", entry.text}}
                                            .dump(-1, ' ', false, Json::error_handler_t::replace));
}

std::optional<JournalEntry> entry_to_undo(const std::vector<JournalEntry>& entries,
                                          const std::string& version) {
    std::vector<const JournalEntry*> made;
    // What is said to lead to another version than the one that came next never took effect (the
    // power went), or another program changed the sheet: nothing before that is known to hold.
    const auto go_to = [&](const std::string& reached) {
        if (!made.empty() && made.back()->after != reached && made.back()->before == reached) {
            made.pop_back();
        }
        if (!made.empty() && made.back()->after != reached) {
            made.clear();
        }
    };
    for (const auto& entry : entries) {
        go_to(entry.before);
        if (entry.deed != Deed::undone) {
            made.push_back(&entry);
        } else if (!made.empty()) {
            made.pop_back();
        }
    }
    go_to(version);
    return made.empty() ? std::nullopt : std::optional(*made.back());
}

}  // namespace squaresight::bay

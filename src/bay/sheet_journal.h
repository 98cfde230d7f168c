#pragma once
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

/// What was done to a job's sheet, kept for good (docs/file-formats.md, squaresight/changes/1).
namespace squaresight::bay {

/// What an entry was about.
enum class Deed {
    entry,  ///< of whatever kind
    ready,
    board,
    tape,
    finish,
    photo,
    photo_out,
    photo_stands,
    turned,
    locked,
    moved,
    tape_left_out,
    note,
    picture,
    abandoned,
    taken_up,
    undone,
};

/// Its name in the journal; "deed_" and it is its key in the catalogue (bay/messages.h).
const char* deed_name(Deed deed);

/// One change of a sheet.
struct JournalEntry {
    std::string at;  ///< 2026-03-05 14:02, by the shop's clock
    Deed deed = Deed::entry;
    std::string before, after;  ///< versions of the sheet (SHA-256 of its text)
    std::string text;           ///< of the sheet before
};

/// Entries in their order. A line that was cut off by a loss of power is left out.
std::vector<JournalEntry> read_journal(const std::filesystem::path& job_folder);

/// What is added here is on disk; InputError where it cannot be.
void add_to_journal(const std::filesystem::path& job_folder, const JournalEntry& entry);

/// The entry that led to this version of the sheet and was not undone; nothing where there is none,
/// or where the sheet was changed by another program since. Undone entries count as never made, so
/// that one after the other can be undone.
std::optional<JournalEntry> entry_to_undo(const std::vector<JournalEntry>& entries,
                                          const std::string& version);

}  // namespace squaresight::bay

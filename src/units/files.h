#pragma once
#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>

namespace squaresight {

/// The bytes of a file. InputError if it is missing, a folder, empty, unreadable or larger than
/// `largest_bytes`.
std::string read_file(const std::filesystem::path& file, std::uintmax_t largest_bytes);

/// Writes a file whole or not at all: to a temporary file in the same folder, synced, renamed.
/// InputError if the folder cannot be written or the disk is full; the old file then stays.
void write_file(const std::filesystem::path& file, std::string_view bytes);

/// Adds a line at the end of a file, which is made where there is none, and syncs it. It begins
/// anew behind a line that was cut off. InputError as above.
void append_line(const std::filesystem::path& file, std::string_view line);

}  // namespace squaresight

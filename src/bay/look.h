#pragma once
#include <filesystem>
#include <string>

namespace squaresight::bay {

/// What one photo of a job says as soon as it is there, as JSON: `found`, `stands` ("upright",
/// "inverted" or ""), `findings` (level, code, text) about this photo alone, against the others
/// that were looked at and against the taped distance; `picture`, the key (bay/seen_photos.h) under
/// which the photo lies in `seen_folder` as a small JPEG with what was found drawn on it. `file` is
/// as the sheet names it. Opens photos that anyone may have sent: run it in a process of its own
/// (bay/confined.h).
std::string photo_look(const std::filesystem::path& sheet_file, const std::string& file,
                       const std::filesystem::path& seen_folder);

}  // namespace squaresight::bay

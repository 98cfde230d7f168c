#pragma once
#include <filesystem>
#include <vector>

namespace squaresight {

/// Sheets as they are; of a folder every file job.yaml in it, by name. InputError for a folder
/// without one or that cannot be read, and where none of the sheets is there.
std::vector<std::filesystem::path> job_sheets_in(const std::vector<std::filesystem::path>& given);

}  // namespace squaresight

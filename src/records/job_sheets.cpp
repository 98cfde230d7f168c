#include "records/job_sheets.h"

#include <algorithm>

#include "units/error.h"

namespace squaresight {
namespace {

std::vector<std::filesystem::path> sheets_in_folder(const std::filesystem::path& folder) {
    std::vector<std::filesystem::path> sheets;
    try {
        for (const auto& file : std::filesystem::recursive_directory_iterator(folder)) {
            if (file.path().filename() == "job.yaml") {
                sheets.push_back(file.path());
            }
        }
    } catch (const std::filesystem::filesystem_error&) {
        throw InputError(folder.string(), "cannot be read, or a folder in it cannot",
                         "check who may read them, or name the jobs' folders that you may");
    }
    if (sheets.empty()) {
        throw InputError(folder.string(), "holds no job.yaml", "name a folder with jobs");
    }
    std::sort(sheets.begin(), sheets.end());
    return sheets;
}

}  // namespace

std::vector<std::filesystem::path> job_sheets_in(const std::vector<std::filesystem::path>& given) {
    std::vector<std::filesystem::path> sheets;
    for (const auto& path : given) {
        std::error_code ignored;
        if (std::filesystem::is_directory(path, ignored)) {
            const auto found = sheets_in_folder(path);
            sheets.insert(sheets.end(), found.begin(), found.end());
        } else {
            sheets.push_back(path);
        }
    }
    const bool any = std::any_of(sheets.begin(), sheets.end(), [](const auto& sheet) {
        std::error_code ignored;
        return std::filesystem::exists(sheet, ignored);
    });
    if (!sheets.empty() && !any) {
        throw InputError(sheets.front().string(), "there is no such file",
                         "check the path and the spelling");
    }
    return sheets;
}

}  // namespace squaresight

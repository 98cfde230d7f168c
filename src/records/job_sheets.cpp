#include "records/job_sheets.h"

#include <algorithm>

#include "units/error.h"

namespace squaresight {

std::vector<std::filesystem::path> job_sheets_in(const std::vector<std::filesystem::path>& given) {
    std::vector<std::filesystem::path> sheets;
    for (const auto& path : given) {
        if (!std::filesystem::is_directory(path)) {
            sheets.push_back(path);
            continue;
        }
        const auto first = sheets.size();
        for (const auto& file : std::filesystem::recursive_directory_iterator(path)) {
            if (file.path().filename() == "job.yaml") {
                sheets.push_back(file.path());
            }
        }
        if (sheets.size() == first) {
            throw InputError(path.string(), "holds no job.yaml", "name a folder with jobs");
        }
        std::sort(sheets.begin() + static_cast<std::ptrdiff_t>(first), sheets.end());
    }
    return sheets;
}

}  // namespace squaresight

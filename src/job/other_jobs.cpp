#include "job/other_jobs.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <fstream>

#include "units/error.h"
#include "units/files.h"

namespace squaresight {
namespace {

namespace fs = std::filesystem;

constexpr std::uintmax_t largest_sheet_bytes = 1 << 20;
constexpr std::uintmax_t largest_photo_bytes = std::uintmax_t{1} << 30;
constexpr const char* sheet_name = "job.yaml";

bool holds(const fs::path& file, std::string_view bytes) {
    std::ifstream stream(file, std::ios::binary);
    std::array<char, 65536> piece{};
    for (std::size_t at = 0; at < bytes.size(); at += piece.size()) {
        const auto wanted = bytes.substr(at, piece.size());
        stream.read(piece.data(), static_cast<std::streamsize>(wanted.size()));
        if (!stream || std::string_view(piece.data(), wanted.size()) != wanted) {
            return false;
        }
    }
    return true;
}

bool names_photo(const JobSheet& sheet, const fs::path& file) {
    return std::any_of(
        sheet.sightings.begin(), sheet.sightings.end(), [&](const SheetSighting& sighting) {
            return std::any_of(sighting.photos.begin(), sighting.photos.end(),
                               [&](const SheetPhoto& photo) {
                                   return photo.path.lexically_normal() == file.lexically_normal();
                               });
        });
}

/// The other job that has this file as a photo: its folder, or the folder above it, holds the
/// sheet.
std::optional<std::string> owner_of(const fs::path& file, const std::string& own_job) {
    for (const auto& folder : {file.parent_path(), file.parent_path().parent_path()}) {
        try {
            const JobSheet sheet = parse_begun_job_sheet(
                read_file(folder / sheet_name, largest_sheet_bytes), folder / sheet_name);
            return sheet.job != own_job && names_photo(sheet, file) ? std::optional(sheet.job)
                                                                    : std::nullopt;
        } catch (const InputError&) {  // no sheet here, or none that can be read
        }
    }
    return std::nullopt;
}

/// Files of a job's folder and of the folders in it.
template <class Take>
void each_file(const fs::path& folder, int depth, const Take& take) {
    std::error_code error;
    for (fs::directory_iterator entry(folder, error), end; !error && entry != end;
         entry.increment(error)) {
        std::error_code ignored;
        if (entry->is_symlink(ignored)) {
            continue;
        }
        if (entry->is_regular_file(ignored)) {
            const auto bytes = entry->file_size(ignored);
            if (!ignored) {
                take(entry->path(), bytes);
            }
        } else if (depth > 0 && entry->is_directory(ignored)) {
            each_file(entry->path(), depth - 1, take);
        }
    }
}

}  // namespace

OtherJobs::OtherJobs(const JobSheet& sheet) : job_(sheet.job) {
    std::error_code error;
    const fs::path own = fs::absolute(sheet.file).lexically_normal().parent_path();
    for (fs::directory_iterator entry(own.parent_path(), error), end; !error && entry != end;
         entry.increment(error)) {
        std::error_code ignored;
        if (entry->path() != own && fs::is_regular_file(entry->path() / sheet_name, ignored)) {
            each_file(entry->path(), 1, [&](const fs::path& file, std::uintmax_t bytes) {
                files_.emplace(bytes, file);
            });
        }
    }
}

std::optional<std::string> OtherJobs::job_with(std::string_view bytes) const {
    const auto [first, last] = files_.equal_range(bytes.size());
    for (auto file = first; file != last; ++file) {
        if (holds(file->second, bytes)) {
            if (const auto job = owner_of(file->second, job_)) {
                return job;
            }
        }
    }
    return std::nullopt;
}

void check_other_jobs(const JobSheet& sheet, std::vector<SightingResult>& sightings) {
    const OtherJobs others(sheet);
    const auto owner = [&](const fs::path& photo) -> std::optional<std::string> {
        std::error_code missing;
        const auto bytes = fs::file_size(photo, missing);
        return missing || !others.has_size(bytes)
                   ? std::nullopt
                   : others.job_with(read_file(photo, largest_photo_bytes));
    };
    for (auto& sighting : sightings) {
        for (const auto& photo : sighting.photos) {
            const auto job = photo.digest.empty() ? std::nullopt : owner(photo.path);
            if (job) {
                sighting.findings.push_back(
                    {Level::stop, "photo-of-other-job",
                     fmt::format("{} is a photo of job {}. Take a new photo of this vehicle.",
                                 photo.file, *job)});
            }
        }
    }
}

}  // namespace squaresight

#pragma once
#include <cstdint>
#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "job/result.h"

namespace squaresight {

/// The photos of the jobs whose folders lie beside a job's own: those of the same shop. A folder
/// counts with a sheet `job.yaml` of another work order. Only files of the same size are read, and
/// no further than to the first difference.
class OtherJobs {
  public:
    explicit OtherJobs(const JobSheet& sheet);

    /// The work order of a job that has a photo of these bytes; nothing if none has.
    std::optional<std::string> job_with(std::string_view bytes) const;
    /// Whether any file has this size.
    bool has_size(std::uintmax_t bytes) const { return files_.contains(bytes); }

  private:
    std::string job_;
    std::multimap<std::uintmax_t, std::filesystem::path> files_;
};

/// Tells of each photo that another job has too (`photo-of-other-job`).
void check_other_jobs(const JobSheet& sheet, std::vector<SightingResult>& sightings);

}  // namespace squaresight

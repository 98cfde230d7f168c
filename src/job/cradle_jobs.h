#pragma once
#include <filesystem>
#include <string>
#include <vector>

#include "job/measure.h"

namespace squaresight {

/// Jobs that were made with one phone, board and cradle, joined into one.
struct JoinedJobs {
    MeasuredJob together;    ///< stages and photos are named with their job
    std::string last_photo;  ///< day of the newest photo, as 2026-03-05; empty where none tells
    int jobs = 0;
};

/// Measures each job and joins what its photos say. InputError as measure_job; and, naming the job,
/// where one is stopped, has no photos, stands twice, shares a photo with another, or was made with
/// another camera file, target or cradle than the first.
JoinedJobs join_jobs(const std::vector<std::filesystem::path>& sheets,
                     const Progress& progress = {});

}  // namespace squaresight

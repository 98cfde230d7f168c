#pragma once
#include <filesystem>
#include <vector>

#include "job/result.h"

namespace squaresight {

/// Writes for every photo that can be read a picture of what was found in it and what was rejected,
/// and why, into `folder` as JPEG; returns the files written.
std::vector<std::filesystem::path> write_explained_photos(const JobResult& result,
                                                          const std::filesystem::path& folder);

}  // namespace squaresight

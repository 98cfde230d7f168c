#pragma once
#include <filesystem>
#include <functional>
#include <string>

#include "job/result.h"

namespace squaresight {

/// Called as work goes on: what is being done, and how much of the whole is done (0 to 1).
using Progress = std::function<void(const std::string& what, double share)>;

/// Measures a job: reads the sheet and every file it names, finds the target in the photos,
/// adjusts, reduces tape-and-level, compares both and plans the corrections. InputError where
/// nothing could be computed: an unusable sheet or named file, or no readable photo and no
/// tape-and-level.
JobResult measure_job(const std::filesystem::path& sheet_file, const Progress& progress = {});

/// A photo as it was read: its facts, digest and size, and what was found in it.
using PhotoReader = std::function<PhotoResult(const SheetPhoto&, const Camera&, const Target&)>;

/// Reads a photo and searches it; where its size is not the camera's nothing is searched. Depends
/// on the bytes of the photo, camera and target alone. InputError as load_photo.
PhotoResult read_photo(const SheetPhoto& photo, const Camera& camera, const Target& target);

/// The same for a sheet that was read, wherever the files are that its paths lead to; photos come
/// from `reader`.
JobResult measure_sheet(const JobSheet& sheet, const Progress& progress = {},
                        const PhotoReader& reader = read_photo);

/// What the photos of a measured job say, ready for an adjustment. The job must name camera and
/// target.
MeasuredJob measured_job(const JobResult& result);

}  // namespace squaresight

#pragma once
#include <filesystem>
#include <string>

#include "job/result.h"

namespace squaresight::bay {

/// What the page shows of a measured job, as JSON: words and plain numbers, no markup. `key` tells
/// to which files it is an answer (answer_key); empty where they changed meanwhile.
std::string answer_json(const JobResult& result, const std::string& key);

/// Measures a job's sheet as far as it is filled in (photos that were searched before come from
/// `seen_folder`, bay/seen_photos.h), writes result, report and annotated photos
/// beside it as `measure` does, and returns the answer; where nothing could be computed an answer
/// with a `problem`. Opens photos that anyone may have sent: run it in a process of its own
/// (bay/confined.h).
std::string measured_answer(const std::filesystem::path& sheet_file,
                            const std::filesystem::path& seen_folder);

}  // namespace squaresight::bay

#pragma once
#include <filesystem>
#include <string>
#include <vector>

#include "job/result.h"

namespace squaresight {

/// The self-contained HTML report of a job (no network, prints on two pages). Annotated photos
/// are embedded small, as JPEG.
std::string report_html(const JobResult& result);

/// The same in plain words for a terminal, at most 100 columns, no colour.
std::string report_text(const JobResult& result);

/// Both methods side by side for every stage, for the reviewer's terminal (command `compare`).
std::string comparison_text(const JobResult& result);

/// Draws every photo with its corners into `folder` as JPEG; returns the files written.
std::vector<std::filesystem::path> write_annotated_photos(const JobResult& result,
                                                          const std::filesystem::path& folder);

/// The first line of a report: what to do now ("Turn screw 'side' 1 1/2 turns clockwise ...").
std::string do_this_line(const JobResult& result);

}  // namespace squaresight

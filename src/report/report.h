#pragma once
#include <filesystem>
#include <string>
#include <vector>

#include "job/result.h"

namespace squaresight {

/// What stands around a stored job: a reviewer's part of its page.
struct ReviewerNotes {
    std::string state;                    ///< "Waiting for a reviewer."
    std::vector<std::string> signatures;  ///< oldest first: who decided what, when, why
    std::vector<std::string> edits;       ///< what was changed: old, new, who, when, why
    std::vector<std::string> equipment;   ///< how old what it was measured with was
    std::vector<std::string> stored;      ///< how it lies in the store, and whether it still solves
};

/// The self-contained HTML report of a job (no network, prints on two pages). Annotated photos
/// are embedded small, as JPEG. With notes it is the reviewer's page of the job: their part stands
/// first, with what is still open and what both methods share.
std::string report_html(const JobResult& result, const ReviewerNotes* notes = nullptr);

/// A report of a job that its reviewer returned: that and why stands on top of it.
std::string returned_report(std::string report, const std::string& reviewer,
                            const std::string& reason);

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

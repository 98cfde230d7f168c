#pragma once
#include <string>
#include <vector>

namespace squaresight {

/// What a reviewer says of a job.
struct Signature {
    std::string job;
    std::string decision;  ///< accepted or returned
    std::string reviewer;  ///< code
    std::string reason;    ///< may be empty where nothing asks for one
    /// Hash of the entry that the reviewer saw; empty: whatever is the newest.
    std::string entry = {};
};

/// Where the review of a revision stands: "waiting", or what its newest signature says.
struct ReviewState {
    std::string decision = "waiting";
    std::string reviewer, reason;
    std::string headline = {};  ///< what stood on top; empty where the signature does not state it

    bool operator==(const ReviewState&) const = default;
};

/// Whether two codes are one person's: compared without case and outer spaces.
bool same_person(const std::string& code, const std::string& other);

/// What a signature is held against.
struct JobUnderReview {
    std::vector<std::string> technicians;  ///< of all revisions; empty codes where none was told
    /// What stands on top of the newest revision (job/headline.h); empty where none was kept.
    std::string headline;
};

/// InputError where a text is no single line of at most 500 characters; `flag` names it.
void require_line(const char* flag, const std::string& text);

/// InputError where the signature may not be given: a reviewer who measured any revision of the
/// job (same_person); acceptance of a job whose technician is not told; acceptance of what is not
/// done, or a return, without a reason; an unknown decision; a code or reason that is no single
/// line of at most 500 characters.
void check_signature(const Signature& signature, const JobUnderReview& job);

}  // namespace squaresight

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
};

/// What a signature is held against.
struct JobUnderReview {
    std::vector<std::string> technicians;  ///< of all revisions; empty codes where none was told
    int open_stops = 0;                    ///< findings of level stop in the newest revision
};

/// InputError where the signature may not be given: a reviewer who measured any revision of the
/// job (codes are compared without case and outer spaces); acceptance of a job whose technician is
/// not told; acceptance under a finding of level stop, or a return, without a reason; an unknown
/// decision; a code or reason that is no single line of at most 500 characters.
void check_signature(const Signature& signature, const JobUnderReview& job);

}  // namespace squaresight

#include "records/signature.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "job/headline.h"
#include "units/error.h"

namespace squaresight {
namespace {

constexpr std::size_t longest_text = 500;

std::string bare(const std::string& text) {
    const auto first = text.find_first_not_of(" \t");
    const auto last = text.find_last_not_of(" \t");
    std::string code = first == std::string::npos ? "" : text.substr(first, last - first + 1);
    std::transform(code.begin(), code.end(), code.begin(),
                   [](unsigned char letter) { return static_cast<char>(std::tolower(letter)); });
    return code;
}

}  // namespace

void require_line(const char* flag, const std::string& text) {
    const bool control = std::any_of(text.begin(), text.end(), [](unsigned char letter) {
        return letter < 0x20 || letter == 0x7f;
    });
    if (control || text.size() > longest_text) {
        throw InputError(flag, "is not one line of at most 500 characters", "write it shorter");
    }
}

bool same_person(const std::string& code, const std::string& other) {
    return bare(code) == bare(other);
}

void check_signature(const Signature& signature, const JobUnderReview& job) {
    const std::string where = "job " + signature.job;
    const std::string reviewer = bare(signature.reviewer);
    const bool accepts = signature.decision == "accepted";
    require_line("--reviewer", signature.reviewer);
    require_line("--reason", signature.reason);
    if (!accepts && signature.decision != "returned") {
        throw InputError("--decision", fmt::format("'{}' is no decision", signature.decision),
                         "give accepted or returned");
    }
    if (reviewer.empty()) {
        throw InputError("--reviewer", "is empty", "give the reviewer's code");
    }
    for (const auto& technician : job.technicians) {
        if (same_person(technician, reviewer)) {
            throw InputError(
                where,
                fmt::format("was measured or edited by {}, who cannot review it", technician),
                "have another person review it");
        }
        if (accepts && bare(technician).empty()) {
            throw InputError(where,
                             "does not tell who measured it, so it cannot be accepted as reviewed "
                             "by another person",
                             "return it, write 'technician:' on the job sheet and add it again");
        }
    }
    if (bare(signature.reason).empty() && !accepts) {
        throw InputError(where, "is returned without a reason",
                         "say what is to be done, with --reason");
    }
    if (bare(signature.reason).empty() && job.headline != headline_text(Headline::done)) {
        throw InputError(where,
                         job.headline.empty()
                             ? std::string("does not tell whether it was done: it was stored by an "
                                           "earlier version")
                             : fmt::format("is not done; on top of it stands '{}'", job.headline),
                         "return it, or say with --reason why it stands all the same");
    }
}

}  // namespace squaresight

#pragma once
#include <ostream>

#include "records/store.h"

namespace squaresight {

enum class ExportFormat { csv, json };

/// Writes one row for each stage: the columns of records/figures.h, then `review` (waiting,
/// accepted, returned), `reviewer` and `review_reason` of the revision's newest signature. CSV as
/// RFC 4180 has it, with a header; JSON as squaresight/records-export/1 (docs/records.md).
void export_records(Store& store, ExportFormat format, bool all_revisions, std::ostream& out);

/// Where the review of a revision stands: "waiting", or the newest signature's decision.
struct ReviewState {
    std::string decision = "waiting";
    std::string reviewer, reason;
};

ReviewState review_state(const Signatures& newest, const std::string& job, int revision);

}  // namespace squaresight

#pragma once
#include <ostream>

#include "records/store.h"

namespace squaresight {

enum class ExportFormat { csv, json };

/// Writes one row for each stage: the columns of records/figures.h, then `review` (waiting,
/// accepted, returned), `reviewer` and `review_reason` of the revision's newest signature. CSV as
/// RFC 4180 has it, with a header; JSON as squaresight/records-export/1 (docs/records.md).
void export_records(Store& store, ExportFormat format, bool all_revisions, std::ostream& out);

}  // namespace squaresight

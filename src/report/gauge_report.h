#pragma once
#include <nlohmann/json.hpp>
#include <string>

#include "review/gauge_file.h"

namespace squaresight {

/// The page of a gauge study, as review_html (report/review_report.h).
std::string gauge_html(const GaugeStudyFile& file, const GaugeStudy& study);

/// Its tables, as review_tables.
nlohmann::ordered_json gauge_tables(const GaugeStudyFile& file, const GaugeStudy& study);

/// Its sentences for a terminal.
std::string gauge_text(const GaugeStudyFile& file, const GaugeStudy& study);

}  // namespace squaresight

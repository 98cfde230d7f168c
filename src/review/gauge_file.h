#pragma once
#include <filesystem>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "agreement/gauge_study.h"

namespace squaresight {

/// Readings of a crossed gauge study (schema squaresight/gauge-study/1; docs/reviewing.md).
struct GaugeStudyFile {
    std::string name;
    std::string quantity;                       ///< "side-to-side aim"
    std::optional<double> tolerance_width_deg;  ///< whole width, twice the limit either side
    std::vector<GaugeReading> readings;         ///< deg
    std::vector<std::string> left_out{};        ///< of stored measurements: what, in sentences
};

/// InputError as in units/entry.h, and where a part or appraiser has no readings.
GaugeStudyFile load_gauge_study(const std::filesystem::path& file);

/// The study's figures (schema squaresight/gauge-result/1), ending in a newline; of its charts the
/// tables that the page shows (gauge_tables in report/review_report.h).
std::string gauge_json(const GaugeStudyFile& file, const GaugeStudy& study,
                       const nlohmann::ordered_json& tables);

}  // namespace squaresight

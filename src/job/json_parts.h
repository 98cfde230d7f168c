#pragma once
#include <cmath>
#include <nlohmann/json.hpp>
#include <optional>
#include <vector>

#include "job/result.h"

/// Pieces that every JSON of the program writes alike.
namespace squaresight {

using Json = nlohmann::ordered_json;

/// JSON has no infinity and no NaN: such a number is null.
inline Json number_json(double value) { return std::isfinite(value) ? Json(value) : Json(nullptr); }

inline Json number_json(const std::optional<double>& value) {
    return value ? number_json(*value) : Json(nullptr);
}

inline Json findings_json(const Findings& findings) {
    Json list = Json::array();
    for (const auto& finding : findings) {
        list.push_back(
            {{"level", level_text(finding.level)}, {"code", finding.code}, {"text", finding.text}});
    }
    return list;
}

inline Json budget_json(const std::vector<BudgetLine>& budget) {
    Json list = Json::array();
    for (const auto& line : budget) {
        list.push_back({{"source", line.source},
                        {"yaw_deg", number_json(line.yaw_deg)},
                        {"pitch_deg", number_json(line.pitch_deg)}});
    }
    return list;
}

}  // namespace squaresight

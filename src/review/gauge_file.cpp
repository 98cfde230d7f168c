#include "review/gauge_file.h"

#include <cmath>
#include <nlohmann/json.hpp>

#include "units/entry.h"

namespace squaresight {
namespace {

using Json = nlohmann::ordered_json;

constexpr double widest_deg = 90;

Json value_json(const WithInterval& value) {
    const auto number = [](double x) { return std::isfinite(x) ? Json(x) : Json(nullptr); };
    return {{"value", number(value.value)},
            {"interval_95", {number(value.interval_95.low), number(value.interval_95.high)}}};
}

Json source_json(const GaugeSource& source) {
    Json json{{"standard_deviation_deg", value_json(source.standard_deviation)},
              {"percent_of_variation", value_json(source.percent_of_variation)},
              {"percent_of_variance", source.percent_of_variance}};
    if (source.percent_of_tolerance) {
        json["percent_of_tolerance"] = value_json(*source.percent_of_tolerance);
    }
    return json;
}

Json result_json_of(const GaugeResult& result) {
    return {{"repeatability", source_json(result.repeatability)},
            {"reproducibility", source_json(result.reproducibility)},
            {"gauge", source_json(result.gauge)},
            {"part", source_json(result.part)},
            {"total", source_json(result.total)},
            {"distinct_categories", result.distinct_categories},
            {"distinct_categories_unrounded", value_json(result.distinct_categories_unrounded)}};
}

Json row_json(const AnovaRow& row) {
    return {{"degrees_of_freedom", row.degrees_of_freedom},
            {"sum_of_squares", row.sum_of_squares},
            {"f", row.f},
            {"p", row.p}};
}

}  // namespace

GaugeStudyFile load_gauge_study(const std::filesystem::path& file) {
    const Entry root = Entry::load(file, "squaresight/gauge-study/1");
    root.expect_keys({"schema", "name", "quantity", "tolerance", "readings"});
    GaugeStudyFile study;
    study.name = root.at("name").text();
    study.quantity = root.at("quantity").text();
    if (const auto tolerance = root.find("tolerance")) {
        study.tolerance_width_deg = 2 * tolerance->angle_deg(1e-6, widest_deg);
    }
    for (const auto& item : root.at("readings").list()) {
        item.expect_keys({"part", "appraiser", "values"});
        const std::string part = item.at("part").text();
        const std::string appraiser = item.at("appraiser").text();
        for (const auto& value : item.at("values").list()) {
            study.readings.push_back({part, appraiser, value.angle_deg(-widest_deg, widest_deg)});
        }
    }
    return study;
}

std::string gauge_json(const GaugeStudyFile& file, const GaugeStudy& study, const Json& tables) {
    const Json json{{"schema", "squaresight/gauge-result/1"},
                    {"name", file.name},
                    {"quantity", file.quantity},
                    {"left_out", file.left_out},
                    {"parts", study.anova.parts},
                    {"appraisers", study.anova.appraisers},
                    {"trials", study.anova.trials},
                    {"interaction_kept", study.anova.interaction_kept},
                    {"interaction_kept_up_to_p", interaction_kept_up_to_p},
                    {"anova",
                     {{"part", row_json(study.anova.part)},
                      {"appraiser", row_json(study.anova.appraiser)},
                      {"interaction", row_json(study.anova.interaction)},
                      {"repeatability", row_json(study.anova.repeatability)}}},
                    {"by_anova", result_json_of(study.by_anova)},
                    {"by_ranges", result_json_of(study.by_ranges)},
                    {"tables", tables}};
    return json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace squaresight

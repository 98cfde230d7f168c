#include "job/json_parts.h"
#include "job/words.h"
#include "plan/plan.h"

namespace squaresight {
namespace {

Json uncertainty_json(double u_deg, double tolerance_deg) {
    return {{"standard_uncertainty", number_json(u_deg)},
            {"expanded_95", number_json(2 * u_deg)},
            {"tolerance", tolerance_deg},
            {"can_decide", !cannot_decide(u_deg, tolerance_deg)}};
}

Json change_json(const PredictedAim& change) {
    return {{"yaw_left_deg", {{"standard_uncertainty", number_json(change.yaw_deg)}}},
            {"pitch_up_deg", {{"standard_uncertainty", number_json(change.pitch_deg)}}}};
}

Json power_json(const DecisionPower& power, double tolerance_deg,
                const std::vector<double>& more_errors_deg) {
    std::vector<double> errors;
    for (const double part : {0.0, 0.25, 0.5, 0.75, 1.25, 1.5, 2.0}) {
        errors.push_back(part * tolerance_deg);
    }
    errors.insert(errors.end(), more_errors_deg.begin(), more_errors_deg.end());
    Json points = Json::array();
    for (const double error : errors) {
        const CallChances chances = power.at(error);
        points.push_back({{"true_error_deg", error},
                          {"in_tolerance", chances.in_tolerance},
                          {"out_of_tolerance", chances.out_of_tolerance},
                          {"too_close_to_call", chances.too_close_to_call},
                          {"right", chances.right}});
    }
    return {{"surely_in_to_deg", number_json(power.surely_in_to_deg())},
            {"surely_out_from_deg", number_json(power.surely_out_from_deg())},
            {"points", points}};
}

Json readings_json(const std::vector<CheckedReading>& readings) {
    Json list = Json::array();
    for (const auto& one : readings) {
        list.push_back({{"name", one.name},
                        {"value", number_json(one.value)},
                        {"unit", one.unit},
                        {"redundancy", number_json(one.redundancy)},
                        {"findable", number_json(one.findable)}});
    }
    return list;
}

Json alternatives_json(const std::vector<Alternative>& rows) {
    Json list = Json::array();
    for (const auto& row : rows) {
        list.push_back({{"board", row.board},
                        {"distance_mm", row.distance_mm},
                        {"line_base_mm", row.line_base_mm > 0 ? Json(row.line_base_mm) : Json()},
                        {"photos", row.photos},
                        {"planned", row.planned},
                        {"yaw_deg", row.aim ? number_json(row.aim->yaw_deg) : Json()},
                        {"pitch_deg", row.aim ? number_json(row.aim->pitch_deg) : Json()},
                        {"problem", row.problem.empty() ? Json() : Json(row.problem)}});
    }
    return list;
}

Json improvement_json(const Improvement& one) {
    Json steps = Json::array();
    for (const auto& step : one.steps) {
        steps.push_back(with_plain_spaces(step));
    }
    return {{"what", with_plain_spaces(one.what)},
            {"steps", steps},
            {"effort", one.effort},
            {"yaw_deg", number_json(one.aim.yaw_deg)},
            {"pitch_deg", number_json(one.aim.pitch_deg)},
            {"reaches", one.reaches},
            {"gain", number_json(one.gain)}};
}

Json floor_json(const Floor& floor) {
    const FloorSizes sizes = floor_sizes(floor);
    Json tapes = Json::array();
    for (const auto& tape : sizes.tapes) {
        tapes.push_back({{"from", tape.from}, {"to", tape.to}, {"length_mm", tape.length_mm}});
    }
    return {{"line_base_mm", floor.line_base_mm > 0 ? Json(floor.line_base_mm) : Json()},
            {"smallest_base_mm", number_json(floor.smallest_base_mm)},
            {"ample_base_mm", number_json(floor.ample_base_mm)},
            {"front_mark_behind_mm", sizes.front_mark_behind_mm},
            {"string_mm", sizes.string_mm},
            {"rectangle_mm", {sizes.rectangle_length_mm, sizes.rectangle_width_mm}},
            {"diagonal_mm", sizes.diagonal_mm},
            {"tapes", tapes},
            {"eighth_inch_at_points_deg", number_json(sizes.points_eighth_deg)}};
}

}  // namespace

std::string plan_json(const BayPlan& plan, const std::vector<double>& true_errors_deg) {
    const Mount& mount = plan.bay.mount;
    Findings findings = plan.bay.assumed;
    findings.insert(findings.end(), plan.stage.findings.begin(), plan.stage.findings.end());
    Json improvements = Json::array();
    for (const auto& one : plan.improvements) {
        improvements.push_back(improvement_json(one));
    }
    const Improvement* cheapest = plan.cheapest();
    const Json json{
        {"schema", "squaresight/plan/1"},
        {"program", std::string("squaresight ") + SQUARESIGHT_VERSION},
        {"bay", plan.bay.name},
        {"board", sheet_words(plan.bay.target)},
        {"distance_mm", plan.bay.setup.readings.distance_mm.value},
        {"photos",
         {{"upright", plan.bay.upright_photos},
          {"inverted", plan.bay.inverted_photos},
          {"quarter", plan.bay.quarter_photos}}},
        {"corners", plan.corners},
        {"pixels_per_square", number_json(plan.pixels_per_square)},
        {"yaw_left_deg", uncertainty_json(plan.aim.yaw_deg, mount.tolerance_yaw_deg)},
        {"pitch_up_deg", uncertainty_json(plan.aim.pitch_deg, mount.tolerance_pitch_deg)},
        {"change", change_json(plan.change)},
        {"change_upright", change_json(plan.change_upright)},
        {"decision",
         {{"yaw", power_json(plan.yaw_power(), mount.tolerance_yaw_deg, true_errors_deg)},
          {"pitch", power_json(plan.pitch_power(), mount.tolerance_pitch_deg, {})}}},
        {"readings", readings_json(plan.stage.readings)},
        {"budget", budget_json(plan.stage.budget)},
        {"comparison",
         {{"boards", alternatives_json(plan.boards)},
          {"lines", alternatives_json(plan.lines)},
          {"photos", alternatives_json(plan.photos)}}},
        {"improvements", improvements},
        {"cheapest", cheapest != nullptr ? improvement_json(*cheapest) : Json()},
        {"floor", floor_json(plan.floor)},
        {"findings", findings_json(findings)}};
    return json.dump(2) + "\n";
}

}  // namespace squaresight

#include <Eigen/Core>

#include "calibrate/phone_check.h"
#include "job/json_parts.h"

namespace squaresight {
namespace {

constexpr const char* schema = "squaresight/phone-check/1";
constexpr std::array<const char*, Lens::parameter_count> parameter_names{
    "fx", "fy", "cx", "cy", "k1", "k2", "p1", "p2", "k3"};

Json lens_json(const Camera& camera) {
    Json lens = Json::object();
    const auto values = camera.lens.parameters();
    for (std::size_t i = 0; i < parameter_names.size(); ++i) {
        const auto at = static_cast<Eigen::Index>(i);
        lens[parameter_names[i]] = {
            {"value", number_json(values[i])},
            {"standard_uncertainty", number_json(std::sqrt(camera.covariance(at, at)))}};
    }
    return lens;
}

Json photos_json(const std::vector<PhotoUse>& photos) {
    Json list = Json::array();
    for (const auto& use : photos) {
        Json entry{{"file", use.file}, {"used", use.left_out.empty()}};
        if (!use.left_out.empty()) {
            entry["left_out"] = use.left_out;
        } else {
            entry["board"] = use.board;
            entry["corners"] = use.corners;
            entry["taped"] = use.taped;
            entry["distance_mm"] = number_json(use.distance_mm);
            entry["tilt_deg"] = number_json(use.tilt_deg);
            entry["rms_px"] = number_json(use.rms_px);
            entry["held_out_rms_px"] = number_json(use.held_out_rms_px);
        }
        list.push_back(std::move(entry));
    }
    return list;
}

Json boards_json(const PhoneCheck& check) {
    Json list = Json::array();
    for (std::size_t b = 0; b < check.data.boards.size(); ++b) {
        const SheetInputs& sheet = check.solution.sheets[b];
        list.push_back({{"name", check.data.boards[b].name},
                        {"printed_across", number_json(sheet[0])},
                        {"printed_down", number_json(sheet[1])},
                        {"bow_across_mm", number_json(sheet[2])},
                        {"bow_down_mm", number_json(sheet[3])},
                        {"twist_mm", number_json(sheet[4])}});
    }
    return list;
}

Json aim_json(const PredictedAim& aim) {
    return {{"yaw_deg", number_json(aim.yaw_deg)}, {"pitch_deg", number_json(aim.pitch_deg)}};
}

Json verdict_json(const PhoneVerdict& verdict) {
    return {{"fit", verdict.fit},
            {"text", verdict.words},
            {"distance_mm", number_json(verdict.distance_mm)},
            {"standard_uncertainty", aim_json(verdict.aim)},
            {"from_lens", aim_json(verdict.from_lens)},
            {"limit", aim_json(verdict.limit)},
            {"cost_of_no_tape", verdict.cost_of_no_tape}};
}

Json still_json(const std::optional<StillScatter>& still) {
    if (!still) {
        return nullptr;
    }
    return {{"photos", still->photos},
            {"left_out", still->left_out},
            {"jitter_deg", number_json(still->jitter_deg)},
            {"standard_uncertainty_deg", number_json(still->standard_uncertainty_deg)},
            {"lower_95_deg", number_json(still->lower_95_deg)},
            {"upper_95_deg", number_json(still->upper_95_deg)}};
}

Json tapes_json(const PhoneCheck& check) {
    Json list = Json::array();
    for (std::size_t t = 0; t < check.data.tapes.size(); ++t) {
        list.push_back({{"length_mm", number_json(check.data.tapes[t].length_mm)},
                        {"found_minus_taped_mm", number_json(check.solution.tape_misfits_mm[t])}});
    }
    return list;
}

Json map_json(const PhoneCheck& check) {
    constexpr int columns = 8;
    constexpr int rows = 6;
    const Eigen::MatrixXd map = pointing_map_deg(check, columns, rows);
    Json list = Json::array();
    for (int row = 0; row < rows; ++row) {
        Json line = Json::array();
        for (int column = 0; column < columns; ++column) {
            line.push_back(number_json(map(row, column)));
        }
        list.push_back(std::move(line));
    }
    return list;
}

}  // namespace

std::string phone_check_json(const PhoneCheck& check) {
    const Camera& camera = check.camera;
    const bool used_tapes = !check.data.tapes.empty();
    Json json{{"schema", schema},
              {"name", camera.name},
              {"date", camera.date},
              {"image", {{"width", camera.width_px}, {"height", camera.height_px}}},
              {"verdict", verdict_json(check.verdict)},
              {"next_photo", check.next ? Json(check.next->words) : Json(nullptr)},
              {"lens", lens_json(camera)},
              {"further_terms", check.model.further_terms},
              {"rms_px", number_json(check.solution.rms_px())},
              {"held_out_rms_px", number_json(check.held_out_rms_px)},
              {"picture_covered", number_json(check.seen_share)},
              {"focus",
               {{"distance_mm", number_json(check.solution.focus.distance_mm)},
                {"taped", used_tapes},
                {"lens_mm", number_json(check.solution.focus.lens_mm)},
                {"lens_u_mm", number_json(check.solution.focus.standard_uncertainty_mm)}}},
              {"pointing_jitter_deg", number_json(camera.pointing_jitter_deg)},
              {"still", still_json(check.still)},
              {"lens_sag_deg", number_json(camera.lens_sag_deg)},
              {"sag_found_deg", number_json(check.solution.sag_deg)},
              {"boards", boards_json(check)},
              {"tapes", tapes_json(check)},
              {"photos", photos_json(check.photos)},
              {"pointing_u_deg", map_json(check)},
              {"findings", findings_json(check.findings)}};
    return json.dump(2) + "\n";
}

}  // namespace squaresight

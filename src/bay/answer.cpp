#include "bay/answer.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "adjust/stage_report.h"
#include "bay/seen_photos.h"
#include "job/closing_days.h"
#include "job/headline.h"
#include "job/json_parts.h"
#include "job/measure.h"
#include "job/words.h"
#include "photo/photo.h"
#include "report/report.h"
#include "report/summary.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

constexpr std::uintmax_t largest_sheet_bytes = 1 << 20;

Json axis_json(const JobResult& result, const SightingResult& sighting, Axis axis) {
    const auto answer = axis_answer(result, sighting, axis);
    if (!answer) {
        return nullptr;
    }
    return {{"axis", axis == Axis::yaw ? "yaw" : "pitch"},
            {"mark", static_cast<int>(answer->mark)},
            {"points", answer->points},
            {"should_point", answer->should_point},
            {"give_or_take", answer->give_or_take},
            {"call", answer->call},
            {"sure", answer->sure}};
}

Json axes_json(const JobResult& result, const SightingResult& sighting) {
    Json list = Json::array();
    for (const Axis axis : {Axis::yaw, Axis::pitch}) {
        Json one = axis_json(result, sighting, axis);
        if (!one.is_null()) {
            list.push_back(std::move(one));
        }
    }
    return list;
}

Json turns_json(const JobResult& result, const SightingResult& sighting) {
    Json list = Json::array();
    if (!turns_wanted(result)) {
        return list;
    }
    for (const auto& one : by_size(*sighting.corrections)) {
        list.push_back({{"screw", one.screw}, {"turns", one.turns}, {"clockwise", one.clockwise}});
    }
    return list;
}

/// For an angle that is too close to call: the one thing that would do most to settle it.
Json settles_json(const SightingResult& sighting) {
    Json list = Json::array();
    if (!answered_by_photos(sighting)) {
        return list;
    }
    const VisionResult& vision = *sighting.vision;
    const auto add = [&](const Verdict& verdict, Axis axis, double BudgetLine::*share) {
        const auto& budget = vision.stage.budget;
        const auto largest = std::max_element(
            budget.begin(), budget.end(),
            [&](const BudgetLine& a, const BudgetLine& b) { return a.*share < b.*share; });
        if (verdict.call == Call::too_close_to_call && largest != budget.end()) {
            list.push_back({{"axis", axis == Axis::yaw ? "yaw" : "pitch"},
                            {"text", in_shop_words(what_improves(largest->source))}});
        }
    };
    add(vision.verdict.yaw, Axis::yaw, &BudgetLine::yaw_deg);
    add(vision.verdict.pitch, Axis::pitch, &BudgetLine::pitch_deg);
    return list;
}

/// Every stage in a line: where it pointed, and what was turned after it.
Json stages_json(const JobResult& result) {
    Json list = Json::array();
    for (std::size_t i = 0; i < result.sightings.size(); ++i) {
        Json stage{{"name", stage_words(result, i)},
                   {"axes", axes_json(result, result.sightings[i])},
                   {"turned", Json::array()}};
        for (const auto& [screw, turns] : result.sheet.sightings[i].turned_clockwise) {
            stage["turned"].push_back(
                {{"screw", screw}, {"turns", std::abs(turns)}, {"clockwise", turns > 0}});
        }
        list.push_back(std::move(stage));
    }
    return list;
}

Json placed_json(const JobResult& result) {
    Json list = Json::array();
    for (const auto& placed : placed_findings(result)) {
        list.push_back({{"level", level_words(placed.finding.level)},
                        {"code", placed.finding.code},
                        {"text", placed.finding.text},
                        {"stages", placed.stages}});
    }
    return list;
}

/// Photos that the answer does not use, by name.
Json set_aside_json(const JobResult& result) {
    Json list = Json::array();
    for (const auto& sighting : result.sightings) {
        for (const auto& photo : sighting.photos) {
            if (!photo.serves) {
                list.push_back(photo.path.filename().string());
            }
        }
    }
    return list;
}

/// "2026-03-05" of the newest photo; empty where none tells.
std::string last_photo_day(const JobResult& result) {
    std::string newest;
    for (const auto& sighting : result.sightings) {
        for (const auto& photo : sighting.photos) {
            newest = std::max(newest, taken_day(photo.facts));
        }
    }
    return newest;
}

/// Stages at whose end nothing was measured yet.
void drop_unmeasured(JobSheet& sheet) {
    const auto is_empty = [](const SheetSighting& sighting) {
        return sighting.photos.empty() && !sighting.tape_and_level;
    };
    while (!sheet.sightings.empty() && is_empty(sheet.sightings.back())) {
        sheet.sightings.pop_back();
    }
    if (sheet.sightings.empty()) {
        throw InputError("Nothing was measured yet: take the photos, or tape and level");
    }
}

/// Writes what `measure` writes.
void write_results(const JobResult& result) {
    const auto& file = result.sheet.file;
    const auto beside = [&](const char* ending) {
        return file.parent_path() / (file.stem().string() + ending);
    };
    write_file(beside(".result.json"), result_json(result));
    write_file(beside(".report.html"), report_html(result));
    write_annotated_photos(result, beside(".photos"));
}

}  // namespace

std::string answer_json(const JobResult& result, const std::string& key) {
    const auto& last = result.sightings.back();
    const FirstLine first = first_line(result);
    const Instruction now = instruction_of(result);
    const Json answer{
        {"key", key},
        {"first",
         {{"mark", static_cast<int>(first.mark)},
          {"heading", first.heading},
          {"text", first.text}}},
        {"stage", stage_words(result, result.sightings.size() - 1)},
        {"action", action_text(now.action)},
        {"yes", answer_is_yes(result)},
        {"ready", now.action == Action::done},
        {"locked", last.stage == "as-left"},
        {"axes", axes_json(result, last)},
        {"turns", turns_json(result, last)},
        {"settles", settles_json(last)},
        {"stages", stages_json(result)},
        {"sources", source_sentences(result)},
        {"date", last_photo_day(result)},
        {"advice", turning_advice(result, last)},
        {"sensor", sensor_sentences(last)},
        {"agreement", agreement_sentences(last)},
        {"service", service_limit_sentences(result, last)},
        {"responses", response_sentences(result)},
        {"open", open_items(result)},
        {"unready", unready_items(result)},
        {"findings", placed_json(result)},
        {"set_aside", set_aside_json(result)},
        {"headline", headline_text(headline_of(result))},
    };
    return answer.dump() + "\n";
}

std::string measured_answer(const std::filesystem::path& sheet_file,
                            const std::filesystem::path& seen_folder) {
    try {
        JobSheet sheet =
            parse_begun_job_sheet(read_file(sheet_file, largest_sheet_bytes), sheet_file);
        drop_unmeasured(sheet);
        const std::string before = answer_key(input_files(sheet));
        const SeenPhotos seen(seen_folder, sheet);
        const JobResult result = measure_sheet(
            sheet, {}, [&](const SheetPhoto& photo, const Camera& camera, const Target& target) {
                return seen.read(photo, camera, target);
            });
        write_results(result);
        const std::string after = answer_key(result.inputs);
        return answer_json(result, after == before ? after : "");
    } catch (const InputError& error) {
        return Json{{"problem", error.what()}}.dump() + "\n";
    }
}

}  // namespace squaresight::bay

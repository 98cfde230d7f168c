#include "bay/answer.h"

#include <fmt/format.h>

#include <vector>

#include "bay/seen_photos.h"
#include "job/json_parts.h"
#include "job/measure.h"
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
    for (const auto& one : sighting.corrections->corrections) {
        list.push_back({{"screw", one.screw}, {"turns", one.turns}, {"clockwise", one.clockwise}});
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

/// Findings whose text begins with the photo's name are about it.
std::string advice_of(const SightingResult& sighting, const PhotoResult& photo) {
    std::string advice;
    for (const auto& finding : sighting.all_findings()) {
        if (finding.text.find(photo.file) != std::string::npos) {
            advice += (advice.empty() ? "" : " ") + finding.text;
        }
    }
    return advice;
}

/// The annotated picture of a photo: they are numbered by stage and photo. Empty where the photo
/// could not be read.
std::string drawn_of(const std::vector<std::string>& drawn, std::size_t stage, std::size_t photo,
                     const std::string& stage_name) {
    const std::string start = fmt::format("{}-{}-{}-", stage + 1, stage_name, photo + 1);
    for (const auto& name : drawn) {
        if (name.compare(0, start.size(), start) == 0) {
            return name;
        }
    }
    return "";
}

Json photos_json(const JobResult& result, const std::vector<std::string>& drawn) {
    Json list = Json::array();
    for (std::size_t i = 0; i < result.sightings.size(); ++i) {
        const auto& sighting = result.sightings[i];
        for (std::size_t k = 0; k < sighting.photos.size(); ++k) {
            const auto& photo = sighting.photos[k];
            list.push_back({{"file", photo.file},
                            {"drawn", drawn_of(drawn, i, k, sighting.stage)},
                            {"found", !photo.sight.corners.empty()},
                            {"words", photo_words(sighting, photo)},
                            {"advice", advice_of(sighting, photo)}});
        }
    }
    return list;
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

/// Writes what `measure` writes; returns the annotated photos' names.
std::vector<std::string> write_results(const JobResult& result) {
    const auto& file = result.sheet.file;
    const auto beside = [&](const char* ending) {
        return file.parent_path() / (file.stem().string() + ending);
    };
    write_file(beside(".result.json"), result_json(result));
    write_file(beside(".report.html"), report_html(result));
    std::vector<std::string> drawn;
    for (const auto& picture : write_annotated_photos(result, beside(".photos"))) {
        drawn.push_back(picture.filename().string());
    }
    return drawn;
}

}  // namespace

std::string answer_json(const JobResult& result, const std::string& version,
                        const std::vector<std::string>& drawn) {
    const auto& last = result.sightings.back();
    const FirstLine first = first_line(result);
    const Json answer{
        {"version", version},
        {"first",
         {{"mark", static_cast<int>(first.mark)},
          {"heading", first.heading},
          {"text", first.text}}},
        {"stage", stage_words(result, result.sightings.size() - 1)},
        {"yes", answer_is_yes(result)},
        {"locked", last.stage == "as-left"},
        {"axes", axes_json(result, last)},
        {"turns", turns_json(result, last)},
        {"advice", turning_advice(result, last)},
        {"agreement", agreement_sentences(last)},
        {"service", service_limit_sentences(last)},
        {"responses", response_sentences(result)},
        {"open", open_items(result)},
        {"unready", unready_items(result)},
        {"photos", photos_json(result, drawn)},
        {"findings", placed_json(result)},
    };
    return answer.dump() + "\n";
}

std::string measured_answer(const std::filesystem::path& sheet_file,
                            const std::filesystem::path& seen_folder) {
    const std::string text = read_file(sheet_file, largest_sheet_bytes);
    const std::string version = sha256_hex(text);
    try {
        JobSheet sheet = parse_begun_job_sheet(text, sheet_file);
        drop_unmeasured(sheet);
        const SeenPhotos seen(seen_folder, sheet);
        const JobResult result = measure_sheet(
            sheet, {}, [&](const SheetPhoto& photo, const Camera& camera, const Target& target) {
                return seen.read(photo, camera, target);
            });
        const auto drawn = write_results(result);
        return answer_json(result, version, drawn);
    } catch (const InputError& error) {
        return Json{{"version", version}, {"problem", error.what()}}.dump() + "\n";
    }
}

}  // namespace squaresight::bay

#include "bay/seen_photos.h"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "bay/uploads.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

using Json = nlohmann::json;

constexpr std::uintmax_t largest_named_file_bytes = 16u << 20;
constexpr std::uintmax_t largest_note_bytes = 16u << 20;

template <class Value>
void put(Json& json, const char* key, const std::optional<Value>& value) {
    if (value) {
        json[key] = *value;
    }
}

template <class Value>
void take(const Json& json, const char* key, std::optional<Value>& value) {
    if (json.contains(key)) {
        value = json.at(key).get<Value>();
    }
}

Json json_of(const PhotoFacts& facts) {
    Json json{{"has_metadata", facts.has_metadata},
              {"make", facts.identity.make},
              {"model", facts.identity.model},
              {"lens", facts.identity.lens},
              {"taken_at", facts.taken_at}};
    put(json, "focal_length_mm", facts.identity.focal_length_mm);
    put(json, "focal_length_35mm_mm", facts.identity.focal_length_35mm_mm);
    put(json, "orientation", facts.orientation);
    put(json, "digital_zoom", facts.digital_zoom);
    put(json, "utc_offset_min", facts.utc_offset_min);
    put(json, "stated_width_px", facts.stated_width_px);
    put(json, "stated_height_px", facts.stated_height_px);
    return json;
}

PhotoFacts facts_of(const Json& json) {
    PhotoFacts facts;
    facts.has_metadata = json.at("has_metadata");
    facts.identity.make = json.at("make");
    facts.identity.model = json.at("model");
    facts.identity.lens = json.at("lens");
    facts.taken_at = json.at("taken_at");
    take(json, "focal_length_mm", facts.identity.focal_length_mm);
    take(json, "focal_length_35mm_mm", facts.identity.focal_length_35mm_mm);
    take(json, "orientation", facts.orientation);
    take(json, "digital_zoom", facts.digital_zoom);
    take(json, "utc_offset_min", facts.utc_offset_min);
    take(json, "stated_width_px", facts.stated_width_px);
    take(json, "stated_height_px", facts.stated_height_px);
    return facts;
}

Json json_of(const Sight& sight) {
    Json corners = Json::array();
    for (const auto& corner : sight.corners) {
        const auto& c = corner.covariance_px2;
        corners.push_back(
            {corner.index, corner.pixel.x(), corner.pixel.y(), c(0, 0), c(0, 1), c(1, 0), c(1, 1)});
    }
    Json unidentified = Json::array();
    for (const auto& pixel : sight.unidentified_px) {
        unidentified.push_back({pixel.x(), pixel.y()});
    }
    return {{"corners", corners},
            {"unidentified", unidentified},
            {"markers_read", sight.markers_read},
            {"pixels_per_square", sight.pixels_per_square},
            {"problem", static_cast<int>(sight.problem)},
            {"advice", sight.advice}};
}

Sight sight_of(const Json& json) {
    Sight sight;
    for (const auto& row : json.at("corners")) {
        Corner corner;
        corner.index = row.at(0);
        corner.pixel = {row.at(1).get<double>(), row.at(2).get<double>()};
        corner.covariance_px2 << row.at(3).get<double>(), row.at(4).get<double>(),
            row.at(5).get<double>(), row.at(6).get<double>();
        sight.corners.push_back(corner);
    }
    for (const auto& pixel : json.at("unidentified")) {
        sight.unidentified_px.emplace_back(pixel.at(0).get<double>(), pixel.at(1).get<double>());
    }
    sight.markers_read = json.at("markers_read");
    sight.pixels_per_square = json.at("pixels_per_square");
    sight.problem = static_cast<SightProblem>(json.at("problem").get<int>());
    sight.advice = json.at("advice");
    return sight;
}

/// This program, as told apart from another build of it.
std::string program_mark() {
    const auto program = std::filesystem::read_symlink("/proc/self/exe");
    return fmt::format("{} {}", std::filesystem::file_size(program),
                       std::filesystem::last_write_time(program).time_since_epoch().count());
}

}  // namespace

SeenPhotos::SeenPhotos(std::filesystem::path folder, const JobSheet& sheet)
    : folder_(std::move(folder)), searched_by_(program_mark()) {
    for (const auto& named : {sheet.camera_file, sheet.target_file}) {
        searched_by_ += ' ';
        if (named) {
            searched_by_ += sha256_hex(read_file(*named, largest_named_file_bytes));
        }
    }
}

std::string SeenPhotos::key(const SheetPhoto& photo) const {
    return sha256_hex(sha256_hex(read_file(photo.path, largest_photo_bytes)) + searched_by_);
}

std::filesystem::path SeenPhotos::file(const SheetPhoto& photo) const {
    return folder_ / (key(photo) + ".json");
}

std::optional<PhotoResult> SeenPhotos::kept(const SheetPhoto& photo) const {
    const auto note = file(photo);
    if (!std::filesystem::exists(note)) {
        return std::nullopt;
    }
    try {
        const Json json = Json::parse(read_file(note, largest_note_bytes));
        return PhotoResult{photo.file,
                           photo.path,
                           facts_of(json.at("facts")),
                           json.at("digest"),
                           json.at("width_px"),
                           json.at("height_px"),
                           sight_of(json.at("sight"))};
    } catch (const Json::exception&) {
        return std::nullopt;
    }
}

PhotoResult SeenPhotos::read(const SheetPhoto& photo, const Camera& camera,
                             const Target& target) const {
    if (auto before = kept(photo)) {
        return *before;
    }
    PhotoResult now = read_photo(photo, camera, target);
    const Json json{{"facts", json_of(now.facts)},
                    {"digest", now.digest},
                    {"width_px", now.width_px},
                    {"height_px", now.height_px},
                    {"sight", json_of(now.sight)}};
    write_file(file(photo), json.dump(-1, ' ', true, Json::error_handler_t::replace));
    return now;
}

}  // namespace squaresight::bay

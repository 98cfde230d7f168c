#include "adjust/cradle_file.h"

#include <fmt/format.h>

#include <array>

#include "units/covariance.h"
#include "units/entry.h"

namespace squaresight {
namespace {

constexpr std::string_view schema = "squaresight/cradle/1";

constexpr std::array<std::pair<std::string_view, PhoneUp>, 4> phone_up_words{
    {{"native", PhoneUp::native},
     {"clockwise", PhoneUp::clockwise},
     {"half", PhoneUp::half},
     {"counter-clockwise", PhoneUp::counter_clockwise}}};

PhoneUp read_phone_up(const Entry& entry) {
    std::vector<std::string_view> words;
    for (const auto& [word, turn] : phone_up_words) {
        words.push_back(word);
    }
    const std::string written = entry.word(words);
    const auto found = std::find_if(phone_up_words.begin(), phone_up_words.end(),
                                    [&](const auto& pair) { return pair.first == written; });
    return found->second;
}

Eigen::Vector2d read_offset_deg(const Entry& entry) {
    entry.expect_keys({"left", "up"});
    return {entry.at("left").angle_deg(-30, 30), entry.at("up").angle_deg(-30, 30)};
}

Eigen::Vector3d read_lens_mm(const Entry& entry) {
    entry.expect_keys({"ahead", "left", "up"});
    return {entry.at("ahead").length_mm(-1000, 1000), entry.at("left").length_mm(-1000, 1000),
            entry.at("up").length_mm(-1000, 1000)};
}

void read_covariance(const Entry& entry, Cradle& cradle) {
    if (!cradle.offset_deg || !cradle.lens_mm) {
        entry.fail("stands without offset and lens",
                   "write 'offset' and 'lens' too, or leave it out");
    }
    cradle.covariance = Eigen::Matrix<double, 5, 5>(covariance_of(entry, 5));
}

}  // namespace

Cradle load_cradle(const std::filesystem::path& file) {
    const Entry root = Entry::load(file, schema);
    root.expect_keys({"schema", "name", "camera", "phone_up", "offset", "lens", "covariance",
                      "seating", "way_up", "sag", "place", "date"});
    Cradle cradle;
    cradle.name = root.at("name").text();
    if (const auto camera = root.find("camera")) {
        cradle.camera = camera->text();
    }
    if (const auto phone_up = root.find("phone_up")) {
        cradle.phone_up = read_phone_up(*phone_up);
    }
    if (const auto offset = root.find("offset")) {
        cradle.offset_deg = read_offset_deg(*offset);
    }
    if (const auto lens = root.find("lens")) {
        cradle.lens_mm = read_lens_mm(*lens);
    }
    if (const auto covariance = root.find("covariance")) {
        read_covariance(*covariance, cradle);
    }
    if (const auto seating = root.find("seating")) {
        cradle.seating_deg = seating->angle_deg(0, 5);
    }
    if (const auto way_up = root.find("way_up")) {
        cradle.way_up_deg = way_up->angle_deg(0, 5);
    }
    if (const auto sag = root.find("sag")) {
        cradle.sag_deg = sag->angle_deg(0, 5);
    }
    if (const auto place = root.find("place")) {
        cradle.place_limit_mm = place->length_mm(0, 100);
    }
    if (const auto date = root.find("date")) {
        cradle.date = date->date();
    }
    return cradle;
}

std::string cradle_yaml(const Cradle& cradle) {
    std::string text = fmt::format("schema: {}\nname: {}\n", schema, yaml_text(cradle.name));
    if (!cradle.camera.empty()) {
        text += fmt::format("camera: {}\n", yaml_text(cradle.camera));
    }
    for (const auto& [word, turn] : phone_up_words) {
        if (cradle.phone_up == turn) {
            text += fmt::format("phone_up: {}\n", word);
        }
    }
    if (cradle.offset_deg) {
        text += fmt::format("offset: {{left: {} deg, up: {} deg}}\n", cradle.offset_deg->x(),
                            cradle.offset_deg->y());
    }
    if (cradle.lens_mm) {
        text += fmt::format("lens: {{ahead: {} mm, left: {} mm, up: {} mm}}\n", cradle.lens_mm->x(),
                            cradle.lens_mm->y(), cradle.lens_mm->z());
    }
    if (cradle.covariance) {
        text += "covariance:  # offset left up (deg), lens ahead left up (mm)\n" +
                covariance_yaml(*cradle.covariance);
    }
    text += fmt::format("seating: {} deg\n", cradle.seating_deg);
    const Cradle usual;
    if (cradle.way_up_deg != usual.way_up_deg) {
        text += fmt::format("way_up: {} deg\n", cradle.way_up_deg);
    }
    if (cradle.sag_deg != usual.sag_deg) {
        text += fmt::format("sag: {} deg\n", cradle.sag_deg);
    }
    if (cradle.place_limit_mm != usual.place_limit_mm) {
        text += fmt::format("place: {} mm\n", cradle.place_limit_mm);
    }
    if (!cradle.date.empty()) {
        text += fmt::format("date: {}\n", cradle.date);
    }
    return text;
}

}  // namespace squaresight

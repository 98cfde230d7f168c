#include "render/scene.h"

#include <fmt/format.h>

#include "units/entry.h"

namespace squaresight {
namespace {

/// Reads the numbers of one map: every key of `fields` may be given, no other key may.
struct Field {
    std::string_view key;
    double* value;
    double low;
    double high;
};

void read_fields(const Entry& entry, const std::vector<Field>& fields,
                 std::vector<std::string_view> other_keys = {}) {
    for (const Field& field : fields) {
        other_keys.push_back(field.key);
    }
    entry.expect_keys(other_keys);
    for (const Field& field : fields) {
        if (const auto given = entry.find(field.key)) {
            *field.value = given->number(field.low, field.high);
        }
    }
}

Picture read_picture(const Entry& entry) {
    Picture picture;
    read_fields(entry,
                {{"blur_px", &picture.blur_px, 0, 20},
                 {"noise_levels", &picture.noise_levels, 0, 50},
                 {"light", &picture.light, 0.01, 10},
                 {"focal_length_mm", &picture.focal_length_mm, 0, 1000},
                 {"focal_length_35mm_mm", &picture.focal_length_35mm_mm, 0, 10000},
                 {"digital_zoom", &picture.digital_zoom, 0.01, 1000}},
                {"width_px", "height_px", "jpeg_quality", "make", "model", "lens"});
    picture.width_px = entry.at("width_px").whole(64, 20000);
    picture.height_px = entry.at("height_px").whole(64, 20000);
    if (const auto quality = entry.find("jpeg_quality")) {
        picture.jpeg_quality = quality->whole(10, 100);
    }
    const auto text = [&](std::string_view key) {
        const auto given = entry.find(key);
        return given ? given->text() : "";
    };
    picture.make = text("make");
    picture.model = text("model");
    picture.lens = text("lens");
    return picture;
}

TrueLens read_lens(const Entry& entry) {
    TrueLens lens;
    read_fields(entry, {{"fx_px", &lens.fx_px, 50, 50000},
                        {"fy_px", &lens.fy_px, 50, 50000},
                        {"cx_px", &lens.cx_px, 0, 20000},
                        {"cy_px", &lens.cy_px, 0, 20000},
                        {"k1", &lens.k1, -1, 1},
                        {"k2", &lens.k2, -1, 1},
                        {"p1", &lens.p1, -0.1, 0.1},
                        {"p2", &lens.p2, -0.1, 0.1},
                        {"k3", &lens.k3, -1, 1},
                        {"sag_down_deg", &lens.sag_down_deg, -1, 1},
                        {"focused_at_mm", &lens.focused_at_mm, 0, 100000}});
    return lens;
}

TrueSheet read_sheet(const Entry& entry) {
    TrueSheet sheet;
    read_fields(entry,
                {{"scale_across", &sheet.scale_across, 0.5, 2},
                 {"scale_down", &sheet.scale_down, 0.5, 2},
                 {"bow_across_mm", &sheet.bow_across_mm, -8, 8},
                 {"bow_down_mm", &sheet.bow_down_mm, -8, 8},
                 {"twist_mm", &sheet.twist_mm, -8, 8}},
                {"target"});
    sheet.target_file = entry.at("target").path();
    return sheet;
}

TrueCradle read_cradle(const Entry& entry) {
    TrueCradle cradle;
    read_fields(entry,
                {{"offset_left_deg", &cradle.offset_left_deg, -20, 20},
                 {"offset_up_deg", &cradle.offset_up_deg, -20, 20},
                 {"lens_ahead_mm", &cradle.lens_ahead_mm, -500, 500},
                 {"lens_left_mm", &cradle.lens_left_mm, -500, 500},
                 {"lens_up_mm", &cradle.lens_up_mm, -500, 500}},
                {"phone_up"});
    if (const auto entry_up = entry.find("phone_up")) {
        const std::string up = entry_up->word({"native", "clockwise", "half", "counter-clockwise"});
        cradle.phone_up_deg = up == "native"      ? 0
                              : up == "clockwise" ? 90
                              : up == "half"      ? 180
                                                  : 270;
    }
    return cradle;
}

TrueSetup read_setup(const Entry& entry) {
    TrueSetup setup;
    read_fields(entry,
                {{"line_left_deg", &setup.line_left_deg, -20, 20},
                 {"distance_mm", &setup.distance_mm, 300, 30000},
                 {"target_left_mm", &setup.target_left_mm, -10000, 10000},
                 {"mount_left_mm", &setup.mount_left_mm, -2000, 2000},
                 {"target_height_mm", &setup.target_height_mm, 0, 5000},
                 {"mount_height_mm", &setup.mount_height_mm, 0, 5000},
                 {"floor_rise_deg", &setup.floor_rise_deg, -20, 20},
                 {"target_lean_back_deg", &setup.target_lean_back_deg, -80, 80},
                 {"target_turned_left_deg", &setup.target_turned_left_deg, -80, 80},
                 {"target_roll_clockwise_deg", &setup.target_roll_clockwise_deg, -360, 360}});
    return setup;
}

TruePhoto read_photo(const Entry& entry) {
    TruePhoto photo;
    PhotoScatter scatter;
    read_fields(entry,
                {{"roll_deg", &photo.roll_deg, -720, 720},
                 {"seating_left_deg", &scatter.seating_left_deg, -10, 10},
                 {"seating_up_deg", &scatter.seating_up_deg, -10, 10},
                 {"jitter_left_deg", &scatter.jitter_left_deg, -10, 10},
                 {"jitter_up_deg", &scatter.jitter_up_deg, -10, 10}},
                {"file", "placement"});
    if (entry.has("seating_left_deg") || entry.has("jitter_left_deg")) {
        photo.scatter = scatter;
    }
    photo.file = entry.at("file").text();
    if (const auto placement = entry.find("placement")) {
        photo.placement = placement->whole(0, 1000);
    }
    return photo;
}

TrueStage read_stage(const Entry& entry, const TrueStage* before) {
    TrueStage stage;
    read_fields(entry,
                {{"yaw_left_deg", &stage.yaw_left_deg, -60, 60},
                 {"pitch_up_deg", &stage.pitch_up_deg, -60, 60},
                 {"moved_ahead_mm", &stage.moved_ahead_mm, -100, 30000},
                 {"focus_mm", &stage.focus_mm, 0, 100000}},
                {"stage", "taken_at", "setup", "photos"});
    stage.stage = entry.at("stage").text();
    stage.taken_at = entry.at("taken_at").text();
    const Entry setup = entry.at("setup");
    if (setup.is_map()) {
        stage.setup = read_setup(setup);
    } else if (before != nullptr && setup.word({"same"}) == "same") {
        stage.setup = before->setup;
    } else {
        setup.fail("is 'same' in the first stage", "write the true setup out");
    }
    for (const Entry& photo : entry.at("photos").list()) {
        stage.photos.push_back(read_photo(photo));
    }
    return stage;
}

/// How far the image lies behind a thin lens, over its focal length; 0 stands for infinity.
double image_distance(double object_mm, double focal_length_mm) {
    return object_mm > focal_length_mm ? object_mm / (object_mm - focal_length_mm) : 1;
}

}  // namespace

TrueLens focused_lens(const Scene& scene, const TrueStage& stage) {
    TrueLens lens = scene.lens;
    if (stage.focus_mm > 0) {
        const double focal_length_mm = scene.picture.focal_length_mm;
        const double scale = image_distance(stage.focus_mm, focal_length_mm) /
                             image_distance(lens.focused_at_mm, focal_length_mm);
        lens.fx_px *= scale;
        lens.fy_px *= scale;
    }
    return lens;
}

Scene load_scene(const std::filesystem::path& file) {
    const Entry root = Entry::load(file, "squaresight/scene/1");
    root.expect_keys(
        {"schema", "job", "seed", "picture", "lens", "sheet", "cradle", "scatter", "stages"});
    Scene scene;
    scene.folder = std::filesystem::absolute(file).parent_path();
    scene.job = root.at("job").text();
    scene.seed = root.at("seed").whole(0, 1'000'000);
    scene.picture = read_picture(root.at("picture"));
    scene.lens = read_lens(root.at("lens"));
    scene.sheet = read_sheet(root.at("sheet"));
    scene.cradle = read_cradle(root.at("cradle"));
    read_fields(root.at("scatter"), {{"seating_deg", &scene.scatter.seating_deg, 0, 2},
                                     {"jitter_deg", &scene.scatter.jitter_deg, 0, 2}});
    for (const Entry& stage : root.at("stages").list()) {
        const TrueStage* before = scene.stages.empty() ? nullptr : &scene.stages.back();
        scene.stages.push_back(read_stage(stage, before));
    }
    return scene;
}

namespace {

using Numbers = std::vector<std::pair<const char*, double>>;

/// "{a: 1, b: 2}"; `first` stands before the numbers.
std::string map_text(const Numbers& numbers, const std::string& first = "") {
    std::string text = first;
    for (const auto& [key, value] : numbers) {
        text += fmt::format("{}{}: {:.12g}", text.empty() ? "" : ", ", key, value);
    }
    return "{" + text + "}";
}

std::string picture_text(const Picture& picture) {
    std::string words = fmt::format("width_px: {}, height_px: {}, jpeg_quality: {}",
                                    picture.width_px, picture.height_px, picture.jpeg_quality);
    const std::pair<const char*, const std::string*> names[] = {
        {"make", &picture.make}, {"model", &picture.model}, {"lens", &picture.lens}};
    for (const auto& [key, name] : names) {
        words += name->empty() ? "" : fmt::format(", {}: {}", key, yaml_text(*name));
    }
    return map_text({{"blur_px", picture.blur_px},
                     {"noise_levels", picture.noise_levels},
                     {"light", picture.light},
                     {"focal_length_mm", picture.focal_length_mm},
                     {"focal_length_35mm_mm", picture.focal_length_35mm_mm},
                     {"digital_zoom", picture.digital_zoom}},
                    words);
}

std::string lens_text(const TrueLens& lens) {
    return map_text({{"fx_px", lens.fx_px},
                     {"fy_px", lens.fy_px},
                     {"cx_px", lens.cx_px},
                     {"cy_px", lens.cy_px},
                     {"k1", lens.k1},
                     {"k2", lens.k2},
                     {"p1", lens.p1},
                     {"p2", lens.p2},
                     {"k3", lens.k3},
                     {"sag_down_deg", lens.sag_down_deg},
                     {"focused_at_mm", lens.focused_at_mm}});
}

std::string sheet_text(const TrueSheet& sheet, const std::filesystem::path& folder) {
    return map_text(
        {{"scale_across", sheet.scale_across},
         {"scale_down", sheet.scale_down},
         {"bow_across_mm", sheet.bow_across_mm},
         {"bow_down_mm", sheet.bow_down_mm},
         {"twist_mm", sheet.twist_mm}},
        "target: " + yaml_text(sheet.target_file.lexically_proximate(folder).generic_string()));
}

std::string cradle_text(const TrueCradle& cradle) {
    const char* const up[] = {"native", "clockwise", "half", "counter-clockwise"};
    return map_text({{"offset_left_deg", cradle.offset_left_deg},
                     {"offset_up_deg", cradle.offset_up_deg},
                     {"lens_ahead_mm", cradle.lens_ahead_mm},
                     {"lens_left_mm", cradle.lens_left_mm},
                     {"lens_up_mm", cradle.lens_up_mm}},
                    std::string("phone_up: ") + up[cradle.phone_up_deg / 90 & 3]);
}

std::string setup_text(const TrueSetup& setup) {
    return map_text({{"line_left_deg", setup.line_left_deg},
                     {"distance_mm", setup.distance_mm},
                     {"target_left_mm", setup.target_left_mm},
                     {"mount_left_mm", setup.mount_left_mm},
                     {"target_height_mm", setup.target_height_mm},
                     {"mount_height_mm", setup.mount_height_mm},
                     {"floor_rise_deg", setup.floor_rise_deg},
                     {"target_lean_back_deg", setup.target_lean_back_deg},
                     {"target_turned_left_deg", setup.target_turned_left_deg},
                     {"target_roll_clockwise_deg", setup.target_roll_clockwise_deg}});
}

std::string photo_text(const TruePhoto& photo) {
    std::string words = "file: " + yaml_text(photo.file);
    if (photo.placement >= 0) {
        words += fmt::format(", placement: {}", photo.placement);
    }
    Numbers numbers{{"roll_deg", photo.roll_deg}};
    if (photo.scatter) {
        numbers.insert(numbers.end(), {{"seating_left_deg", photo.scatter->seating_left_deg},
                                       {"seating_up_deg", photo.scatter->seating_up_deg},
                                       {"jitter_left_deg", photo.scatter->jitter_left_deg},
                                       {"jitter_up_deg", photo.scatter->jitter_up_deg}});
    }
    return map_text(numbers, words);
}

}  // namespace

std::string scene_yaml(const Scene& scene) {
    std::string text = fmt::format(
        "# Lengths in mm, angles in degrees.\nschema: squaresight/scene/1\njob: {}\nseed: {}\n"
        "picture: {}\nlens: {}\nsheet: {}\ncradle: {}\nscatter: {}\nstages:\n",
        yaml_text(scene.job), scene.seed, picture_text(scene.picture), lens_text(scene.lens),
        sheet_text(scene.sheet, scene.folder), cradle_text(scene.cradle),
        map_text({{"seating_deg", scene.scatter.seating_deg},
                  {"jitter_deg", scene.scatter.jitter_deg}}));
    for (const auto& stage : scene.stages) {
        text += fmt::format(
            "  - stage: {}\n    taken_at: {}\n    yaw_left_deg: {:.12g}\n    pitch_up_deg: "
            "{:.12g}\n    moved_ahead_mm: {:.12g}\n    focus_mm: {:.12g}\n    setup: {}\n    "
            "photos:\n",
            stage.stage, yaml_text(stage.taken_at), stage.yaw_left_deg, stage.pitch_up_deg,
            stage.moved_ahead_mm, stage.focus_mm, setup_text(stage.setup));
        for (const auto& photo : stage.photos) {
            text += "      - " + photo_text(photo) + "\n";
        }
    }
    return text;
}

}  // namespace squaresight

// squaresight_render SCENE.yaml [--threads N] [--plain]
// Renders the photos that a scene file describes and writes truth.yaml beside it (near.truth.yaml
// beside near.scene.yaml).
#include <fmt/format.h>

#include <CLI/CLI.hpp>

#include "render/render.h"
#include "units/files.h"

namespace squaresight::samples {
namespace {

/// Nothing of a phone that was not told to focus.
std::string focus_text(const Scene& scene, const TrueStage& stage) {
    const TrueLens lens = focused_lens(scene, stage);
    return stage.focus_mm > 0
               ? fmt::format("    fx_px: {:.3f}\n    fy_px: {:.3f}\n", lens.fx_px, lens.fy_px)
               : "";
}

/// "near.scene.yaml" tells its truth in "near.truth.yaml".
std::filesystem::path truth_file(const std::filesystem::path& scene_file) {
    std::string name = scene_file.filename().string();
    const std::size_t at = name.rfind("scene.yaml");
    name = at == std::string::npos ? name + ".truth.yaml" : name.substr(0, at) + "truth.yaml";
    return scene_file.parent_path() / name;
}

std::string truth_yaml(const Scene& scene, const SceneScatter& scatter) {
    std::string text = fmt::format(
        "# What is true of the photos of this job; written by the photo maker from scene.yaml.\n"
        "schema: squaresight/truth/1\njob: \"{}\"\n"
        "cradle_offset: {{left_deg: {}, up_deg: {}}}\nstages:\n",
        scene.job, scene.cradle.offset_left_deg, scene.cradle.offset_up_deg);
    for (std::size_t s = 0; s < scene.stages.size(); ++s) {
        const TrueStage& stage = scene.stages[s];
        text += fmt::format(
            "  - stage: {}\n    yaw_left_deg: {}\n    pitch_up_deg: {}\n{}    photos:\n",
            stage.stage, stage.yaw_left_deg, stage.pitch_up_deg, focus_text(scene, stage));
        for (std::size_t p = 0; p < stage.photos.size(); ++p) {
            const PhotoScatter& drawn = scatter[s][p];
            text += fmt::format(
                "      - {{file: {}, roll_deg: {}, seating_left_deg: {:.5f}, seating_up_deg: "
                "{:.5f}, jitter_left_deg: {:.5f}, jitter_up_deg: {:.5f}}}\n",
                stage.photos[p].file, stage.photos[p].roll_deg, drawn.seating_left_deg,
                drawn.seating_up_deg, drawn.jitter_left_deg, drawn.jitter_up_deg);
        }
    }
    return text;
}

void render_job(const std::filesystem::path& scene_file, const RenderOptions& options) {
    const Scene scene = load_scene(scene_file);
    const SceneScatter scatter = scatter_of(scene);
    render_photos(scene, scatter, options, [](const std::filesystem::path& file, double) {
        fmt::print("{}  {} kB\n", file.string(), std::filesystem::file_size(file) / 1000);
    });
    write_file(truth_file(scene_file), truth_yaml(scene, scatter));
}

}  // namespace
}  // namespace squaresight::samples

int main(int argc, char** argv) {
    CLI::App app{"Renders the photos that a scene file describes"};
    std::filesystem::path scene_file;
    squaresight::RenderOptions options;
    app.add_option("scene", scene_file, "scene file")->required();
    app.add_option("--threads", options.threads, "threads for POV-Ray")->check(CLI::Range(1, 64));
    app.add_flag("--plain", options.plain,
                 "hard shadows, rough off the board: several times faster");
    CLI11_PARSE(app, argc, argv);
    try {
        squaresight::samples::render_job(scene_file, options);
    } catch (const std::exception& error) {
        fmt::print(stderr, "squaresight_render: {}\n", error.what());
        return 3;
    }
    return 0;
}

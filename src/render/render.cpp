#include "render/render.h"

#include <cmath>
#include <ctime>
#include <map>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <random>

#include "render/exif_writer.h"
#include "render/exposure.h"
#include "render/povray.h"
#include "render/sheet_picture.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight {
namespace {

// Pixels of a pinhole picture to one of the photo. What lies off the board may be softer than the
// board: nothing is measured there.
constexpr double board_scale = 4;
constexpr double plain_board_scale = 3;
constexpr double bay_scale = 0.5;
constexpr double plain_bay_scale = 0.25;
constexpr double mask_scale = 0.125;
constexpr double large_board_px = 1e7;  // pixels of its picture from which it is drawn coarser
constexpr double coarser = 4;           // with as many rays to an edge

/// The part of the photo's window that holds the sheet, with a margin; zero width if none does.
Window window_of_board(const Pinhole& mask) {
    cv::Mat grey;
    cv::extractChannel(mask.light, grey, 0);
    const cv::Mat white = grey > 0.5;
    const cv::Rect seen = cv::boundingRect(white);
    const double x = mask.window.width() / mask.light.cols;
    const double y = mask.window.height() / mask.light.rows;
    const int margin = 3;
    if (seen.empty()) {
        return {};
    }
    return {mask.window.left + (seen.x - margin) * x, mask.window.top + (seen.y - margin) * y,
            mask.window.left + (seen.br().x + margin) * x,
            mask.window.top + (seen.br().y + margin) * y};
}

/// EXIF orientation of a phone that is turned clockwise by `turn_deg` away from upright.
int orientation_of_turn(double turn_deg) {
    const int quarters = static_cast<int>(std::lround(turn_deg / 90)) & 3;
    constexpr int orientations[] = {1, 6, 3, 8};
    return orientations[quarters];
}

/// "2026-03-04 09:12:00" and seconds later, as EXIF writes it.
std::string exif_time(const std::string& taken_at, int seconds_later) {
    std::tm time{};
    if (strptime(taken_at.c_str(), "%Y-%m-%d %H:%M:%S", &time) == nullptr) {
        throw InputError("taken_at", "'" + taken_at + "' is no time",
                         "write it as 2026-03-04 09:12:00");
    }
    const std::time_t moment = timegm(&time) + seconds_later;
    gmtime_r(&moment, &time);
    char text[32];
    std::strftime(text, sizeof text, "%Y:%m:%d %H:%M:%S", &time);
    return text;
}

cv::Mat rendered(const PovRay& povray, const Scene& scene, const TrueStage& stage,
                 const TruePhoto& photo, const PhotoScatter& scatter, bool plain) {
    const TrueLens lens = focused_lens(scene, stage);
    const double focal_px = std::max(lens.fx_px, lens.fy_px);
    const Window window = window_of_photo(lens, scene.picture);
    const auto look = [&](const Window& at, double at_focal_px, Detail detail) {
        return povray.render(stage, photo, scatter, at, at_focal_px, detail);
    };
    const Pinhole whole = plain ? look(window, focal_px * plain_bay_scale, Detail::plain)
                                : look(window, focal_px * bay_scale, Detail::smooth);
    const Window at_board = window_of_board(look(window, focal_px * mask_scale, Detail::mask));
    Pinhole board;
    if (at_board.width() > 0) {
        const double board_px = focal_px * (plain ? plain_board_scale : board_scale);
        const bool large =
            at_board.width() * at_board.height() * board_px * board_px > large_board_px;
        board = large ? look(at_board, board_px / coarser, Detail::smoother)
                      : look(at_board, board_px, Detail::smooth);
    }
    return light_on_sensor(lens, scene.picture, whole, board);
}

void write_photo(const Scene& scene, const TrueStage& stage, int index, const cv::Mat& light,
                 unsigned noise_seed) {
    const TruePhoto& photo = stage.photos[static_cast<std::size_t>(index)];
    std::vector<unsigned char> jpeg;
    cv::imencode(
        ".jpg", developed(light, scene.picture, noise_seed), jpeg,
        {cv::IMWRITE_JPEG_QUALITY, scene.picture.jpeg_quality, cv::IMWRITE_JPEG_OPTIMIZE, 1});
    const PhotoMetadata metadata{orientation_of_turn(scene.cradle.phone_up_deg + photo.roll_deg),
                                 exif_time(stage.taken_at, 20 * index)};
    const std::filesystem::path file = scene.folder / photo.file;
    write_file(file, with_exif({jpeg.begin(), jpeg.end()}, scene.picture, metadata));
}

}  // namespace

SceneScatter scatter_of(const Scene& scene) {
    std::mt19937_64 random(static_cast<unsigned>(scene.seed));
    std::normal_distribution<double> normal;
    SceneScatter all;
    for (const TrueStage& stage : scene.stages) {
        std::map<int, PhotoScatter> by_placement;
        all.emplace_back();
        for (const TruePhoto& photo : stage.photos) {
            PhotoScatter scatter;
            scatter.seating_left_deg = scene.scatter.seating_deg * normal(random);
            scatter.seating_up_deg = scene.scatter.seating_deg * normal(random);
            if (photo.placement >= 0) {
                scatter = by_placement.emplace(photo.placement, scatter).first->second;
            }
            scatter.jitter_left_deg = scene.scatter.jitter_deg * normal(random);
            scatter.jitter_up_deg = scene.scatter.jitter_deg * normal(random);
            all.back().push_back(photo.scatter.value_or(scatter));
        }
    }
    return all;
}

void render_photos(const Scene& scene, const SceneScatter& scatter, const RenderOptions& options,
                   const RenderProgress& progress) {
    require_povray();
    const Target target = load_target(scene.sheet.target_file);
    const PovRay povray(
        scene, sheet_picture(target), target.sheet_width_mm * scene.sheet.scale_across,
        target.sheet_height_mm * scene.sheet.scale_down, {options.threads, options.plain});
    std::size_t count = 0;
    for (const TrueStage& stage : scene.stages) {
        count += stage.photos.size();
    }
    unsigned made = 0;
    for (std::size_t s = 0; s < scene.stages.size(); ++s) {
        const TrueStage& stage = scene.stages[s];
        for (std::size_t p = 0; p < stage.photos.size(); ++p) {
            const cv::Mat light =
                rendered(povray, scene, stage, stage.photos[p], scatter[s][p], options.plain);
            ++made;
            write_photo(scene, stage, static_cast<int>(p), light,
                        static_cast<unsigned>(scene.seed) * 1000 + made);
            progress(scene.folder / stage.photos[p].file,
                     static_cast<double>(made) / static_cast<double>(count));
        }
    }
}

}  // namespace squaresight

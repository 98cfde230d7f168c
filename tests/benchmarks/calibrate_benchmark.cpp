#include <benchmark/benchmark.h>
#include <fmt/format.h>

#include <iostream>
#include <map>
#include <opencv2/calib3d.hpp>
#include <opencv2/core/utility.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "benchmarks/cpu_times.h"
#include "calibrate/phone_check.h"
#include "photo/photo.h"
#include "support/board_raster.h"

/// What `calibrate` takes for photos of 12 megapixels, one thread, against decoding them and
/// against OpenCV's chessboard finder with its calibrateCamera on the same photos: the sample
/// shop's near photos, ray-traced in a cluttered bay, and 20 rastered ones with nothing behind the
/// board (made first, into a folder that is kept for the next run). Ratios are printed at the end:
/// they are what to quote.
namespace squaresight {
namespace {

constexpr int photo_count = 20;
constexpr int width_px = 4000;
constexpr int height_px = 3000;

Target checkerboard() {
    return load_target(std::filesystem::path(SQUARESIGHT_SOURCE_DIR) /
                       "targets/checkerboard-a3.yaml");
}

void photograph(const std::filesystem::path& file, int i) {
    raster::Scene scene;
    scene.target = checkerboard();
    scene.with_markers = false;
    scene.width_px = width_px;
    scene.height_px = height_px;
    scene.lens = {3125, 3126, 2010, 1490, 0.06, -0.09, 0.0004, -0.0003, 0.02};
    scene.blur_px = 0.9;
    scene.noise = 2;
    scene.seed = static_cast<unsigned>(i);
    const double round = 2.4 * i;
    scene.pose = raster::pose(480 + 30 * (i % 4), i % 2 == 0 ? 3 : 88, 27 * std::sin(1.9 * i),
                              27 * std::cos(2.7 * i), {60 * std::cos(round), 35 * std::sin(round)});
    cv::imwrite(file.string(), raster::photo_of(scene), {cv::IMWRITE_JPEG_QUALITY, 88});
}

using Photos = std::vector<std::filesystem::path>;

Photos shop_photos() {
    Photos files;
    for (int i = 1; i <= 9; ++i) {
        files.push_back(std::filesystem::path(SQUARESIGHT_SOURCE_DIR) /
                        fmt::format("samples/calibration/near-{}.jpg", i));
    }
    return files;
}

Photos plain_photos() {
    static const auto made = [] {
        const auto folder = std::filesystem::temp_directory_path() / "squaresight-calibrate-photos";
        std::filesystem::create_directories(folder);
        Photos files;
        for (int i = 0; i < photo_count; ++i) {
            files.push_back(folder / fmt::format("near-{}.jpg", i + 1));
            if (!std::filesystem::exists(files.back())) {
                std::cerr << "rastering photo " << i + 1 << " of " << photo_count << '\n';
                photograph(files.back(), i);
            }
        }
        return files;
    }();
    return made;
}

void decode(benchmark::State& state, Photos (*photos)()) {
    const Photos files = photos();
    for (auto _ : state) {
        for (const auto& file : files) {
            benchmark::DoNotOptimize(load_photo(file));
        }
    }
}

void calibrate(benchmark::State& state, Photos (*photos)()) {
    PhoneCheckWish wish;
    wish.name = "phone";
    wish.date = "2026-03-05";
    wish.boards = {checkerboard()};
    wish.bay = usual_bay();
    for (const auto& file : photos()) {
        wish.photos.push_back({file, -1});
    }
    for (auto _ : state) {
        const PhoneCheck check = check_phone(wish, [](std::size_t, std::size_t) {});
        state.counters["photos"] = check.camera.photos_used.value_or(0);
        state.counters["fx_px"] = check.camera.lens.fx;
    }
}

/// findChessboardCorners with cornerSubPix, or findChessboardCornersSB; then calibrateCamera.
void opencv_path(benchmark::State& state, Photos (*photos)(), bool sector_based) {
    const Photos files = photos();
    const Pattern pattern = checkerboard().pattern;
    const cv::Size inner(pattern.across - 1, pattern.down - 1);
    std::vector<cv::Point3f> board;
    for (int i = 0; i < inner.area(); ++i) {
        board.emplace_back(static_cast<float>(pattern.square_mm * (i % inner.width)),
                           static_cast<float>(pattern.square_mm * (i / inner.width)), 0.0F);
    }
    for (auto _ : state) {
        std::vector<std::vector<cv::Point2f>> seen;
        for (const auto& file : files) {
            const cv::Mat grey = cv::imread(file.string(), cv::IMREAD_GRAYSCALE);
            std::vector<cv::Point2f> corners;
            if (sector_based) {
                if (cv::findChessboardCornersSB(grey, inner, corners)) {
                    seen.push_back(corners);
                }
            } else if (cv::findChessboardCorners(grey, inner, corners)) {
                cv::cornerSubPix(
                    grey, corners, {11, 11}, {-1, -1},
                    cv::TermCriteria(cv::TermCriteria::COUNT | cv::TermCriteria::EPS, 40, 0.001));
                seen.push_back(corners);
            }
        }
        cv::Mat matrix, distortion;
        std::vector<cv::Mat> turns, shifts;
        state.counters["photos"] = static_cast<double>(seen.size());
        if (!seen.empty()) {
            cv::calibrateCamera(std::vector<std::vector<cv::Point3f>>(seen.size(), board), seen,
                                {width_px, height_px}, matrix, distortion, turns, shifts);
            state.counters["fx_px"] = matrix.at<double>(0, 0);
        }
    }
}

void once(benchmark::internal::Benchmark* timed) {
    timed->Unit(benchmark::kMillisecond)->MeasureProcessCPUTime()->Iterations(1);
}

BENCHMARK_CAPTURE(decode, shop, shop_photos)->Apply(once);
BENCHMARK_CAPTURE(calibrate, shop, shop_photos)->Apply(once);
BENCHMARK_CAPTURE(opencv_path, shop, shop_photos, false)->Apply(once);
BENCHMARK_CAPTURE(opencv_path, shop_sb, shop_photos, true)->Apply(once);
BENCHMARK_CAPTURE(decode, plain, plain_photos)->Apply(once);
BENCHMARK_CAPTURE(calibrate, plain, plain_photos)->Apply(once);
BENCHMARK_CAPTURE(opencv_path, plain, plain_photos, false)->Apply(once);
BENCHMARK_CAPTURE(opencv_path, plain_sb, plain_photos, true)->Apply(once);

class Ratios : public CpuTimes {
  public:
    void Finalize() override {
        for (const std::string photos : {"shop", "plain"}) {
            const std::string ours = "calibrate/" + photos;
            const std::string decoding = "decode/" + photos;
            fmt::print("\n");
            if (cpu_.contains(ours) && cpu_.contains(decoding)) {
                fmt::print("{} / (1.5 {} + 3 s) = {:.2f}\n", ours, decoding,
                           cpu_[ours] / (1.5 * cpu_[decoding] + 3000));
            }
            say("opencv_path/" + photos, ours);
            say("opencv_path/" + photos + "_sb", ours);
        }
    }
};

}  // namespace
}  // namespace squaresight

int main(int argc, char** argv) {
    return squaresight::run_benchmarks<squaresight::Ratios>(argc, argv);
}

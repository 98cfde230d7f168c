#include <benchmark/benchmark.h>
#include <fmt/format.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdio>
#include <fstream>
#include <map>
#include <opencv2/core/utility.hpp>

#include "benchmarks/cpu_times.h"
#include "photo/photo.h"
#include "study/finders.h"
#include "support/degraded_photo.h"

/// What finding the board takes, one thread, from a JPEG file to corners: against the bare grey
/// decode of the same file and against two other finders. Photos of 12 megapixels are drawn first,
/// into a folder that is kept for the next run. Ratios are printed at the end: they are what to
/// quote.
namespace squaresight {
namespace {

const std::filesystem::path source = SQUARESIGHT_SOURCE_DIR;
const std::filesystem::path folder =
    std::filesystem::temp_directory_path() / "squaresight-finding-benchmark";

/// Of the photo of 12 megapixels; others are scaled from it.
raster::Scene large_scene(const std::string& dictionary) {
    degraded::Conditions c;
    c.square_px = 32;
    raster::Scene scene = degraded::scene_of(c, 7, degraded::bay_board(dictionary));
    constexpr double larger = 5;
    scene.width_px = 4000;
    scene.height_px = 3000;
    scene.lens.fx = scene.lens.fy = larger * scene.lens.fx;
    scene.lens.cx = larger * (scene.lens.cx + 0.5) - 0.5;
    scene.lens.cy = larger * (scene.lens.cy + 0.5) - 0.5;
    scene.pose.target_in_camera_mm.z() *= 2;
    scene.blur_px = 1.2;
    scene.noise = 3;
    scene.finer = 1;
    return scene;
}

void paint_ten_thousand_quads(cv::Mat& photo) {
    degraded::Random random(1);
    for (int n = 0; n < 10000; ++n) {
        const double size = random.between(12, 40), turn = random.angle();
        const cv::Point2d at(random.upto(photo.cols), random.upto(photo.rows));
        std::vector<cv::Point> corners;
        for (int k = 0; k < 4; ++k) {
            corners.emplace_back(at + size * cv::Point2d(std::cos(turn + k * M_PI / 2),
                                                         std::sin(turn + k * M_PI / 2)));
        }
        cv::fillConvexPoly(photo, corners, cv::Scalar(random.upto(256)));
    }
}

raster::Scene scene_named(const std::string& name) {
    raster::Scene scene = large_scene(name == "36h11" ? "DICT_APRILTAG_36h11" : "DICT_4X4_100");
    if (name == "no-target" || name == "quads-alone") {
        scene.pose.target_in_camera_mm.z() *= -1;
        scene.pose.camera_from_target.setIdentity();
    }
    scene.behind = [name](cv::Mat& photo) {
        raster::paint_clutter(photo, 7, 400);
        if (name == "quads" || name == "quads-alone") {
            paint_ten_thousand_quads(photo);
        }
    };
    return scene;
}

/// Drawn once; `shop` is ray-traced and lies with the samples.
std::filesystem::path photo_file(const std::string& name) {
    if (name == "shop") {
        return source / "samples/jobs/1045-no-inverted/photos/found-upright-1.jpg";
    }
    const auto file = folder / (name + ".jpg");
    if (!std::filesystem::exists(file)) {
        std::filesystem::create_directories(folder);
        cv::Mat photo;
        if (name == "3-megapixels" || name == "50-megapixels") {
            const double scale = name == "3-megapixels" ? 0.5 : 2.0412;
            cv::resize(cv::imread(photo_file("12-megapixels"), cv::IMREAD_GRAYSCALE), photo, {},
                       scale, scale, scale < 1 ? cv::INTER_AREA : cv::INTER_CUBIC);
        } else {
            photo = raster::photo_of(scene_named(name));
        }
        cv::imwrite(file, photo, {cv::IMWRITE_JPEG_QUALITY, 90});
    }
    return file;
}

Target target_of(const std::string& name) {
    return name == "shop"
               ? load_target(source / "targets/bay-a1-checked.yaml")
               : degraded::bay_board(name == "36h11" ? "DICT_APRILTAG_36h11" : "DICT_4X4_100");
}

Lens lens_of(const cv::Mat& grey) {
    Lens lens = large_scene("DICT_4X4_100").lens;
    const double scale = grey.cols / 4000.0;
    lens.fx *= scale;
    lens.fy *= scale;
    lens.cx = (lens.cx + 0.5) * scale - 0.5;
    lens.cy = (lens.cy + 0.5) * scale - 0.5;
    return lens;
}

cv::Mat bare_decode(const std::filesystem::path& file) {
    return cv::imread(file, cv::IMREAD_GRAYSCALE | cv::IMREAD_IGNORE_ORIENTATION);
}

Sight file_to_corners(const std::filesystem::path& file, const Target& target) {
    const Photo photo = load_photo(file);
    return find_target(photo.grey, target, lens_of(photo.grey));
}

void decode(benchmark::State& state, const std::string& name) {
    const auto file = photo_file(name);
    for (auto _ : state) {
        benchmark::DoNotOptimize(bare_decode(file));
    }
}

void ours(benchmark::State& state, const std::string& name) {
    const auto file = photo_file(name);
    const Target target = target_of(name);
    std::size_t corners = 0;
    for (auto _ : state) {
        corners = file_to_corners(file, target).corners.size();
    }
    state.counters["corners"] = static_cast<double>(corners);
}

/// As its documentation begins with: markers with sub-pixel corners, the rest as it comes, then the
/// board's corners between them.
void opencv(benchmark::State& state, const std::string& name) {
    const auto file = photo_file(name);
    const Pattern pattern = target_of(name).pattern;
    const auto dictionary = cv::aruco::getPredefinedDictionary(cv::aruco::DICT_4X4_100);
    const auto board = cv::aruco::CharucoBoard::create(
        pattern.across, pattern.down, static_cast<float>(pattern.square_mm),
        static_cast<float>(pattern.marker_mm), dictionary);
    const auto parameters = cv::aruco::DetectorParameters::create();
    parameters->cornerRefinementMethod = cv::aruco::CORNER_REFINE_SUBPIX;
    cv::Mat board_corners, board_ids;
    for (auto _ : state) {
        const cv::Mat grey = bare_decode(file);
        std::vector<std::vector<cv::Point2f>> corners;
        std::vector<int> ids;
        cv::aruco::detectMarkers(grey, dictionary, corners, ids, parameters);
        if (!ids.empty()) {
            cv::aruco::interpolateCornersCharuco(corners, ids, grey, board, board_corners,
                                                 board_ids);
        }
    }
    state.counters["corners"] = board_ids.rows;
}

/// As in the study: every pixel, edges refined.
void libapriltag(benchmark::State& state, const std::string& name) {
    const auto file = photo_file(name);
    study::AprilTagFinder finder(degraded::bay_board("DICT_APRILTAG_36h11").pattern);
    std::size_t corners = 0;
    for (auto _ : state) {
        corners = finder.points(bare_decode(file), 0).pixels.size();
    }
    state.counters["corners"] = static_cast<double>(corners);
}

/// Largest memory of this process so far, as the kernel counts it since it was started.
long largest_memory_mib() {
    std::ifstream status("/proc/self/status");
    std::string line;
    while (std::getline(status, line)) {
        if (line.rfind("VmHWM:", 0) == 0) {
            return std::stol(line.substr(6)) / 1024;
        }
    }
    return -1;
}

/// One photo in a fresh process, which says what memory that took.
void tell_memory(const std::string& name) {
    const pid_t child = ::fork();
    if (child == 0) {
        ::execl("/proc/self/exe", "finding_benchmark", "--once", name.c_str(), nullptr);
        ::_exit(127);
    }
    ::waitpid(child, nullptr, 0);
}

int find_once(const std::string& name) {
    const long before = largest_memory_mib();
    file_to_corners(photo_file(name), target_of(name));
    fmt::print("largest memory, {}: {} MiB, of which {} MiB before the photo is opened\n", name,
               largest_memory_mib(), before);
    return 0;
}

class Ratios : public CpuTimes {
  public:
    void Finalize() override {
        fmt::print("\n");
        say("ours/shop", "decode/shop");
        say("opencv/shop", "ours/shop");
        say("ours/12-megapixels", "decode/12-megapixels");
        say("opencv/12-megapixels", "ours/12-megapixels");
        say("libapriltag/36h11", "ours/36h11");
        say("ours/no-target", "decode/no-target");
        say("ours/no-target", "ours/12-megapixels");
        say("ours/quads", "decode/quads");
        say("opencv/quads", "ours/quads");
        say("ours/quads-alone", "decode/quads-alone");
        say("ours/12-megapixels", "ours/3-megapixels");
        say("ours/50-megapixels", "ours/12-megapixels");
        std::fflush(stdout);
        for (const std::string name : {"shop", "12-megapixels", "quads", "50-megapixels"}) {
            tell_memory(name);
        }
    }
};

void register_all() {
    using Work = void (*)(benchmark::State&, const std::string&);
    const auto add = [](const std::string& what, Work work, const std::string& name) {
        benchmark::RegisterBenchmark((what + "/" + name).c_str(), work, name)
            ->Unit(benchmark::kMillisecond);
    };
    for (const std::string name : {"shop", "12-megapixels", "no-target", "quads", "quads-alone",
                                   "3-megapixels", "50-megapixels", "36h11"}) {
        add("decode", decode, name);
        add("ours", ours, name);
    }
    add("opencv", opencv, "shop");
    add("opencv", opencv, "12-megapixels");
    add("opencv", opencv, "quads");
    add("libapriltag", libapriltag, "36h11");
}

}  // namespace
}  // namespace squaresight

int main(int argc, char** argv) {
    using namespace squaresight;
    if (argc == 3 && std::string(argv[1]) == "--once") {
        cv::setNumThreads(1);
        return find_once(argv[2]);
    }
    register_all();
    return run_benchmarks<Ratios>(
        argc, argv,
        {"--benchmark_repetitions=7", "--benchmark_enable_random_interleaving=true",
         "--benchmark_min_time=0.1"});
}

// Pages of the bay page while many phones send their photos: `bay_benchmark [phones] [photos
// each]`.
#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <filesystem>
#include <iostream>
#include <mutex>
#include <opencv2/imgcodecs.hpp>
#include <thread>

#include "support/bay_phone.h"
#include "support/bay_process.h"
#include "units/bytes.h"

namespace squaresight::bay {
namespace {

namespace fs = std::filesystem;
using Clock = std::chrono::steady_clock;

const fs::path sample_photos = fs::path(SQUARESIGHT_SOURCE_DIR) / "samples/jobs/1042-full/photos";

/// A sample photo with the noise of a phone's, so that it is as large as theirs; its EXIF stays.
std::string photo_of_a_phone(const std::string& name, std::uint64_t seed) {
    const std::string sample = read_file(sample_photos / name, 1 << 26);
    cv::Mat picture = cv::imread((sample_photos / name).string(),
                                 cv::IMREAD_COLOR | cv::IMREAD_IGNORE_ORIENTATION);
    cv::Mat noise(picture.size(), CV_16SC3);
    cv::RNG(seed).fill(noise, cv::RNG::NORMAL, 0, 8);
    cv::add(picture, noise, picture, cv::noArray(), CV_8U);
    std::vector<unsigned char> bytes;
    cv::imencode(".jpg", picture, bytes, {cv::IMWRITE_JPEG_QUALITY, 92});
    std::string photo(bytes.begin(), bytes.end());
    return photo.insert(2, sample.substr(2, big_endian(sample, 4, 2) + 2));
}

struct Load {
    std::atomic<int> sending{0}, sent{0}, refused{0};
    std::atomic<std::uint64_t> bytes{0};
};

void send_photos(const Phone& phone, const std::string& job, const std::vector<std::string>& photos,
                 int count, Load& load) {
    constexpr std::size_t piece = 512 << 10;
    for (int i = 0; i < count; ++i) {
        std::string photo = photos[static_cast<std::size_t>(i) % photos.size()];
        photo += fmt::format("{} {}", job, i);  // behind the end of the picture: each is another
        const std::string upload =
            phone.begin_upload(job, photo.size(), i % 2 == 0 ? "upright" : "inverted");
        bool good = !upload.empty();
        for (std::size_t at = 0; good && at < photo.size(); at += piece) {
            const auto answer = phone.post_piece(upload, at, photo.substr(at, piece));
            good = answer && answer->status == 200;
        }
        ++(good ? load.sent : load.refused);
        load.bytes += photo.size();
        phone.get("/job/" + job + "/photos");
    }
    --load.sending;
}

void ask_pages(const Phone& phone, const std::vector<std::string>& pages, const Load& load,
               std::mutex& mutex, std::vector<double>& times_ms) {
    for (std::size_t i = 0; load.sending > 0; ++i) {
        const auto start = Clock::now();
        const auto answer = phone.get(pages[i % pages.size()]);
        const std::chrono::duration<double, std::milli> time = Clock::now() - start;
        const std::lock_guard lock(mutex);
        times_ms.push_back(answer && answer->status == 200 ? time.count() : 1e9);
    }
}

double quantile(const std::vector<double>& sorted, double part) {
    return sorted[std::min(sorted.size() - 1,
                           static_cast<std::size_t>(part * static_cast<double>(sorted.size())))];
}

void print_pages(std::vector<double> times_ms, double seconds, const Load& load) {
    std::sort(times_ms.begin(), times_ms.end());
    std::cout << fmt::format(
        "{} photos ({:.0f} MB, {} refused) in {:.1f} s; {} pages meanwhile: median {:.0f} ms, "
        "95 % within {:.0f} ms, longest {:.0f} ms\n",
        load.sent.load(), static_cast<double>(load.bytes.load()) / 1e6, load.refused.load(),
        seconds, times_ms.size(), quantile(times_ms, 0.5), quantile(times_ms, 0.95),
        times_ms.back());
}

/// `phones` jobs with a phone each that sends `count` photos without a pause, and four more devices
/// that ask for one page after the other.
void run(int phones, int count) {
    const fs::path folder = fs::temp_directory_path() / "squaresight-bay-benchmark";
    fs::remove_all(folder);
    fs::create_directories(folder / "jobs");
    BayProcess server(folder / "jobs", folder / "log");
    const Phone phone(server.port(), server.code());
    const std::vector<std::string> photos{photo_of_a_phone("found-upright-1.jpg", 1),
                                          photo_of_a_phone("found-inverted-1.jpg", 2)};
    std::vector<std::string> jobs, pages{"/", "/new"};
    for (int i = 0; i < phones; ++i) {
        jobs.push_back(phone.begin_job(std::to_string(6000 + i)));
        for (const auto* page : {"", "/photos", "/board", "/answer"}) {
            pages.push_back("/job/" + jobs.back() + page);
        }
    }
    Load load;
    load.sending = phones;
    std::mutex mutex;
    std::vector<double> times_ms;
    std::vector<std::thread> all;
    const auto start = Clock::now();
    for (const auto& job : jobs) {
        all.emplace_back([&] { send_photos(phone, job, photos, count, load); });
    }
    for (int i = 0; i < 4; ++i) {
        all.emplace_back([&] { ask_pages(phone, pages, load, mutex, times_ms); });
    }
    for (auto& one : all) {
        one.join();
    }
    const std::chrono::duration<double> sent = Clock::now() - start;
    print_pages(times_ms, sent.count(), load);
    for (const auto& job : jobs) {
        phone.wait_until_measured(job);
    }
    const std::chrono::duration<double> measured = Clock::now() - start;
    std::cout << fmt::format("all {} jobs measured after {:.1f} s; the server held {:.0f} MiB, ",
                             phones, measured.count(), server.peak_mib());
    std::cout << fmt::format("no process of it more than {:.0f} MiB\n", server.end_mib());
    fs::remove_all(folder);
}

}  // namespace
}  // namespace squaresight::bay

int main(int count, char** arguments) {
    squaresight::bay::run(count > 1 ? std::stoi(arguments[1]) : 20,
                          count > 2 ? std::stoi(arguments[2]) : 2);
}

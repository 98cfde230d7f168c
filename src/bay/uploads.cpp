#include "bay/uploads.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <chrono>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <utility>
#include <vector>

#include "bay/guard.h"
#include "job/other_jobs.h"
#include "photo/kind.h"
#include "photo/photo.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

constexpr std::uintmax_t spare_disk_bytes = 500u << 20;
constexpr std::size_t id_letters = 22;

class OpenFile {
  public:
    OpenFile(const std::filesystem::path& file, int flags)
        : number_(::open(file.c_str(), flags | O_CLOEXEC, 0644)) {
        if (number_ < 0) {
            throw PhotoRefused(errno == ENOENT ? "photo_lost" : "disk_full");
        }
    }
    ~OpenFile() { ::close(number_); }
    OpenFile(const OpenFile&) = delete;
    OpenFile& operator=(const OpenFile&) = delete;

    void write(std::string_view bytes) const {
        while (!bytes.empty()) {
            const auto written = ::write(number_, bytes.data(), bytes.size());
            if (written <= 0 && errno != EINTR) {
                throw PhotoRefused("disk_full");
            }
            bytes.remove_prefix(static_cast<std::size_t>(std::max<ssize_t>(written, 0)));
        }
    }
    void sync() const {
        if (::fsync(number_) != 0) {
            throw PhotoRefused("disk_full");
        }
    }

  private:
    int number_;
};

bool is_upload_id(const std::string& id) {
    return id.size() == id_letters && std::all_of(id.begin(), id.end(), [](char c) {
               return std::isalnum(static_cast<unsigned char>(c)) != 0;
           });
}

const char* ending_of(const std::filesystem::path& file) {
    std::array<char, 4096> begin{};
    std::ifstream stream(file, std::ios::binary);
    stream.read(begin.data(), begin.size());
    try {
        const auto kind =
            kind_of({begin.data(), static_cast<std::size_t>(stream.gcount())}, "this photo");
        return kind == PhotoKind::jpeg ? "jpg" : kind == PhotoKind::png ? "png" : "heic";
    } catch (const InputError&) {
        throw PhotoRefused("photo_kind");
    }
}

std::size_t count_photos(const JobSheet& sheet) {
    std::size_t count = 0;
    for (const auto& sighting : sheet.sightings) {
        count += sighting.photos.size();
    }
    return count + sheet.pictures.size();
}

/// Whether the stage holds these bytes already: a sender who did not hear that they arrived.
bool holds(const SheetSighting& sighting, const std::string& bytes) {
    return std::any_of(sighting.photos.begin(), sighting.photos.end(), [&](const auto& photo) {
        std::error_code ignored;
        return std::filesystem::file_size(photo.path, ignored) == bytes.size() &&
               read_file(photo.path, largest_photo_bytes) == bytes;
    });
}

std::filesystem::path free_name(const std::filesystem::path& folder, const JobSheet& sheet,
                                const char* ending) {
    for (std::size_t number = sheet.sightings.back().photos.size() + 1;; ++number) {
        const auto name =
            fmt::format("{}-{}-{}", sheet.sightings.size(), sheet.sightings.back().stage, number);
        const auto taken = [&](const char* other) {
            return std::filesystem::exists(folder / fmt::format("{}.{}", name, other));
        };
        if (!taken("jpg") && !taken("png") && !taken("heic")) {
            return fmt::format("{}.{}", name, ending);
        }
    }
}

void write_or_refuse(const std::filesystem::path& file, const std::string& bytes) {
    try {
        write_file(file, bytes);
    } catch (const InputError&) {
        throw PhotoRefused("disk_full");
    }
}

}  // namespace

Uploads::Uploads(std::filesystem::path folder) : folder_(std::move(folder)) {
    std::error_code refused;  // jobs in a folder that takes nothing can still be read
    std::filesystem::create_directories(folder_, refused);
    forget_old();
}

std::filesystem::path Uploads::file(const std::string& id) const {
    return folder_ / (id + ".part");
}
std::filesystem::path Uploads::note(const std::string& id) const {
    return folder_ / (id + ".json");
}

std::string Uploads::begin(const std::string& job, const std::string& cradle, std::uint64_t size) {
    if (size == 0 || size > largest_photo_bytes) {
        throw PhotoRefused("photo_large");
    }
    forget_old();
    std::error_code failed;
    if (std::filesystem::space(folder_, failed).available < spare_disk_bytes + size || failed) {
        throw PhotoRefused("disk_full");
    }
    const std::string id =
        random_text(id_letters, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789");
    OpenFile(file(id), O_WRONLY | O_CREAT | O_EXCL).sync();
    write_or_refuse(note(id),
                    nlohmann::json{{"job", job}, {"cradle", cradle}, {"size", size}}.dump() + "\n");
    return id;
}

std::optional<Uploads::Part> Uploads::find(const std::string& id) const {
    std::error_code missing;
    if (!is_upload_id(id) || !std::filesystem::exists(note(id), missing)) {
        return std::nullopt;
    }
    const auto json = nlohmann::json::parse(read_file(note(id), 4096), nullptr, false);
    if (!json.is_object()) {
        return std::nullopt;
    }
    const std::uint64_t size = json.value("size", std::uint64_t{0});
    const auto received = std::filesystem::file_size(file(id), missing);
    const bool ended = static_cast<bool>(missing);
    return Part{json.value("job", ""), json.value("cradle", ""), size, ended ? size : received,
                ended};
}

void Uploads::append(const std::string& id, std::string_view bytes) {
    const auto part = find(id);
    if (!part || part->received + bytes.size() > part->size) {
        throw PhotoRefused("photo_lost");
    }
    OpenFile(file(id), O_WRONLY | O_APPEND).write(bytes);
}

std::uint64_t Uploads::keep(const std::string& id) {
    OpenFile(file(id), O_WRONLY | O_APPEND).sync();
    return std::filesystem::file_size(file(id));
}

void Uploads::end(const std::string& id) {
    std::error_code ignored;
    std::filesystem::remove(file(id), ignored);
}

void Uploads::forget_old() {
    using Time = std::filesystem::file_time_type;
    std::error_code ignored;
    std::map<std::string, Time> touched;
    for (const auto& entry : std::filesystem::directory_iterator(folder_, ignored)) {
        Time& time = touched.try_emplace(entry.path().stem().string(), Time::min()).first->second;
        time = std::max(time, entry.last_write_time(ignored));
    }
    std::vector<std::pair<Time, std::string>> by_time;
    for (const auto& [id, time] : touched) {
        by_time.emplace_back(time, id);
    }
    std::sort(by_time.begin(), by_time.end());
    const auto day_ago = Time::clock::now() - std::chrono::hours(24);
    for (std::size_t i = 0; i < by_time.size(); ++i) {
        if (by_time[i].first < day_ago || by_time.size() - i >= most_uploads) {
            std::filesystem::remove(note(by_time[i].second), ignored);
            std::filesystem::remove(file(by_time[i].second), ignored);
        }
    }
}

StoredJob take_photo(JobStore& store, const std::string& job, const std::filesystem::path& arrived,
                     const std::string& cradle, LengthUnit unit) {
    const char* ending = ending_of(arrived);
    const std::string bytes = read_file(arrived, largest_photo_bytes);
    const auto folder = store.folder_of(job) / "photos";
    return store.change(
        job, "", unit,
        [&](JobSheet& sheet) {
            SheetSighting& sighting = sheet.sightings.back();
            if (count_photos(sheet) >= most_photos_of_job) {
                throw PhotoRefused("photo_count");
            }
            if (holds(sighting, bytes)) {
                throw PhotoRefused("photo_again");
            }
            if (OtherJobs(sheet).job_with(bytes)) {
                throw PhotoRefused("photo_other_job");
            }
            const auto name = free_name(folder, sheet, ending);
            write_or_refuse(folder / name, bytes);
            if (cradle == picture_of_damage) {
                sheet.pictures.push_back((std::filesystem::path("photos") / name).generic_string());
                return;
            }
            SheetPhoto photo;
            photo.file = (std::filesystem::path("photos") / name).generic_string();
            photo.path = folder / name;
            photo.label = cradle_label_of(cradle);
            sighting.photos.push_back(std::move(photo));
        },
        cradle == picture_of_damage ? Deed::picture : Deed::photo);
}

}  // namespace squaresight::bay

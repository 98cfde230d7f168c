#include "bay/job_store.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cctype>
#include <utility>

#include "bay/sheet_forms.h"
#include "job/sheet_text.h"
#include "photo/photo.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

constexpr std::uintmax_t largest_sheet_bytes = 1 << 20;

/// Makes what was made in a folder outlive a loss of power.
void sync_folder(const std::filesystem::path& folder) {
    const int number = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (number >= 0) {
        ::fsync(number);
        ::close(number);
    }
}

/// The first file of a new folder, or no folder.
void write_first(const std::filesystem::path& file, const std::string& text) {
    try {
        write_file(file, text);
    } catch (const InputError&) {
        std::error_code ignored;
        std::filesystem::remove(file.parent_path(), ignored);
        throw;
    }
    sync_folder(file.parent_path().parent_path());
}

bool is_letter_or_digit(char c) { return std::isalnum(static_cast<unsigned char>(c)) != 0; }

StoredJob read_stored(const std::string& id, const std::filesystem::path& file) {
    StoredJob job;
    job.id = id;
    job.text = read_file(file, largest_sheet_bytes);
    job.version = sha256_hex(job.text);
    job.sheet = parse_begun_job_sheet(job.text, file);
    return job;
}

/// The folder's name of the n-th job that wants it.
std::string numbered_folder(const std::string& wanted, int number) {
    return number == 1 ? wanted : fmt::format("{}-{}", wanted, number);
}

/// The work order as a folder's name, for people who look at the disk.
std::string folder_name(const std::string& job) {
    std::string name;
    for (const char c : job.substr(0, 40)) {
        name += is_letter_or_digit(c) ? c : '-';
    }
    return is_job_id(name) ? name : "job";
}

}  // namespace

bool is_job_id(const std::string& text) {
    const auto fits = [](char c) {
        return is_letter_or_digit(c) || c == '.' || c == '-' || c == '_';
    };
    return !text.empty() && text.size() <= 64 && is_letter_or_digit(text[0]) &&
           std::all_of(text.begin(), text.end(), fits);
}

JobStore::JobStore(std::filesystem::path folder)
    : folder_(std::filesystem::absolute(folder).lexically_normal()) {
    if (!std::filesystem::is_directory(folder_)) {
        throw InputError(folder.string(), "is no folder",
                         "name the folder that holds the job folders");
    }
}

std::filesystem::path JobStore::folder_of(const std::string& id) const {
    const auto folder = folder_ / id;
    if (!is_job_id(id) || !std::filesystem::is_regular_file(folder / "job.yaml")) {
        throw NoSuchJob();
    }
    return folder;
}

StoredJob JobStore::open(const std::string& id) const {
    return read_stored(id, folder_of(id) / "job.yaml");
}

std::vector<ListedJob> JobStore::list(std::size_t count) const {
    std::vector<std::pair<std::filesystem::file_time_type, std::string>> found;
    std::error_code ignored;
    for (const auto& entry : std::filesystem::directory_iterator(folder_, ignored)) {
        const std::string id = entry.path().filename().string();
        const auto written = std::filesystem::last_write_time(entry.path() / "job.yaml", ignored);
        if (!ignored && is_job_id(id)) {
            found.emplace_back(written, id);
        }
    }
    std::sort(found.rbegin(), found.rend());
    found.resize(std::min(found.size(), count));
    std::vector<ListedJob> jobs;
    for (const auto& [written, id] : found) {
        jobs.push_back(line_of(id, written));
    }
    return jobs;
}

std::vector<std::string> JobStore::folders_of(const std::string& order) const {
    std::vector<std::string> ids;
    for (const auto& one : list(listed_jobs)) {
        if (one.problem.empty() && one.job == order) {
            ids.push_back(one.id);
        }
    }
    return ids;
}

ListedJob JobStore::line_of(const std::string& id, Time written) const {
    const std::lock_guard lock(lines_mutex_);
    const auto known = lines_.find(id);
    if (known != lines_.end() && known->second.first == written) {
        return known->second.second;
    }
    ListedJob line;
    try {
        const StoredJob job = open(id);
        line = {
            id,
            job.sheet.job,
            job.sheet.vehicle,
            job.sheet.sightings.back().stage,
            "",
            job.sheet.bay,
            is_board_remembered(job.sheet),
            current_setup(job.sheet) != nullptr && !current_setup(job.sheet)->tape_points.empty(),
            job.sheet.vehicle_model,
            job.version};
    } catch (const std::exception& error) {
        line.id = line.job = id;
        line.problem = error.what();
    }
    lines_[id] = {written, line};
    return line;
}

std::string JobStore::holder_of(const std::string& order) const {
    for (const auto& one : list(listed_jobs)) {
        if (one.job == order) {
            return one.id;
        }
    }
    for (int number = 1;; ++number) {
        const std::string id = numbered_folder(folder_name(order), number);
        std::error_code error;
        const auto written = std::filesystem::last_write_time(folder_ / id / "job.yaml", error);
        if (error) {
            return "";
        }
        if (line_of(id, written).job == order) {
            return id;
        }
    }
}

std::string JobStore::create(JobSheet sheet, LengthUnit unit, const std::string& device) {
    const std::lock_guard lock(beginning_);
    const std::string wanted = folder_name(sheet.job);
    sheet.file = folder_ / wanted / "job.yaml";
    const std::string text = job_sheet_yaml(sheet, unit);
    parse_begun_job_sheet(text, sheet.file);
    if (const std::string id = holder_of(sheet.job); !id.empty()) {
        const auto begun = begun_by_.find(id);
        if (begun == begun_by_.end() || begun->second != device ||
            read_file(folder_ / id / "job.yaml", largest_sheet_bytes) != text) {
            throw OrderTaken();
        }
        return id;  // it was sent twice
    }
    for (int number = 1; number < 1000; ++number) {
        const std::string id = numbered_folder(wanted, number);
        std::error_code error;
        if (std::filesystem::create_directory(folder_ / id, error)) {
            write_first(folder_ / id / "job.yaml", text);
            begun_by_[id] = device;
            return id;
        }
        if (error) {
            break;
        }
    }
    throw InputError(folder_.string(), "takes no further folder for job " + sheet.job,
                     "check its permissions and free space, or choose another work order");
}

std::shared_ptr<std::mutex> JobStore::writer(const std::string& id) {
    const std::lock_guard lock(mutex_);
    auto& mutex = writers_[id];
    if (!mutex) {
        mutex = std::make_shared<std::mutex>();
    }
    return mutex;
}

StoredJob JobStore::change(const std::string& id, const std::string& version, LengthUnit unit,
                           const Change& change) {
    const auto file = folder_of(id) / "job.yaml";
    const auto mutex = writer(id);
    const std::lock_guard lock(*mutex);
    StoredJob job = read_stored(id, file);
    if (!version.empty() && version != job.version) {
        throw StaleSheet();
    }
    change(job.sheet);
    job.text = job_sheet_yaml(job.sheet, unit);
    job.sheet = parse_begun_job_sheet(job.text, file);
    job.version = sha256_hex(job.text);
    write_file(file, job.text);
    return job;
}

}  // namespace squaresight::bay

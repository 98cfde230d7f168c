#include "bay/job_store.h"

#include <fcntl.h>
#include <fmt/chrono.h>
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cctype>
#include <ctime>
#include <nlohmann/json.hpp>
#include <utility>

#include "bay/sheet_forms.h"
#include "job/headline.h"
#include "job/sheet_text.h"
#include "photo/photo.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

constexpr std::uintmax_t largest_sheet_bytes = 1 << 20;
constexpr std::uintmax_t largest_result_bytes = 16 << 20;
constexpr const char* result_name = "job.result.json";

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

/// Finished where the result file says so of this version of the sheet.
JobState state_of(const StoredJob& job) {
    if (!job.sheet.abandoned.empty()) {
        return JobState::abandoned;
    }
    const auto file = job.sheet.file.parent_path() / result_name;
    std::error_code none;
    if (!std::filesystem::is_regular_file(std::filesystem::symlink_status(file, none))) {
        return JobState::open;
    }
    const auto result =
        nlohmann::json::parse(read_file(file, largest_result_bytes), nullptr, false);
    if (!result.is_object() || result.value("headline", "") != headline_text(Headline::done)) {
        return JobState::open;
    }
    const auto inputs = result.value("inputs", nlohmann::json::array());
    const bool of_this_sheet = std::any_of(inputs.begin(), inputs.end(), [&](const auto& input) {
        return input.is_object() && input.value("sha256", "") == job.version;
    });
    return of_this_sheet ? JobState::finished : JobState::open;
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
    std::sort(ids.begin(), ids.end());
    return ids;
}

ListedJob JobStore::line_of(const std::string& id, Time written) const {
    std::error_code none;  // never measured
    const auto measured = std::filesystem::last_write_time(folder_ / id / result_name, none);
    const std::pair<Time, Time> times{written, none ? Time() : measured};
    const std::lock_guard lock(lines_mutex_);
    const auto known = lines_.find(id);
    if (known != lines_.end() && known->second.first == times) {
        return known->second.second;
    }
    ListedJob line;
    try {
        const StoredJob job = open(id);
        const JobSheet& sheet = job.sheet;
        line = {id,
                sheet.job,
                sheet.vehicle,
                sheet.sightings.back().stage,
                "",
                sheet.bay,
                is_board_remembered(sheet),
                current_setup(sheet) != nullptr && !current_setup(sheet)->tape_points.empty(),
                sheet.vehicle_model,
                job.version,
                sheet.technician,
                state_of(job)};
    } catch (const std::exception& error) {
        line.id = line.job = id;
        line.problem = error.what();
    }
    lines_[id] = {times, line};
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

StoredJob JobStore::write_changed(const StoredJob& before, std::string text, Deed deed) {
    const auto& file = before.sheet.file;
    StoredJob job;
    job.id = before.id;
    job.sheet = parse_begun_job_sheet(text, file);
    job.version = sha256_hex(text);
    job.text = std::move(text);
    if (job.version != before.version) {
        add_to_journal(file.parent_path(),
                       {fmt::format("{:%Y-%m-%d %H:%M}", fmt::localtime(std::time(nullptr))), deed,
                        before.version, job.version, before.text});
        write_file(file, job.text);
    }
    return job;
}

StoredJob JobStore::change(const std::string& id, const std::string& version, LengthUnit unit,
                           const Change& change, Deed deed) {
    const auto file = folder_of(id) / "job.yaml";
    const auto mutex = writer(id);
    const std::lock_guard lock(*mutex);
    const StoredJob before = read_stored(id, file);
    if (!version.empty() && version != before.version) {
        throw StaleSheet();
    }
    JobSheet sheet = before.sheet;
    change(sheet);
    return write_changed(before, job_sheet_yaml(sheet, unit), deed);
}

std::optional<JournalEntry> JobStore::last_entry(const StoredJob& job) const {
    return entry_to_undo(read_journal(folder_of(job.id)), job.version);
}

StoredJob JobStore::undo(const std::string& id, const std::string& version) {
    const auto file = folder_of(id) / "job.yaml";
    const auto mutex = writer(id);
    const std::lock_guard lock(*mutex);
    const StoredJob now = read_stored(id, file);
    const auto last = last_entry(now);
    if (version != now.version || !last) {
        throw StaleSheet();
    }
    return write_changed(now, last->text, Deed::undone);
}

}  // namespace squaresight::bay

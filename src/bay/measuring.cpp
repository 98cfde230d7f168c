#include "bay/measuring.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "photo/photo.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

using Json = nlohmann::json;

constexpr std::size_t most_answers = 512;
constexpr std::size_t largest_records_bytes = std::size_t{64} << 30;
constexpr const char* not_kept =
    "the job could not be stored with the records: measure it, and see that the records' file can "
    "be "
    "written";
constexpr const char* no_end =
    "measuring did not come to an end: a photo may be damaged or far too large; take the last "
    "photo "
    "again";

std::string version_of(const std::filesystem::path& sheet_file) {
    try {
        return sha256_hex(read_file(sheet_file, 1 << 20));
    } catch (const std::exception&) {
        return "";
    }
}

}  // namespace

WorkQueue::WorkQueue(std::filesystem::path program)
    : program_(std::move(program)), thread_([this] { work(); }) {}

WorkQueue::~WorkQueue() {
    {
        const std::lock_guard lock(mutex_);
        ending_ = true;
        queue_.clear();
    }
    stop_.request_stop();
    changed_.notify_all();
    thread_.join();
}

MeasuringState WorkQueue::ask(const Task& task, const std::function<bool(const Json&)>& fits) {
    const std::lock_guard lock(mutex_);
    const auto answer = answers_.find(task.key);
    if (answer != answers_.end() && fits(answer->second)) {
        return {false, false, answer->second};
    }
    const bool waits = std::any_of(queue_.begin(), queue_.end(),
                                   [&](const Task& one) { return one.key == task.key; });
    if (waits || running_ == task.key) {
        return {true, false, nullptr};
    }
    if (queue_.size() >= longest_queue) {
        return {true, true, nullptr};
    }
    queue_.push_back(task);
    changed_.notify_all();
    return {true, false, nullptr};
}

Json WorkQueue::answer_to(const Task& task) const {
    const Json otherwise = task.without_answer();
    const auto run = run_confined(program_, task.arguments, task.confines, stop_.get_token());
    const auto answer = Json::parse(run.output, nullptr, false);
    return run.finished && answer.is_object() ? answer : otherwise;
}

void WorkQueue::work() {
    std::unique_lock lock(mutex_);
    for (;;) {
        changed_.wait(lock, [this] { return ending_ || !queue_.empty(); });
        if (ending_) {
            return;
        }
        const Task task = std::move(queue_.front());
        queue_.pop_front();
        running_ = task.key;
        lock.unlock();
        Json answer = answer_to(task);
        lock.lock();
        running_.clear();
        if (answers_.size() >= most_answers) {
            answers_.clear();
        }
        answers_[task.key] = std::move(answer);
    }
}

Measuring::Measuring(const std::filesystem::path& program, const Confines& confines,
                     std::filesystem::path seen_folder)
    : confines_(confines), seen_folder_(std::move(seen_folder)), jobs_(program), photos_(program) {}

MeasuringState Measuring::job(const std::string& id, const std::filesystem::path& sheet_file,
                              const std::string& version) {
    return jobs_.ask({id,
                      {"measure-for-page", sheet_file.string(), seen_folder_.string()},
                      confines_,
                      [sheet_file] {
                          return Json{{"version", version_of(sheet_file)}, {"problem", no_end}};
                      }},
                     [&](const Json& answer) { return answer.value("version", "") == version; });
}

MeasuringState Measuring::photo(const std::filesystem::path& sheet_file, const std::string& file,
                                const std::filesystem::path& path, const std::string& cradle) {
    std::error_code none;
    const auto written = std::filesystem::last_write_time(path, none).time_since_epoch().count();
    return photos_.ask({fmt::format("{} {} {}", path.string(), written, cradle),
                        {"look-for-page", sheet_file.string(), file, seen_folder_.string()},
                        confines_,
                        [] {
                            return Json{{"found", false}, {"problem", no_end}};
                        }},
                       [](const Json&) { return true; });
}

MeasuringState Measuring::keep(const std::string& id, const std::filesystem::path& sheet_file,
                               const std::string& version, const std::filesystem::path& records) {
    Confines confines = confines_;
    confines.file_bytes = largest_records_bytes;
    return jobs_.ask(
        {id + " kept as " + version,
         {"records", "add", sheet_file.string(), "--store", records.string(), "--json"},
         confines,
         [] {
             return Json{{"problem", not_kept}};
         }},
        [](const Json&) { return true; });
}

}  // namespace squaresight::bay

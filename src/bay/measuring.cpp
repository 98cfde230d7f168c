#include "bay/measuring.h"

#include <algorithm>
#include <utility>

#include "photo/photo.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

constexpr std::size_t most_answers = 256;

std::string version_of(const std::filesystem::path& sheet_file) {
    try {
        return sha256_hex(read_file(sheet_file, 1 << 20));
    } catch (const std::exception&) {
        return "";
    }
}

bool is_answer(const nlohmann::json& answer) {
    return answer.is_object() && answer.value("version", "") != "" &&
           (answer.contains("problem") || answer.contains("first"));
}

}  // namespace

Measuring::Measuring(std::filesystem::path program, Confines confines)
    : program_(std::move(program)), confines_(confines), thread_([this] { work(); }) {}

Measuring::~Measuring() {
    {
        const std::lock_guard lock(mutex_);
        ending_ = true;
        queue_.clear();
    }
    changed_.notify_all();
    thread_.join();
}

bool Measuring::is_waiting(const std::string& id) const {
    return std::any_of(queue_.begin(), queue_.end(),
                       [&](const Task& task) { return task.id == id; });
}

MeasuringState Measuring::state(const std::string& id, const std::filesystem::path& sheet_file,
                                const std::string& version) {
    const std::lock_guard lock(mutex_);
    const auto answer = answers_.find(id);
    if (answer != answers_.end() && answer->second.value("version", "") == version) {
        return {false, false, answer->second};
    }
    if (is_waiting(id) || running_ == id) {
        return {true, false, nullptr};
    }
    if (queue_.size() >= longest_queue) {
        return {true, true, nullptr};
    }
    queue_.push_back({id, sheet_file});
    changed_.notify_all();
    return {true, false, nullptr};
}

nlohmann::json Measuring::measured(const Task& task) const {
    const std::string version = version_of(task.sheet_file);
    const auto run =
        run_confined(program_, {"measure-for-page", task.sheet_file.string()}, confines_);
    const auto answer = nlohmann::json::parse(run.output, nullptr, false);
    if (run.finished && is_answer(answer)) {
        return answer;
    }
    return {{"version", version},
            {"problem",
             "measuring did not come to an end: a photo may be damaged or far too large; take the "
             "last photo again"}};
}

void Measuring::work() {
    std::unique_lock lock(mutex_);
    for (;;) {
        changed_.wait(lock, [this] { return ending_ || !queue_.empty(); });
        if (ending_) {
            return;
        }
        const Task task = std::move(queue_.front());
        queue_.pop_front();
        running_ = task.id;
        lock.unlock();
        nlohmann::json answer = measured(task);
        lock.lock();
        running_.clear();
        if (answers_.size() >= most_answers) {
            answers_.clear();
        }
        answers_[task.id] = std::move(answer);
    }
}

}  // namespace squaresight::bay

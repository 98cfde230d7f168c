#include "bay/measuring.h"

#include <algorithm>
#include <utility>

#include "bay/reviews.h"

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

/// What `records add` says of the one job; the problem that it was refused for otherwise.
Json kept_answer(const Json& said) {
    const auto jobs = said.find("jobs");
    return jobs != said.end() && !jobs->empty() ? jobs->front() : Json{{"problem", not_kept}};
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

bool WorkQueue::is_under_way(const Task& task) const {
    return running_ == task.key || std::any_of(queue_.begin(), queue_.end(), [&](const Task& one) {
               return one.key == task.key;
           });
}

MeasuringState WorkQueue::ask(const Task& task, Asked asked,
                              const std::function<bool(const Json&)>& fits) {
    const std::lock_guard lock(mutex_);
    Json last_failure;
    if (const auto found = answers_.find(task.key); found != answers_.end()) {
        Kept& kept = found->second;
        if (!kept.failed() && fits(kept.answer)) {
            return {false, false, kept.answer};
        }
        if (kept.failed() && kept.about == task.about) {
            const bool anew = kept.shown && asked == Asked::by_page;
            if (!anew && !is_under_way(task)) {
                kept.shown = kept.shown || asked != Asked::by_poll;
                return {false, false, kept.answer};
            }
            last_failure = kept.answer;
        }
    }
    if (is_under_way(task)) {
        return {true, false, last_failure};
    }
    if (asked == Asked::in_passing) {
        return {false, false, last_failure};
    }
    if (queue_.size() >= longest_queue) {
        return {true, true, last_failure};
    }
    queue_.push_back(task);
    changed_.notify_all();
    return {true, false, last_failure};
}

Json WorkQueue::answer_to(const Task& task) const {
    const auto run = run_confined(program_, task.arguments, task.confines, stop_.get_token());
    const auto answer = Json::parse(run.output, nullptr, false);
    return run.finished && answer.is_object() ? answer : task.without_answer;
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
        answers_[task.key] = {std::move(answer), task.about};
    }
}

Measuring::Measuring(const std::filesystem::path& program, const Confines& confines,
                     std::filesystem::path seen_folder)
    : confines_(confines), seen_folder_(std::move(seen_folder)), jobs_(program), photos_(program) {}

MeasuringState Measuring::job(const std::string& id, const std::filesystem::path& sheet_file,
                              const std::vector<InputFile>& inputs, Asked asked) {
    const std::string key = answer_key(inputs);
    return jobs_.ask({id,
                      key,
                      {"measure-for-page", sheet_file.string(), seen_folder_.string()},
                      confines_,
                      Json{{"problem", no_end}}},
                     asked, [&](const Json& answer) { return answer.value("key", "") == key; });
}

MeasuringState Measuring::photo(const std::filesystem::path& sheet_file, const std::string& file,
                                const std::filesystem::path& path, const std::string& state,
                                Asked asked) {
    return photos_.ask({path.string() + " " + state,
                        state,
                        {"look-for-page", sheet_file.string(), file, seen_folder_.string()},
                        confines_,
                        Json{{"found", false}, {"problem", no_end}}},
                       asked, [](const Json&) { return true; });
}

MeasuringState Measuring::keep(const std::string& id, const std::filesystem::path& sheet_file,
                               const std::vector<InputFile>& inputs,
                               const std::filesystem::path& records, const std::string& newest,
                               Asked asked) {
    Confines confines = confines_;
    confines.file_bytes = largest_records_bytes;
    const std::string identity = identity_of(inputs);
    auto state = jobs_.ask({id + " kept",
                            identity,
                            {"records", "add", sheet_file.string(), "--store", records.string(),
                             "--wait", std::to_string(Reviews::longest_wait_s), "--json"},
                            confines,
                            Json{{"problem", not_kept}}},
                           asked, [&](const Json& answer) {
                               const Json job = kept_answer(answer);
                               return job.value("identity", "") == identity &&
                                      job.value("hash", "") == newest;
                           });
    if (!state.answer.is_null() && !state.answer.contains("problem")) {
        state.answer = kept_answer(state.answer);
    }
    return state;
}

}  // namespace squaresight::bay

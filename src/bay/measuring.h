#pragma once
#include <condition_variable>
#include <deque>
#include <filesystem>
#include <functional>
#include <map>
#include <mutex>
#include <nlohmann/json.hpp>
#include <stop_token>
#include <string>
#include <thread>
#include <vector>

#include "bay/confined.h"

namespace squaresight::bay {

/// How far a piece of work is.
struct MeasuringState {
    bool working = false;   ///< asked for and not done
    bool crowded = false;   ///< too much waits: ask again later
    nlohmann::json answer;  ///< bay/answer.h, bay/look.h; null where there is none
};

/// Pieces of work done one after the other beside the server, each by the program itself in a
/// confined process. At most `longest_queue` wait.
class WorkQueue {
  public:
    static constexpr std::size_t longest_queue = 64;

    explicit WorkQueue(std::filesystem::path program);
    /// Stops what is running.
    ~WorkQueue();
    WorkQueue(const WorkQueue&) = delete;
    WorkQueue& operator=(const WorkQueue&) = delete;

    struct Task {
        std::string key;
        std::vector<std::string> arguments;  ///< of the program
        Confines confines;
        /// What stands in the place of an answer that is none.
        std::function<nlohmann::json()> without_answer;
    };
    /// The newest answer to this key where it `fits`; else asks for one.
    MeasuringState ask(const Task& task, const std::function<bool(const nlohmann::json&)>& fits);

  private:
    void work();
    nlohmann::json answer_to(const Task& task) const;

    std::filesystem::path program_;
    std::stop_source stop_;
    std::mutex mutex_;
    std::condition_variable changed_;
    std::deque<Task> queue_;
    std::string running_;
    std::map<std::string, nlohmann::json> answers_;
    bool ending_ = false;
    std::thread thread_;
};

/// Measures jobs, and beside it looks at single photos as they come: a photo does not wait for a
/// job.
class Measuring {
  public:
    /// Photos that were searched are kept in `seen_folder` (bay/seen_photos.h).
    Measuring(const std::filesystem::path& program, const Confines& confines,
              std::filesystem::path seen_folder);

    /// The answer for this version of the sheet; asks for it where there is none yet.
    MeasuringState job(const std::string& id, const std::filesystem::path& sheet_file,
                       const std::string& version);

    /// What a photo says (bay/look.h); `cradle` is how its sheet says that the phone stood.
    MeasuringState photo(const std::filesystem::path& sheet_file, const std::string& file,
                         const std::filesystem::path& path, const std::string& cradle);

    /// Stores a job with the records (command `records add`): what that says as JSON, or a
    /// `problem`.
    MeasuringState keep(const std::string& id, const std::filesystem::path& sheet_file,
                        const std::string& version, const std::filesystem::path& records);

    const std::filesystem::path& seen_folder() const { return seen_folder_; }

  private:
    Confines confines_;
    std::filesystem::path seen_folder_;
    WorkQueue jobs_, photos_;
};

}  // namespace squaresight::bay

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
#include "job/inputs.h"

namespace squaresight::bay {

/// How far a piece of work is.
struct MeasuringState {
    bool working = false;   ///< asked for and not done
    bool crowded = false;   ///< too much waits: ask again later
    nlohmann::json answer;  ///< bay/answer.h, bay/look.h; null where there is none
};

/// Who asks: a page shows what it gets; a poll only waits for the end; in passing nothing is begun.
enum class Asked { by_page, by_poll, in_passing };

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
        std::string about;                   ///< the state of things that is asked about
        std::vector<std::string> arguments;  ///< of the program
        Confines confines;
        nlohmann::json without_answer;  ///< stands in the place of an answer that is none
    };
    /// The newest answer to this key if it `fits`; else asks for one. A failure (an answer with a
    /// `problem`) is an answer to what it was asked about, until a page has shown it: the next page
    /// has it tried anew, and until that is done shows the failure still.
    MeasuringState ask(const Task& task, Asked asked,
                       const std::function<bool(const nlohmann::json&)>& fits);

  private:
    struct Kept {
        nlohmann::json answer;
        std::string about;
        bool shown = false;

        bool failed() const { return answer.contains("problem"); }
    };
    void work();
    nlohmann::json answer_to(const Task& task) const;
    bool is_under_way(const Task& task) const;

    std::filesystem::path program_;
    std::stop_source stop_;
    std::mutex mutex_;
    std::condition_variable changed_;
    std::deque<Task> queue_;
    std::string running_;
    std::map<std::string, Kept> answers_;
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

    /// The answer to the files that the job stands on now (answer_key of `inputs`); asks for it
    /// where there is none yet.
    MeasuringState job(const std::string& id, const std::filesystem::path& sheet_file,
                       const std::vector<InputFile>& inputs, Asked asked);

    /// What a photo says (bay/look.h); `state` is what it depends on.
    MeasuringState photo(const std::filesystem::path& sheet_file, const std::string& file,
                         const std::filesystem::path& path, const std::string& state, Asked asked);

    /// Stores a job with the records (command `records add`): what became of it as JSON (`hash`,
    /// `entry`, `revision`, `identity`, `stored`), or a `problem`. An answer fits while it is of
    /// these inputs and `newest` is the hash of the job's newest entry.
    MeasuringState keep(const std::string& id, const std::filesystem::path& sheet_file,
                        const std::vector<InputFile>& inputs, const std::filesystem::path& records,
                        const std::string& newest, Asked asked);

    const std::filesystem::path& seen_folder() const { return seen_folder_; }

  private:
    Confines confines_;
    std::filesystem::path seen_folder_;
    WorkQueue jobs_, photos_;
};

}  // namespace squaresight::bay

#pragma once
#include <condition_variable>
#include <deque>
#include <filesystem>
#include <map>
#include <mutex>
#include <nlohmann/json.hpp>
#include <string>
#include <thread>

#include "bay/confined.h"

namespace squaresight::bay {

/// How far the measuring of a job is.
struct MeasuringState {
    bool working = false;   ///< asked for and not done
    bool crowded = false;   ///< too many jobs wait: ask again later
    nlohmann::json answer;  ///< bay/answer.h; null where there is none of this version
};

/// Measures jobs one after the other beside the server, each in a confined process of the program
/// itself (its hidden command `measure-for-page`). At most `longest_queue` jobs wait.
class Measuring {
  public:
    static constexpr std::size_t longest_queue = 64;

    Measuring(std::filesystem::path program, Confines confines);
    ~Measuring();
    Measuring(const Measuring&) = delete;
    Measuring& operator=(const Measuring&) = delete;

    /// The answer for this version of the sheet; asks for it where there is none yet.
    MeasuringState state(const std::string& id, const std::filesystem::path& sheet_file,
                         const std::string& version);

  private:
    struct Task {
        std::string id;
        std::filesystem::path sheet_file;
    };
    void work();
    bool is_waiting(const std::string& id) const;
    nlohmann::json measured(const Task& task) const;

    std::filesystem::path program_;
    Confines confines_;
    mutable std::mutex mutex_;
    std::condition_variable changed_;
    std::deque<Task> queue_;
    std::string running_;
    std::map<std::string, nlohmann::json> answers_;
    bool ending_ = false;
    std::thread thread_;
};

}  // namespace squaresight::bay

#pragma once
#include <filesystem>
#include <string>
#include <vector>

#include "mount/response.h"

namespace squaresight {

/// A round of some job that was learned from.
struct HistoryRound {
    std::string job;
    std::string stage;    ///< whose measurement showed it: "adjusted 1"
    std::string vehicle;  ///< empty: not told, so it counts as a truck of its own
    Round round;
};

/// Rounds of all mounts of one profile, oldest first.
using MountHistory = std::vector<HistoryRound>;

/// The file beside a profile that keeps its rounds: three-point.history.yaml of three-point.yaml.
std::filesystem::path history_file(const std::filesystem::path& mount_file);

/// Reads rounds (schema squaresight/mount-history/1); none where there is no such file.
/// InputError as in units/entry.h, also where it belongs to another mount or names other screws.
MountHistory load_history(const std::filesystem::path& file, const Mount& mount);

/// Puts a job's rounds in the place of those that the history has of it; only the newest 1000
/// rounds are kept.
MountHistory with_job(MountHistory history, const std::string& job, const MountHistory& rounds);

std::string history_yaml(const Mount& mount, const MountHistory& history);

/// What is known of the mount at the start of a job: from rounds of other jobs. Those of the same
/// vehicle count fully, those of others by what mounts of one profile have in common.
Response response_from(const Mount& mount, const MountHistory& history, const std::string& job,
                       const std::string& vehicle);

}  // namespace squaresight

#pragma once
#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "records/store.h"

namespace squaresight {

/// Who is told what becomes of each sheet.
struct AddListener {
    /// What is being looked at, and how much of the whole is done (0 to 1).
    std::function<void(const std::string& what, double share)> progress;
    std::function<void(const StoredOutcome&)> stored;  ///< it is on disk
    std::function<void(const std::string& sentence)> refused;
};

/// Stores the jobs of these sheets; those that the store knows are not measured. Jobs that come
/// quickly are stored together, at least once a second: waiting for the disk is what takes time. A
/// sheet that cannot be used is told of and the rest is stored. InputError where the store fails:
/// what was told as stored is. `edit` is kept with each that is a new revision.
void add_jobs(Store& store, const std::vector<std::filesystem::path>& sheets,
              const AddListener& listener, const JobEdit& edit = {});

}  // namespace squaresight

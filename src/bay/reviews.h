#pragma once
#include <filesystem>
#include <memory>
#include <optional>
#include <string>

#include "records/store.h"

namespace squaresight::bay {

/// Where the review of a job stands by the records.
struct JobReview {
    ReviewState state = {"", "", "", ""};  ///< decision empty: it was never stored
    int revision = 0;                      ///< newest
    std::string hash = {};                 ///< of its entry
    std::string identity = {};             ///< of the job as it was stored
    bool changed = false;                  ///< the folder's sheet is another than the stored one

    bool is_returned() const { return state.decision == "returned"; }
};

/// A shop's records as the page reads them at one moment. They may not be there yet, or only be
/// begun.
class Reviews {
  public:
    /// Pages wait for a writer no longer than this.
    static constexpr int longest_wait_s = 3;

    /// InputError where they cannot be read.
    explicit Reviews(const std::filesystem::path& records);

    JobReview of(const std::string& order, const std::string& sheet_version);
    /// That of a job whose newest entry was returned; else nothing.
    std::optional<JobReview> returned(const std::string& order, const std::string& sheet_version);

  private:
    std::unique_ptr<Store> store_;
};

}  // namespace squaresight::bay

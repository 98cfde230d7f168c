#pragma once
#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "bay/sheet_journal.h"
#include "job/sheet.h"
#include "units/quantity.h"

namespace squaresight::bay {

/// A job's sheet as it stands on disk.
struct StoredJob {
    std::string id;       ///< name of its folder
    JobSheet sheet;       ///< may still be begun (job/sheet.h)
    std::string text;     ///< its bytes
    std::string version;  ///< SHA-256 of them
};

/// As many of the newest jobs are shown and looked through.
inline constexpr std::size_t listed_jobs = 200;
/// As many of the newest are searched.
inline constexpr std::size_t searched_jobs = 5000;

/// Finished: in tolerance, locked, nothing open, when it was measured last.
enum class JobState { open, finished, abandoned };

/// A line of the list of jobs; `problem` says why the sheet cannot be read, where it cannot.
struct ListedJob {
    std::string id;
    std::string job, vehicle, stage;
    std::string problem;
    std::string bay = {};
    bool board_remembered = false;  ///< it tells how its board stood
    bool has_points = false;        ///< it tells where tapes start on its vehicle
    std::string vehicle_model = {};
    std::string version = {};  ///< SHA-256 of the sheet
    std::string technician = {};
    JobState state = JobState::open;
};

/// The sheet was changed by someone else since the form was opened.
struct StaleSheet : std::runtime_error {
    StaleSheet() : std::runtime_error("the job was changed by someone else meanwhile") {}
};

/// There is no such job. Says nothing of the disk.
struct NoSuchJob : std::runtime_error {
    NoSuchJob() : std::runtime_error("there is no such job") {}
};

/// Another job has this work order: with the records both would be one.
struct OrderTaken : std::runtime_error {
    OrderTaken() : std::runtime_error("another job has this work order") {}
};

/// The folder of jobs: one folder a job, its sheet in job.yaml. One writer a job at a time; what a
/// change returned is on disk.
class JobStore {
  public:
    explicit JobStore(std::filesystem::path folder);

    /// Newest first, at most `count`.
    std::vector<ListedJob> list(std::size_t count) const;

    /// Ids of all listed jobs with this work order, by name.
    std::vector<std::string> folders_of(const std::string& order) const;

    /// NoSuchJob, or InputError for a sheet that cannot be read.
    StoredJob open(const std::string& id) const;

    /// Writes a new job's sheet (paths absolute; `sheet.file` is set here); returns its id.
    /// OrderTaken where a job of the newest, or one in a folder of that name, has its work order,
    /// unless the same device began it in the same words since the start.
    std::string create(JobSheet sheet, LengthUnit unit, const std::string& device);

    using Change = std::function<void(JobSheet&)>;
    /// Changes the sheet that has `version` (any where it is empty): StaleSheet where it has
    /// another by now, InputError where the changed sheet would not read back; the file then stays.
    /// What stood there before is kept in the job's journal (bay/sheet_journal.h).
    StoredJob change(const std::string& id, const std::string& version, LengthUnit unit,
                     const Change& change, Deed deed = Deed::entry);

    /// The newest entry of a sheet of this version that was not undone; nothing where there is
    /// none.
    std::optional<JournalEntry> last_entry(const StoredJob& job) const;
    /// Takes that entry back: the sheet stands as before it. StaleSheet where the sheet has another
    /// version by now, or nothing is to be undone.
    StoredJob undo(const std::string& id, const std::string& version);

    /// Where the job's files are. NoSuchJob as above.
    std::filesystem::path folder_of(const std::string& id) const;

  private:
    using Time = std::filesystem::file_time_type;
    /// Writes the sheet's new text, what stood there before into the journal first.
    static StoredJob write_changed(const StoredJob& before, std::string text, Deed deed);
    std::shared_ptr<std::mutex> writer(const std::string& id);
    /// Id of a job with this work order, among those that `create` looks at; else empty.
    std::string holder_of(const std::string& order) const;
    /// The job's line; read again where the sheet was written or measured since.
    ListedJob line_of(const std::string& id, Time written) const;

    std::filesystem::path folder_;
    std::mutex beginning_;                         ///< one new job at a time
    std::map<std::string, std::string> begun_by_;  ///< device of each job begun since the start
    std::mutex mutex_;
    std::map<std::string, std::shared_ptr<std::mutex>> writers_;
    mutable std::mutex lines_mutex_;
    mutable std::map<std::string, std::pair<std::pair<Time, Time>, ListedJob>> lines_;
};

/// Whether a text may be the name of a job's folder: 1 to 64 letters, digits, dots, dashes and
/// underscores, the first a letter or digit.
bool is_job_id(const std::string& text);

}  // namespace squaresight::bay

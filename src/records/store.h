#pragma once
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "records/address.h"
#include "records/database.h"
#include "records/job_record.h"
#include "records/record_entry.h"
#include "records/signature.h"

namespace squaresight {

/// The end of a shop's chain: its newest entry.
struct ChainHead {
    int seq = 0;  ///< 0 where nothing was stored yet
    std::string hash = no_hash;
};

enum class Stored { first, revision, unchanged };

/// What became of something to be stored.
struct StoredOutcome {
    Stored stored = Stored::unchanged;
    std::string job;
    int seq = 0;  ///< of its entry, now or before
    int revision = 0;
    std::string hash;      ///< of that entry
    std::string identity;  ///< of the job as it is there
};

/// Why a job is stored as a new revision; either may be empty.
struct JobEdit {
    std::string by;      ///< code of who changed it
    std::string reason;  ///< one line
};

/// What was told of the edit that an entry of kind job holds; empty texts where nothing was.
JobEdit edit_of(const RecordEntry& entry);

/// Rows that lie beside a shop's entries.
struct StoredCounts {
    long long sightings = 0;
    long long texts = 0;
};

/// An entry as it lies in the store: its bytes, and the columns beside them, which must say the
/// same (verify).
struct StoredEntry {
    int seq = 0;
    std::string kind, job;
    int revision = 0;
    std::string identity, hash, text;
};

/// Where the review of every revision stands that was signed, by job and revision.
using ReviewStates = std::map<std::pair<std::string, int>, ReviewState>;

/// That of one revision: waiting, where nobody signed it.
const ReviewState& review_state(const ReviewStates& all, const std::string& job, int revision);

/// By the newest of a job's signatures, if that is under this revision.
ReviewState review_state(const std::vector<RecordEntry>& signatures, int revision);

/// What a signature's entry says.
ReviewState review_state(const RecordEntry& signature);

/// The figures that an entry of kind job holds.
std::vector<SightingFigures> entry_figures(const RecordEntry& entry);

/// A shop's records. Whatever is read may have been tampered with; verify tells. Every function:
/// InputError of one sentence where the database fails, and then nothing of the call is stored.
class Store {
  public:
    /// Unless to write, there must be something of the shop.
    Store(const StoreAddress& address, const std::string& shop, Access access);

    /// Stores jobs, in their order and all or none. A job whose newest revision has the same
    /// identity is left as it is; a changed one is a new revision, of which `edit` is kept. On
    /// return they are on disk. InputError for an edit's text that is no single line of at most 500
    /// characters.
    std::vector<StoredOutcome> add(const std::vector<JobRecord>& jobs, const JobEdit& edit = {});

    /// The entry of a job's newest revision where that has this identity; else nothing.
    std::optional<StoredOutcome> known(const std::string& job, const std::string& identity);

    /// Signs the newest revision of a job (check_signature holds the rules), and states what stood
    /// on top of it. The same signature again changes nothing. InputError where there is no such
    /// job, or where its newest entry is not the one that the reviewer saw.
    StoredOutcome sign(const Signature& signature);

    /// Whether any revision of a job is there.
    bool holds(const std::string& job);
    /// Nothing where the head record is missing.
    std::optional<ChainHead> head();
    /// Up to `most` entries behind place `after`, by place.
    std::vector<StoredEntry> entries(int after, int most);
    /// The entry of a job's revision, the newest for 0. InputError where there is none.
    RecordEntry job_entry(const std::string& job, int revision = 0);
    /// The signatures under a job, oldest first.
    std::vector<RecordEntry> signatures(const std::string& job);
    ReviewStates review_states();
    StoredCounts counts();
    /// Runs `read` on the store as it is at one moment (Database::read_at_rest).
    void at_rest(const std::function<void()>& read);
    /// Nothing where it is missing.
    std::optional<std::string> text(const std::string& sha256);
    /// The same; InputError where it is missing or altered.
    std::string stored_text(const std::string& sha256);

    /// Figures of every stage in the order of the chain; of newest revisions alone or of all. Only
    /// `columns` are read; among them are job and revision.
    void each_sighting(bool newest_only, const std::function<void(const SightingFigures&)>& take,
                       const FigureColumns& columns = figure_columns());
    /// Figures of the stages of the entries behind place `after`, up to place `last`.
    std::vector<SightingFigures> sightings(int after, int last,
                                           const FigureColumns& columns = figure_columns());

    const std::string& shop() const { return shop_; }
    const std::string& name() const { return database_.address().name; }

  private:
    bool has_traces();
    void require_shop();

    Database database_;
    std::string shop_;
};

/// Now, in UTC, as 2026-03-05T10:12:40Z.
std::string utc_now();

}  // namespace squaresight

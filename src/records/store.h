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
};

/// An entry as it lies in the store: its bytes, and the columns beside them, which must say the
/// same (verify).
struct StoredEntry {
    int seq = 0;
    std::string kind, job;
    int revision = 0;
    std::string identity, hash, text;
};

/// Signatures by job and revision.
using Signatures = std::map<std::pair<std::string, int>, RecordEntry>;

/// The figures that an entry of kind job holds.
std::vector<SightingFigures> entry_figures(const RecordEntry& entry);

/// A shop's records. Whatever is read may have been tampered with; verify tells. Every function:
/// InputError of one sentence where the database fails, and then nothing of the call is stored.
class Store {
  public:
    /// To read, the shop must have records.
    Store(const StoreAddress& address, const std::string& shop, Access access);

    /// Stores jobs, in their order and all or none. A job whose newest revision has the same
    /// identity is left as it is; a changed one is a new revision. On return they are on disk.
    std::vector<StoredOutcome> add(const std::vector<JobRecord>& jobs);

    /// The entry of a job's newest revision where that has this identity; else nothing.
    std::optional<StoredOutcome> known(const std::string& job, const std::string& identity);

    /// Signs the newest revision of a job (check_signature holds the rules). The same signature
    /// again changes nothing. InputError where there is no such job.
    StoredOutcome sign(const Signature& signature);

    /// Nothing where the head record is missing.
    std::optional<ChainHead> head();
    /// Up to `most` entries behind place `after`, by place.
    std::vector<StoredEntry> entries(int after, int most);
    /// The entry of a job's revision, the newest for 0. InputError where there is none.
    RecordEntry job_entry(const std::string& job, int revision = 0);
    /// The signatures under a job, oldest first.
    std::vector<RecordEntry> signatures(const std::string& job);
    /// The newest signature of every revision that has one.
    Signatures newest_signatures();
    /// Nothing where it is missing.
    std::optional<std::string> text(const std::string& sha256);
    /// The same; InputError where it is missing or altered.
    std::string stored_text(const std::string& sha256);

    /// Figures of every stage in the order of the chain; of newest revisions alone or of all.
    void each_sighting(bool newest_only, const std::function<void(const SightingFigures&)>& take);
    /// Figures of the stages of the entries behind place `after`, up to place `last`.
    std::vector<SightingFigures> sightings(int after, int last);

    const std::string& shop() const { return shop_; }
    const std::string& name() const { return database_.address().name; }

  private:
    void require_shop();

    Database database_;
    std::string shop_;
};

/// Now, in UTC, as 2026-03-05T10:12:40Z.
std::string utc_now();

}  // namespace squaresight

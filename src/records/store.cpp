#include "records/store.h"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <ctime>

#include "photo/photo.h"

namespace squaresight {
namespace {

using Json = nlohmann::ordered_json;

constexpr int page_rows = 2000;
constexpr const char* program = "squaresight " SQUARESIGHT_VERSION;

void check_shop(const std::string& shop) {
    const bool plain = shop.find_first_not_of(
                           "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_.") ==
                       std::string::npos;
    if (shop.empty() || shop.size() > 64 || !plain) {
        throw InputError("--shop", "is no name of a shop",
                         "use letters, digits, dot, dash and underscore, at most 64");
    }
}

ChainHead head_of(soci::session& sql, const std::string& shop) {
    ChainHead head;
    sql << "SELECT seq, hash FROM records_heads WHERE shop = :shop", soci::use(shop),
        soci::into(head.seq), soci::into(head.hash);
    if (!sql.got_data()) {  // whoever may only move a head on has no right to make one
        sql << "INSERT INTO records_heads VALUES (:shop, 0, :hash)", soci::use(shop),
            soci::use(no_hash);
    }
    return head;
}

/// Puts an entry behind the head and moves the head on to it.
void append(soci::session& sql, RecordEntry& entry, const std::string& identity, ChainHead& head) {
    entry.seq = head.seq + 1;
    entry.previous = head.hash;
    entry.at = utc_now();
    entry.program = program;
    const std::string text = entry_text(entry);
    const std::string kind = kind_text(entry.kind);
    head = {entry.seq, sha256_hex(text)};
    sql << "INSERT INTO records_entries (shop, seq, kind, job, revision, identity, hash, entry) "
           "VALUES (:shop, :seq, :kind, :job, :revision, :identity, :hash, :entry)",
        soci::use(entry.shop), soci::use(entry.seq), soci::use(kind), soci::use(entry.job),
        soci::use(entry.revision), soci::use(identity), soci::use(head.hash), soci::use(text);
    sql << "UPDATE records_heads SET seq = :seq, hash = :hash WHERE shop = :shop",
        soci::use(head.seq), soci::use(head.hash), soci::use(entry.shop);
}

/// The newest revision of a job; revision 0 where there is none.
struct Newest {
    int revision = 0;
    int seq = 0;
    std::string identity, hash;
};

Newest newest_of(soci::session& sql, const std::string& shop, const std::string& job) {
    Newest newest;
    sql << "SELECT revision, seq, identity, hash FROM records_entries WHERE shop = :shop AND "
           "kind = 'job' AND job = :job ORDER BY revision DESC LIMIT 1",
        soci::use(shop), soci::use(job), soci::into(newest.revision), soci::into(newest.seq),
        soci::into(newest.identity), soci::into(newest.hash);
    return newest;
}

/// Binds the columns of a row of figures, to write them or to have them read.
class FigureRow {
  public:
    explicit FigureRow(const FigureColumns& columns = figure_columns())
        : columns_(columns), numbers_(columns.size()) {}

    SightingFigures figures;

    void use_in(soci::statement& statement) {
        each(
            [&](auto& value) { statement.exchange(soci::use(value)); },
            [&](Number& number) { statement.exchange(soci::use(number.value, number.indicator)); });
    }
    void into_from(soci::statement& statement) {
        each([&](auto& value) { statement.exchange(soci::into(value)); },
             [&](Number& number) {
                 statement.exchange(soci::into(number.value, number.indicator));
             });
    }
    /// Before a row is written.
    void take_numbers() {
        each([](auto&) {},
             [](Number& number) {
                 number.value = number.into->value_or(0);
                 number.indicator = number.into->has_value() ? soci::i_ok : soci::i_null;
             });
    }
    /// After a row was fetched.
    void give_numbers() {
        each([](auto&) {},
             [](Number& number) {
                 *number.into =
                     number.indicator == soci::i_ok ? std::optional(number.value) : std::nullopt;
             });
    }

  private:
    struct Number {
        double value = 0;
        soci::indicator indicator = soci::i_null;
        std::optional<double>* into = nullptr;
    };
    const FigureColumns& columns_;
    std::vector<Number> numbers_;

    template <class Plain, class Optional>
    void each(Plain plain, Optional optional) {
        std::size_t i = 0;
        for (const auto& column : columns_) {
            Number& number = numbers_[i++];
            std::visit(
                [&](auto member) {
                    auto& value = figures.*member;
                    if constexpr (std::is_same_v<decltype(value), std::optional<double>&>) {
                        number.into = &value;
                        optional(number);
                    } else {
                        plain(value);
                    }
                },
                column.member);
        }
    }
};

std::string column_names(const char* before, const FigureColumns& columns = figure_columns()) {
    std::string names;
    for (const auto& column : columns) {
        names += fmt::format("{}{}{}", names.empty() ? "" : ", ", before, column.name);
    }
    return names;
}

/// Writes rows of figures: one statement for all, since to prepare it takes as long as to run it.
class FigureWriter {
  public:
    FigureWriter(soci::session& sql, const std::string& shop) : statement_(sql) {
        statement_.exchange(soci::use(shop));
        row_.use_in(statement_);
        statement_.alloc();
        statement_.prepare(
            fmt::format("INSERT INTO records_sightings (shop, {}) VALUES (:shop, {})",
                        column_names(""), column_names(":")));
        statement_.define_and_bind();
    }
    void write(const SightingFigures& figures) {
        row_.figures = figures;
        row_.take_numbers();
        statement_.execute(true);
    }

  private:
    FigureRow row_;
    soci::statement statement_;
};

/// Why a revision differs from the one before, and who changed it.
void keep_edit(const JobEdit& edit, Json& content) {
    if (!edit.reason.empty() || !edit.by.empty()) {
        content["edit"] = {{"by", edit.by}, {"reason", edit.reason}};
    }
}

StoredOutcome put_job(soci::session& sql, const std::string& shop, const JobRecord& job,
                      const JobEdit& edit, FigureWriter& writer, ChainHead& head) {
    const Newest newest = newest_of(sql, shop, job.job);
    if (newest.revision > 0 && newest.identity == job.identity) {
        return {Stored::unchanged, job.job, newest.seq, newest.revision, newest.hash, job.identity};
    }
    RecordEntry entry;
    entry.shop = shop;
    entry.job = job.job;
    entry.revision = newest.revision + 1;
    entry.content = job.content;
    if (entry.revision > 1) {
        keep_edit(edit, entry.content);
    }
    entry.content["sightings"] = Json::array();
    for (const auto& figures : job.figures) {
        entry.content["sightings"].push_back(figures_json(figures));
    }
    append(sql, entry, job.identity, head);
    for (const auto& text : job.texts) {
        sql << "INSERT INTO records_texts VALUES (:shop, :sha256, :text) ON CONFLICT DO NOTHING",
            soci::use(shop), soci::use(text.sha256), soci::use(text.text);
    }
    for (const auto& figures : entry_figures(entry)) {
        writer.write(figures);
    }
    return {entry.revision == 1 ? Stored::first : Stored::revision,
            job.job,
            entry.seq,
            entry.revision,
            head.hash,
            job.identity};
}

std::vector<RecordEntry> parsed(const std::vector<std::string>& texts) {
    std::vector<RecordEntry> entries;
    for (const auto& text : texts) {
        entries.push_back(parse_entry(text));
    }
    return entries;
}

/// Texts of entries; `where` continues "WHERE shop = :shop".
template <class... Uses>
std::vector<std::string> entry_texts(soci::session& sql, const std::string& shop,
                                     const std::string& where, const Uses&... uses) {
    std::vector<std::string> texts;
    std::string text;
    soci::statement statement(sql);
    statement.exchange(soci::into(text));
    statement.exchange(soci::use(shop));
    (statement.exchange(soci::use(uses)), ...);
    statement.alloc();
    statement.prepare("SELECT entry FROM records_entries WHERE shop = :shop " + where);
    statement.define_and_bind();
    statement.execute();
    while (statement.fetch()) {
        texts.push_back(text);
    }
    return texts;
}

JobUnderReview under_review(const std::vector<RecordEntry>& revisions) {
    JobUnderReview job;
    for (const auto& entry : revisions) {
        job.technicians.push_back(entry.content.at("technician").get<std::string>());
        const std::string editor = edit_of(entry).by;
        if (!editor.empty()) {
            job.technicians.push_back(editor);
        }
        job.headline = entry_figures(entry).back().headline;
    }
    return job;
}

Json signature_content(const Signature& signature, const std::string& entry_hash,
                       const std::string& headline) {
    return {{"decision", signature.decision},
            {"reviewer", signature.reviewer},
            {"reason", signature.reason},
            {"entry", entry_hash},
            {"headline", headline}};
}

/// Refuses to sign another entry than the one that the reviewer saw.
void require_seen(const Signature& signature, const Newest& newest) {
    if (!signature.entry.empty() && signature.entry != newest.hash) {
        throw InputError(
            "job " + signature.job,
            fmt::format("was stored again since it was shown: entry {}, revision {} is another",
                        newest.seq, newest.revision),
            "look at the newest revision, then sign that");
    }
}

}  // namespace

std::string utc_now() {
    return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", fmt::gmtime(std::time(nullptr)));
}

const ReviewState& review_state(const ReviewStates& all, const std::string& job, int revision) {
    static const ReviewState waiting;
    const auto found = all.find({job, revision});
    return found == all.end() ? waiting : found->second;
}

ReviewState review_state(const std::vector<RecordEntry>& signatures, int revision) {
    return !signatures.empty() && signatures.back().revision == revision
               ? review_state(signatures.back())
               : ReviewState{};
}

ReviewState review_state(const RecordEntry& signature) {
    const Json& content = signature.content;
    return {content.at("decision"), content.at("reviewer"), content.at("reason"),
            content.value("headline", "")};
}

JobEdit edit_of(const RecordEntry& entry) {
    if (!entry.content.contains("edit")) {
        return {};
    }
    const Json& edit = entry.content.at("edit");
    return {edit.at("by"), edit.at("reason")};
}

std::vector<SightingFigures> entry_figures(const RecordEntry& entry) {
    std::vector<SightingFigures> all;
    for (const auto& json : entry.content.at("sightings")) {
        all.push_back(figures_from_json(json));
        all.back().entry = entry.seq;
        all.back().job = entry.job;
        all.back().revision = entry.revision;
        all.back().recorded_at = entry.at;
    }
    return all;
}

Store::Store(const StoreAddress& address, const std::string& shop, Access access)
    : database_(address, access), shop_(shop) {
    check_shop(shop);
    if (access != Access::write) {
        require_shop();
    }
}

bool Store::has_traces() {
    return database_.ask([&](soci::session& sql) {
        for (const auto* table :
             {"records_heads", "records_entries", "records_sightings", "records_texts"}) {
            int one = 0;
            sql << fmt::format("SELECT 1 FROM {} WHERE shop = :shop LIMIT 1", table),
                soci::use(shop_), soci::into(one);
            if (sql.got_data()) {
                return true;
            }
        }
        return false;
    });
}

void Store::require_shop() {
    if (!has_traces()) {
        const auto shops = database_.ask([&](soci::session& sql) {
            std::vector<std::string> found;
            std::string shop;
            soci::statement statement =
                (sql.prepare << "SELECT shop FROM records_heads ORDER BY shop", soci::into(shop));
            statement.execute();
            while (statement.fetch()) {
                found.push_back(shop);
            }
            return found;
        });
        throw NoRecords(name(), fmt::format("holds no records of the shop '{}'", shop_),
                        shops.empty() ? "add a job first: squaresight records add JOB.yaml"
                                      : fmt::format("choose one of: {}", fmt::join(shops, ", ")));
    }
}

std::vector<StoredOutcome> Store::add(const std::vector<JobRecord>& jobs, const JobEdit& edit) {
    require_line("--by", edit.by);
    require_line("--reason", edit.reason);
    std::vector<StoredOutcome> outcomes;
    database_.write(shop_, [&](soci::session& sql) {
        ChainHead head = head_of(sql, shop_);
        FigureWriter writer(sql, shop_);
        for (const auto& job : jobs) {
            outcomes.push_back(put_job(sql, shop_, job, edit, writer, head));
        }
    });
    return outcomes;
}

std::optional<StoredOutcome> Store::known(const std::string& job, const std::string& identity) {
    return database_.ask([&](soci::session& sql) -> std::optional<StoredOutcome> {
        const Newest newest = newest_of(sql, shop_, job);
        if (newest.revision == 0 || newest.identity != identity) {
            return std::nullopt;
        }
        return StoredOutcome{Stored::unchanged, job,         newest.seq,
                             newest.revision,   newest.hash, identity};
    });
}

bool Store::holds(const std::string& job) {
    return database_.ask(
        [&](soci::session& sql) { return newest_of(sql, shop_, job).revision > 0; });
}

StoredOutcome Store::sign(const Signature& signature) {
    StoredOutcome outcome;
    database_.write(shop_, [&](soci::session& sql) {
        const Newest newest = newest_of(sql, shop_, signature.job);
        if (newest.revision == 0) {
            throw InputError(name(), fmt::format("holds no job '{}'", signature.job),
                             "add it first: squaresight records add JOB.yaml");
        }
        require_seen(signature, newest);
        const JobUnderReview job = under_review(parsed(entry_texts(
            sql, shop_, "AND kind = 'job' AND job = :job ORDER BY revision", signature.job)));
        check_signature(signature, job);
        RecordEntry entry;
        entry.shop = shop_;
        entry.kind = EntryKind::signature;
        entry.job = signature.job;
        entry.revision = newest.revision;
        entry.content = signature_content(signature, newest.hash, job.headline);
        const auto before = parsed(entry_texts(
            sql, shop_, "AND kind = 'signature' AND job = :job ORDER BY seq DESC LIMIT 1",
            signature.job));
        if (!before.empty() && before.front().content == entry.content) {
            outcome = {Stored::unchanged, signature.job, before.front().seq,
                       newest.revision,   newest.hash,   newest.identity};
            return;
        }
        ChainHead head = head_of(sql, shop_);
        append(sql, entry, "", head);
        outcome = {Stored::first,   signature.job, entry.seq,
                   newest.revision, newest.hash,   newest.identity};
    });
    return outcome;
}

std::optional<ChainHead> Store::head() {
    return database_.ask([&](soci::session& sql) {
        ChainHead head;
        sql << "SELECT seq, hash FROM records_heads WHERE shop = :shop", soci::use(shop_),
            soci::into(head.seq), soci::into(head.hash);
        return sql.got_data() ? std::optional(head) : std::nullopt;
    });
}

std::vector<StoredEntry> Store::entries(int after, int most) {
    return database_.ask([&](soci::session& sql) {
        std::vector<StoredEntry> found;
        StoredEntry row;
        soci::statement statement =
            (sql.prepare << "SELECT seq, kind, job, revision, identity, hash, entry FROM "
                            "records_entries WHERE shop = :shop AND seq > :after ORDER BY seq "
                            "LIMIT :most",
             soci::use(shop_), soci::use(after), soci::use(most), soci::into(row.seq),
             soci::into(row.kind), soci::into(row.job), soci::into(row.revision),
             soci::into(row.identity), soci::into(row.hash), soci::into(row.text));
        statement.execute();
        while (statement.fetch()) {
            found.push_back(row);
        }
        return found;
    });
}

RecordEntry Store::job_entry(const std::string& job, int revision) {
    const auto texts = database_.ask([&](soci::session& sql) {
        return revision == 0
                   ? entry_texts(sql, shop_,
                                 "AND kind = 'job' AND job = :job ORDER BY revision DESC LIMIT 1",
                                 job)
                   : entry_texts(sql, shop_,
                                 "AND kind = 'job' AND job = :job AND revision = :revision", job,
                                 revision);
    });
    if (texts.empty()) {
        throw InputError(name(),
                         revision == 0
                             ? fmt::format("holds no job '{}'", job)
                             : fmt::format("holds no revision {} of job '{}'", revision, job),
                         "see what there is: squaresight records list");
    }
    return parse_entry(texts.front());
}

std::vector<RecordEntry> Store::signatures(const std::string& job) {
    return parsed(database_.ask([&](soci::session& sql) {
        return entry_texts(sql, shop_, "AND kind = 'signature' AND job = :job ORDER BY seq", job);
    }));
}

ReviewStates Store::review_states() {
    ReviewStates newest;
    for (const auto& text : database_.ask([&](soci::session& sql) {
             return entry_texts(sql, shop_, "AND kind = 'signature' ORDER BY seq");
         })) {
        const RecordEntry entry = parse_entry(text);
        newest[{entry.job, entry.revision}] = review_state(entry);
    }
    return newest;
}

StoredCounts Store::counts() {
    return database_.ask([&](soci::session& sql) {
        StoredCounts counts;
        sql << "SELECT COUNT(*) FROM records_sightings WHERE shop = :shop", soci::use(shop_),
            soci::into(counts.sightings);
        sql << "SELECT COUNT(*) FROM records_texts WHERE shop = :shop", soci::use(shop_),
            soci::into(counts.texts);
        return counts;
    });
}

void Store::at_rest(const std::function<void()>& read) { database_.read_at_rest(read); }

std::optional<std::string> Store::text(const std::string& sha256) {
    return database_.ask([&](soci::session& sql) {
        std::string found;
        sql << "SELECT text FROM records_texts WHERE shop = :shop AND sha256 = :sha256",
            soci::use(shop_), soci::use(sha256), soci::into(found);
        return sql.got_data() ? std::optional(found) : std::nullopt;
    });
}

std::string Store::stored_text(const std::string& sha256) {
    auto found = text(sha256);
    if (!found || sha256_hex(*found) != sha256) {
        throw InputError(name(), found ? "holds a text that was altered" : "lacks a text",
                         "run squaresight records verify");
    }
    return std::move(*found);
}

void Store::each_sighting(bool newest_only, const std::function<void(const SightingFigures&)>& take,
                          const FigureColumns& columns) {
    // Jobs that were revised are few: only their newest revisions have to be known.
    std::map<std::string, int> newest;
    if (newest_only) {
        database_.ask([&](soci::session& sql) {
            std::string job;
            int revision = 0;
            soci::statement statement =
                (sql.prepare << "SELECT job, MAX(revision) FROM records_entries WHERE "
                                "shop = :shop AND kind = 'job' GROUP BY job HAVING "
                                "MAX(revision) > 1",
                 soci::use(shop_), soci::into(job), soci::into(revision));
            statement.execute();
            while (statement.fetch()) {
                newest[job] = revision;
            }
        });
    }
    const int end = head().value_or(ChainHead{}).seq;
    // Pages keep the database free for writers, and memory small.
    for (int after = 0; after < end; after += page_rows) {
        for (const auto& figures : sightings(after, after + page_rows, columns)) {
            const auto revised = newest.find(figures.job);
            if (revised == newest.end() || revised->second == figures.revision) {
                take(figures);
            }
        }
    }
}

std::vector<SightingFigures> Store::sightings(int after, int last, const FigureColumns& columns) {
    const std::string command = fmt::format(
        "SELECT {} FROM records_sightings WHERE shop = :shop AND entry > :after AND "
        "entry <= :last ORDER BY entry, sighting",
        column_names("", columns));
    return database_.ask([&](soci::session& sql) {
        std::vector<SightingFigures> found;
        FigureRow row(columns);
        soci::statement statement(sql);
        row.into_from(statement);
        statement.exchange(soci::use(shop_));
        statement.exchange(soci::use(after));
        statement.exchange(soci::use(last));
        statement.alloc();
        statement.prepare(command);
        statement.define_and_bind();
        statement.execute();
        while (statement.fetch()) {
            row.give_numbers();
            found.push_back(row.figures);
        }
        return found;
    });
}

}  // namespace squaresight

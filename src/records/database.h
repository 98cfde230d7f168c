#pragma once
#include <soci/soci.h>

#include <optional>
#include <string>
#include <vector>

#include "records/address.h"
#include "units/error.h"

/// The one connection to a store's database. Internal to `records`: all SQL is portable between
/// SQLite and PostgreSQL, what is not stands in database.cpp.
namespace squaresight {

/// A store that failed, not what was to be stored.
class StoreError : public InputError {
    using InputError::InputError;
};

/// There is nothing of the shop yet: the store was only begun.
class NoRecords : public InputError {
    using InputError::InputError;
};

/// Only `write` makes a store, or begins a shop, that is not there.
enum class Access { read, change, write };

/// What a schema version adds to the one before it.
using SchemaStep = std::vector<std::string>;

/// The schema's versions; the newest is that of the last step.
const std::vector<SchemaStep>& schema_steps();

class Database {
  public:
    /// Connects and brings the schema up to the newest of `steps`, in one transaction. InputError
    /// where it cannot be reached, is not there (to read), is no store, or is newer than `steps`.
    Database(const StoreAddress& address, Access access,
             const std::vector<SchemaStep>& steps = schema_steps());

    /// Runs `work(session)`; a database's error becomes a StoreError of one sentence.
    template <class Work>
    auto ask(Work work) {
        try {
            return work(session_);
        } catch (const soci::soci_error& error) {
            throw translated(error);
        }
    }

    /// Runs `work(session)` in a transaction of its own: wholly stored on return, wholly undone
    /// where it throws. Of those with the same `lock` one runs at a time, in whatever program.
    template <class Work>
    void write(const std::string& lock, Work work) {
        ask([&](soci::session& sql) {
            try {
                begin(lock);
                work(sql);
                sql << "COMMIT";
            } catch (...) {
                roll_back();
                throw;
            }
        });
    }

    /// Runs `work()`, which reads by `ask`, on the store as it is at one moment. Writers of an
    /// SQLite file wait until it is done: keep it short.
    template <class Work>
    void read_at_rest(Work work) {
        ask([&](soci::session& sql) {
            try {
                sql << (address_.postgresql ? "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"
                                            : "BEGIN");
                work();
                sql << "COMMIT";
            } catch (...) {
                roll_back();
                throw;
            }
        });
    }

    const StoreAddress& address() const { return address_; }

  private:
    void connect(Access access);
    void prepare_session();
    bool has_schema();
    void migrate(Access access, const std::vector<SchemaStep>& steps);
    void begin(const std::string& lock);
    void roll_back() noexcept;
    StoreError translated(const soci::soci_error& error) const;

    StoreAddress address_;
    soci::session session_;
};

}  // namespace squaresight

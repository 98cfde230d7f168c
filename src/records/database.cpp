#include "records/database.h"

#include <fmt/format.h>
#include <soci/postgresql/soci-postgresql.h>
#include <soci/sqlite3/soci-sqlite3.h>

#include <filesystem>

#include "records/figures.h"

namespace squaresight {
namespace {

/// Creates the table of figures of the first version, one column each (records/figures.h).
std::string figures_table() {
    std::string columns;
    for (const auto& column : figure_columns()) {
        if (column.since == 1) {
            columns += fmt::format(", {} {}", column.name, column.sql_type());
        }
    }
    return "CREATE TABLE records_sightings (shop TEXT NOT NULL" + columns +
           ", PRIMARY KEY (shop, entry, sighting))";
}

/// Adds the columns that came with a later version; earlier rows get what a new SightingFigures
/// has.
SchemaStep figure_columns_since(int version) {
    SchemaStep step;
    for (const auto& column : figure_columns()) {
        if (column.since == version) {
            step.push_back(fmt::format("ALTER TABLE records_sightings ADD COLUMN {} {}{}",
                                       column.name, column.sql_type(), column.sql_default()));
        }
    }
    return step;
}

StoreError sqlite_error(const StoreAddress& address, const soci::sqlite3_soci_error& error) {
    const auto sentence = [&](const char* wrong, const char* next) {
        return StoreError(address.name, wrong, next);
    };
    switch (error.result() & 0xff) {
        case SQLITE_BUSY:
        case SQLITE_LOCKED:
            return sentence("is being written by another program, and nothing was stored",
                            "wait until it is done, and run this again");
        case SQLITE_READONLY:
        case SQLITE_PERM:
            return sentence("may only be read here, and nothing was stored",
                            "allow writing to the file and its folder, or name another --store");
        case SQLITE_FULL:
            return sentence("cannot grow: the disk is full, and what did not fit was not stored",
                            "make room, and run this again");
        case SQLITE_CANTOPEN:
            return sentence("cannot be opened",
                            "check that its folder is there and may be written to");
        case SQLITE_NOTADB:
            return sentence("is no SQLite file", "name a store of this program");
        case SQLITE_CORRUPT:
            return sentence("is damaged", "go back to the last backup");
        default:
            return StoreError(address.name,
                              fmt::format("the database failed ({})", error.get_error_message()),
                              "check disk and permissions");
    }
}

/// The first line of what a server says; the lines below it may repeat what was stored.
std::string first_line(const std::string& text) {
    const auto server = text.find("ERROR:");
    const auto from = server == std::string::npos ? 0 : text.find_first_not_of(' ', server + 6);
    return text.substr(from, text.find('\n', from) - from);
}

const char* advice(const std::string& sqlstate) {
    if (sqlstate == "55P03") {
        return "another program is writing: wait until it is done, and run this again";
    }
    if (sqlstate.starts_with("53")) {
        return "make room on the server, and run this again";
    }
    if (sqlstate == "42501" || sqlstate == "25006") {
        return "ask who looks after the server for the right to write; nothing was stored";
    }
    return "run this again when the server answers: what is stored already is not stored twice";
}

StoreError postgresql_error(const StoreAddress& address, const soci::postgresql_soci_error& error) {
    return StoreError(address.name,
                      fmt::format("the server refused ({})", first_line(error.get_error_message())),
                      advice(error.sqlstate()));
}

/// What libpq says of a connection that failed is on the line after the driver's own.
StoreError no_connection(const StoreAddress& address, const soci::soci_error& error) {
    const std::string text = error.get_error_message();
    const auto line = text.find('\n');
    const std::string reason = line == std::string::npos ? text : first_line(text.substr(line + 1));
    return StoreError(address.name, fmt::format("cannot be reached ({})", reason),
                      "check address, server and user; a password comes from PGPASSWORD or the "
                      "pass file");
}

}  // namespace

const std::vector<SchemaStep>& schema_steps() {
    static const std::vector<SchemaStep> steps{
        {"CREATE TABLE records_heads (shop TEXT PRIMARY KEY, seq INTEGER NOT NULL, "
         "hash TEXT NOT NULL)",
         "CREATE TABLE records_entries (shop TEXT NOT NULL, seq INTEGER NOT NULL, "
         "kind TEXT NOT NULL, job TEXT NOT NULL, revision INTEGER NOT NULL, "
         "identity TEXT NOT NULL, hash TEXT NOT NULL, entry TEXT NOT NULL, "
         "PRIMARY KEY (shop, seq))",
         "CREATE INDEX records_entries_by_job ON records_entries (shop, kind, job, revision)",
         "CREATE TABLE records_texts (shop TEXT NOT NULL, sha256 TEXT NOT NULL, "
         "text TEXT NOT NULL, PRIMARY KEY (shop, sha256))",
         figures_table()},
        figure_columns_since(2),
        figure_columns_since(3),
        figure_columns_since(4),
    };
    return steps;
}

Database::Database(const StoreAddress& address, Access access, const std::vector<SchemaStep>& steps)
    : address_(address) {
    connect(access);
    ask([&](soci::session&) {
        prepare_session();
        migrate(access, steps);
    });
}

void Database::connect(Access access) {
    std::error_code ignored;
    if (!address_.postgresql && access != Access::write &&
        !std::filesystem::exists(address_.file, ignored)) {
        throw InputError(address_.name, "there is no such store",
                         "check --store, or make one with: squaresight records add JOB.yaml");
    }
    try {
        if (address_.postgresql) {
            session_.open(soci::postgresql, address_.connect);
        } else {
            session_.open(soci::sqlite3, "dbname=\"" + address_.file + "\"");
        }
    } catch (const soci::soci_error& error) {
        throw address_.postgresql ? no_connection(address_, error) : translated(error);
    }
}

void Database::prepare_session() {
    if (address_.postgresql) {
        session_ << fmt::format("SET lock_timeout TO {}", address_.wait_s * 1000);
        session_ << "SET synchronous_commit TO on";
        std::string encoding;
        session_ << "SHOW server_encoding", soci::into(encoding);
        if (encoding != "UTF8") {
            throw InputError(address_.name, fmt::format("keeps text as {}", encoding),
                             "make the database with ENCODING 'UTF8'");
        }
    } else {
        session_ << fmt::format("PRAGMA busy_timeout = {}", address_.wait_s * 1000);
        // FULL may undo the last commit when the power fails right after it (SQLite's manual).
        session_ << "PRAGMA synchronous = EXTRA";
    }
}

bool Database::has_schema() {
    int tables = 0;
    session_ << (address_.postgresql ? "SELECT COUNT(*) FROM information_schema.tables WHERE "
                                       "table_schema = ANY (current_schemas(false)) AND "
                                       "table_name = 'records_store'"
                                     : "SELECT COUNT(*) FROM sqlite_master WHERE name = "
                                       "'records_store'"),
        soci::into(tables);
    if (tables == 0 && !address_.postgresql) {
        session_ << "SELECT COUNT(*) FROM sqlite_master", soci::into(tables);
        if (tables > 0) {
            throw InputError(address_.name, "is a database of another program",
                             "name another --store");
        }
    }
    return tables > 0;
}

void Database::migrate(Access access, const std::vector<SchemaStep>& steps) {
    const int newest = static_cast<int>(steps.size());
    const auto version_now = [&] {
        int version = 0;
        if (has_schema()) {
            session_ << "SELECT version FROM records_store", soci::into(version);
        }
        return version;
    };
    const int version = version_now();
    if (version > newest) {
        throw InputError(address_.name,
                         fmt::format("was written by a newer version of this program (records {}, "
                                     "known up to {})",
                                     version, newest),
                         "update this program; nothing was changed");
    }
    if (version == 0 && access != Access::write) {
        throw NoRecords(address_.name, "holds no records",
                        "add a job first: squaresight records add JOB.yaml");
    }
    if (version == newest) {
        return;
    }
    write("schema", [&](soci::session& sql) {
        const int from = version_now();  // another program may have been faster
        if (from == 0) {
            sql << "CREATE TABLE records_store (version INTEGER NOT NULL)";
            sql << "INSERT INTO records_store VALUES (0)";
        }
        for (int step = from; step < newest; ++step) {
            for (const auto& statement : steps[static_cast<std::size_t>(step)]) {
                sql << statement;
            }
        }
        sql << "UPDATE records_store SET version = :version", soci::use(newest);
    });
}

void Database::begin(const std::string& lock) {
    session_ << (address_.postgresql ? "BEGIN" : "BEGIN IMMEDIATE");
    if (address_.postgresql) {
        const std::string name = "squaresight records " + lock;
        session_ << "SELECT pg_advisory_xact_lock(hashtext(:name))", soci::use(name);
    }
}

void Database::roll_back() noexcept {
    try {
        session_ << "ROLLBACK";
    } catch (const soci::soci_error&) {
        // The database has rolled back by itself, or is out of reach and will.
    }
}

StoreError Database::translated(const soci::soci_error& error) const {
    if (const auto* sqlite = dynamic_cast<const soci::sqlite3_soci_error*>(&error)) {
        return sqlite_error(address_, *sqlite);
    }
    if (const auto* postgresql = dynamic_cast<const soci::postgresql_soci_error*>(&error)) {
        return postgresql_error(address_, *postgresql);
    }
    return StoreError(
        address_.name,
        fmt::format("the database failed ({})", first_line(error.get_error_message())),
        "check that it is a store of this program");
}

}  // namespace squaresight

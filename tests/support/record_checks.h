#pragma once
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <string>
#include <vector>

#include "records/verify.h"
#include "support/small_record.h"

/// What every store must do, whatever its database: the fast tier asks it of SQLite, the slow one
/// of a PostgreSQL server.
namespace squaresight::test {

/// Jobs J1, J2, ... each once.
inline void fill(const StoreAddress& address, int jobs, const std::string& shop = usual_shop) {
    Store store(address, shop, Access::write);
    for (int job = 1; job <= jobs; ++job) {
        add_one(store, small_record("J" + std::to_string(job)));
    }
}

/// Runs statements past the program, as a tamperer would.
inline void tamper(const StoreAddress& address, const std::vector<std::string>& statements) {
    Database database(address, Access::write);
    database.ask([&](soci::session& sql) {
        for (const auto& statement : statements) {
            sql << statement;
        }
    });
}

/// "altered 3" for each problem.
inline std::vector<std::string> faults(const StoreAddress& address, const std::string& head = "") {
    Store store(address, usual_shop, Access::read);
    std::vector<std::string> all;
    for (const auto& problem : verify_store(store, head).problems) {
        all.push_back(std::string(fault_text(problem.fault)) + " " + std::to_string(problem.seq));
    }
    return all;
}

/// The text of a stored entry in quotes for SQL, changed by `change`, and its new hash.
template <class Change>
std::pair<std::string, std::string> forged(const StoreAddress& address, int seq, Change change) {
    Store store(address, usual_shop, Access::read);
    RecordEntry entry = parse_entry(store.entries(seq - 1, 1).at(0).text);
    change(entry);
    const std::string text = entry_text(entry);
    std::string quoted = "'";
    for (const char letter : text) {
        quoted += letter == '\'' ? std::string("''") : std::string{letter};
    }
    return {quoted + "'", sha256_hex(text)};
}

inline void check_revisions(const StoreAddress& address) {
    Store store(address, usual_shop, Access::write);
    EXPECT_EQ(add_one(store, small_record("J1")).stored, Stored::first);
    const ChainHead head = store.head().value();
    const auto again = add_one(store, small_record("J1"));
    EXPECT_EQ(again.stored, Stored::unchanged);
    EXPECT_EQ(again.seq, 1);
    EXPECT_EQ(store.head().value().hash, head.hash) << "the same job twice changes nothing";

    const auto changed = add_one(store, small_record("J1", 2));
    EXPECT_EQ(changed.stored, Stored::revision);
    EXPECT_EQ(changed.revision, 2);
    EXPECT_EQ(changed.seq, 2);
    EXPECT_EQ(add_one(store, small_record("J1", 1)).revision, 3) << "changed back is a change too";
    EXPECT_EQ(store.job_entry("J1", 1).content.at("identity"), small_record("J1").identity)
        << "nothing was overwritten";
    EXPECT_EQ(store.known("J1", small_record("J1").identity).value().seq, 3);
    EXPECT_FALSE(store.known("J1", small_record("J1", 2).identity));

    std::vector<int> newest, all;
    store.each_sighting(true, [&](const auto& row) { newest.push_back(row.revision); });
    store.each_sighting(false, [&](const auto& row) { all.push_back(row.revision); });
    EXPECT_THAT(newest, testing::ElementsAre(3));
    EXPECT_THAT(all, testing::ElementsAre(1, 2, 3));
    EXPECT_THAT(faults(address), testing::IsEmpty());
}

inline void check_figures_survive(const StoreAddress& address) {
    JobRecord record = small_record("J'1; \"quoted\" ü");
    SightingFigures& figures = record.figures[0];
    figures.vehicle = "unit 17, :red";
    figures.vision_yaw_left_deg = 0.1 + 0.2;  // no short decimal
    figures.vision_pitch_up_deg = -5e-324;    // smallest that there is
    figures.vision_yaw_probability = 2.4466652103612522e-234;
    figures.tape_yaw_left_deg.reset();
    Store store(address, usual_shop, Access::write);
    add_one(store, record);
    const SightingFigures kept = store.sightings(0, 1).at(0);
    EXPECT_EQ(kept.job, record.job);
    EXPECT_EQ(kept.vehicle, figures.vehicle);
    EXPECT_EQ(kept.vision_yaw_left_deg, figures.vision_yaw_left_deg) << "every bit";
    EXPECT_EQ(kept.vision_pitch_up_deg, figures.vision_pitch_up_deg);
    EXPECT_EQ(kept.vision_yaw_probability, figures.vision_yaw_probability);
    EXPECT_EQ(kept.tape_yaw_left_deg, std::nullopt);
    EXPECT_EQ(store.stored_text(record.texts[1].sha256), record.texts[1].text);
    EXPECT_THAT(faults(address), testing::IsEmpty());
}

/// Tampers with six jobs in one way, and says what verify has to find.
inline void check_tampering(const std::function<StoreAddress()>& fresh) {
    using testing::ElementsAre;
    const auto six = [&] {
        StoreAddress address = fresh();
        fill(address, 6);
        return address;
    };
    const auto expect = [&](const char* what, const std::vector<std::string>& statements,
                            const auto& matcher) {
        const StoreAddress address = six();
        tamper(address, statements);
        EXPECT_THAT(faults(address), matcher) << what;
    };
    expect("nothing", {}, testing::IsEmpty());
    expect("a letter of an entry",
           {"UPDATE records_entries SET entry = REPLACE(entry, 'J3', 'J9') WHERE seq = 3"},
           ElementsAre("altered 3"));
    expect("no entry at all", {"UPDATE records_entries SET entry = 'gone' WHERE seq = 3"},
           ElementsAre("altered 3"));
    expect("a column", {"UPDATE records_entries SET job = 'J9' WHERE seq = 3"},
           ElementsAre("altered 3"));
    expect("a figure", {"UPDATE records_sightings SET vision_yaw_left_deg = 0.4 WHERE entry = 3"},
           ElementsAre("altered 3"));
    expect("a stage's row", {"DELETE FROM records_sightings WHERE entry = 3"},
           ElementsAre("removed 3"));
    expect("a file's text",
           {"UPDATE records_texts SET text = 'other' WHERE sha256 = '" +
            small_record("J3").texts[0].sha256 + "'"},
           ElementsAre("altered 3"));
    expect(
        "a file",
        {"DELETE FROM records_texts WHERE sha256 = '" + small_record("J3").texts[2].sha256 + "'"},
        ElementsAre("removed 3"));
    expect("removed", {"DELETE FROM records_entries WHERE seq = 4"}, ElementsAre("removed 4"));
    expect("the first removed", {"DELETE FROM records_entries WHERE seq = 1"},
           ElementsAre("removed 1"));
    expect("the last removed", {"DELETE FROM records_entries WHERE seq = 6"},
           ElementsAre("removed 6"));
    expect("removed and closed up",
           {"DELETE FROM records_entries WHERE seq = 4",
            "UPDATE records_entries SET seq = 4 WHERE seq = 5",
            "UPDATE records_entries SET seq = 5 WHERE seq = 6"},
           ElementsAre("removed 4"));
    expect("two exchanged",
           {"UPDATE records_entries SET seq = 100 WHERE seq = 2",
            "UPDATE records_entries SET seq = 2 WHERE seq = 5",
            "UPDATE records_entries SET seq = 5 WHERE seq = 100"},
           ElementsAre("reordered 2", "reordered 5"));
    expect("a copy put behind the end",
           {"INSERT INTO records_entries SELECT shop, 7, kind, job, revision, identity, hash, "
            "entry FROM records_entries WHERE seq = 2"},
           ElementsAre("inserted 2"));
    expect("a copy put before the start",
           {"INSERT INTO records_entries SELECT shop, -3, kind, job, revision, identity, hash, "
            "entry FROM records_entries WHERE seq = 2"},
           ElementsAre("inserted 2"));
    expect("the head record", {"DELETE FROM records_heads"}, ElementsAre("head 0"));
    expect("the head record and the first entry",
           {"DELETE FROM records_heads", "DELETE FROM records_entries WHERE seq = 1"},
           ElementsAre("head 0", "removed 1"));
    expect("the head record and all entries",
           {"DELETE FROM records_heads", "DELETE FROM records_entries"},
           ElementsAre("head 0", "removed 0", "removed 0"));
    expect("figures of no entry",
           {"INSERT INTO records_sightings (shop, entry, job, revision, recorded_at, sighting, "
            "stage, taken_at, technician, vehicle, bay, mount, camera, cradle, target, "
            "measured_by, vision_yaw_call, vision_pitch_call, tape_yaw_call, tape_pitch_call, "
            "tape_yaw_service_limit, tape_pitch_service_limit, yaw_agreement, pitch_agreement, "
            "photos, corners, stops, findings, locked) SELECT shop, 99, job, revision, "
            "recorded_at, sighting, stage, taken_at, technician, vehicle, bay, mount, camera, "
            "cradle, target, measured_by, vision_yaw_call, vision_pitch_call, tape_yaw_call, "
            "tape_pitch_call, tape_yaw_service_limit, tape_pitch_service_limit, yaw_agreement, "
            "pitch_agreement, photos, corners, stops, findings, locked FROM records_sightings "
            "WHERE entry = 2"},
           ElementsAre("inserted 6"));
    expect("a text of no entry",
           {"INSERT INTO records_texts (shop, sha256, text) VALUES ('main', '00', 'x')"},
           ElementsAre("inserted 6"));
    expect("the head's hash", {"UPDATE records_heads SET hash = 'none'"}, ElementsAre("altered 6"));

    const auto set = [](int seq, const auto& forgery) {
        return "UPDATE records_entries SET entry = " + forgery.first + ", hash = '" +
               forgery.second + "' WHERE seq = " + std::to_string(seq);
    };
    const auto put = [](int seq, const auto& forgery) {
        return "INSERT INTO records_entries SELECT shop, " + std::to_string(seq) +
               ", kind, job, revision, identity, '" + forgery.second + "', " + forgery.first +
               " FROM records_entries WHERE seq = 1";
    };
    for (const int seq : {1, 3, 6}) {
        const StoreAddress address = six();
        tamper(address,
               {set(seq, forged(address, seq, [](auto& e) { e.at = "2020-01-01T00:00:00Z"; }))});
        EXPECT_THAT(faults(address), testing::Contains("altered " + std::to_string(seq)))
            << "altered and hashed anew";
    }
    const StoreAddress middle = six();
    const auto wedge = forged(middle, 1, [&](RecordEntry& entry) {
        entry.seq = 4;
        entry.previous = Store(middle, usual_shop, Access::read).entries(2, 1).at(0).hash;
    });
    tamper(middle, {"UPDATE records_entries SET seq = 7 WHERE seq = 6",
                    "UPDATE records_entries SET seq = 6 WHERE seq = 5",
                    "UPDATE records_entries SET seq = 5 WHERE seq = 4", put(4, wedge)});
    EXPECT_THAT(faults(middle), ElementsAre("altered 4", "inserted 4"))
        << "put in without figures, the rest moved on";

    const StoreAddress end = six();
    tamper(end, {put(7, forged(end, 1, [&](RecordEntry& entry) {
                         entry.seq = 7;
                         entry.previous = Store(end, usual_shop, Access::read).head().value().hash;
                     }))});
    EXPECT_THAT(faults(end), ElementsAre("removed 7", "inserted 7"))
        << "put behind the end, well hashed, without figures";
}

/// A chain cannot see its own end: only a head that was written down can.
inline void check_noted_head(const StoreAddress& address) {
    fill(address, 6);
    const auto head_at = [&](int seq) {
        return Store(address, usual_shop, Access::read).entries(seq - 1, 1).at(0).hash;
    };
    const std::string six = head_at(6);
    const std::string five = head_at(5);
    EXPECT_THAT(faults(address, six), testing::IsEmpty());
    EXPECT_THAT(faults(address, five), testing::IsEmpty()) << "entries were added since";
    tamper(address,
           {"DELETE FROM records_entries WHERE seq = 6",
            "DELETE FROM records_sightings WHERE entry = 6",
            "DELETE FROM records_texts WHERE sha256 = '" + small_record("J6").texts[0].sha256 + "'",
            "DELETE FROM records_texts WHERE sha256 = '" + small_record("J6").texts[2].sha256 + "'",
            "UPDATE records_heads SET seq = 5, hash = '" + five + "'"});
    EXPECT_THAT(faults(address), testing::IsEmpty()) << "the end is cut off without a trace";
    EXPECT_THAT(faults(address, six), testing::ElementsAre("head 5"));
}

/// Writers in processes of their own, at once; each job once, no place twice.
inline void check_concurrent_writers(const StoreAddress& address, int writers, int jobs_each) {
    { Store make(address, usual_shop, Access::write); }
    std::vector<pid_t> children;
    for (int writer = 0; writer < writers; ++writer) {
        const pid_t child = ::fork();
        if (child == 0) {
            try {
                Store store(address, usual_shop, Access::write);
                for (int job = 0; job < jobs_each; ++job) {
                    add_one(store,
                            small_record("W" + std::to_string(writer) + "-" + std::to_string(job)));
                    add_one(store, small_record("shared " + std::to_string(job)));
                }
            } catch (const std::exception& error) {
                std::fprintf(stderr, "%s\n", error.what());
                ::_exit(1);
            }
            ::_exit(0);
        }
        children.push_back(child);
    }
    for (const pid_t child : children) {
        int status = 0;
        ::waitpid(child, &status, 0);
        EXPECT_TRUE(WIFEXITED(status) && WEXITSTATUS(status) == 0);
    }
    Store store(address, usual_shop, Access::read);
    const auto found = verify_store(store);
    EXPECT_THAT(found.problems, testing::IsEmpty());
    EXPECT_EQ(found.entries, writers * jobs_each + jobs_each);
}

inline void check_signatures(const StoreAddress& address) {
    Store store(address, usual_shop, Access::write);
    add_one(store, small_record("J1", 1, "T1", 0));
    add_one(store, small_record("J2", 1, "T1", 2));
    const auto refused = [&](const Signature& signature) -> std::string {
        try {
            store.sign(signature);
        } catch (const InputError& error) {
            return error.what();
        }
        return "";
    };
    EXPECT_THAT(refused({"J1", "accepted", " t1 ", ""}), testing::HasSubstr("cannot review it"));
    EXPECT_THAT(refused({"J2", "accepted", "R1", " "}), testing::HasSubstr("stands 'stop'"));
    EXPECT_THAT(refused({"J1", "returned", "R1", ""}), testing::HasSubstr("without a reason"));
    EXPECT_THAT(refused({"J9", "accepted", "R1", ""}), testing::HasSubstr("holds no job 'J9'"));
    EXPECT_EQ(store.head().value().seq, 2) << "what was refused left no trace";

    EXPECT_EQ(store.sign({"J1", "accepted", "R1", ""}).seq, 3);
    EXPECT_EQ(store.sign({"J1", "accepted", "R1", ""}).stored, Stored::unchanged);
    EXPECT_EQ(store.sign({"J2", "accepted", "R1", "board moved, taken again by hand"}).seq, 4);
    EXPECT_EQ(store.sign({"J2", "returned", "R2", "tape the distance again"}).seq, 5);
    EXPECT_EQ(store.review_states().at({"J2", 1}).decision, "returned");
    EXPECT_EQ(store.signatures("J2").size(), 2U);
    const RecordEntry signature = store.signatures("J1").at(0);
    const std::string first = store.entries(0, 1).at(0).hash;
    EXPECT_EQ(signature.content.at("entry"), first) << "it names what was signed";
    EXPECT_EQ(signature.content.at("headline"), "done");
    EXPECT_EQ(store.signatures("J2").at(0).content.at("headline"), "stop");
    EXPECT_THAT(refused({"J1", "accepted", "R1", "", store.entries(1, 1).at(0).hash}),
                testing::HasSubstr("stored again since it was shown"))
        << "the entry of another job";

    JobRecord open = small_record("J1", 2, "T2");
    open.figures[0].headline = "not ready";
    const std::string second = add_one(store, open).hash;
    EXPECT_FALSE(store.review_states().contains({"J1", 2})) << "a new revision waits again";
    EXPECT_THAT(refused({"J1", "accepted", "T1", ""}), testing::HasSubstr("cannot review it"))
        << "who measured an earlier revision measured the job";
    EXPECT_THAT(refused({"J1", "accepted", "R1", "as shown", first}),
                testing::HasSubstr("stored again since it was shown"));
    EXPECT_THAT(refused({"J1", "accepted", "R1", "", second}),
                testing::HasSubstr("stands 'not ready'"))
        << "in tolerance is not done";
    open.figures[0].headline = "";  // as an earlier version stored it
    open.content["identity"] = open.identity = first;
    add_one(store, open);
    EXPECT_THAT(refused({"J1", "accepted", "R1", ""}), testing::HasSubstr("an earlier version"));
    EXPECT_EQ(store.sign({"J1", "accepted", "R1", "seen"}).revision, 3);
    EXPECT_THAT(faults(address), testing::IsEmpty());
}

inline void check_shops_apart(const StoreAddress& address) {
    fill(address, 2, "north");
    fill(address, 3, "south");
    for (const auto& [shop, entries] : {std::pair{"north", 2}, std::pair{"south", 3}}) {
        Store store(address, shop, Access::read);
        const auto found = verify_store(store);
        EXPECT_THAT(found.problems, testing::IsEmpty());
        EXPECT_EQ(found.entries, entries);
    }
    EXPECT_THROW(Store(address, "east", Access::read), InputError);
    EXPECT_THROW(Store(address, "", Access::write), InputError);
    tamper(address, {"UPDATE records_entries SET shop = 'north', seq = 3 WHERE shop = 'south' AND "
                     "seq = 3"});
    Store north(address, "north", Access::read);
    EXPECT_FALSE(verify_store(north).problems.empty()) << "taken over from another shop";
}

/// A store of the first schema, whose entries and table lack the later columns, is brought forward
/// and stays as it was written.
inline void check_first_schema(const StoreAddress& address) {
    Database first(address, Access::write, {schema_steps().front()});
    RecordEntry entry;
    entry.shop = usual_shop;
    entry.seq = 1;
    entry.previous = no_hash;
    entry.at = "2026-03-05T10:12:40Z";
    entry.program = "squaresight 0.1.0";
    entry.job = "J1";
    entry.revision = 1;
    const JobRecord record = small_record("J1");
    entry.content = record.content;
    std::string names = "shop, entry, job, revision, recorded_at";
    std::string values = "'main', 1, 'J1', 1, '" + entry.at + "'";
    nlohmann::ordered_json figures = figures_json(record.figures.at(0));
    for (const auto& column : figure_columns()) {
        if (column.since > 1) {
            figures.erase(column.name);
        } else if (figures.contains(column.name)) {
            const auto value = figures.at(column.name);
            names += std::string(", ") + column.name;
            values += ", " + (value.is_string() ? "'" + value.get<std::string>() + "'"
                              : value.is_null() ? std::string("NULL")
                                                : value.dump());
        }
    }
    entry.content["sightings"] = {figures};
    const std::string text = entry_text(entry);
    const std::string hash = sha256_hex(text);
    first.ask([&](soci::session& sql) {
        sql << "INSERT INTO records_entries VALUES ('main', 1, 'job', 'J1', 1, :identity, :hash, "
               ":text)",
            soci::use(record.identity), soci::use(hash), soci::use(text);
        sql << "INSERT INTO records_heads VALUES ('main', 1, :hash)", soci::use(hash);
        sql << "INSERT INTO records_sightings (" + names + ") VALUES (" + values + ")";
        for (const auto& one : record.texts) {
            sql << "INSERT INTO records_texts VALUES ('main', :sha256, :text)",
                soci::use(one.sha256), soci::use(one.text);
        }
    });
    EXPECT_THAT(faults(address), testing::IsEmpty());
    Store store(address, usual_shop, Access::write);
    EXPECT_EQ(store.sightings(0, 1).at(0).camera_date, "");
    EXPECT_EQ(add_one(store, small_record("J1")).stored, Stored::unchanged);
    EXPECT_EQ(add_one(store, small_record("J1", 2)).revision, 2);
    EXPECT_THAT(faults(address), testing::IsEmpty());
}

/// Whoever edits a job may say why: kept with the revision, in the chain.
inline void check_edits(const StoreAddress& address) {
    Store store(address, usual_shop, Access::write);
    const JobEdit edit{"T2", "the distance was read off the wrong mark"};
    store.add({small_record("J1")}, edit);
    EXPECT_FALSE(store.job_entry("J1").content.contains("edit")) << "nothing was edited yet";
    store.add({small_record("J1", 2)}, edit);
    EXPECT_EQ(store.job_entry("J1").content.at("edit").at("by"), "T2");
    EXPECT_EQ(store.job_entry("J1").content.at("edit").at("reason"), edit.reason);
    EXPECT_THROW(store.sign({"J1", "returned", "t2", "look again"}), InputError)
        << "who edited it cannot review it";
    EXPECT_THROW(store.add({small_record("J1", 3)}, {"", "two\nlines"}), InputError);
    EXPECT_THAT(faults(address), testing::IsEmpty());
}

/// Verifying while others write finds nothing wrong.
inline void check_verify_while_written(const StoreAddress& address) {
    fill(address, 20);
    const pid_t writer = ::fork();
    if (writer == 0) {
        Store store(address, usual_shop, Access::write);
        for (int job = 100; job < 200; ++job) {
            add_one(store, small_record("J" + std::to_string(job)));
        }
        ::_exit(0);
    }
    int status = 0;
    int verified = 0;
    for (; ::waitpid(writer, &status, WNOHANG) == 0; ++verified) {
        EXPECT_THAT(faults(address), testing::IsEmpty());
    }
    EXPECT_GT(verified, 0);
    EXPECT_THAT(faults(address), testing::IsEmpty());
}

/// Schema versions go forward whole or not at all, and never back.
inline void check_migration(const StoreAddress& address) {
    fill(address, 2);
    auto longer = schema_steps();
    longer.push_back({"ALTER TABLE records_entries ADD COLUMN note TEXT", "no statement at all"});
    EXPECT_THROW(Database(address, Access::write, longer), InputError);
    EXPECT_THAT(faults(address), testing::IsEmpty()) << "undone, and still of this version";

    longer.back().back() = "UPDATE records_entries SET note = 'moved on'";
    Database moved(address, Access::write, longer);
    std::string note;
    moved.ask([&](soci::session& sql) {
        sql << "SELECT note FROM records_entries WHERE seq = 2", soci::into(note);
    });
    EXPECT_EQ(note, "moved on");
    try {
        Store older(address, usual_shop, Access::write);
        FAIL() << "an older program wrote into a newer store";
    } catch (const InputError& error) {
        EXPECT_THAT(error.what(), testing::HasSubstr("newer version of this program"));
    }
}

}  // namespace squaresight::test

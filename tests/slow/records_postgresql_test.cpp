#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <iostream>

#include "simulate/practice_job.h"
#include "support/postgresql_server.h"
#include "support/record_kills.h"
#include "support/scratch.h"

namespace squaresight {
namespace {

using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;

/// One server for all tests of this program, a database for each store.
class RecordsPostgresqlTest : public testing::Test {
  protected:
    static void SetUpTestSuite() {
        ::setenv("PGPASSWORD", test::PostgresqlServer::password, 1);
        server = std::make_unique<test::PostgresqlServer>();
    }
    static void TearDownTestSuite() { server.reset(); }
    static StoreAddress fresh() { return parse_store_address(server->make_database()); }
    static inline std::unique_ptr<test::PostgresqlServer> server;
};

TEST_F(RecordsPostgresqlTest, TheSameJobTwiceChangesNothingAndAChangedOneIsARevision) {
    test::check_revisions(fresh());
}
TEST_F(RecordsPostgresqlTest, FiguresAndTextsComeBackBitForBit) {
    test::check_figures_survive(fresh());
}
TEST_F(RecordsPostgresqlTest, VerifyNamesWhatWasAlteredRemovedInsertedOrReordered) {
    test::check_tampering([] { return fresh(); });
}
TEST_F(RecordsPostgresqlTest, AHeadThatWasWrittenDownTellsOfACutEnd) {
    test::check_noted_head(fresh());
}
TEST_F(RecordsPostgresqlTest, WritersAtOnceLoseNothing) {
    test::check_concurrent_writers(fresh(), 4, 25);
}
TEST_F(RecordsPostgresqlTest, SignaturesKeepTheirRules) { test::check_signatures(fresh()); }
TEST_F(RecordsPostgresqlTest, ShopsHaveChainsOfTheirOwn) { test::check_shops_apart(fresh()); }
TEST_F(RecordsPostgresqlTest, AStoreOfTheFirstSchemaIsBroughtForward) {
    test::check_first_schema(fresh());
}
TEST_F(RecordsPostgresqlTest, AnEditKeepsWhoAndWhy) { test::check_edits(fresh()); }
TEST_F(RecordsPostgresqlTest, VerifyingWhileOthersWriteFindsNothingWrong) {
    test::check_verify_while_written(fresh());
}
TEST_F(RecordsPostgresqlTest, SchemaVersionsGoForwardInATransaction) {
    test::check_migration(fresh());
}

TEST_F(RecordsPostgresqlTest, NothingAcknowledgedIsLostWhenWritersAreKilled) {
    const auto count = test::check_kills(fresh(), test::kills_asked(100), 20260307);
    std::cout << count.kills << " kills, " << count.acknowledged << " jobs acknowledged, "
              << count.stored << " stored\n";
    EXPECT_GT(count.acknowledged, count.kills / 10);
}

TEST_F(RecordsPostgresqlTest, NothingAcknowledgedIsLostWhenTheServerDies) {
    // A server without the other tests' databases: coming back takes longer with each.
    test::PostgresqlServer mortal;
    const StoreAddress address = parse_store_address(mortal.make_database());
    { Store make(address, usual_shop, Access::write); }
    for (int death = 0; death < 3; ++death) {
        std::array<int, 2> pipe{};
        ASSERT_EQ(::pipe(pipe.data()), 0);
        const pid_t writer = ::fork();
        if (writer == 0) {
            test::write_until_killed(address, std::to_string(death), pipe[1]);
        }
        ::close(pipe[1]);
        ::usleep(300000);
        mortal.stop(SIGQUIT);
        ::waitpid(writer, nullptr, 0);  // it ends with a sentence: the server is gone
        const auto places = test::acknowledged_places(pipe[0]);
        ::close(pipe[0]);
        ASSERT_FALSE(places.empty());
        mortal.start();
        Store store(address, usual_shop, Access::read);
        EXPECT_GE(store.head().value().seq, places.back());
        EXPECT_THAT(verify_store(store).problems, IsEmpty());
    }
}

TEST_F(RecordsPostgresqlTest, TheCommandsWorkAndNeverShowThePassword) {
    const Scratch scratch;
    PracticeOptions options;
    options.run = PracticeRun::as_found;
    const auto bay = load_practice_bay(write_built_in_bay(scratch.folder() / "bay"));
    const std::string sheet = make_practice_job(bay, options, 1, scratch.folder() / "job").sheet;
    const std::string address = server->make_database();
    const auto records = [&](const std::string& words, const std::string& environment = "") {
        return run_command(environment + " '" SQUARESIGHT_BINARY "' records " + words +
                           " --store '" + address + "'");
    };
    EXPECT_THAT(records("list").output, HasSubstr("holds no records"));
    const auto added = records("add '" + sheet + "'");
    EXPECT_EQ(added.exit_code, 0) << added.output;
    EXPECT_THAT(records("add '" + sheet + "'").output, HasSubstr("unchanged"));
    EXPECT_THAT(records("verify").output, HasSubstr("All 1 entries"));
    EXPECT_THAT(records("rebuild").output, HasSubstr("0 changed"));
    EXPECT_THAT(records("export").output, HasSubstr("as-found"));

    const auto wrong = records("list", "PGPASSWORD=other-s3cret");
    EXPECT_EQ(wrong.exit_code, 3);
    EXPECT_THAT(wrong.output, HasSubstr("password authentication failed"));
    EXPECT_THAT(wrong.output, Not(HasSubstr("s3cret")));
    EXPECT_EQ(std::count(wrong.output.begin(), wrong.output.end(), '\n'), 1) << wrong.output;
    const auto none = records("list", "env -u PGPASSWORD");
    EXPECT_EQ(none.exit_code, 3);
    EXPECT_THAT(none.output, HasSubstr("PGPASSWORD"));
    const auto latin = run_command("'" SQUARESIGHT_BINARY "' records add '" + sheet +
                                   "' --store '" + server->make_database("LATIN1") + "'");
    EXPECT_THAT(latin.output, HasSubstr("ENCODING 'UTF8'"));
    const auto nowhere = run_command("'" SQUARESIGHT_BINARY
                                     "' records list --store postgresql://x@127.0.0.1:1/none");
    EXPECT_EQ(nowhere.exit_code, 3);
    EXPECT_THAT(nowhere.output, HasSubstr("cannot be reached"));
}

TEST_F(RecordsPostgresqlTest, AnotherWriterAndAReadOnlyUserGetASentence) {
    StoreAddress address = fresh();
    test::fill(address, 2);
    Database holder(address, Access::write);
    holder.ask([](soci::session& sql) {
        sql << "BEGIN";
        sql << "SELECT pg_advisory_xact_lock(hashtext('squaresight records main'))";
    });
    address.wait_s = 1;
    const auto error_of = [](const StoreAddress& store) -> std::string {
        try {
            test::fill(store, 3);
        } catch (const InputError& error) {
            return error.what();
        }
        return "";
    };
    EXPECT_THAT(error_of(address), HasSubstr("another program is writing"));
    holder.ask([](soci::session& sql) { sql << "ROLLBACK"; });

    holder.ask([](soci::session& sql) {
        sql << "CREATE ROLE auditor LOGIN PASSWORD 'only-for-this-test'";
        sql << "GRANT SELECT ON ALL TABLES IN SCHEMA public TO auditor";
    });
    const auto as = [&](const std::string& user) {
        StoreAddress store = address;
        store.connect.replace(store.connect.find("keeper"), 6, user);
        return store;
    };
    EXPECT_THAT(test::faults(as("auditor")), IsEmpty());
    EXPECT_THAT(error_of(as("auditor")), HasSubstr("right to write"));
    EXPECT_THAT(test::faults(address), IsEmpty());

    // The rights that docs/records.md gives whoever shall not change what is there.
    holder.ask([](soci::session& sql) {
        sql << "CREATE ROLE writer LOGIN PASSWORD 'only-for-this-test'";
        sql << "GRANT SELECT ON ALL TABLES IN SCHEMA public TO writer";
        sql << "GRANT INSERT ON records_entries, records_texts, records_sightings TO writer";
        sql << "GRANT UPDATE ON records_heads TO writer";
    });
    EXPECT_THAT(error_of(as("writer")), IsEmpty());
    Database writer(as("writer"), Access::change);
    EXPECT_THROW(writer.ask([](soci::session& sql) { sql << "DELETE FROM records_entries"; }),
                 InputError);
    EXPECT_THAT(test::faults(address), IsEmpty());
}

TEST_F(RecordsPostgresqlTest, ADumpMadeWhileInUseIsWhole) {
    const std::string from = server->make_database();
    const std::string to = server->make_database();
    const StoreAddress address = parse_store_address(from);
    test::fill(address, 3);
    const pid_t writer = ::fork();
    if (writer == 0) {
        test::fill(address, 100);
        ::_exit(0);
    }
    // The commands of docs/records.md.
    const auto dump = (server->folder() / "records.dump").string();
    const auto copied = run_command("pg_dump -Fc -f '" + dump + "' '" + from +
                                    "' && pg_restore -d '" + to + "' '" + dump + "'");
    ::waitpid(writer, nullptr, 0);
    EXPECT_EQ(copied.exit_code, 0) << copied.output;
    const StoreAddress kept = parse_store_address(to);
    EXPECT_THAT(test::faults(kept), IsEmpty());
    EXPECT_THAT(test::faults(address, Store(kept, usual_shop, Access::read).head().value().hash),
                IsEmpty());
}

}  // namespace
}  // namespace squaresight

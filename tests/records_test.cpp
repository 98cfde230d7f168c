#include "support/record_checks.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fstream>

#include "records/export.h"
#include "records/rebuild.h"
#include "simulate/practice_job.h"
#include "support/command.h"
#include "support/scratch.h"
#include "units/files.h"

namespace squaresight {
namespace {

using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;
using Json = nlohmann::ordered_json;

class RecordsTest : public testing::Test {
  protected:
    StoreAddress fresh() {
        return parse_store_address(
            (scratch.folder() / ("store" + std::to_string(++stores_) + ".sqlite")).string());
    }
    std::string store_file() const { return (scratch.folder() / "shop.sqlite").string(); }

    /// Runs `records WORDS --store FILE`.
    Finished records(const std::string& words, const std::string& more = "") const {
        return run_squaresight("records " + words + " --store '" + store_file() + "' " + more);
    }
    /// A practice job as it measures; without a result beside it.
    std::filesystem::path practice_job(int number) const {
        const auto bay = write_built_in_bay(scratch.folder() / "bay");
        PracticeOptions options;
        options.run = PracticeRun::as_found;
        const auto folder = scratch.folder() / "jobs" / std::to_string(number);
        return make_practice_job(load_practice_bay(bay), options,
                                 static_cast<std::uint64_t>(number), folder)
            .sheet;
    }

    Scratch scratch;

  private:
    int stores_ = 0;
};

std::string error_of(const std::function<void()>& work) {
    try {
        work();
    } catch (const InputError& error) {
        return error.what();
    }
    return "";
}

TEST_F(RecordsTest, TheSameJobTwiceChangesNothingAndAChangedOneIsARevision) {
    test::check_revisions(fresh());
}
TEST_F(RecordsTest, FiguresAndTextsComeBackBitForBit) { test::check_figures_survive(fresh()); }
TEST_F(RecordsTest, VerifyNamesWhatWasAlteredRemovedInsertedOrReordered) {
    test::check_tampering([&] { return fresh(); });
}
TEST_F(RecordsTest, AHeadThatWasWrittenDownTellsOfACutEnd) { test::check_noted_head(fresh()); }
TEST_F(RecordsTest, WritersAtOnceLoseNothing) { test::check_concurrent_writers(fresh(), 4, 10); }
TEST_F(RecordsTest, SignaturesKeepTheirRules) { test::check_signatures(fresh()); }
TEST_F(RecordsTest, ShopsHaveChainsOfTheirOwn) { test::check_shops_apart(fresh()); }
TEST_F(RecordsTest, AStoreOfTheFirstSchemaIsBroughtForward) { test::check_first_schema(fresh()); }
TEST_F(RecordsTest, AnEditKeepsWhoAndWhy) { test::check_edits(fresh()); }
TEST_F(RecordsTest, VerifyingWhileOthersWriteFindsNothingWrong) {
    test::check_verify_while_written(fresh());
}
TEST_F(RecordsTest, SchemaVersionsGoForwardInATransaction) { test::check_migration(fresh()); }

TEST_F(RecordsTest, TheListCallsAJobAsItsReportDoes) {
    Store store(parse_store_address(store_file()), usual_shop, Access::write);
    test::add_one(store, test::small_record("J1"));
    EXPECT_THAT(records("list").output,
                testing::AllOf(HasSubstr(" done "), HasSubstr("in tolerance")));
    JobRecord stopped = test::small_record("J1", 2, "T1", 1);
    stopped.figures.push_back(stopped.figures[0]);
    stopped.figures[1].sighting = 2;
    stopped.figures[1].stops = 0;  // the stop is of an earlier stage
    test::add_one(store, stopped);
    EXPECT_THAT(records("list").output, testing::AllOf(HasSubstr(" stop "), HasSubstr("no verdict"),
                                                       Not(HasSubstr("in tolerance"))));
}

TEST(SignatureTest, OneLineOfReasonAndAKnownDecision) {
    const JobUnderReview job{{"T1"}, "done"};
    const auto refusal = [&](const Signature& signature, const JobUnderReview& under) {
        return error_of([&] { check_signature(signature, under); });
    };
    EXPECT_EQ(refusal({"7", "accepted", "R1", ""}, job), "");
    EXPECT_THAT(refusal({"7", "approved", "R1", ""}, job), HasSubstr("accepted or returned"));
    EXPECT_THAT(refusal({"7", "accepted", "  ", ""}, job), HasSubstr("reviewer's code"));
    EXPECT_THAT(refusal({"7", "accepted", "R1", "two\nlines"}, job), HasSubstr("one line"));
    EXPECT_THAT(refusal({"7", "accepted", "R1", std::string(501, 'x')}, job),
                HasSubstr("at most 500"));
    EXPECT_THAT(refusal({"7", "accepted", "R1", "ok"}, {{""}, "done"}),
                HasSubstr("does not tell who measured it"));
    EXPECT_EQ(refusal({"7", "returned", "R1", "who measured?"}, {{""}, "done"}), "");
    EXPECT_EQ(refusal({"7", "accepted", "R1", "board was bent, agreed"}, {{"T1"}, "stop"}), "");
    for (const auto* headline : {"stop", "do this", "not ready", ""}) {
        EXPECT_NE(refusal({"7", "accepted", "R1", " "}, {{"T1"}, headline}), "") << headline;
    }
}

TEST_F(RecordsTest, AnAddressWithAPasswordIsRefusedAndNeverRepeated) {
    for (const std::string address :
         {"postgresql://shop:s3cret@db/records", "postgres://shop:s3cret@db/records",
          "POSTGRESQL://shop:s3cret@db/records", "postgresql://db/records?password=s3cret",
          "postgresql://db/records?pass%77ord=s3cret", "postgresql://shop%3As3cret@db/records",
          "postgresql://db/records?sslpassword=s3cret", "host=db password=s3cret",
          "host=db PASSWORD=s3cret", "postgresql:shop:s3cret@db", "mysql://shop:s3cret@db/records",
          "postgresql://shop:s3cret@db:notaport:9/x?y"}) {
        const auto run = run_squaresight("records add x.yaml --store '" + address + "'");
        EXPECT_EQ(run.exit_code, 3) << address;
        EXPECT_THAT(run.output, Not(HasSubstr("s3cret"))) << address;
        EXPECT_EQ(std::count(run.output.begin(), run.output.end(), '\n'), 1) << run.output;
    }
    EXPECT_THAT(error_of([] { parse_store_address("postgresql://shop:s3cret@db/records"); }),
                HasSubstr("PGPASSWORD"));
    EXPECT_TRUE(parse_store_address("postgresql://shop@db:5433/records").postgresql);
}

TEST_F(RecordsTest, AMeasuredJobIsStoredListedShownVerifiedAndExported) {
    const std::string sheet = practice_job(1).string();
    const auto added = records("add '" + sheet + "'");
    EXPECT_EQ(added.exit_code, 0) << added.output;
    EXPECT_THAT(added.output, HasSubstr("stored (entry 1, revision 1)"));
    EXPECT_THAT(records("add '" + sheet + "'").output,
                HasSubstr("unchanged (entry 1, revision 1)"));

    std::ofstream(sheet, std::ios::app) << "# the tape was read again\n";
    EXPECT_THAT(records("add '" + sheet + "'").output,
                HasSubstr("new revision (entry 2, revision 2)"));

    const Json list = Json::parse(records("list --json").output);
    ASSERT_EQ(list.at("jobs").size(), 1U);
    EXPECT_EQ(list.at("jobs")[0].at("revision"), 2);
    EXPECT_EQ(list.at("jobs")[0].at("review"), "waiting");
    EXPECT_THAT(records("list").output, HasSubstr("1 job in the shop 'main'"));

    const std::string job = list.at("jobs")[0].at("job");
    const auto kept = scratch.folder() / "kept";
    const Json shown =
        Json::parse(records("show " + job + " --json --out '" + kept.string() + "'").output);
    EXPECT_EQ(shown.at("result"), Json::parse(result_json(measure_job(sheet))));
    EXPECT_EQ(read_file(kept / "job.yaml", 1 << 20), read_file(sheet, 1 << 20));
    EXPECT_THAT(records("show " + job).output, HasSubstr("What it stands on"));
    EXPECT_EQ(records("show nobody").exit_code, 3);

    const auto verified = records("verify");
    EXPECT_EQ(verified.exit_code, 0);
    EXPECT_THAT(verified.output, HasSubstr("All 2 entries"));

    const auto csv = records("export");
    EXPECT_EQ(std::count(csv.output.begin(), csv.output.end(), '\n'), 2) << csv.output;
    EXPECT_THAT(csv.output, HasSubstr("vision_yaw_left_deg"));
    const Json rows = Json::parse(records("export --json --all-revisions").output).at("rows");
    ASSERT_EQ(rows.size(), 2U);
    EXPECT_EQ(rows[1].at("vision_yaw_left_deg"),
              shown.at("result").at("sightings")[0].at("vision").at("yaw_left_deg").at("value"));
}

TEST_F(RecordsTest, AFolderIsStoredButForTheSheetThatIsBroken) {
    practice_job(1);
    std::ofstream(practice_job(2), std::ios::app) << "wheels: 18\n";
    practice_job(3);
    const auto run = records("add '" + (scratch.folder() / "jobs").string() + "'");
    EXPECT_EQ(run.exit_code, 3);
    EXPECT_THAT(run.output, HasSubstr("stored (entry 2, revision 1)"));
    EXPECT_THAT(run.output, HasSubstr("wheels"));
    EXPECT_THAT(test::faults(parse_store_address(store_file())), IsEmpty());
}

TEST_F(RecordsTest, VerifyOnTheCommandLineNamesTheEntryAndExitsOne) {
    test::fill(parse_store_address(store_file()), 4);
    const Json before = Json::parse(records("verify --json").output);
    EXPECT_TRUE(before.at("intact").get<bool>());
    const std::string head = before.at("head").at("hash");
    EXPECT_THAT(records("verify --head " + head).output, HasSubstr("written down is entry 4"));
    test::tamper(parse_store_address(store_file()), {"DELETE FROM records_entries WHERE seq = 2"});
    const auto run = records("verify");
    EXPECT_EQ(run.exit_code, 1);
    EXPECT_THAT(run.output, HasSubstr("entry 2 was removed"));
    EXPECT_EQ(Json::parse(records("verify --json").output).at("problems")[0].at("entry"), 2);
}

TEST_F(RecordsTest, TheResultBesideTheSheetIsTakenOnlyWhereItCameFromTheseFiles) {
    const auto sheet = practice_job(2);
    const auto beside = sheet.parent_path() / "job.result.json";
    Json result = Json::parse(result_json(measure_job(sheet)));
    result["program"] = "squaresight of another day";
    write_file(beside, result.dump(2) + "\n");
    EXPECT_EQ(gather_job(read_job_inputs(sheet)).figures.at(0).measured_by,
              "squaresight of another day");

    const auto corners = *std::filesystem::directory_iterator(sheet.parent_path() / "photos");
    std::ofstream(corners.path(), std::ios::app) << "# touched\n";
    EXPECT_NE(gather_job(read_job_inputs(sheet)).figures.at(0).measured_by,
              "squaresight of another day")
        << "measured again: a photo is another";
    write_file(beside, "{\"schema\": ");
    EXPECT_FALSE(gather_job(read_job_inputs(sheet)).figures.empty()) << "broken: measured again";
}

TEST_F(RecordsTest, RebuildSolvesAgainFromWhatIsStoredAndTellsWhatChanged) {
    const auto sheet = practice_job(3);
    const StoreAddress address = fresh();
    Store store(address, usual_shop, Access::write);
    JobRecord record = gather_job(read_job_inputs(sheet));
    test::add_one(store, record);
    std::filesystem::remove_all(sheet.parent_path());
    const auto same = rebuild_job(store, store.job_entry(record.job));
    EXPECT_EQ(same.failure, "");
    EXPECT_THAT(same.changes, IsEmpty());

    // As if an earlier program had found another yaw.
    const std::string result = record.content.at("result");
    Json other = Json::parse(store.stored_text(result));
    Json& vision = other["sightings"][0]["vision"];
    const double yaw = vision["yaw_left_deg"]["value"];
    vision["yaw_left_deg"]["value"] = yaw + 0.25;
    const std::string text = other.dump();
    record.content["result"] = sha256_hex(text);
    record.identity = "another";
    record.content["identity"] = "another";
    record.texts = {{sha256_hex(text), text}};
    test::add_one(store, record);
    const auto changed = rebuild_job(store, store.job_entry(record.job));
    ASSERT_EQ(changed.changes.size(), 1U);
    EXPECT_EQ(changed.changes[0].where, "1 as-found: vision.yaw_left_deg.value");
    EXPECT_NEAR(changed.changes[0].by.value(), -0.25, 1e-6);
}

TEST(ResultChangesTest, RoundingSentencesAndOrderOfEqualInputsAreNoChanges) {
    const auto result = [](double yaw, const char* call, Json findings, Json budget) {
        return Json{
            {"schema", "s"},
            {"program", "p"},
            {"findings", std::move(findings)},
            {"sightings",
             {{{"stage", "as-found"},
               {"vision", {{"yaw", yaw}, {"call", call}, {"budget", std::move(budget)}}}}}}};
    };
    const auto finding = [](const char* code, const char* text) {
        return Json{{"level", "note"}, {"code", code}, {"text", text}};
    };
    const Json a{{"source", "a"}, {"yaw_deg", 1}};
    const Json b{{"source", "b"}, {"yaw_deg", 1}};
    const Json none = Json::array();
    const Json before = result(1, "in tolerance", Json::array({finding("x", "one")}), {a, b});
    EXPECT_THAT(result_changes(before, result(1 + rounding / 2, "in tolerance",
                                              Json::array({finding("x", "two")}), {b, a})),
                IsEmpty());
    const auto changes =
        result_changes(before, result(1 + 3 * rounding, "too close to call", none, {a}));
    std::vector<std::string> where;
    for (const auto& change : changes) {
        where.push_back(change.where);
    }
    EXPECT_THAT(where, testing::ElementsAre("1 as-found: vision.yaw", "1 as-found: vision.call",
                                            "1 as-found: vision.budget", "job: findings"));
    EXPECT_THAT(result_changes(result(1, "c", Json::array({finding("photo-blurred", "")}), none),
                               result(1, "c", none, none)),
                IsEmpty())
        << "corners cannot show again how sharp the picture was";
    const auto reading = [&](double redundancy, double findable) {
        return result(
            1, "c", none,
            {{{"name", "rail_zero"}, {"redundancy", redundancy}, {"findable", findable}}});
    };
    EXPECT_THAT(result_changes(reading(1e-6, 173.2), reading(1.01e-6, 174.1)), IsEmpty());
    EXPECT_THAT(result_changes(reading(0.4, 6.5), reading(0.4, 6.6)), testing::SizeIs(1));
}

TEST_F(RecordsTest, AFullDiskGivesASentenceAndLosesNothing) {
    const StoreAddress address = fresh();
    test::fill(address, 3);
    Database database(address, Access::write);
    const std::string error = error_of([&] {
        database.ask([](soci::session& sql) { sql << "PRAGMA max_page_count = 1"; });
        database.write("main", [](soci::session& sql) {
            const std::string much(1 << 20, 'x');
            sql << "INSERT INTO records_texts VALUES ('main', 'much', :text)", soci::use(much);
        });
    });
    EXPECT_THAT(error, HasSubstr("the disk is full"));
    EXPECT_THAT(test::faults(address), IsEmpty());
    test::fill(address, 4);
    EXPECT_THAT(test::faults(address), IsEmpty()) << "and it goes on once there is room";
}

TEST_F(RecordsTest, ALockedStoreGivesASentenceAndLosesNothing) {
    const std::string sheet = practice_job(4).string();
    test::fill(parse_store_address(store_file()), 2);
    Database holder(parse_store_address(store_file()), Access::write);
    holder.ask([](soci::session& sql) { sql << "BEGIN EXCLUSIVE"; });
    const auto run = records("add '" + sheet + "' --wait 0");
    EXPECT_EQ(run.exit_code, 3);
    EXPECT_THAT(run.output, HasSubstr("is being written by another program"));
    holder.ask([](soci::session& sql) { sql << "ROLLBACK"; });
    EXPECT_EQ(records("add '" + sheet + "'").exit_code, 0);
    EXPECT_THAT(test::faults(parse_store_address(store_file())), IsEmpty());
}

TEST_F(RecordsTest, AReadOnlyStoreCanBeReadAndAddingGivesASentence) {
    const std::string sheet = practice_job(5).string();
    const auto folder = scratch.folder() / "archive";
    std::filesystem::create_directory(folder);
    const auto file = folder / "shop.sqlite";
    test::fill(parse_store_address(file.string()), 2);
    using std::filesystem::perms;
    std::filesystem::permissions(file, perms::owner_read | perms::group_read | perms::others_read);
    std::filesystem::permissions(scratch.folder(), perms::others_exec | perms::others_read,
                                 std::filesystem::perm_options::add);
    std::filesystem::permissions(
        folder, perms::owner_read | perms::owner_exec | perms::others_read | perms::others_exec);
    // Root may write anywhere: there, an ordinary user runs the program.
    const std::string as_user =
        ::geteuid() == 0 ? "setpriv --reuid=65534 --regid=65534 --clear-groups " : "";
    const auto run = [&](const std::string& words) {
        return run_command(as_user + "'" SQUARESIGHT_BINARY "' records " + words + " --store '" +
                           file.string() + "'");
    };
    EXPECT_EQ(run("verify").exit_code, 0) << run("verify").output;
    const auto added = run("add '" + sheet + "'");
    EXPECT_EQ(added.exit_code, 3);
    EXPECT_THAT(added.output, HasSubstr("may only be read here"));
    std::filesystem::permissions(folder, perms::owner_all);
    EXPECT_THAT(test::faults(parse_store_address(file.string())), IsEmpty());
}

TEST_F(RecordsTest, WhatIsNoStoreIsRefusedWithOneSentence) {
    const std::string sheet = practice_job(6).string();
    const auto refused = [&](const std::string& file, const std::string& words) {
        const auto run = run_squaresight("records " + words + " --store '" + file + "'");
        EXPECT_EQ(run.exit_code, 3) << run.output;
        EXPECT_EQ(std::count(run.output.begin(), run.output.end(), '\n'), 1) << run.output;
        return run.output;
    };
    const auto missing = scratch.folder() / "missing.sqlite";
    EXPECT_THAT(refused(missing.string(), "list"), HasSubstr("there is no such store"));
    EXPECT_FALSE(std::filesystem::exists(missing)) << "reading makes no file";
    const auto text = scratch.write("notes.txt", std::string(5000, 'n'));
    EXPECT_THAT(refused(text.string(), "add '" + sheet + "'"), HasSubstr("is no SQLite file"));
    const auto empty = scratch.write("empty.sqlite", "");
    EXPECT_THAT(refused(empty.string(), "list"), HasSubstr("holds no records"));
    const auto foreign = scratch.folder() / "foreign.sqlite";
    run_command("sqlite3 '" + foreign.string() + "' 'CREATE TABLE cats (name TEXT)'");
    EXPECT_THAT(refused(foreign.string(), "add '" + sheet + "'"),
                HasSubstr("database of another program"));
    EXPECT_THAT(
        refused((scratch.folder() / "no/such/folder.sqlite").string(), "add '" + sheet + "'"),
        HasSubstr("cannot be opened"));
    EXPECT_THAT(refused(store_file(), "add '" + (scratch.folder() / "bay").string() + "'"),
                HasSubstr("holds no job.yaml"));
}

TEST_F(RecordsTest, ASheetThatIsNotUtf8IsRefused) {
    const auto sheet = practice_job(7);
    std::ofstream(sheet, std::ios::app) << "# caf\xe9\n";
    EXPECT_THAT(error_of([&] { gather_job(read_job_inputs(sheet)); }), HasSubstr("UTF-8"));
}

TEST_F(RecordsTest, ABackupMadeWhileInUseIsWhole) {
    const StoreAddress address = parse_store_address(store_file());
    test::fill(address, 3);
    const pid_t writer = ::fork();
    if (writer == 0) {
        test::fill(address, 200);
        ::_exit(0);
    }
    const auto copy = scratch.folder() / "copy.sqlite";
    // The command of docs/records.md.
    const auto backup = run_command("sqlite3 '" + store_file() +
                                    "' '.timeout 10000' \"VACUUM INTO '" + copy.string() + "'\"");
    int status = 0;
    ::waitpid(writer, &status, 0);
    EXPECT_EQ(backup.exit_code, 0) << backup.output;
    const StoreAddress kept = parse_store_address(copy.string());
    EXPECT_THAT(test::faults(kept), IsEmpty());
    Store store(kept, usual_shop, Access::read);
    EXPECT_GE(store.head().value().seq, 3);
    EXPECT_THAT(test::faults(address, store.head().value().hash), IsEmpty())
        << "what was copied is the beginning of what is there";
}

TEST_F(RecordsTest, TheExportQuotesAsRfc4180Has) {
    Store store(fresh(), usual_shop, Access::write);
    JobRecord record = test::small_record("J1");
    record.figures[0].vehicle = "unit \"17\", red";
    test::add_one(store, record);
    std::ostringstream csv;
    export_records(store, ExportFormat::csv, false, csv);
    EXPECT_THAT(csv.str(), HasSubstr(",\"unit \"\"17\"\", red\","));
}

TEST_F(RecordsTest, TheExportIsWrittenToAFileThatIsNotThere) {
    test::fill(parse_store_address(store_file()), 2);
    const std::string out = (scratch.folder() / "records.csv").string();
    const auto to_file = [&](const std::string& more) {
        return run_squaresight("records export --store '" + store_file() + "' --out '" + out + "'" +
                               more);
    };
    EXPECT_EQ(to_file("").exit_code, 0);
    EXPECT_EQ(read_file(out, 1 << 20).substr(0, 10), "entry,job,");
    const auto again = to_file(" --json");
    EXPECT_EQ(again.exit_code, 3);
    EXPECT_THAT(again.output, HasSubstr("--replace"));
    EXPECT_EQ(read_file(out, 1 << 20).substr(0, 10), "entry,job,");
    EXPECT_EQ(to_file(" --json --replace").exit_code, 0);
    EXPECT_EQ(read_file(out, 1 << 20).substr(0, 1), "{");
}

TEST(RecordsDocs, TheDataDictionaryNamesEveryColumn) {
    const std::string docs = read_file(SQUARESIGHT_SOURCE_DIR "/docs/records.md", 1 << 20);
    for (const auto& column : figure_columns()) {
        EXPECT_THAT(docs, HasSubstr("`" + std::string(column.name) + "`"));
    }
}

TEST_F(RecordsTest, EveryPartHasHelpWithAnExample) {
    for (const std::string part : {"add", "list", "show", "verify", "export", "rebuild"}) {
        const auto help = run_squaresight("records " + part + " --help");
        EXPECT_EQ(help.exit_code, 0);
        EXPECT_THAT(help.output, HasSubstr("Example: squaresight records " + part));
        EXPECT_THAT(help.output, HasSubstr(usual_store));
    }
    EXPECT_EQ(run_squaresight("records").exit_code, 2);
    EXPECT_EQ(run_squaresight("records add").exit_code, 2);
    EXPECT_EQ(run_squaresight("review sign 7 --decision accepted").exit_code, 2);
}

}  // namespace
}  // namespace squaresight

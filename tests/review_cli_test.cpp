#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <regex>
#include <set>

#include "simulate/practice_job.h"
#include "support/command.h"
#include "support/scratch.h"
#include "units/files.h"

// The command `review` on a store with a practice job that was edited and returned.
namespace squaresight {
namespace {

using testing::AllOf;
using testing::HasSubstr;

class ReviewCommand : public testing::Test {
  protected:
    std::string quoted(const std::string& name) const {
        return "'" + (scratch.folder() / name).string() + "'";
    }
    std::string text_of(const std::string& name) const {
        return read_file(scratch.folder() / name, 10'000'000);
    }
    /// Makes a practice job and returns its name.
    std::string practice_job() const {
        PracticeOptions options;
        options.run = PracticeRun::as_found;
        const auto bay = write_built_in_bay(scratch.folder() / "bay");
        const auto sheet =
            make_practice_job(load_practice_bay(bay), options, 1, scratch.folder() / "jobs/1")
                .sheet;
        return load_job_sheet(sheet).job;
    }
    /// Edits the one job's sheet.
    void edit_sheet(const std::string& from, const std::string& to) const {
        std::filesystem::path sheet;
        for (const auto& file :
             std::filesystem::recursive_directory_iterator(scratch.folder() / "jobs")) {
            if (file.path().filename() == "job.yaml") {
                sheet = file.path();
            }
        }
        std::string text = read_file(sheet, 1'000'000);
        const auto at = text.find(from);
        ASSERT_NE(at, std::string::npos) << text;
        write_file(sheet, text.replace(at, from.size(), to));
    }
    Finished add(const std::string& more = "") const {
        return run_squaresight("records add " + quoted("jobs") + " --store " + quoted("s.sqlite") +
                               more);
    }

    Scratch scratch;
};

TEST_F(ReviewCommand, ShowsWhatWasEditedAndDecided) {
    const std::string job = practice_job();
    ASSERT_EQ(add().exit_code, 0);
    edit_sheet("\nmount: ", "\ntechnician: X1\nmount: ");
    ASSERT_EQ(add(" --by X2 --reason 'left out at first'").exit_code, 0);
    const Finished signed_off =
        run_squaresight("review sign '" + job +
                        "' --decision returned --reviewer R9 --reason 'tape it again' "
                        "--store " +
                        quoted("s.sqlite"));
    ASSERT_EQ(signed_off.exit_code, 0) << signed_off.output;
    EXPECT_THAT(
        run_squaresight("records show '" + job + "' --store " + quoted("s.sqlite")).output,
        AllOf(HasSubstr("changed by X2: left out at first"), HasSubstr("returned by R9: tape")));
    const Finished many =
        run_squaresight("review " + quoted("s.sqlite") + " --out " + quoted("r.html"));
    ASSERT_EQ(many.exit_code, 0) << many.output;
    EXPECT_THAT(many.output, AllOf(HasSubstr("1 job with"), HasSubstr("was returned by R9")));
    EXPECT_THAT(text_of("r.html"), HasSubstr("tape it again"));
    const Finished one = run_squaresight("review " + quoted("s.sqlite") + " --job '" + job +
                                         "' --out " + quoted("j.html"));
    ASSERT_EQ(one.exit_code, 0) << one.output;
    EXPECT_THAT(
        text_of("j.html"),
        AllOf(HasSubstr("Returned by R9: tape it again"), HasSubstr("technician: nothing, then X1"),
              HasSubstr("by X2, because: left out at first"), HasSubstr("lock the screws"),
              HasSubstr("Solved again for this page: as when it was stored"),
              HasSubstr("corners are drawn on a plain ground"), HasSubstr("data:image/jpeg"),
              HasSubstr("Where the mount points")));
}

TEST_F(ReviewCommand, AcceptsWhatIsNotDoneWithAReasonAloneAndNoOtherEntryThanTheOneAskedFor) {
    const std::string job = practice_job();
    edit_sheet("\nmount: ", "\ntechnician: X1\nmount: ");
    ASSERT_EQ(add().exit_code, 0);
    const std::string shown =
        run_squaresight("records show '" + job + "' --store " + quoted("s.sqlite")).output;
    std::smatch hash;
    ASSERT_TRUE(std::regex_search(shown, hash, std::regex("  hash ([0-9a-f]{64})")));
    const auto accept = [&](const std::string& more) {
        return run_squaresight("review sign '" + job + "' --decision accepted --reviewer R9 " +
                               more + " --store " + quoted("s.sqlite"));
    };
    EXPECT_EQ(accept("").exit_code, 3) << "as found is not done";
    EXPECT_THAT(accept("").output, HasSubstr("is not done"));
    EXPECT_EQ(accept("--reason seen --entry " + std::string(64, '0')).exit_code, 3)
        << "another entry";
    EXPECT_EQ(accept("--reason seen --entry " + hash[1].str()).exit_code, 0);
    EXPECT_THAT(run_squaresight("records show '" + job + "' --store " + quoted("s.sqlite")).output,
                testing::ContainsRegex("revision 1 .(stop|do this). accepted by R9: seen"));
}

TEST_F(ReviewCommand, MakesAGaugeStudyOfStoredJobs) {
    practice_job();
    ASSERT_EQ(add().exit_code, 0);
    const Finished refused =
        run_squaresight("review " + quoted("s.sqlite") + " --repeated photos-yaw");
    EXPECT_EQ(refused.exit_code, 3);
    EXPECT_THAT(refused.output, HasSubstr("no two vehicles"));
    EXPECT_EQ(run_squaresight("review " + quoted("s.sqlite") + " --repeated nose").exit_code, 2);
}

TEST_F(ReviewCommand, MeasuresTheJobsOfAFolder) {
    practice_job();
    std::filesystem::copy(scratch.folder() / "jobs/1", scratch.folder() / "jobs/2",
                          std::filesystem::copy_options::recursive);
    edit_sheet("job: P", "job: Q");
    const Finished done = run_squaresight("review " + quoted("jobs") + " --json");
    ASSERT_EQ(done.exit_code, 0) << done.output;
    EXPECT_EQ(nlohmann::json::parse(done.output).at("jobs_count"), 2);
}

TEST_F(ReviewCommand, TellsTheScatterOfReadingsAlikeFromAStoreAndFromAFolder) {
    practice_job();
    edit_sheet("\nmount: ", "\nbay: main bay\nmount: ");
    ASSERT_EQ(add().exit_code, 0);
    const auto limits = [&](const std::string& source) {
        const Finished run = run_squaresight("review " + quoted(source) + " --json");
        return nlohmann::json::parse(run.output).at("limits");
    };
    const auto stored = limits("s.sqlite");
    EXPECT_EQ(stored, limits("jobs"));
    ASSERT_EQ(stored.size(), 1U);
    EXPECT_EQ(stored.at(0).at("bay"), "main bay");
    std::set<std::string> kinds;
    for (const auto& kind : stored.at(0).at("kinds")) {
        kinds.insert(kind.at("kind"));
        EXPECT_EQ(kind.at("call"), "too early") << kind;
        EXPECT_GT(kind.at("stated_limit"), 0) << kind;
    }
    EXPECT_THAT(kinds, testing::IsSupersetOf({"plumb", "distance", "target_left"}));
}

TEST_F(ReviewCommand, AJobOnACheckStandardIsNoVehicle) {
    practice_job();
    edit_sheet("\nmount: ", "\ncheck_standard: wall plate\nmount: ");
    ASSERT_EQ(add().exit_code, 0);
    const Finished run = run_squaresight("review " + quoted("s.sqlite") + " --json");
    const auto json = nlohmann::json::parse(run.output);
    EXPECT_EQ(json.at("jobs_count"), 0);
    EXPECT_EQ(json.at("check_standards").at(0).at("name"), "wall plate");
    EXPECT_EQ(json.at("check_standards").at(0).at("call"), "too early");
}

TEST_F(ReviewCommand, MakesNoStoreOfASlip) {
    const Finished refused = run_squaresight(
        "review sign 1 --decision accepted --reviewer R1 --store " + quoted("typo.sqlite"));
    EXPECT_EQ(refused.exit_code, 3);
    EXPECT_THAT(refused.output, HasSubstr("there is no such store"));
    EXPECT_EQ(
        run_squaresight("records add " + quoted("typo.yaml") + " --store " + quoted("typo.sqlite"))
            .exit_code,
        3);
    EXPECT_FALSE(std::filesystem::exists(scratch.folder() / "typo.sqlite"))
        << "an empty store is one more to mistake for the shop's";
    EXPECT_EQ(run_squaresight("review sign 1 --decision perhaps --reviewer R1").exit_code, 2);
}

TEST_F(ReviewCommand, UnusableInputIsRefusedWithASentence) {
    practice_job();
    ASSERT_EQ(add().exit_code, 0);
    const std::string store = quoted("s.sqlite");
    for (const auto& [words, told] : std::vector<std::pair<std::string, std::string>>{
             {quoted("none.sqlite"), "none.sqlite"},
             {store + " --from 2026-02-30", "is no day"},
             {store + " --from 2026-03-02 --to 2026-03-01", "ends before it begins"},
             {store + " --job 1", "--out"},
             {store + " --job nosuch --out " + quoted("x.html"), "nosuch"},
             {"--gauge " + quoted("none.yaml"), "none.yaml"}}) {
        const Finished refused = run_squaresight("review " + words);
        EXPECT_EQ(refused.exit_code, 3) << words << refused.output;
        EXPECT_THAT(refused.output, HasSubstr(told));
    }
}

}  // namespace
}  // namespace squaresight

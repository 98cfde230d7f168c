// The bay page between technician and reviewer: what an answer stands on, what a signature signs,
// how a returned job comes back; against a server of its own, on jobs by tape and level alone.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <regex>
#include <string>

#include "records/store.h"
#include "support/bay_phone.h"
#include "support/command.h"
#include "support/running_bay.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing::Not;
namespace fs = std::filesystem;

constexpr const char* everything_done =
    "closing: {codes_cleared: yes, electronic_calibration: not asked for, drive: 2026-03-05, "
    "codes_after: none, reading_after: {yaw: 0.1 deg}}\n";

/// Tapes of 177.8 mm either side: straight ahead.
std::string sheet_of(const std::string& order, int right_tape_mm, const std::string& closing) {
    const std::string tape =
        "    tape_and_level: {face_level: [0 deg, 0 deg], left_point: 20 in, "
        "right_point: 20 in, passes: [{left: 178 mm, right: " +
        std::to_string(right_tape_mm) + " mm}]}\n";
    return "schema: squaresight/job/1\njob: '" + order +
           "'\nvehicle: unit 9\ntechnician: T3\ndate: 2026-03-05\nmount: ../../mount.yaml\n"
           "sightings:\n  - stage: as-found\n" +
           tape + "  - stage: as-left\n" + tape + "    locked: yes\n" + closing;
}

class BayReview : public testing::Test {
  protected:
    BayReview() { write_mount("2 deg"); }

    fs::path mount_file() const { return bay.jobs().parent_path() / "mount.yaml"; }
    void write_mount(const std::string& tolerance) const {
        const std::string text = read_file(samples / "mounts/three-point.yaml", 1 << 20);
        write_file(mount_file(),
                   std::regex_replace(text, std::regex("tolerance: [^\n]*"),
                                      "tolerance: {yaw: " + tolerance + ", pitch: 2 deg}"));
    }
    void write_job(const std::string& id, const std::string& text) const {
        write_file(bay.jobs() / id / "job.yaml", text);
    }
    /// A page once nothing that it waits for is under way.
    std::string settled(const Phone& phone, const std::string& path,
                        const std::string& of = "") const {
        for (int i = 0; i < 3000; ++i) {
            const std::string page = phone.page(path);
            if (page.find("data-working") == std::string::npos) {
                return page;
            }
            phone.wait_until_measured(path.substr(5, path.find('/', 5) - 5), of);
        }
        throw std::runtime_error("never settled: " + path);
    }
    std::string review(const std::string& id) const {
        return settled(reviewer, "/job/" + id + "/review", "?of=review");
    }
    int sign(const std::string& id, const std::string& shown, const char* decision,
             const char* reason) const {
        return reviewer
            .post("/job/" + id + "/review", {{"version", Phone::hidden(shown, "version")},
                                             {"entry", Phone::hidden(shown, "entry")},
                                             {"reviewer", "R1"},
                                             {"decision", decision},
                                             {"reason", reason}})
            ->status;
    }
    Store store() const {
        return Store(parse_store_address(bay.records().string()), usual_shop, Access::read);
    }

    RunningBay bay;
    Phone technician = bay.paired(Role::technician);
    Phone reviewer = bay.paired(Role::reviewer);
};

// --- what an answer stands on

TEST_F(BayReview, AnAnswerFollowsTheMountFileAtOnce) {
    write_job("7", sheet_of("7", 178, everything_done));
    EXPECT_THAT(settled(technician, "/job/7/answer"), HasSubstr("DONE"));
    write_mount("0.02 deg");
    EXPECT_THAT(settled(technician, "/job/7/answer"), Not(HasSubstr("DONE")));
    EXPECT_THAT(settled(technician, "/job/7/handover"), HasSubstr("NOT READY"));
    write_mount("2 deg");
    EXPECT_THAT(settled(technician, "/job/7/answer"), HasSubstr("DONE")) << "there and back";
}

TEST_F(BayReview, AnAnswerThatCouldNotBeWrittenIsTriedAgain) {
    write_job("7", sheet_of("7", 178, everything_done));
    const fs::path result = bay.jobs() / "7" / "job.result.json";
    fs::create_directory(result);
    EXPECT_THAT(settled(technician, "/job/7/answer"), HasSubstr("No answer yet"));
    fs::remove(result);
    EXPECT_THAT(settled(technician, "/job/7/answer"), HasSubstr("DONE"));
}

TEST_F(BayReview, AStoreThatIsOnlyBegunIsNoTrouble) {
    write_job("7", sheet_of("7", 178, everything_done));
    write_file(bay.records(), "");  // as it is for a moment while the first job is stored
    for (const auto* page : {"/", "/job/7", "/job/7/handover"}) {
        EXPECT_EQ(technician.get(page)->status, 200) << page;
    }
    EXPECT_EQ(reviewer.get("/review")->status, 200);
    EXPECT_THAT(review("7"), HasSubstr("name=\"entry\""));
}

// --- what a signature signs

TEST_F(BayReview, WhatIsNotDoneNeedsAReasonAndItIsStatedInTheSignature) {
    write_job("7", sheet_of("7", 178, ""));
    const std::string shown = review("7");
    EXPECT_THAT(shown, AllOf(HasSubstr("NOT READY"), HasSubstr("give a reason")));
    EXPECT_EQ(sign("7", shown, "accepted", ""), 422);
    EXPECT_TRUE(store().signatures("7").empty());
    EXPECT_EQ(sign("7", shown, "accepted", "the drive is tomorrow"), 303);
    EXPECT_EQ(store().signatures("7").at(0).content.at("headline"), "not ready");
    write_job("7", sheet_of("7", 178, everything_done));
    const std::string done = review("7");
    EXPECT_THAT(done, Not(HasSubstr("give a reason")));
    EXPECT_EQ(sign("7", done, "accepted", ""), 303);
    EXPECT_EQ(store().signatures("7").at(1).content.at("headline"), "done");
}

TEST_F(BayReview, ASignatureNeverLandsOnOtherFiguresThanThoseShown) {
    const std::string first = sheet_of("7", 178, everything_done);
    write_job("7", first);
    const std::string shown = review("7");
    write_job("7", sheet_of("7", 190, everything_done));
    review("7");
    write_job("7", first);
    EXPECT_EQ(sign("7", shown, "accepted", "as shown"), 409) << "another is the newest by now";
    EXPECT_TRUE(store().signatures("7").empty());
    const std::string again = review("7");
    write_mount("0.02 deg");
    EXPECT_EQ(sign("7", again, "accepted", "as shown"), 409) << "it was shown with another mount";
    EXPECT_TRUE(store().signatures("7").empty());
    const std::string tight = review("7");
    EXPECT_NE(Phone::hidden(tight, "entry"), Phone::hidden(again, "entry"));
    EXPECT_EQ(sign("7", tight, "accepted", "as shown"), 303);
    EXPECT_EQ(store().signatures("7").at(0).content.at("entry"), Phone::hidden(tight, "entry"));
}

TEST_F(BayReview, TwoFoldersOfOneWorkOrderDoNotSignEachOther) {
    write_job("7", sheet_of("7", 178, everything_done));
    const std::string shown = review("7");
    write_job("7-2", sheet_of("7", 190, everything_done));
    EXPECT_THAT(review("7-2"), AllOf(HasSubstr("7, 7-2"), Not(HasSubstr("name=\"decision\""))));
    EXPECT_EQ(sign("7", shown, "accepted", "as shown"), 409);
    EXPECT_THAT(reviewer.page("/review"), HasSubstr("Two folders have this work order"));
    EXPECT_TRUE(store().signatures("7").empty());
    EXPECT_EQ(store().job_entry("7").revision, 1) << "nothing was stored of the other folder";
}

TEST_F(BayReview, WhatCouldNotBeStoredIsNotSignedAndIsStoredOnceTheStoreIsFree) {
    write_job("7", sheet_of("7", 178, everything_done));
    const std::string shown = review("7");
    write_job("7", sheet_of("7", 190, everything_done));
    Database other(parse_store_address(bay.records().string()), Access::change);
    other.ask([](soci::session& sql) { sql << "BEGIN IMMEDIATE"; });
    const std::string locked = review("7");
    EXPECT_THAT(locked, AllOf(HasSubstr("could not be stored"), Not(HasSubstr("name=\"entry\""))));
    EXPECT_EQ(sign("7", locked, "accepted", "as shown"), 409);
    EXPECT_EQ(sign("7", shown, "accepted", "as shown"), 409);
    other.ask([](soci::session& sql) { sql << "ROLLBACK"; });
    EXPECT_TRUE(store().signatures("7").empty());
    const std::string stored = review("7");
    EXPECT_THAT(stored, Not(HasSubstr("could not be stored")));
    EXPECT_EQ(sign("7", stored, "accepted", "as shown"), 303);
    EXPECT_EQ(store().job_entry("7").revision, 2);
}

// --- a returned job

TEST_F(BayReview, AReturnedJobSaysSoWhereverItsTechnicianLooksUntilItIsSentAgain) {
    write_job("6", sheet_of("6", 178, everything_done));
    write_job("7", sheet_of("7", 178, everything_done));
    EXPECT_THAT(settled(technician, "/job/7"), Not(HasSubstr("RETURNED")));
    ASSERT_EQ(sign("7", review("7"), "returned", "tape the right side again"), 303);
    const auto says_so = AllOf(HasSubstr("RETURNED"), HasSubstr("tape the right side again"));
    settled(technician, "/job/7/answer");
    for (const auto* page : {"/", "/job/7", "/job/7/answer", "/job/7/handover", "/job/7/report"}) {
        EXPECT_THAT(technician.page(page), says_so) << page;
    }
    EXPECT_THAT(technician.page("/job/7", "es"), HasSubstr("DEVUELTO"));
    for (const auto* page : {"/job/7", "/job/7/answer", "/job/7/handover", "/job/7/report"}) {
        EXPECT_THAT(technician.page(page), Not(HasSubstr(">DONE<"))) << page;
    }
    EXPECT_THAT(technician.page("/job/6"), Not(HasSubstr("RETURNED")));
    EXPECT_THAT(technician.page("/job/7/send"), HasSubstr("Nothing was changed"));

    write_job("7", sheet_of("7", 179, everything_done));
    EXPECT_THAT(settled(technician, "/job/7"), says_so) << "changed, and not sent yet";
    const std::string send = technician.page("/job/7/send");
    EXPECT_EQ(technician.post("/job/7/send", {{"version", Phone::hidden(send, "version")}})->status,
              303);
    EXPECT_THAT(settled(technician, "/job/7/send", "?of=review"),
                HasSubstr("waits for its reviewer"));
    EXPECT_EQ(store().job_entry("7").revision, 2);
    for (const auto* page : {"/", "/job/7", "/job/7/handover", "/job/7/report"}) {
        EXPECT_THAT(technician.page(page), Not(HasSubstr("RETURNED"))) << page;
    }
}

// --- days that cannot be

TEST_F(BayReview, ADriveOfYearsAgoOrOfNextYearIsRefused) {
    write_job("7", sheet_of("7", 178, ""));
    for (const auto* day : {"2020-01-01", "2027-03-05"}) {
        EXPECT_EQ(technician.fill_in("/job/7/finish", {{"question", "drive"}, {"drive.text", day}})
                      ->status,
                  422)
            << day;
        EXPECT_THAT(read_file(bay.jobs() / "7" / "job.yaml", 1 << 20), Not(HasSubstr(day)));
    }
    EXPECT_EQ(
        technician.fill_in("/job/7/finish", {{"question", "drive"}, {"drive.text", "2026-03-05"}})
            ->status,
        303);
    const auto measure = [&](const std::string& day) {
        const std::string text = sheet_of("7", 178, everything_done);
        write_job("7", std::regex_replace(text, std::regex("drive: 2026-03-05"), "drive: " + day));
        return run_squaresight("measure '" + (bay.jobs() / "7" / "job.yaml").string() + "' 2>&1");
    };
    EXPECT_EQ(measure("2020-01-01").exit_code, 3);
    EXPECT_THAT(measure("2020-01-01").output, HasSubstr("closing.drive"));
    EXPECT_EQ(measure("2999-01-01").exit_code, 3);
    EXPECT_EQ(measure("2026-03-05").exit_code, 0);
}

// --- one server a folder

TEST_F(BayReview, ASecondServerOnTheFolderIsRefusedWithASentence) {
    const auto second = run_squaresight("serve --port 0 --jobs '" + bay.jobs().string() +
                                        "' --shop '" + (samples / "shop.yaml").string() + "' 2>&1");
    EXPECT_EQ(second.exit_code, 3);
    EXPECT_THAT(second.output, HasSubstr("is served by another squaresight already"));
}

}  // namespace
}  // namespace squaresight::bay

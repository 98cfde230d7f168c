// What follows what on the bay page: turning, undoing, tape and level before the answer, correcting
// an earlier stage, the list of jobs, against a server of its own on a loopback port.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <string>

#include "bay/job_store.h"
#include "bay/sheet_forms.h"
#include "bay/sheet_journal.h"
#include "job/sheet.h"
#include "support/walked_job.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

using testing::AllOf;
using testing::ContainsRegex;
using testing::HasSubstr;
using testing::Not;
using Fields = Phone::Fields;
namespace fs = std::filesystem;

std::string place_of(const Answer& answer) { return answer->get_header_value("Location"); }

JobSheet sheet_of(const RunningBay& bay, const std::string& id) {
    return JobStore(bay.jobs()).open(id).sheet;
}

const Fields as_told{
    {"turns.0", "11"}, {"way.0", "clockwise"}, {"turns.1", "18"}, {"way.1", "counter-clockwise"}};

const Fields tape_of_1042{{"left_point.mm", "508"},    {"right_point.mm", "508"},
                          {"pass_left.1.mm", "176.2"}, {"pass_right.1.mm", "196.85"},
                          {"pass_left.2.mm", "176.2"}, {"pass_right.2.mm", "196.85"},
                          {"face_level.1.deg", "0.8"}, {"face_level.1.side", "minus"},
                          {"face_level.2.deg", "0.8"}, {"face_level.2.side", "minus"}};

/// As found, measured by photos alone.
struct MeasuredJob : WalkedJob {
    MeasuredJob() {
        browser.fill_in(path("/board"), board_of_1042());
        send("found", 2, true);
        leave_tape_out();
    }
    JobSheet sheet() const { return sheet_of(bay, id); }
    std::string text() const { return read_file(file("job.yaml"), 1 << 20); }
    Answer turn(const std::string& version) const {
        Fields sent = as_told;
        sent.emplace("version", version);
        return browser.post(path("/turned"), sent);
    }
    void undo() const {
        EXPECT_EQ(browser.fill_in(path(), {}, path("/undo"))->status, 303) << text();
    }
};

TEST(BayTurning, ItIsOneEntryHoweverOftenItIsSentAndIsShownAsDone) {
    const MeasuredJob job;
    const std::string before = job.text(), told = job.answer();
    EXPECT_THAT(told, AllOf(HasSubstr("aria-label=\"turn\""), HasSubstr("/turned\"")));
    const std::string version = Phone::hidden(told, "version");
    EXPECT_EQ(place_of(job.turn(version)), job.path("/photos"));
    EXPECT_EQ(place_of(job.turn(version)), job.path("/photos")) << "a second tap";
    EXPECT_THAT(job.browser.page(job.path("/photos")), HasSubstr("/undo")) << "where one lands";
    const std::string turned = job.answer();
    EXPECT_THAT(turned, AllOf(HasSubstr("TURNED"), HasSubstr("Now photograph"), HasSubstr("/undo"),
                              Not(HasSubstr("/turned\"")), Not(HasSubstr("DO THIS"))));
    EXPECT_THAT(job.browser.page(job.path()),
                AllOf(HasSubstr("TURNED"), Not(HasSubstr("DO THIS"))));
    EXPECT_EQ(job.turn(Phone::hidden(turned, "version"))->status, 422)
        << "turned anew, not measured";
    ASSERT_EQ(job.sheet().sightings.size(), 2u);
    EXPECT_EQ(job.sheet().sightings[0].turned_clockwise.size(), 2u);
    EXPECT_TRUE(job.sheet().sightings[1].turned_clockwise.empty());
    job.undo();
    EXPECT_EQ(job.text(), before);
    EXPECT_THAT(job.answer(), AllOf(HasSubstr("DO THIS"), HasSubstr("/turned\"")));
}

TEST(BayUndo, EachEntryIsTakenBackOneAfterTheOtherAndAllStaysOnRecord) {
    const WalkedJob job;
    const Phone& browser = job.browser;
    std::vector<std::string> texts;
    const auto remember = [&] { texts.push_back(read_file(job.file("job.yaml"), 1 << 20)); };
    remember();
    const auto enter = [&](const std::string& page, const Fields& fields,
                           const std::string& action = "") {
        ASSERT_EQ(
            browser.fill_in(job.path(page), fields, action.empty() ? "" : job.path(action))->status,
            303)
            << page << action;
        remember();
    };
    enter("/ready", {{"question", "tyres"}, {"tyres", "yes"}});
    enter("/ready", {{"question", "tyres"}, {"tyres", "no"}, {"tyres.reason", "one flat"}});
    enter("/board", board_of_1042());
    job.send("found", 1, false);
    remember();
    enter("/notes", {{"note", "bumper scratched"}});
    enter("/tape", tape_of_1042);
    enter("", as_told, "/turned");
    enter("/photos", {}, "/moved");
    enter("/notes", {{"abandon_reason", "bracket bent"}}, "/abandoned");
    enter("", {}, "/taken_up");
    while (texts.size() > 1) {
        texts.pop_back();
        ASSERT_EQ(browser.fill_in(job.path(), {}, job.path("/undo"))->status, 303);
        EXPECT_EQ(read_file(job.file("job.yaml"), 1 << 20), texts.back());
    }
    EXPECT_THAT(browser.page(job.path()), Not(HasSubstr("/undo")));
    EXPECT_EQ(browser.fill_in(job.path(), {}, job.path("/undo"))->status, 409) << "nothing left";
    EXPECT_EQ(read_journal(job.bay.jobs() / job.id).size(), 20u);
}

TEST(BayUndo, ItOutlivesTheServerALostLineAndIsNotOfferedOverAnothersEdit) {
    const Scratch scratch;
    const auto made = [&](const char* before, const char* after, Deed deed) {
        add_to_journal(scratch.folder(), {"2026-03-05 14:02", deed, before, after, before});
    };
    made("a", "b", Deed::board);
    made("b", "c", Deed::turned);
    made("c", "never", Deed::locked);  // the power went before the sheet was written
    EXPECT_EQ(entry_to_undo(read_journal(scratch.folder()), "c")->deed, Deed::turned);
    std::ofstream(scratch.folder() / "job.changes.jsonl", std::ios::app) << "{\"at\": \"2026";
    made("c", "d", Deed::note);
    EXPECT_EQ(entry_to_undo(read_journal(scratch.folder()), "d")->text, "c");
    made("d", "c", Deed::undone);
    EXPECT_EQ(entry_to_undo(read_journal(scratch.folder()), "c")->deed, Deed::turned);
    EXPECT_FALSE(entry_to_undo(read_journal(scratch.folder()), "edited by hand"));
    made("edited by hand", "e", Deed::tape);
    made("e", "edited by hand", Deed::undone);
    EXPECT_FALSE(entry_to_undo(read_journal(scratch.folder()), "edited by hand"));
}

TEST(BayMoved, TruckOrBoardIsSetUpAgainAndMeasured) {
    const MeasuredJob job;
    const Phone& browser = job.browser;
    ASSERT_EQ(job.turn(Phone::hidden(job.answer(), "version"))->status, 303);
    EXPECT_THAT(browser.page(job.path("/photos")), HasSubstr("/moved\""));
    ASSERT_EQ(place_of(browser.fill_in(job.path("/photos"), {}, job.path("/moved"))),
              job.path("/board"));
    EXPECT_THAT(browser.page(job.path()), AllOf(HasSubstr("MOVED"), HasSubstr("Set up the board")));
    EXPECT_THAT(browser.page(job.path("/board")), HasSubstr("Set up the board"));
    EXPECT_EQ(place_of(browser.fill_in(job.path("/board"), {{"question", "place"}})),
              job.path("/board?question=distance"))
        << "the distance is measured anew, and before all else";
    ASSERT_EQ(browser.fill_in(job.path("/board"), board_of_1042())->status, 303);
    job.send("adjusted", 2, false);
    EXPECT_THAT(job.answer(), HasSubstr("They are locked"));
    EXPECT_FALSE(job.sheet().sightings[1].same_setup);
    job.expect_same_as_measure();
}

TEST(BayTape, ItIsAskedForBeforeTheAnswerOrLeftOutKnowingly) {
    WalkedJob job;
    const Phone& browser = job.browser;
    browser.fill_in(job.path("/board"), board_of_1042());
    job.send("found", 2, true);
    EXPECT_THAT(browser.page(job.path("/photos")), Not(HasSubstr("/answer\"")));
    EXPECT_THAT(browser.page(job.path()), HasSubstr("Next: Tape and level"));
    EXPECT_EQ(place_of(browser.get(job.path("/answer"))), job.path("/tape"));
    EXPECT_THAT(browser.page(job.path("/tape")),
                AllOf(HasSubstr("cannot be made up"), HasSubstr("/tape/left_out")));
    const Phone reviewer = job.bay.paired(Role::reviewer);
    EXPECT_EQ(reviewer.get(job.path("/answer"))->status, 200) << "who only reads is not asked";
    job.leave_tape_out();
    EXPECT_TRUE(sheet_of(job.bay, job.id).sightings[0].tape_left_out);
    EXPECT_THAT(job.answer(), HasSubstr("Tape and level left out"));
    EXPECT_THAT(browser.page(job.path("/handover")), HasSubstr("Tape and level left out"));
    ASSERT_EQ(browser.fill_in(job.path("/answer"), as_told, job.path("/turned"))->status, 303);
    job.send("adjusted", 2, false);
    EXPECT_EQ(browser.get(job.path("/answer"))->status, 200) << "after turning it is not asked for";
    job.answer();
    ASSERT_EQ(browser.fill_in(job.path("/answer"), {}, job.path("/lock"))->status, 303);
    EXPECT_THAT(browser.page(job.path()), AllOf(HasSubstr("LOCKED"), HasSubstr("Next: Take the")));
    job.send("left", 2, true);
    EXPECT_EQ(place_of(browser.get(job.path("/answer"))), job.path("/tape"));
    ASSERT_EQ(browser.fill_in(job.path("/tape"), tape_of_1042)->status, 303);
    EXPECT_EQ(browser.get(job.path("/answer"))->status, 200);
}

TEST(BayTape, ReferencePointsComeFirstAndTwoOfEachAreEnough) {
    const WalkedJob job;
    const Phone& browser = job.browser;
    const std::string path = job.path("/tape");
    const std::string first = browser.page(path);
    EXPECT_THAT(first, HasSubstr("1 of 4"));
    EXPECT_LT(first.find("left_point"), first.find("pass_left.1"));
    const auto enter = [&](const Fields& fields) {
        return place_of(browser.fill_in(path, fields));
    };
    EXPECT_EQ(enter({{"question", "pass.1"},
                     {"left_point.mm", "500"},
                     {"right_point.mm", "508"},
                     {"pass_left.1.mm", "176"},
                     {"pass_right.1.mm", "197"}}),
              path + "?question=pass.2");
    EXPECT_EQ(
        enter({{"question", "pass.2"}, {"pass_left.2.mm", "176"}, {"pass_right.2.mm", "198"}}),
        path + "?question=face_level.1");
    EXPECT_EQ(enter({{"question", "face_level.1"},
                     {"face_level.1.deg", "0.8"},
                     {"face_level.1.side", "minus"}}),
              path + "?question=face_level.2");
    EXPECT_THAT(browser.page(path + "?question=all"), Not(HasSubstr("These are enough")));
    EXPECT_EQ(enter({{"question", "face_level.2"},
                     {"face_level.2.deg", "0.8"},
                     {"face_level.2.side", "minus"}}),
              path + "?question=all");
    const std::string all = browser.page(path + "?question=all");
    EXPECT_THAT(all, AllOf(HasSubstr("These are enough: go on"), HasSubstr("question=pass.3"),
                           HasSubstr("question=face_level.3"), Not(HasSubstr("not measured"))));
    EXPECT_THAT(browser.page(path + "?question=pass.3"), Not(HasSubstr("of 5")));
    EXPECT_EQ(sheet_of(job.bay, job.id).sightings[0].tape_and_level->left_point_mm, 500);
}

TEST(BayStage, AnEarlierOneIsCorrectedAndWhatCameAfterItStays) {
    const MeasuredJob job;
    const Phone& browser = job.browser;
    ASSERT_EQ(job.turn(Phone::hidden(job.answer(), "version"))->status, 303);
    job.send("adjusted", 1, false);
    const std::string stage = job.path("/stage?stage=1");
    EXPECT_THAT(browser.page(job.path()), HasSubstr(stage));
    EXPECT_THAT(browser.page(stage), AllOf(HasSubstr("/tape?stage=1"), HasSubstr("/board?stage=1"),
                                           HasSubstr("1-as-found-1.jpg")));
    const auto send = [&](const std::string& action, Fields fields) {
        fields.emplace("stage", "1");
        return place_of(browser.fill_in(job.path(), fields, job.path(action)));
    };
    Fields tape = tape_of_1042;
    tape.emplace("question", "");
    EXPECT_EQ(send("/tape", tape), stage);
    EXPECT_EQ(send("/board", {{"question", "mount_left"},
                              {"then", "all"},
                              {"mount_left.mm", "6"},
                              {"mount_left.side", "plus"}}),
              job.path("/board?stage=1&question=all"));
    EXPECT_EQ(send("/turned", {{"turns.1", "4"}, {"way.1", "clockwise"}}), stage);
    EXPECT_EQ(send("/photos/out", {{"file", "photos/1-as-found-4.jpg"}}), stage);
    const JobSheet sheet = job.sheet();
    ASSERT_EQ(sheet.sightings.size(), 2u);
    EXPECT_EQ(sheet.sightings[0].tape_and_level->passes.size(), 2u);
    EXPECT_EQ(sheet.sightings[0].setup->readings.mount_left_mm.value, 6);
    EXPECT_EQ(sheet.sightings[0].turned_clockwise,
              (std::vector<std::pair<std::string, double>>{{"side", 0.5}}));
    EXPECT_EQ(sheet.sightings[0].photos.size(), 3u);
    EXPECT_EQ(sheet.sightings[1].photos.size(), 1u);
    EXPECT_FALSE(sheet.sightings[1].tape_and_level);
}

TEST(BayList, AFinishedJobSaysSoAndLeavesTheOpenOnes) {
    RunningBay bay;
    bay.add_sample("1042-full");
    const Phone browser = bay.paired(Role::technician);
    const std::string row = "href=\"/job/1042-full\"";
    EXPECT_THAT(browser.page("/"), HasSubstr(row)) << "not measured yet";
    browser.page("/job/1042-full/answer");
    browser.wait_until_measured("1042-full");
    EXPECT_THAT(browser.page("/job/1042-full/answer"), HasSubstr("DONE"));
    EXPECT_THAT(browser.page("/"), Not(HasSubstr(row)));
    EXPECT_THAT(browser.page("/?show=finished"), AllOf(HasSubstr(row), HasSubstr(">finished<")));
    ASSERT_EQ(browser
                  .fill_in("/job/1042-full/finish",
                           {{"question", "codes_after"}, {"codes_after.text", "C1A67"}})
                  ->status,
              303);
    EXPECT_THAT(browser.page("/"), HasSubstr(row)) << "it was changed since";
}

TEST(BayList, JobsAreSearchedFilteredAndAbandonedWithAReason) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string one = browser.begin_job("2001"), other = browser.begin_job("2002");
    const auto row = [](const std::string& id) { return "href=\"/job/" + id + "\""; };
    EXPECT_THAT(browser.page("/?find=2002"),
                AllOf(HasSubstr(row(other)), Not(HasSubstr(row(one)))));
    EXPECT_THAT(browser.page("/?find=UNIT"), AllOf(HasSubstr(row(other)), HasSubstr(row(one))));
    EXPECT_THAT(browser.page("/?find=t3&show=all"), HasSubstr(row(one))) << "technician's code";
    EXPECT_THAT(browser.page("/?find=nothing"), HasSubstr("No job fits"));
    const std::string notes = "/job/" + one + "/notes", abandoned = "/job/" + one + "/abandoned";
    EXPECT_EQ(browser.fill_in(notes, {}, abandoned)->status, 422) << "without a reason";
    ASSERT_EQ(browser.fill_in(notes, {{"abandon_reason", "bracket bent"}}, abandoned)->status, 303);
    EXPECT_THAT(browser.page("/"), Not(HasSubstr(row(one))));
    EXPECT_THAT(browser.page("/?show=abandoned"),
                AllOf(HasSubstr(row(one)), HasSubstr("abandoned<")));
    EXPECT_THAT(browser.page("/job/" + one),
                AllOf(HasSubstr("ABANDONED"), HasSubstr("bracket bent"), Not(HasSubstr("Next:"))));
    ASSERT_EQ(browser.fill_in("/job/" + one, {}, "/job/" + one + "/taken_up")->status, 303);
    EXPECT_THAT(browser.page("/"), HasSubstr(row(one)));
}

TEST(BayList, AStepIsDoneWhenAllOfItIs) {
    const WalkedJob job;
    const Phone& browser = job.browser;
    const auto asked = ready_answered(sheet_of(job.bay, job.id)).asked;
    browser.fill_in(job.path("/ready"), {{"question", "tyres"}, {"tyres", "yes"}});
    EXPECT_THAT(browser.page(job.path()), AllOf(HasSubstr(">1 of " + std::to_string(asked) + "<"),
                                                HasSubstr("Next: Get ready")));
    browser.fill_in(job.path("/finish"), {{"question", "drive"}, {"drive", "today"}});
    EXPECT_THAT(browser.page(job.path()), HasSubstr(">1 of 4<"));
}

TEST(BayNotes, NotesAndPicturesGoWithTheJobAndNothingIsMeasuredWithThem) {
    const WalkedJob job;
    const Phone& browser = job.browser;
    ASSERT_EQ(browser.fill_in(job.path("/notes"), {{"note", "bumper <b>scratched</b>"}})->status,
              303);
    const auto sent = browser.send_photo(
        job.id, samples / "jobs/1042-full/photos/found-upright-1.jpg", "picture");
    EXPECT_EQ(place_of(sent), job.path("/notes"));
    const JobSheet sheet = sheet_of(job.bay, job.id);
    EXPECT_TRUE(sheet.sightings[0].photos.empty());
    ASSERT_EQ(sheet.pictures.size(), 1u);
    const std::string page = browser.page(job.path("/notes"));
    EXPECT_THAT(page, AllOf(HasSubstr("bumper &lt;b&gt;scratched"), HasSubstr("/picture?of=")));
    const std::string name = fs::path(sheet.pictures[0]).filename().string();
    EXPECT_EQ(browser.get(job.path("/picture?of=" + name))->get_header_value("Content-Type"),
              "image/jpeg");
    EXPECT_EQ(browser.get(job.path("/picture?of=../job.yaml"))->status, 404);
}

}  // namespace
}  // namespace squaresight::bay

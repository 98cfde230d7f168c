// The bay page: what its pages ask and save, photos, and a whole job by its forms, against a server
// of its own on a loopback port.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <atomic>
#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <regex>
#include <string>
#include <thread>

#include "bay/job_store.h"
#include "bay/messages.h"
#include "bay/sheet_forms.h"
#include "job/sensor_check.h"
#include "job/sheet.h"
#include "support/bay_phone.h"
#include "support/command.h"
#include "support/exif_block.h"
#include "support/running_bay.h"
#include "support/walked_job.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

using testing::AllOf;
using testing::ContainsRegex;
using testing::HasSubstr;
using testing::Not;
using testing::StartsWith;
using Fields = Phone::Fields;
namespace fs = std::filesystem;

// --- one writer a job

TEST(JobStoreTest, NothingThatWasSavedIsLostAmongManyWriters) {
    RunningBay bay;
    bay.add_sample("1042-full");
    JobStore store(bay.jobs());
    std::atomic<int> saved = 0;
    const auto work = [&] {
        for (int i = 0; i < 20;) {
            try {
                const auto job = store.open("1042-full");
                store.change("1042-full", job.version, LengthUnit::in,
                             [](JobSheet& sheet) { sheet.technician += "x"; });
                ++saved;
                ++i;
            } catch (const StaleSheet&) {
            }
        }
    };
    std::thread first(work), second(work);
    first.join();
    second.join();
    EXPECT_EQ(store.open("1042-full").sheet.technician, "T3" + std::string(saved, 'x'));
}

TEST(BayPage, AStaleFormIsRefusedAndBothVersionsShown) {
    RunningBay bay;
    const Phone one = bay.paired(Role::technician), two = bay.paired(Role::technician);
    const std::string id = one.begin_job("2001");
    const std::string path = "/job/" + id + "/finish";
    const std::string version = Phone::hidden(two.page(path), "version");
    EXPECT_EQ(one.fill_in(path, {{"drive", "2026-03-05"}})->status, 303);
    const auto refused = two.post(path, {{"drive", "not yet"}, {"version", version}});
    EXPECT_EQ(refused->status, 409);
    EXPECT_THAT(refused->body, AllOf(HasSubstr("5 Mar 2026"), HasSubstr("not yet")));
    EXPECT_EQ(two.post(path, {{"drive", "not yet"}})->status, 409) << "no version at all";
    EXPECT_THAT(read_file(bay.jobs() / id / "job.yaml", 1 << 20),
                AllOf(HasSubstr("2026-03-05"), Not(HasSubstr("not yet"))));
}

TEST(BayPage, AWrongEntryComesBackWithWhatWasTyped) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    auto fields = new_job();
    fields.erase("distance.mm");
    fields.emplace("distance.mm", "5,000");
    const auto refused = browser.post("/new", fields);
    EXPECT_EQ(refused->status, 422);
    EXPECT_THAT(refused->body, AllOf(HasSubstr("can be read in two ways"), HasSubstr("5,000"),
                                     HasSubstr("unit 9")));
    fields.erase("bay");
    fields.emplace("bay", "../../etc");
    EXPECT_EQ(browser.post("/new", fields)->status, 422);
}

TEST(BayPage, WhatPeopleTypeIsNeverMarkup) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    auto fields = new_job();
    fields.erase("vehicle");
    fields.emplace("vehicle", "<script>alert(1)</script>\"'");
    const std::string id = browser.post("/new", fields)->get_header_value("Location");
    for (const auto& page : {browser.page("/"), browser.page(id), browser.page(id + "/photos")}) {
        EXPECT_THAT(page, AllOf(Not(HasSubstr("<script>alert")), HasSubstr("&lt;script&gt;")));
    }
}

TEST(BayPage, ItSpeaksSpanish) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001");
    EXPECT_THAT(browser.page("/job/" + id + "/board", "es-MX"),
                AllOf(HasSubstr("lang=\"es\""), HasSubstr("Colocar el panel")));
    EXPECT_THAT(browser.page("/job/" + id + "/board"), HasSubstr("Set up the board"));
}

TEST(BayPage, EachCautionStandsBeforeItsStep) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string job = "/job/" + browser.begin_job("2001");
    EXPECT_THAT(browser.page(job + "/ready"),
                AllOf(HasSubstr("Vehicle parked, wheels chocked, engine off"),
                      HasSubstr("Hot parts"), HasSubstr("pinch points"),
                      HasSubstr("Never look into the laser"), HasSubstr("A bent bracket"),
                      HasSubstr("service information decides, tolerances included"),
                      HasSubstr("qualified people do the work"), HasSubstr("Driver assistance may"),
                      HasSubstr("Nobody is in the cab"), HasSubstr("Tether the phone"),
                      HasSubstr("This squares the mount. It is not the maker")));
    EXPECT_THAT(browser.page("/"), HasSubstr("This squares the mount. It is not the maker"));
    EXPECT_THAT(browser.page(job + "/ready?question=ride_height"), HasSubstr("bleeds down"));
    EXPECT_THAT(browser.page(job + "/ready?question=codes_saved"), HasSubstr("battery support"));
    EXPECT_THAT(browser.page(job + "/finish?question=drive"), HasSubstr("Bumper and grille"));
    EXPECT_THAT(browser.page(job + "/ready?question=face_clean"), HasSubstr("clean and undamaged"));
    EXPECT_THAT(browser.page(job + "/tape?question=pass.1"),
                HasSubstr("Never look into the laser"));
    EXPECT_THAT(browser.page(job + "/finish"), HasSubstr("Driver assistance may"));
    EXPECT_THAT(browser.page(job + "/photos"),
                AllOf(HasSubstr("timer or a remote release"), HasSubstr("a second device")));
}

// --- one thing on a screen

TEST(BayPage, OfANewJobTwoThingsAreTyped) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    EXPECT_THAT(browser.page("/new"), AllOf(HasSubstr("1 of 3"), HasSubstr("Vehicle unit number")));
    EXPECT_THAT(browser.page("/new?question=distance"), HasSubstr("is needed"));
    EXPECT_THAT(browser.page("/new?question=distance&vehicle=unit%209"),
                AllOf(HasSubstr("2 of 3"), HasSubstr("unit 9")));
    const std::string answers = "&vehicle=unit%209&distance.ft=16&distance.in=4&distance.16=14";
    const std::string last = browser.page("/new?question=rest" + answers);
    EXPECT_THAT(last, AllOf(HasSubstr("3 of 3"), HasSubstr("main bay")));
    const auto begun = browser.post("/new", {{"vehicle", Phone::hidden(last, "vehicle")},
                                             {"distance.ft", Phone::hidden(last, "distance.ft")},
                                             {"distance.in", Phone::hidden(last, "distance.in")},
                                             {"distance.16", Phone::hidden(last, "distance.16")},
                                             {"bay", "main bay"},
                                             {"job", "2002"}});
    ASSERT_EQ(begun->status, 303);
    const JobSheet sheet = JobStore(bay.jobs()).open("2002").sheet;
    EXPECT_EQ(sheet.vehicle, "unit 9");
    EXPECT_NEAR(current_setup(sheet)->readings.distance_mm.value, 25.4 * 196.875, 1e-9);
}

TEST(BayPage, ANewJobNamesItsEquipmentAndShowsTheMountThatIsMeant) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string page = browser.page("/new?question=rest&vehicle=unit%209&distance.mm=4995");
    EXPECT_THAT(page, AllOf(HasSubstr("practice mount"), HasSubstr("bay phone"),
                            HasSubstr("bay-a1"), HasSubstr("<dt>Cradle</dt><dd>none</dd>"),
                            HasSubstr("aria-label=\"mount seen from the front\"")));
    EXPECT_EQ(Phone::hidden(page, "mount_shown"), "practice mount");
    auto fields = new_job();
    fields.insert({{"mount_shown", "practice mount"}, {"mount", "high bracket"}});
    const auto other = browser.post("/new", fields);
    EXPECT_EQ(other->status, 422) << "its picture was not seen";
    EXPECT_EQ(Phone::hidden(other->body, "mount_shown"), "high bracket");
    fields.erase("mount_shown");
    fields.insert({{"mount_shown", "high bracket"}, {"cradle", "bay cradle"}});
    EXPECT_EQ(browser.post("/new", fields)->status, 303);
    const JobSheet sheet = JobStore(bay.jobs()).open("2001").sheet;
    EXPECT_TRUE(fs::equivalent(sheet.mount_file, samples / "mounts/high-bracket.yaml"));
    EXPECT_TRUE(fs::equivalent(*sheet.cradle_file, samples / "../calib/cradle.yaml"));
    EXPECT_THAT(browser.page("/new?question=rest&vehicle=unit%209&distance.mm=4995"),
                HasSubstr("value=\"high bracket\" selected"))
        << "what this unit had last time";
    fields.erase("job");
    fields.erase("cradle");
    fields.insert({{"job", "2002"}, {"cradle", "none"}});
    EXPECT_EQ(browser.post("/new", fields)->status, 303);
    EXPECT_FALSE(JobStore(bay.jobs()).open("2002").sheet.cradle_file);
}

// The records know a job by its work order: two of the same would be revisions of one.
TEST(BayPage, TwoJobsNeverHaveOneWorkOrder) {
    RunningBay bay;
    const Phone one = bay.paired(Role::technician), two = bay.paired(Role::technician);
    const std::string answers = "/new?question=rest&vehicle=unit%209&distance.mm=4995";
    const auto proposed = [](const std::string& page) {
        std::smatch found;
        std::regex_search(page, found, std::regex("name=\"job\" value=\"([^\"]+)\""));
        return found[1].str();
    };
    const std::string order = proposed(one.page(answers));
    ASSERT_EQ(proposed(two.page(answers)), order);
    EXPECT_EQ(one.begin_job(order), order);
    auto fields = new_job();
    fields.erase("job");
    fields.emplace("job", order);
    fields.erase("vehicle");
    fields.emplace("vehicle", "unit 10");
    const auto told = two.post("/new", fields);
    EXPECT_EQ(told->status, 422);
    EXPECT_THAT(told->body, AllOf(HasSubstr("the one shown now is free"), HasSubstr("unit 10")));
    EXPECT_EQ(two.begin_job(proposed(told->body)), proposed(told->body));
    EXPECT_EQ(one.begin_job("4711"), "4711");
    EXPECT_EQ(one.begin_job("4711"), "4711") << "sent twice, begun once";
    EXPECT_EQ(two.begin_job("4711"), "") << "another's job, in the same words";
    fields.erase("job");
    fields.emplace("job", "4711");
    EXPECT_THAT(two.post("/new", fields)->body,
                AllOf(HasSubstr("of another job already"), HasSubstr("value=\"4711\"")));
    fs::rename(bay.jobs() / "4711", bay.jobs() / "by-hand");
    EXPECT_EQ(two.post("/new", fields)->status, 422) << "wherever the job lies";
}

TEST(BayPage, ALengthThatIsUnusualIsAskedAboutOnce) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    EXPECT_THAT(browser.page("/new?question=rest&vehicle=9&distance.mm=600"),
                AllOf(HasSubstr("is usually between 1500\u00a0mm"), HasSubstr("I looked again")));
    EXPECT_THAT(browser.page("/new?question=rest&vehicle=9&distance.ft=2"),
                HasSubstr("is usually between 4\u00a0ft"));
    EXPECT_THAT(browser.page("/new?question=rest&vehicle=9&distance.mm=600&sure=1"),
                Not(HasSubstr("I looked again")));
    const std::string id = browser.begin_job("2001");
    const std::string path = "/job/" + id + "/board";
    const Fields odd{
        {"question", "mount_left"}, {"mount_left.mm", "900"}, {"mount_left.side", "plus"}};
    EXPECT_EQ(browser.fill_in(path, odd)->status, 422);
    EXPECT_FALSE(
        current_setup(JobStore(bay.jobs()).open(id).sheet)->readings.mount_left_mm.measured);
    Fields sure = odd;
    sure.emplace("sure", "1");
    EXPECT_EQ(browser.fill_in(path, sure)->status, 303);
    EXPECT_EQ(current_setup(JobStore(bay.jobs()).open(id).sheet)->readings.mount_left_mm.value,
              900);
}

TEST(BayPage, WhatIsNotMeasuredYetSaysWhatToDoFirst) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string path = "/job/" + browser.begin_job("2001");
    for (const auto* page : {"/answer", "/handover"}) {
        EXPECT_THAT(browser.page(path + page),
                    AllOf(HasSubstr("Take the photos first"), HasSubstr("/photos")));
    }
    EXPECT_EQ(browser.get(path + "/report")->get_header_value("Location"), path + "/answer");
}

TEST(BayPage, EachQuestionIsSavedByItselfAndLeadsToTheNext) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001");
    const std::string path = "/job/" + id + "/board";
    EXPECT_THAT(browser.page(path), AllOf(HasSubstr("1 of 11"), HasSubstr("/floor.svg")));
    EXPECT_EQ(browser.fill_in(path, {{"question", "place"}})->get_header_value("Location"),
              path + "?question=line_base")
        << "the distance was typed before";
    EXPECT_THAT(browser.get("/job/" + id + "/floor.svg")->get_header_value("Content-Type"),
                HasSubstr("svg"));
    const auto saved = browser.fill_in(
        path, {{"question", "heights"}, {"target_height.mm", "905"}, {"mount_height.mm", "848"}});
    EXPECT_EQ(saved->get_header_value("Location"), path + "?question=rail_zero");
    EXPECT_EQ(browser.fill_in(path, {{"question", "line_base"}, {"skip", "1"}})
                  ->get_header_value("Location"),
              path + "?question=target_left");
    const auto readings = current_setup(JobStore(bay.jobs()).open(id).sheet)->readings;
    EXPECT_EQ(readings.target_height_mm.value, 905);
    EXPECT_EQ(readings.distance_mm.value, 4995) << "what was not asked stays";
    EXPECT_FALSE(readings.target_left_mm.measured);
    EXPECT_THAT(browser.page(path), AllOf(HasSubstr("905\u00a0mm"), HasSubstr("not measured")))
        << "once something is answered, all entries are shown";
}

TEST(BayPage, OnlyHowTheBoardStoodIsTakenOverTheTrucksOwnIsMeasured) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string earlier = browser.begin_job("2001"), id = browser.begin_job("2002");
    ASSERT_EQ(browser.fill_in("/job/" + earlier + "/board", board_of_1042())->status, 303);
    const std::string path = "/job/" + id + "/board";
    const std::string offered = browser.page(path + "?question=as_before");
    EXPECT_THAT(offered, AllOf(HasSubstr("2001"), HasSubstr("905"), HasSubstr("0.1"),
                               HasSubstr("name=\"mount_height.in\"")));
    for (const auto* trucks_own : {"848", "6000", "0.4", "0.6", "5249", "line_base"}) {
        EXPECT_THAT(offered, Not(HasSubstr(trucks_own)));
    }
    EXPECT_EQ(browser.fill_in(path, {{"question", "as_before"}, {"as_before", "1"}})->status, 422)
        << "the board's height counts together with this truck's";
    const Fields odd{{"question", "as_before"}, {"as_before", "1"}, {"mount_height.mm", "84"}};
    EXPECT_THAT(browser.fill_in(path, odd)->body, HasSubstr("value=\"sure\""));
    const auto confirmed = browser.fill_in(
        path, {{"question", "as_before"}, {"as_before", "1"}, {"mount_height.mm", "861"}});
    EXPECT_EQ(confirmed->get_header_value("Location"), path + "?question=line_base");
    const SheetSetup now = *current_setup(JobStore(bay.jobs()).open(id).sheet);
    const SheetSetup before = *current_setup(JobStore(bay.jobs()).open(earlier).sheet);
    EXPECT_EQ(now.readings.target_height_mm.value, before.readings.target_height_mm.value);
    EXPECT_EQ(now.readings.target_roll_clockwise_deg.value, 0.1);
    EXPECT_EQ(now.readings.mount_height_mm.value, 861);
    EXPECT_EQ(now.readings.distance_mm.value, 4995) << "measured at every truck";
    for (const auto reading :
         {&Setup::mount_left_mm, &Setup::target_left_mm, &Setup::floor_rise_deg,
          &Setup::target_lean_back_deg, &Setup::rail_zero_deg, &Setup::line_left_deg}) {
        EXPECT_FALSE((now.readings.*reading).measured);
    }
    EXPECT_FALSE(now.line_marks);
    EXPECT_TRUE(now.tapes.empty()) << "what checks the rest is never taken from memory";
    EXPECT_EQ(browser.fill_in(path, {{"question", "mount_left"}, {"skip", "1"}})
                  ->get_header_value("Location"),
              path + "?question=rail_zero")
        << "both heights are known";
    EXPECT_THAT(browser.page(path + "?question=all"), Not(HasSubstr("question=as_before")));
}

const Fields hooks{{"point_ahead.0.mm", "60"},      {"point_ahead.0.side", "minus"},
                   {"point_left.0.mm", "903"},      {"point_left.0.side", "plus"},
                   {"point_up.0.mm", "612"},        {"point_ahead.1.mm", "58"},
                   {"point_ahead.1.side", "minus"}, {"point_left.1.mm", "897"},
                   {"point_left.1.side", "minus"},  {"point_up.1.mm", "608"}};

TEST(BayPage, WhereATapeStartsIsMeasuredOnTheTruckBeforeTheTape) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001"), path = "/job/" + id + "/board";
    const auto setup_of = [&](const std::string& job) {
        return *current_setup(JobStore(bay.jobs()).open(job).sheet);
    };
    EXPECT_EQ(
        browser.fill_in(path, {{"question", "tape_from.0"}, {"tape_from.0.mm", "5249"}})->status,
        422)
        << "the bay's own figure is of no truck in particular";
    EXPECT_EQ(browser.fill_in(path, {{"question", "point.1"}, {"skip", "1"}})
                  ->get_header_value("Location"),
              path + "?question=all")
        << "no tape is asked for from a hook that nobody measured";
    Fields first = hooks;
    first.emplace("question", "point.0");
    EXPECT_EQ(browser.fill_in(path, first)->get_header_value("Location"),
              path + "?question=point.1");
    ASSERT_EQ(
        browser.fill_in(path, {{"question", "tape_from.0"}, {"tape_from.0.mm", "5249"}})->status,
        303);
    const SheetSetup setup = setup_of(id);
    ASSERT_EQ(setup.tapes.size(), 1U);
    EXPECT_EQ(setup.tapes[0].from.position_in_vehicle_mm, Eigen::Vector3d(-60, 903, 612));
    EXPECT_NEAR(setup.tapes[0].from.standard_uncertainty_mm, 5 / std::sqrt(3.0), 1e-6)
        << "its doubt is that of a tape, not the bay's";
}

TEST(BayPage, HooksAreAskedOnceForAModelAndWithMoreDoubtForAnotherTruck) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const auto begin = [&](const char* order, const char* vehicle, const char* model) {
        Fields fields = new_job();
        for (const auto* name : {"job", "vehicle"}) {
            fields.erase(name);
        }
        fields.insert({{"job", order}, {"vehicle", vehicle}, {"vehicle_model", model}});
        EXPECT_EQ(browser.post("/new", fields)->status, 303);
        return std::string("/job/") + order + "/board";
    };
    const auto asks = [&](const std::string& path) {
        const std::string page = browser.page(path + "?question=points_as_before");
        return page.find("name=\"as_before\"") != std::string::npos;
    };
    ASSERT_EQ(browser.fill_in(begin("2001", "unit 9", "long nose"), hooks)->status, 303);
    EXPECT_FALSE(asks(begin("2002", "unit 10", "short nose"))) << "built otherwise";
    const std::string path = begin("2003", "unit 11", "long nose");
    EXPECT_TRUE(asks(path));
    EXPECT_THAT(browser.page(path + "?question=points_as_before"),
                AllOf(HasSubstr("2001, unit 9"), HasSubstr("903"), HasSubstr("left hook")));
    EXPECT_EQ(browser.fill_in(path, {{"question", "points_as_before"}, {"as_before", "1"}})
                  ->get_header_value("Location"),
              path + "?question=tape_from.0");
    const auto limit_mm = [&](const char* job) {
        const SheetSetup setup = *current_setup(JobStore(bay.jobs()).open(job).sheet);
        return std::sqrt(3.0) * setup.tape_points.at(0).standard_uncertainty_mm;
    };
    EXPECT_NEAR(limit_mm("2003"), 10, 1e-6);
    const std::string again = begin("2004", "unit 9", "");
    ASSERT_EQ(
        browser.fill_in(again, {{"question", "points_as_before"}, {"as_before", "1"}})->status,
        303);
    EXPECT_NEAR(limit_mm("2004"), 5, 1e-6) << "the same truck";
}

TEST(BayPage, AZeroComesBackWithoutASideAndASideAloneIsNotSaved) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001"), path = "/job/" + id + "/board";
    const auto send = [&](Fields fields) {
        fields.emplace("question", "mount_left");
        return browser.fill_in(path, fields);
    };
    ASSERT_EQ(send({{"mount_left.in", "0"}, {"mount_left.16", "0"}})->status, 303);
    EXPECT_THAT(browser.page(path + "?question=mount_left"), Not(HasSubstr(" checked")));
    EXPECT_EQ(send({{"mount_left.in", "0"}, {"mount_left.16", "1"}})->status, 422);
    EXPECT_EQ(send({{"mount_left.in", ""}, {"mount_left.side", "minus"}})->status, 422);
    EXPECT_TRUE(current_setup(JobStore(bay.jobs()).open(id).sheet)->readings.mount_left_mm.measured)
        << "what stood there stays";
}

TEST(BayPage, ThatTheLevelWasZeroedIsWrittenOnlyIfItWasSaid) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001"), path = "/job/" + id + "/board";
    const auto is_zeroed = [&] {
        return current_setup(JobStore(bay.jobs()).open(id).sheet)->readings.rail_zero_deg.measured;
    };
    ASSERT_EQ(browser.fill_in(path, {{"question", "line_base"}, {"line_base.mm", "6000"}})->status,
              303);
    EXPECT_FALSE(is_zeroed());
    ASSERT_EQ(browser.fill_in(path, {{"question", "rail_zero"}, {"rail_zero", "yes"}})
                  ->get_header_value("Location"),
              path + "?question=floor_rise");
    EXPECT_TRUE(is_zeroed());
    ASSERT_EQ(browser.fill_in(path, {{"question", "line_base"}, {"line_base.mm", "6001"}})->status,
              303);
    EXPECT_TRUE(is_zeroed()) << "another answer leaves it";
    ASSERT_EQ(browser.fill_in(path, {{"question", "rail_zero"}, {"rail_zero", ""}})->status, 303);
    EXPECT_FALSE(is_zeroed());
}

TEST(BayPage, WhatALevelShowsOnTheUprightFaceCanBeEnteredAsItStands) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001"), path = "/job/" + id + "/tape";
    const auto send = [&](Fields fields) {
        fields.emplace("question", "face_level.1");
        return browser.fill_in(path, fields)->status;
    };
    EXPECT_EQ(send({{"face_display.1.deg", "89.4"}}), 303);
    const auto tape = JobStore(bay.jobs()).open(id).sheet.sightings.back().tape_and_level;
    ASSERT_TRUE(tape);
    EXPECT_NEAR(tape->face_level_deg.at(0), 0.6, 1e-9) << "the nose is up";
    EXPECT_EQ(send({{"face_display.1.deg", "89.4"},
                    {"face_level.1.deg", "0.6"},
                    {"face_level.1.side", "plus"}}),
              422)
        << "two ways";
    EXPECT_EQ(send({{"face_display.1.deg", "9.4"}, {"sure", "1"}}), 422);
    EXPECT_EQ(send({{"face_level.1.deg", "31"}, {"face_level.1.side", "plus"}, {"sure", "1"}}),
              422);
}

TEST(BayPage, WhatComesLaterIsAskedOneByOne) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001");
    const std::string path = "/job/" + id + "/finish";
    const auto step = [&](const std::string& question, const std::string& name,
                          const std::string& value) {
        EXPECT_EQ(browser.fill_in(path, {{"question", question}, {name, value}})->status, 303);
    };
    step("drive", "drive", "today");
    step("codes_after", "codes_after.text", "C1A67");
    EXPECT_EQ(browser
                  .fill_in(path, {{"question", "reading_after"},
                                  {"reading_after.deg", "0"},
                                  {"reading_after_pitch.deg", "0.4"},
                                  {"reading_after_pitch.side", "minus"}})
                  ->status,
              303);
    std::map<std::string, std::string> closing;
    for (const auto& [key, answer] : JobStore(bay.jobs()).open(id).sheet.closing) {
        closing[key] = answer;
    }
    EXPECT_EQ(closing["drive"], day_of_samples);
    EXPECT_EQ(closing["codes_after"], "C1A67");
    EXPECT_EQ(closing["reading_after.yaw"], "0 deg");
    EXPECT_EQ(closing["reading_after.pitch"], "-0.4 deg");
    step("codes_after", "codes_after", "still active");
    EXPECT_TRUE(has_active_codes(JobStore(bay.jobs()).open(id).sheet));
    step("codes_after", "codes_after", "");
    EXPECT_EQ(finish_form(JobStore(bay.jobs()).open(id).sheet).get("codes_after"), "");
}

// --- photos

TEST(BayPhotos, WhatIsWrongIsToldAsSoonAsThePhotoIsThere) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001");
    const fs::path photos = samples / "jobs/1042-full/photos";
    ASSERT_EQ(browser.send_photo(id, photos / "found-upright-1.jpg", "upright")->status, 303);
    ASSERT_EQ(browser.send_photo(id, photos / "found-inverted-1.jpg", "upright")->status, 303);
    const std::string path = "/job/" + id + "/photos";
    browser.page(path);
    browser.wait_until_measured(id, "?of=photos");
    const std::string told = browser.page(path);
    EXPECT_THAT(told, AllOf(HasSubstr("BOARD FOUND, BUT LOOK HERE <small>1-as-found-2.jpg"),
                            HasSubstr("The photo shows it upside down"),
                            HasSubstr("BOARD FOUND <small>1-as-found-1.jpg")));
    std::smatch picture;
    ASSERT_TRUE(
        std::regex_search(told, picture, std::regex("/job/[^\"]*/look/[0-9a-f]{64}\\.jpg")));
    EXPECT_THAT(browser.page(picture[0].str()), StartsWith("\xff\xd8"));
    ASSERT_EQ(browser
                  .fill_in(path, {{"file", "photos/1-as-found-2.jpg"}, {"cradle", "inverted"}},
                           path + "/stands")
                  ->status,
              303);
    browser.page(path);
    browser.wait_until_measured(id, "?of=photos");
    EXPECT_THAT(browser.page(path), HasSubstr("BOARD FOUND <small>1-as-found-2.jpg"));
}

/// A sample photo of 12 megapixels with other words of the phone in it; without any where `exif` is
/// empty.
std::string relabelled(const char* name, const std::string& exif) {
    std::string jpeg = read_file(samples / "jobs/1042-full/photos" / name, 1 << 26);
    const auto high = static_cast<unsigned char>(jpeg[4]),
               low = static_cast<unsigned char>(jpeg[5]);
    jpeg.erase(2, 2 + 256u * high + low);
    return exif.empty() ? jpeg : with_exif(jpeg, exif);
}

std::string exif_of(const char* time, const char* lens, unsigned zoom, unsigned orientation = 1) {
    ExifBlock block;
    block.text(false, 0x010f, "Quillfern");
    block.text(false, 0x0110, "QF Bay 2");
    block.short_number(false, 0x0112, orientation);
    block.text(true, 0x9003, time);
    block.ratio(true, 0x920a, 54, 10);
    block.ratio(true, 0xa404, zoom, 1);
    block.text(true, 0xa434, lens);
    return block.bytes();
}

TEST(BayPhotos, ZoomAnotherLensARepeatACopyAndAPhoneTurnedOverAreEachToldAtOnce) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001"), path = "/job/" + id + "/photos";
    const auto told = [&](const std::string& bytes, const char* cradle) {
        EXPECT_EQ(browser.send_photo(id, bytes, cradle)->status, 303);
        browser.page(path);
        browser.wait_until_measured(id, "?of=photos");
        const std::string page = browser.page(path);
        return page.substr(0, page.find("</section>"));  // the newest photo stands first
    };
    const auto good =
        relabelled("found-upright-1.jpg", exif_of("2026:03:04 09:12:00", "QF main", 1));
    EXPECT_THAT(told(good, "upright"), AllOf(HasSubstr("BOARD FOUND <"), Not(HasSubstr("STOP"))));
    EXPECT_THAT(
        told(relabelled("found-upright-2.jpg", exif_of("2026:03:04 09:12:10", "QF main", 2)),
             "upright"),
        HasSubstr("digital zoom of 2. Take it again without zoom"));
    EXPECT_THAT(told(relabelled("left-upright-1.jpg", exif_of("2026:03:04 09:12:20", "QF wide", 1)),
                     "upright"),
                AllOf(HasSubstr("QF wide"), HasSubstr("Use the calibrated phone and lens")));
    EXPECT_THAT(told(relabelled("left-upright-2.jpg", ""), "upright"),
                AllOf(HasSubstr("STOP"), HasSubstr("a messenger or an editor took that out"),
                      HasSubstr("Bring the original, by cable or sent as a file")));
    EXPECT_THAT(
        told(relabelled("found-upright-1.jpg", exif_of("2026:03:04 09:12:30", "QF main", 1)),
             "upright"),
        HasSubstr("is the same picture as photos/1-as-found-1.jpg, saved again"));
    EXPECT_THAT(
        told(relabelled("found-inverted-1.jpg", exif_of("2026:03:04 09:12:40", "QF main", 1, 3)),
             "upright"),
        HasSubstr("The phone stood the other way than you said"));
    EXPECT_THAT(
        told(relabelled("found-inverted-2.jpg", exif_of("2026:03:04 09:12:50", "QF main", 1, 3)),
             "inverted"),
        AllOf(HasSubstr("BOARD FOUND <"), Not(HasSubstr("STOP"))))
        << "what is wrong with another photo is not said of this one";
    EXPECT_THAT(
        told(relabelled("left-inverted-1.jpg", exif_of("2025:06:04 09:12:00", "QF main", 1, 3)),
             "inverted"),
        AllOf(HasSubstr("STOP"), HasSubstr("before this job was begun")));
    EXPECT_THAT(browser.page(path), HasSubstr("3 of 4"))
        << "of the eight those that serve count, as they really stood";
    EXPECT_THAT(browser.page("/job/" + id),
                AllOf(HasSubstr("3 of 4"), HasSubstr("Next: Take the photos")));
    const auto again = browser.send_photo(id, good, "upright");
    EXPECT_EQ(again->status, 422);
    EXPECT_THAT(again->body, HasSubstr("already here"));
    const std::string tape = "/job/" + id + "/tape";
    ASSERT_EQ(browser.fill_in(tape, {}, tape + "/left_out")->status, 303);
    browser.page("/job/" + id + "/answer");
    browser.wait_until_measured(id);
    const std::string answer = browser.page("/job/" + id + "/answer");
    const auto used = nlohmann::json::parse(read_file(bay.jobs() / id / "job.result.json",
                                                      1 << 24))["sightings"][0]["vision"]["photos"];
    std::vector<std::string> names;
    for (const auto& photo : used) {
        names.push_back(photo.at("file"));
    }
    EXPECT_THAT(names, testing::ElementsAre("photos/1-as-found-1.jpg", "photos/1-as-found-6.jpg",
                                            "photos/1-as-found-7.jpg"))
        << "what the page does not count, the answer does not use";
    EXPECT_THAT(answer, AllOf(HasSubstr("Photos set aside"), HasSubstr("<li>1-as-found-4.jpg</li>"),
                              HasSubstr("href=\"" + path + "\"")));
    EXPECT_THAT(
        browser.page("/job/" + id + "/answer", "es"),
        AllOf(HasSubstr("Fotos apartadas"),
              Not(ContainsRegex("<li lang=.en[^>]*>[^<]*<span[^>]*>[^<]*</span> Set aside"))));
}

/// A sample photo with its pixels changed, saved anew as the phone would have.
std::string repainted(const char* name, const std::function<cv::Mat(const cv::Mat&)>& change,
                      const std::string& exif) {
    const cv::Mat photo = cv::imread((samples / "jobs/1042-full/photos" / name).string(),
                                     cv::IMREAD_COLOR | cv::IMREAD_IGNORE_ORIENTATION);
    std::vector<unsigned char> bytes;
    cv::imencode(".jpg", change(photo), bytes);
    const std::string jpeg(bytes.begin(), bytes.end());
    return exif.empty() ? jpeg : with_exif(jpeg, exif);
}

TEST(BayPhotos, ABlurredPhotoIsCalledBlurredAndAScaledCopyNotTheOriginal) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001"), path = "/job/" + id + "/photos";
    const auto told = [&](const std::string& bytes, const char* language = "en") {
        EXPECT_EQ(browser.send_photo(id, bytes, "upright")->status, 303);
        browser.page(path);
        browser.wait_until_measured(id, "?of=photos");
        const std::string page = browser.page(path, language);
        return page.substr(0, page.find("</section>"));  // the newest photo stands first
    };
    const auto heading = [](const char* key, Language language = Language::english) {
        return HasSubstr("<h2>" + message(language, key) + " <");
    };
    for (const double blur_px : {12.0, 40.0}) {
        const auto blurred = [&](const cv::Mat& photo) {
            cv::Mat soft;
            cv::GaussianBlur(photo, soft, cv::Size(), blur_px);
            return soft;
        };
        const std::string exif =
            exif_of(blur_px < 20 ? "2026:03:04 09:12:00" : "2026:03:04 09:12:30", "QF main", 1);
        EXPECT_THAT(told(repainted("found-upright-1.jpg", blurred, exif)),
                    AllOf(heading("photo_blurred"), HasSubstr("The photo is blurred"),
                          Not(HasSubstr("pixels wide"))))
            << blur_px;
    }
    const auto smaller = [](const cv::Mat& photo) {
        cv::Mat small;
        cv::resize(photo, small, cv::Size(), 0.4, 0.4, cv::INTER_AREA);
        return small;
    };
    EXPECT_THAT(told(repainted("found-upright-2.jpg", smaller, "")),
                AllOf(heading("photo_copy"), HasSubstr("Bring the original photo"),
                      Not(HasSubstr(message(Language::english, "photo_missing")))));
    EXPECT_THAT(
        told(repainted("found-inverted-1.jpg", smaller, ""), "es"),
        AllOf(heading("photo_copy", Language::spanish), Not(ContainsRegex("<li[^>]*lang=.en"))));
}

TEST(BayPhotos, SeveralAtOnceStandInTheOrderOfTheirTimeAndEachTellsHowItStood) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001"), path = "/job/" + id + "/photos";
    EXPECT_THAT(browser.page(path), AllOf(HasSubstr(" multiple"), Not(HasSubstr("capture"))));
    std::vector<std::string> photos;  // as they were taken
    for (const auto* name : {"upright-1", "inverted-1", "upright-2", "inverted-2"}) {
        photos.push_back(
            relabelled(("found-" + std::string(name) + ".jpg").c_str(),
                       exif_of(("2026:03:04 09:12:" + std::to_string(10 + photos.size())).c_str(),
                               "QF main", 1, name[0] == 'u' ? 1 : 3)));
    }
    const auto refused = browser.send_photos(
        id, {photos[2], "%PDF-1.7", photos[1], photos[3], photos[0]}, "upright");
    EXPECT_EQ(refused->status, 422) << "one is no photo";
    const SheetSighting sighting = JobStore(bay.jobs()).open(id).sheet.sightings.back();
    ASSERT_EQ(sighting.photos.size(), 4U) << "the others are taken";
    for (std::size_t i = 0; i < 4; ++i) {
        EXPECT_EQ(read_file(sighting.photos[i].path, 1 << 26), photos[i]);
        EXPECT_FALSE(sighting.photos[i].label) << "one button cannot be true of all";
    }
    browser.page(path);
    browser.wait_until_measured(id, "?of=photos");
    EXPECT_THAT(browser.page(path),
                AllOf(HasSubstr("4 of 4"), Not(HasSubstr("STOP")), Not(HasSubstr("other way"))));
}

TEST(BayPhotos, OnlyAPhotoByItsContentIsTaken) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001");
    for (const std::string bytes : {"<svg xmlns='http://www.w3.org/2000/svg'/>", "%PDF-1.7", "MZ",
                                    "schema: squaresight/corners/1\n"}) {
        const auto refused = browser.send_photo(id, bytes, "upright");
        EXPECT_EQ(refused->status, 422) << bytes;
    }
    EXPECT_EQ(browser.send_photo(id, std::string(), "upright")->status, 422);
    EXPECT_FALSE(fs::exists(bay.jobs() / id / "photos"));
}

TEST(BayPhotos, AForgedFormBringsNoPhoto) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001");
    const std::string photo =
        read_file(samples / "jobs/1042-full/photos/found-upright-1.jpg", 1 << 26);
    EXPECT_EQ(browser.send_photo(id, photo, "upright", "guess")->status, 403);
    EXPECT_FALSE(fs::exists(bay.jobs() / id / "photos"));
}

TEST(BayPhotos, NamesAreTheServersOwnAndAPhotoIsTakenOnce) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001");
    const fs::path photo = samples / "jobs/1042-full/photos/found-upright-1.jpg";
    EXPECT_EQ(browser.send_photo(id, photo, "upright")->status, 303);
    EXPECT_EQ(browser.send_photo(id, photo, "inverted")->status, 422);
    const fs::path taken = bay.jobs() / id / "photos";
    EXPECT_EQ(std::distance(fs::directory_iterator(taken), {}), 1);
    EXPECT_EQ(read_file(taken / "1-as-found-1.jpg", 1 << 26), read_file(photo, 1 << 26));
    EXPECT_THAT(read_file(bay.jobs() / id / "job.yaml", 1 << 20),
                HasSubstr("{file: 'photos/1-as-found-1.jpg', cradle: upright}"));
    EXPECT_EQ(browser
                  .fill_in("/job/" + id + "/photos", {{"file", "photos/1-as-found-1.jpg"}},
                           "/job/" + id + "/photos/out")
                  ->status,
              303);
    EXPECT_THAT(read_file(bay.jobs() / id / "job.yaml", 1 << 20), Not(HasSubstr("as-found-1.jpg")));
}

TEST(BayPhotos, APhotoInPiecesGoesOnWhereItStopped) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001");
    const fs::path file = samples / "jobs/1042-full/photos/found-upright-1.jpg";
    const std::string photo = read_file(file, 1 << 26);
    const std::string size = std::to_string(photo.size());
    const auto begun =
        browser.post("/job/" + id + "/upload", {{"size", size}, {"cradle", "upright"}});
    const std::string upload = "/job/" + id + "/upload/" +
                               nlohmann::json::parse(begun->body).at("upload").get<std::string>();
    const std::size_t half = photo.size() / 2;
    EXPECT_EQ(browser.post_piece(upload, 0, photo.substr(0, half))->status, 200);
    // The answer was lost: the same piece again is not taken twice, and where to go on is told.
    const auto again = browser.post_piece(upload, 0, photo.substr(0, half));
    EXPECT_EQ(again->status, 409);
    EXPECT_EQ(nlohmann::json::parse(again->body).at("received"), half);
    EXPECT_EQ(nlohmann::json::parse(browser.page(upload)).at("received"), half);
    EXPECT_EQ(browser.post_piece(upload, half, photo.substr(half))->status, 200);
    EXPECT_EQ(read_file(bay.jobs() / id / "photos/1-as-found-1.jpg", 1 << 26), photo);
    // That answer was lost too.
    const auto last = browser.post_piece(upload, half, photo.substr(half));
    EXPECT_EQ(nlohmann::json::parse(last->body).at("received"), photo.size());
    EXPECT_EQ(std::distance(fs::directory_iterator(bay.jobs() / id / "photos"), {}), 1);
}

TEST(BayPhotos, APieceBeyondTheAnnouncedSizeOrOfAnotherJobIsRefused) {
    RunningBay bay;
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001"), other = browser.begin_job("2002");
    ASSERT_EQ(other, "2002");
    const auto begun = browser.post("/job/" + id + "/upload", {{"size", "10"}});
    const std::string upload = nlohmann::json::parse(begun->body).at("upload").get<std::string>();
    EXPECT_EQ(browser.post_piece("/job/" + other + "/upload/" + upload, 0, "12345")->status, 404);
    EXPECT_EQ(browser.post_piece("/job/" + id + "/upload/" + upload, 0, "12345678901")->status,
              422);
    for (const auto* size : {"0", "", "-1", "99999999999", "1e6"}) {
        EXPECT_EQ(browser.post("/job/" + id + "/upload", {{"size", size}})->status, 422) << size;
    }
}

TEST(BayPhotos, AHostilePhotoStopsNothingButItself) {
    Confines confines;
    confines.memory_bytes = std::size_t{1} << 30;
    RunningBay bay({}, confines);
    const Phone browser = bay.paired(Role::technician);
    const std::string id = browser.begin_job("2001");
    const std::string broken =
        read_file(samples / "jobs/1042-full/photos/found-upright-1.jpg", 1 << 26).substr(0, 5000);
    EXPECT_EQ(browser.send_photo(id, broken, "upright")->status, 303);
    browser.fill_in("/job/" + id + "/tape", {}, "/job/" + id + "/tape/left_out");
    browser.wait_until_measured(id);
    EXPECT_THAT(browser.page("/job/" + id + "/answer"), HasSubstr("No answer yet"));
    EXPECT_EQ(browser.get("/")->status, 200);
}

// --- a whole job

TEST(BayPage, AWholeJobByItsFormsGivesWhatTheCommandLineGives) {
    WalkedJob job;
    const Phone& browser = job.browser;
    EXPECT_THAT(browser.page(job.path()), HasSubstr("Next: Get ready"));
    Fields ready;
    for (const auto* key :
         {"level_ground", "tyres", "ride_height", "bracket_sound", "face_clean", "codes_saved"}) {
        ready.emplace(key, "yes");
    }
    ASSERT_EQ(browser.fill_in(job.path("/ready"), ready)->status, 303);
    ASSERT_EQ(browser.fill_in(job.path("/board"), board_of_1042())->status, 303);
    job.send("found", 2, true);
    ASSERT_EQ(browser
                  .fill_in(job.path("/tape"), {{"left_point.ft", "1"},
                                               {"left_point.in", "8"},
                                               {"right_point.mm", "508"},
                                               {"pass_left.1.in", "6"},
                                               {"pass_left.1.16", "15"},
                                               {"pass_right.1.in", "7"},
                                               {"pass_right.1.16", "12"},
                                               {"face_level.1.deg", "0.8"},
                                               {"face_level.1.side", "minus"}})
                  ->status,
              303);
    const std::string told = job.answer();
    EXPECT_THAT(told, AllOf(HasSubstr("DO THIS"), HasSubstr("name=\"turns.1\" value=\"18\""),
                            HasSubstr("side screw</b><br>2\u00a01/4 turns counter-clockwise")));
    EXPECT_LT(told.find("Turn the side screw"), told.find(", then the upper screw"));
    EXPECT_LT(told.find("side screw</b>"), told.find("upper screw</b>")) << "as the words say it";
    EXPECT_THAT(browser.page(job.path("/answer"), "es"),
                AllOf(HasSubstr("izq. del camión"), HasSubstr("side: 2 1/4 vueltas"),
                      Not(ContainsRegex("truck|turns? "))));
    job.expect_same_as_measure();
    const Fields turned{{"turns.0", "11"},
                        {"way.0", "clockwise"},
                        {"turns.1", "18"},
                        {"way.1", "counter-clockwise"}};
    ASSERT_EQ(browser.fill_in(job.path("/answer"), turned, job.path("/turned"))->status, 303);
    job.send("adjusted", 2, false);
    EXPECT_THAT(job.answer(), HasSubstr("They are locked"));
    ASSERT_EQ(
        browser.fill_in(job.path("/answer"), {{"ride_height_left", "yes"}}, job.path("/lock"))
            ->status,
        303);
    job.send("left", 2, true);
    job.leave_tape_out();
    EXPECT_THAT(job.answer(), HasSubstr("NOT READY"));
    EXPECT_THAT(browser.page(job.path("/handover")), HasSubstr(">NOT READY<"));
    ASSERT_EQ(browser
                  .fill_in(job.path("/finish"), {{"codes_cleared", "yes"},
                                                 {"electronic_calibration", "not asked for"},
                                                 {"drive", "2026-03-05"},
                                                 {"codes_after", "none"}})
                  ->status,
              303);
    EXPECT_THAT(job.answer(), HasSubstr("in tolerance"));
    job.expect_same_as_measure();
    EXPECT_THAT(browser.page(job.path("/report")), HasSubstr("<title>Mount aim, job 2001"));
    EXPECT_THAT(browser.page(job.path("/handover")),
                AllOf(HasSubstr("after turn 1"), HasSubstr("as left"), HasSubstr("5 Mar 2026"),
                      HasSubstr("4 Mar 2026"), Not(HasSubstr("2026-03-0"))));
    for (const auto* page : {"/answer", "/handover", "/photos", "/finish"}) {
        EXPECT_THAT(browser.page(job.path(page), "es"),
                    AllOf(Not(ContainsRegex("<(p|li|span)[^>]*lang=.en")),
                          Not(ContainsRegex("truck|screw:|turns? ")), Not(HasSubstr("not yet"))))
            << page;
    }
    const Phone reviewer = job.bay.paired(Role::reviewer);
    reviewer.page(job.path("/review"));
    reviewer.wait_until_measured(job.id, "?of=review");
    const std::string entry = Phone::hidden(reviewer.page(job.path("/review")), "entry");
    const auto sign = [&](const char* code, const char* decision, const char* reason) {
        return reviewer.fill_in(
            job.path("/review"),
            {{"entry", entry}, {"reviewer", code}, {"decision", decision}, {"reason", reason}});
    };
    EXPECT_EQ(sign("t3", "accepted", "")->status, 422) << "who measured it";
    EXPECT_EQ(sign("R1", "returned", "")->status, 422) << "without a reason";
    EXPECT_EQ(sign("R1", "accepted", "")->status, 422) << "not done: the sensor was not read";
    EXPECT_EQ(sign("R1", "accepted", "the sensor is read at the maker's")->status, 303);
    EXPECT_THAT(reviewer.page("/review"), HasSubstr("accepted"));
    const Phone technician = job.bay.paired(Role::technician);
    EXPECT_EQ(technician.get(job.path("/review"))->status, 403);
    browser.page(job.path("/photos"));
    browser.wait_until_measured(job.id, "?of=photos");
    EXPECT_THAT(browser.page(job.path("/photos")), HasSubstr("BOARD FOUND"));
}

}  // namespace
}  // namespace squaresight::bay

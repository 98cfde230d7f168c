// The bay page's forms: how entries are read, how a sheet fills a form and is changed by it.
#include <gtest/gtest.h>

#include <filesystem>
#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "bay/form.h"
#include "bay/sheet_forms.h"
#include "job/sheet.h"
#include "job/sheet_text.h"

namespace squaresight::bay {
namespace {

const std::filesystem::path samples = std::filesystem::path(SQUARESIGHT_SOURCE_DIR) / "samples";

TEST(BayForm, ALengthIsReadAsTheTapeShowsIt) {
    Form form;
    form.set("a.ft", "16");
    form.set("a.in", "4");
    form.set("a.16", "14");
    EXPECT_NEAR(*form.length_mm("a"), 25.4 * (16 * 12 + 4.875), 1e-9);
    form.set("b.mm", "4995,5");
    EXPECT_DOUBLE_EQ(*form.length_mm("b"), 4995.5);
    EXPECT_FALSE(form.length_mm("c"));
}

TEST(BayForm, EveryUsualWayToWriteALengthIsReadInEveryPart) {
    struct Written {
        const char* part;
        const char* text;
        double inches;
    };
    for (const auto& [part, text, inches] : std::vector<Written>{{".in", "7 5/16", 7.3125},
                                                                 {".in", "20\"", 20},
                                                                 {".in", "5/8", 0.625},
                                                                 {".ft", "5'", 60},
                                                                 {".ft", "1' 8\"", 20},
                                                                 {".ft", "16 1/2", 198},
                                                                 {".in", "1 ft 8 in", 20},
                                                                 {".mm", "1\u2019 8\u201d", 20},
                                                                 {".mm", "508 mm", 20}}) {
        Form form;
        form.set(std::string("a") + part, text);
        EXPECT_NEAR(*form.length_mm("a"), 25.4 * inches, 1e-9) << text;
    }
}

std::string problem_of(const std::function<void()>& action) {
    try {
        action();
    } catch (const FormError& error) {
        return error.what();
    }
    return "";
}

TEST(BayForm, AUnitASideOrAThousandIsNeverGuessed) {
    Form form;
    form.set("a.mm", "5000");
    form.set("a.in", "3");
    form.set("b.mm", "5,000");
    form.set("c.mm", "3");
    form.set("d.mm", "nan");
    form.set("e.mm", "-4");
    form.set("f.mm", "1e3");
    form.set("g.mm", "99999999");
    EXPECT_EQ(problem_of([&] { form.length_mm("a"); }), "two_units");
    EXPECT_EQ(problem_of([&] { form.length_mm("b"); }), "thousands");
    EXPECT_EQ(problem_of([&] { form.sided_length_mm("c"); }), "side_missing");
    EXPECT_EQ(problem_of([&] { form.length_mm("d"); }), "no_length");
    EXPECT_EQ(problem_of([&] { form.length_mm("e"); }), "out_of_range");
    EXPECT_EQ(problem_of([&] { form.length_mm("f"); }), "no_length");
    EXPECT_EQ(problem_of([&] { form.length_mm("g"); }), "out_of_range");
    for (const auto* text : {"16 ft 14 in", "five feet", "20 deg", "1/0", "20\" +/- 1\""}) {
        form.set("h.in", text);
        EXPECT_EQ(problem_of([&] { form.length_mm("h"); }), "no_length") << text;
    }
    form.set("i.ft", "16");
    form.set("i.in", "14");
    EXPECT_EQ(problem_of([&] { form.length_mm("i"); }), "inches_over");
    form.set("j.deg", "half");
    EXPECT_EQ(problem_of([&] { form.angle_deg("j"); }), "no_angle");
}

TEST(BayForm, AReadingThatIsShownAndSentBackStaysAsItWas) {
    Form form;
    form.put_length("a", 4998, LengthUnit::in);  // no whole number of sixteenths
    EXPECT_DOUBLE_EQ(*form.length_mm("a"), 4998);
    form.put_sided_length("b", -25.4 * 7.3125, LengthUnit::in);
    EXPECT_NEAR(*form.sided_length_mm("b"), -25.4 * 7.3125, 1e-9);
    form.put_sided_angle("c", -0.4);
    EXPECT_DOUBLE_EQ(*form.sided_angle_deg("c"), -0.4);
}

TEST(BayForm, AZeroHasNoSideAndASideWithoutASizeIsNoAnswer) {
    for (const double zero : {0.0, -0.0}) {
        Form form;
        form.put_sided_length("a", zero, LengthUnit::in);
        EXPECT_FALSE(form.has("a.side"));
        EXPECT_EQ(form.sided_length_mm("a"), 0);
        form.set("a.16", "1");  // corrected to 1/16: to which side is asked
        EXPECT_EQ(problem_of([&] { form.sided_length_mm("a"); }), "side_missing");
        form.put_sided_angle("b", zero);
        EXPECT_FALSE(form.has("b.side"));
    }
    Form form;
    form.set("a.side", "minus");
    form.set("a.16", "0");
    EXPECT_EQ(problem_of([&] { form.sided_length_mm("a"); }), "size_missing");
    EXPECT_EQ(problem_of([&] { form.sided_angle_deg("a"); }), "size_missing");
    form.set("a.in", "0");
    EXPECT_EQ(form.sided_length_mm("a"), 0);
}

TEST(BayForm, TheWholeBoardOfASampleSurvivesItsForm) {
    const Shop shop = load_shop(samples / "shop.yaml");
    const JobSheet before = load_job_sheet(samples / "jobs/1042-full/job.yaml");
    JobSheet after = before;
    take_board(after, &shop.bays[0], board_form(before, &shop.bays[0], LengthUnit::in));
    take_tape(after, &shop.bays[0], tape_form(before, &shop.bays[0], LengthUnit::in));
    EXPECT_EQ(job_sheet_yaml(before, LengthUnit::in), job_sheet_yaml(after, LengthUnit::in));
}

TEST(BayForm, ASetupThatWasMovedIsMeasuredAnew) {
    JobSheet sheet = load_job_sheet(samples / "jobs/1042-full/job.yaml");
    sheet.sightings.resize(2);
    sheet.sightings[1].photos.clear();
    sheet.sightings[0].setup->tape_points = {{"left hook", {-60, 903, 612}, 3}};
    take_moved(sheet);
    EXPECT_FALSE(sheet.sightings[1].same_setup);
    EXPECT_EQ(current_setup(sheet)->tape_points.size(), 1U) << "they are the truck's own";
    EXPECT_FALSE(current_setup(sheet)->has_distance);
    EXPECT_TRUE(sheet.sightings[0].setup->has_distance);
}

TEST(BayForm, TheRideHeightIsAskedAgainAtLockingAndCanBePutRightLater) {
    JobSheet sheet = load_job_sheet(samples / "jobs/1042-full/job.yaml");
    const std::size_t asked = ready_questions(sheet).size();
    sheet.sightings.pop_back();
    EXPECT_EQ(ready_questions(sheet).size(), asked - 1) << "not before it is locked";
    Form form;
    form.set("ride_height_left", "no");
    take_lock(sheet, form);
    EXPECT_EQ(sheet.sightings.back().stage, "as-left");
    const auto said = [&] {
        const JobSheet read =
            parse_begun_job_sheet(job_sheet_yaml(sheet, LengthUnit::in), sheet.file);
        return ready_form(read).get("ride_height_left");
    };
    EXPECT_EQ(said(), "no");
    Form right = ready_form(sheet);
    right.set("ride_height_left", "yes");
    take_ready(sheet, right);
    EXPECT_EQ(said(), "yes");
}

TEST(BayForm, AJobThatIsTurnedAfterItWasLockedWasNotLeftSo) {
    JobSheet sheet = load_job_sheet(samples / "jobs/1042-full/job.yaml");
    Form form;
    form.set("turns.1", "3");
    form.set("way.1", "clockwise");
    take_turned(sheet, load_mount(sheet.mount_file), form);
    ASSERT_EQ(sheet.sightings.size(), 4u);
    EXPECT_EQ(sheet.sightings[2].stage, "adjusted");
    EXPECT_EQ(sheet.sightings[2].turned_clockwise,
              (std::vector<std::pair<std::string, double>>{{"side", 3 / 8.0}}));
    EXPECT_EQ(sheet.sightings[3].stage, "adjusted");
    EXPECT_EQ(problem_of([&] { take_turned(sheet, load_mount(sheet.mount_file), {}); }), "needed");
}

}  // namespace
}  // namespace squaresight::bay

#include "report/report.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <regex.h>

#include <filesystem>
#include <set>
#include <sstream>

#include "report/figures.h"
#include "report/summary.h"
#include "support/sample_result.h"
#include "support/scratch.h"
#include "units/files.h"

namespace squaresight {
namespace {

using testing::HasSubstr;
using testing::Not;
using testing::StartsWith;

class Report : public testing::Test {
  protected:
    Scratch scratch;
    JobResult found = sample::as_found(scratch.folder());
    JobResult left = sample::as_left(scratch.folder());

    static void stop(JobResult& job) {
        job.sightings.back().findings.push_back(
            {Level::stop, "distance-mismatch",
             "The board is not where the tape says. Check the print."});
        auto& verdict = job.sightings.back().vision->verdict;
        verdict = {withheld(verdict.yaw), withheld(verdict.pitch)};
    }
};

/// The first piece of `text` that a POSIX extended expression matches, or nothing. (Not std::regex:
/// it walks long text by recursion, and g++ 12 warns of its inside under sanitizers.)
std::string first_match(const std::string& text, const std::string& pattern) {
    regex_t expression;
    EXPECT_EQ(regcomp(&expression, pattern.c_str(), REG_EXTENDED | REG_ICASE), 0) << pattern;
    regmatch_t match;
    const bool found = regexec(&expression, text.c_str(), 1, &match, 0) == 0;
    regfree(&expression);
    return found ? text.substr(static_cast<std::size_t>(match.rm_so),
                               static_cast<std::size_t>(match.rm_eo - match.rm_so))
                 : "";
}

std::string without_reviewer_part(const std::string& html) {
    const auto at = html.find("id=\"reviewer\"");
    EXPECT_NE(at, std::string::npos);
    return html.substr(0, at);
}

/// Whether "in tolerance" is claimed ("out of tolerance" is not such a claim).
bool claims_tolerance(const std::string& page) {
    return !first_match(page, "in tolerance").empty();
}

std::vector<std::string> lines_of(const std::string& text) {
    std::vector<std::string> lines;
    std::istringstream stream(text);
    for (std::string line; std::getline(stream, line);) {
        lines.push_back(line);
    }
    return lines;
}

TEST_F(Report, SaysFirstWhichScrewToTurnTheLargerTurnFirst) {
    EXPECT_EQ(do_this_line(found),
              "Turn the side screw 1 1/2 turns clockwise, then the upper screw 1/4 turn "
              "counter-clockwise. Then measure again.");
    const auto html = report_html(found);
    const auto first = html.find(
        "Turn the side screw 1\u00a01/2 turns clockwise, then the upper screw 1/4 turn "
        "counter-clockwise. Then measure again.");
    ASSERT_NE(first, std::string::npos) << "no line may begin with the fraction";
    EXPECT_LT(html.find("<b>side screw</b><br>1\u00a01/2 turns"), html.find("<b>upper screw</b>"))
        << "drawn in the order of the words";
    EXPECT_LT(first, html.find("Job <b>"));
    EXPECT_LT(first, html.find("<h2>"));
    EXPECT_THAT(report_text(found),
                StartsWith("DO THIS: Turn the side screw 1 1/2 turns clockwise"));
}

TEST_F(Report, UnderAStopNothingIsTurnedAndNothingIsInTolerance) {
    for (auto* job : {&found, &left}) {
        stop(*job);
        EXPECT_THAT(do_this_line(*job), StartsWith("Do not turn anything: The board is not where"));
        const auto html = report_html(*job);
        EXPECT_FALSE(claims_tolerance(html));
        EXPECT_FALSE(claims_tolerance(report_text(*job)));
        EXPECT_THAT(html, Not(HasSubstr("turns clockwise</figure>")));
        EXPECT_THAT(html, HasSubstr("no verdict"));
    }
}

TEST_F(Report, AStopOfTheWholeJobStopsTheLastStageToo) {
    left.findings.push_back({Level::stop, "photo-reused", "One photo was used twice."});
    EXPECT_THAT(do_this_line(left), StartsWith("Do not turn anything: One photo was used twice."));
    EXPECT_FALSE(claims_tolerance(report_html(left)));
}

TEST_F(Report, SaysEveryStopAboveTheNumbers) {
    stop(found);
    found.findings.push_back({Level::stop, "photo-zoomed", "A photo was zoomed."});
    const auto html = report_html(found);
    const auto numbers = html.find("0.71 deg to the left");
    EXPECT_LT(html.find("A photo was zoomed."), numbers);
    EXPECT_LT(html.find("The board is not where the tape says."), numbers);
}

TEST_F(Report, AStopOfAnEarlierStageHoldsForTheWholeJob) {
    left.sightings[0].findings.push_back(
        {Level::stop, "target-turned", "The board is on its head."});
    EXPECT_THAT(do_this_line(left), StartsWith("Do not turn anything: The board is on its head."));
    EXPECT_FALSE(claims_tolerance(report_html(left)));
    EXPECT_FALSE(claims_tolerance(report_text(left)));
}

TEST_F(Report, AMountInToleranceKeepsItsOpenItemsOnTheFirstLineUntilTheyAreRecorded) {
    const auto line = do_this_line(left);
    EXPECT_THAT(line, StartsWith("The mount is in tolerance: turn nothing. Still open: "));
    EXPECT_THAT(line, HasSubstr("clear the codes"));
    EXPECT_THAT(line, HasSubstr("electronic calibration"));
    EXPECT_THAT(line, HasSubstr("the drive"));
    EXPECT_THAT(line, Not(HasSubstr("lock the screws")));
    EXPECT_EQ(first_line(left).heading, "NOT READY");
    EXPECT_EQ(first_line(left).mark, Mark::leave);

    left.sheet.closing = {{"codes_cleared", "yes"},
                          {"electronic_calibration", "not asked for"},
                          {"drive", "2026-03-05"},
                          {"codes_after", "none"},
                          {"reading_after.yaw", "0.1 deg"}};
    EXPECT_THAT(do_this_line(left), Not(HasSubstr("Still open")));
    EXPECT_TRUE(open_items(left).empty());
    EXPECT_EQ(first_line(left).heading, "DONE");
    EXPECT_EQ(first_line(left).mark, Mark::ok);
}

TEST_F(Report, AnAnswerThatIsNoOrAReasonLeavesItsItemOpen) {
    left.sheet.closing = {{"codes_cleared", "no"},
                          {"electronic_calibration", "booked at the maker"},
                          {"drive", "not yet"},
                          {"codes_after", "lane camera code back"}};
    EXPECT_EQ(open_items(left).size(), 5u);
    EXPECT_THAT(do_this_line(left), HasSubstr("(written: booked at the maker)"));
    EXPECT_THAT(do_this_line(left), HasSubstr("(written: lane camera code back)"));
}

TEST_F(Report, UnlockedScrewsStayOpen) {
    left.sheet.sightings.back().locked = false;
    EXPECT_THAT(do_this_line(left), HasSubstr("lock the screws"));
    left.sightings.pop_back();
    left.sheet.sightings.pop_back();
    EXPECT_THAT(joined(open_items(left), ";"), HasSubstr("lock the screws and measure as left"));
}

TEST_F(Report, MethodsThatDisagreeHoldTheTurning) {
    auto& methods = *found.sightings.back().agreement;
    methods.yaw = Agreement{1.2, 0.39, 3.1, AgreementCall::disagree, 0.55, {}};
    methods.culprit = "Were left and right swapped?";
    EXPECT_EQ(do_this_line(found),
              "Do not turn anything: photos and tape disagree. Were left and right swapped?");
    EXPECT_THAT(report_html(found), HasSubstr("DISAGREE on side-to-side aim"));
}

TEST_F(Report, AWithheldInstructionSaysWhy) {
    auto& last = found.sightings.back();
    last.corrections.reset();
    last.findings.push_back(
        {Level::warning, "screw-reversed", "The side screw moved the face backwards."});
    EXPECT_EQ(do_this_line(found),
              "Do not turn anything: The side screw moved the face backwards.");
    EXPECT_THAT(report_html(found), Not(HasSubstr("<h2>The screws")));
}

TEST_F(Report, SaysSidesInWordsAndNeverABareSignedAngle) {
    const std::string bare =
        "(^|[^[:alnum:].])(-|[+]|\u2212) ?[0-9]+([.][0-9]+)? *(deg|&deg;|\u00b0)";
    ASSERT_EQ(first_match("aim of -0.7 deg", bare), " -0.7 deg");
    for (const auto* job : {&found, &left}) {
        EXPECT_EQ(first_match(without_reviewer_part(report_html(*job)), bare), "");
        EXPECT_EQ(first_match(report_text(*job), bare), "");
    }
    EXPECT_THAT(report_html(found), HasSubstr("0.71 deg to the left"));
    EXPECT_THAT(report_html(found), HasSubstr("nose 0.62 deg down"));
}

TEST_F(Report, KeepsReviewersWordsOutOfTheTechniciansPart) {
    const auto page = without_reviewer_part(report_html(found));
    for (const char* word : {"E_n", "chi-square", "conformity"}) {
        EXPECT_THAT(page, Not(HasSubstr(word)));
        EXPECT_THAT(report_text(found), Not(HasSubstr(word)));
    }
    EXPECT_THAT(report_html(found), HasSubstr("E_n 0.15"));
}

TEST_F(Report, EscapesEveryTextThatComesFromAFile) {
    const std::string hostile = "<script>alert('x')</script>";
    found.sheet.vehicle = found.sheet.job = found.sheet.technician = hostile;
    found.sheet.ready = {{"tyres", hostile}};
    found.sheet.closing = {{"drive", hostile}};
    found.mount.name = found.mount.source = hostile;
    found.mount.screws[0].name = hostile;
    found.camera->name = found.target->name = hostile;
    auto& last = found.sightings.back();
    last.corrections->corrections[0].screw = hostile;
    last.findings.push_back({Level::warning, "blunder", hostile});
    last.agreement->culprit = hostile;
    last.vision->stage.budget[0].source = hostile;
    last.vision->stage.readings[0].name = hostile;
    last.vision->stage.photos[0].file = hostile;
    const auto html = report_html(found);
    EXPECT_THAT(html, Not(HasSubstr("<script")));
    EXPECT_THAT(html, HasSubstr("&lt;script"));
}

TEST_F(Report, LeavesOutWhatTheSheetDoesNotSay) {
    found.sheet.vehicle = found.sheet.technician = "";
    const auto html = report_html(found);
    EXPECT_THAT(html, Not(HasSubstr("Vehicle <b>")));
    EXPECT_THAT(html, Not(HasSubstr("Technician <b>")));
    EXPECT_THAT(html, Not(HasSubstr("<li class=\"print-only\"></li>")));
}

TEST_F(Report, IsOneFileThatNeedsNoNetworkAndRunsNoScript) {
    const auto html = report_html(left);
    EXPECT_THAT(html, Not(HasSubstr("<script")));
    EXPECT_THAT(html, Not(HasSubstr("<link")));
    EXPECT_THAT(html, Not(HasSubstr("@import")));
    EXPECT_THAT(html, Not(HasSubstr("url(")));
    EXPECT_THAT(html, HasSubstr("src=\"data:image/jpeg;base64,/9j/"));
    EXPECT_EQ(first_match(html, "http[^\"]*"), "http://www.w3.org/2000/svg");  // a name, no address
    EXPECT_EQ(first_match(html, "(src|href)=\"[^d][^\"]*\""), "");
}

TEST_F(Report, WithAReviewersNotesTheirPartStandsFirst) {
    const ReviewerNotes notes{"Returned by R1: take the left tape again.",
                              {"2026-03-05: returned by R1: take <b>it</b> again"},
                              {"setup.distance: 5000 mm, then 5010 mm (T3)"},
                              {"Check of the phone A: 400 days old: PAST ITS DATE"},
                              {"Revision 2, entry 5"}};
    const std::string page = report_html(found, &notes);
    const auto part = page.find("<h2>Review</h2>");
    ASSERT_NE(part, std::string::npos);
    EXPECT_LT(part, page.find("<h2>Where the mount points"));
    EXPECT_THAT(page, HasSubstr("Returned by R1: take the left tape again."));
    EXPECT_THAT(page, HasSubstr("take &lt;b&gt;it&lt;/b&gt; again"));
    EXPECT_THAT(page, HasSubstr("5000 mm, then 5010 mm"));
    EXPECT_THAT(page, HasSubstr("PAST ITS DATE"));
    EXPECT_THAT(page, HasSubstr("Revision 2, entry 5"));
    EXPECT_LT(page.find("<h3>Still open</h3>"), page.find("<h3>Edited after"));
    EXPECT_THAT(page, HasSubstr("zero of the level on the rail"));
    EXPECT_THAT(report_html(found), Not(HasSubstr("<h2>Review</h2>")));
    EXPECT_THAT(report_html(found, &notes), Not(HasSubstr("<li>Nothing.</li>")));
}

TEST_F(Report, StaysWithinOneHundredColumnsInTheTerminal) {
    auto& last = found.sightings.back();
    last.findings.push_back(
        {Level::warning, "blunder", "Take this again: " + std::string(300, 'x')});
    last.findings.push_back({Level::note, "calibration-old",
                             std::string(40, 'y') + " \x1b[31m " + std::string(90, 'z')});
    const auto text = report_text(found);
    for (const auto& line : lines_of(text)) {
        EXPECT_LE(line.size(), 100u) << line;
    }
    EXPECT_THAT(text, Not(HasSubstr("\x1b")));
}

TEST_F(Report, TheTerminalEndsWithFindingsThenOpenItems) {
    found.findings.push_back({Level::warning, "calibration-old", "The phone check is a year old."});
    const auto text = report_text(found);
    const auto finding = text.find("WARNING: The phone check is a year old.");
    const auto open = text.find("\nStill open\n");
    ASSERT_NE(finding, std::string::npos);
    ASSERT_NE(open, std::string::npos);
    EXPECT_LT(text.find("Cautions"), finding);
    EXPECT_LT(finding, open);
}

TEST_F(Report, AFindingOfSeveralStagesIsSaidOnceStopsFirst) {
    for (auto& sighting : left.sightings) {
        sighting.findings.push_back({Level::note, "calibration-old", "The phone check is old."});
    }
    left.sightings[0].findings.push_back({Level::stop, "few-corners", "Too few corners."});
    const auto placed = placed_findings(left);
    ASSERT_EQ(placed.size(), 2u);
    EXPECT_EQ(placed[0].finding.level, Level::stop);
    EXPECT_EQ(placed[1].stages, "as found, after turn 1, as left");
}

TEST_F(Report, StandsWithoutTapeWithoutPhotosAndWithoutAnything) {
    auto no_tape = found;
    no_tape.sightings[0].tape_and_level.reset();
    no_tape.sightings[0].agreement.reset();
    EXPECT_THAT(report_html(no_tape), Not(HasSubstr("Service limit")));
    EXPECT_THAT(do_this_line(no_tape), StartsWith("Turn the side screw"));

    auto no_photos = found;
    no_photos.camera.reset();
    no_photos.target.reset();
    no_photos.sightings[0].vision.reset();
    no_photos.sightings[0].photos.clear();
    no_photos.sightings[0].agreement.reset();
    EXPECT_THAT(report_html(no_photos), HasSubstr("Measured with tape and level alone."));
    EXPECT_THAT(report_text(no_photos), HasSubstr("0.77 deg to the left"));

    auto no_solution = no_tape;
    no_solution.sightings[0].vision->solved = false;
    no_solution.sightings[0].corrections.reset();
    EXPECT_THAT(do_this_line(no_solution), StartsWith("Do not turn anything"));
    EXPECT_THAT(report_html(no_solution), HasSubstr("Nothing could be worked out"));
    EXPECT_THAT(report_text(no_solution), HasSubstr("not measured"));

    EXPECT_THAT(do_this_line(JobResult{}), StartsWith("Do not turn anything"));
    EXPECT_FALSE(report_html(JobResult{}).empty());
    EXPECT_FALSE(report_text(JobResult{}).empty());
}

TEST_F(Report, NumbersThatAreNotFiniteDoNotReachThePicture) {
    auto& stage = found.sightings[0].vision->stage;
    stage.yaw_left_deg = {std::nan(""), std::nan("")};
    stage.pitch_up_deg.standard_uncertainty = std::numeric_limits<double>::infinity();
    const auto page = without_reviewer_part(report_html(found));
    EXPECT_EQ(first_match(page, "=\"[^\"]*(nan|inf)[ \"]"), "");
}

TEST_F(Report, AnnotatedPhotosAreJpegsOfAtMostSixteenHundredPixels) {
    left.sightings[0].photos[0].facts.orientation = 6;
    left.sightings[1].photos[1].path = scratch.folder() / "gone.jpg";
    const auto written = write_annotated_photos(left, scratch.folder());
    ASSERT_EQ(written.size(), 5u);  // three stages of two photos, one of which is gone
    for (const auto& file : written) {
        const auto picture = cv::imread(file.string());
        ASSERT_FALSE(picture.empty()) << file;
        EXPECT_LE(std::max(picture.cols, picture.rows), 1600);
    }
    const auto upright = cv::imread(written[0].string());
    EXPECT_LT(upright.cols, upright.rows);  // its EXIF says that it stands on its side
}

TEST_F(Report, IsWrittenForPeopleToLookAt) {
    const auto folder = std::filesystem::path(testing::TempDir()) / "squaresight-reports";
    std::filesystem::create_directories(folder);
    auto turned_twice = left;
    turned_twice.sightings.pop_back();
    turned_twice.sheet.sightings.pop_back();
    auto stopped = found;
    stop(stopped);
    auto full = found;  // as much as two pages must hold
    sample::add_stage(full, "adjusted", 0.24, 0.02, scratch.folder());
    sample::add_stage(full, "adjusted", 0.64, -0.42, scratch.folder());
    sample::add_stage(full, "adjusted", 0.54, -0.32, scratch.folder());
    sample::add_stage(full, "as-left", 0.44, -0.31, scratch.folder());
    full.sheet.ready = {{"tyres", "worn"}};
    auto& last = full.sightings.back();
    auto& readings = last.vision->stage.readings;
    for (int i = 0; i < 20; ++i) {
        readings.push_back(readings.back());
        const std::string number = std::to_string(i);
        last.findings.push_back(
            {Level::warning, "calibration-old",
             "The phone check number " + number +
                 " is 14 months old. Repeat it with the checkerboard before the next job, with the "
                 "phone at the distance it is used at. A focal length that is off by one percent "
                 "moves the board by fifty millimetres, and the tape will not agree with it."});
        last.findings.push_back(
            {Level::note, "unchecked-reading",
             "Nothing checks reading " + number +
                 " (board turned, board tilted): an error of 45 mm in it could not be found and "
                 "would move the aim by more than the limit. Add crossed tapes from far-apart "
                 "points, or stand the board in a second place, or take tape and level as well."});
    }
    const std::vector<std::pair<std::string, JobResult*>> jobs{
        {"found", &full}, {"turned", &turned_twice}, {"left", &left}, {"stopped", &stopped}};
    for (const auto& [name, job] : jobs) {
        write_file(folder / (name + ".html"), report_html(*job));
        write_file(folder / (name + ".txt"), report_text(*job));
        EXPECT_GT(std::filesystem::file_size(folder / (name + ".html")), 10000u);
    }
}

TEST_F(Report, TurnTurnNothingAndTooCloseToCallEachHaveTheirOwnPicture) {
    EXPECT_EQ(first_line(found).mark, Mark::turn);
    EXPECT_EQ(axis_answer(found, found.sightings.back(), Axis::yaw)->mark, Mark::turn);
    EXPECT_EQ(first_line(left).mark, Mark::leave);
    auto& verdict = left.sightings.back().vision->verdict;
    verdict.yaw.call = Call::too_close_to_call;
    EXPECT_EQ(axis_answer(left, left.sightings.back(), Axis::yaw)->mark, Mark::unsure);
    std::set<std::string> pictures;
    for (const Mark mark :
         {Mark::ok, Mark::not_yet, Mark::stop, Mark::turn, Mark::leave, Mark::unsure}) {
        pictures.insert(mark_svg(mark));
    }
    EXPECT_EQ(pictures.size(), 6u);
}

TEST(Figures, PutTheTrucksLeftAtTheRightHandOfTheOneWhoFacesIt) {
    ScaleDrawing drawing{Axis::yaw, 0, 0.3, std::nullopt, {{"Photos", {0.2, 0.05}, true}}};
    const auto disc_x = [](const std::string& svg) {
        const std::string start = "circle cx=\"";
        const auto at = svg.find(start);
        return at == std::string::npos ? -1 : std::stod(svg.substr(at + start.size()));
    };
    EXPECT_GT(disc_x(scale_svg(drawing)), 180);
    drawing.marks[0].angle_deg.value = -0.2;
    EXPECT_GT(disc_x(scale_svg(drawing)), 0);
    EXPECT_LT(disc_x(scale_svg(drawing)), 180);
}

TEST(Figures, BarsOfTheBudgetAddUpToTheWhole) {
    const std::vector<BudgetLine> budget{
        {"line", 0.03, 0}, {"distance", 0.04, 0}, {"a", 0.01, 0}, {"b", 0.01, 0}};
    const auto svg = budget_svg(budget, Axis::yaw, 2);
    EXPECT_THAT(svg, HasSubstr(">59 %<"));  // 16 / 27
    EXPECT_THAT(svg, HasSubstr(">33 %<"));  // 9 / 27
    EXPECT_THAT(svg, HasSubstr("all the rest"));
    EXPECT_THAT(svg, HasSubstr(">7 %<"));  // 2 / 27
}

}  // namespace
}  // namespace squaresight

// A real browser walks whole jobs through the bay page with the sample photos, at a phone's size.
#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <future>
#include <iostream>
#include <mutex>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <regex>

#include "job/sheet.h"
#include "support/bay_process.h"
#include "support/breakable_network.h"
#include "support/command.h"
#include "support/job_folder.h"
#include "support/keyboard.h"
#include "support/page_inspector.h"
#include "support/scratch.h"
#include "support/web_driver.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

using test::BreakableNetwork;
using test::BrowserDriver;
using test::Inspector;
using test::Json;
using test::Keyboard;
using test::Window;
namespace key = test::key;
using testing::AllOf;
using testing::HasSubstr;
using testing::Not;
namespace fs = std::filesystem;

const fs::path root = SQUARESIGHT_SOURCE_DIR;
const fs::path sample_photos = root / "samples/jobs/1042-full/photos";

void wait_for(const std::string& what, const std::function<bool()>& is_there) {
    for (int i = 0; !is_there(); ++i) {
        if (i == 3000) {
            throw std::runtime_error("waited in vain: " + what);
        }
        std::this_thread::sleep_for(std::chrono::milliseconds(40));
    }
}

/// Sheets of paper that a page takes when it is printed, A4 upright.
int printed_sheets(Window& window) {
    const Json printed = window.browser_command(
        "Page.printToPDF",
        {{"paperWidth", 8.27}, {"paperHeight", 11.69}, {"preferCSSPageSize", true}});
    const std::string pdf = test::bytes_of(printed.at("data"));
    if (const char* folder = std::getenv("SQUARESIGHT_SCREENS")) {
        write_file(fs::path(folder) / "handover.pdf", pdf);
    }
    const std::regex page("/Type */Page[^s]");
    return static_cast<int>(
        std::distance(std::sregex_iterator(pdf.begin(), pdf.end(), page), std::sregex_iterator()));
}

// --- a technician at the page

/// What is to be done on a page that asks for something, from entries by their names, in the order
/// of the page: each element is marked with its number; with which keys it is done (none for a
/// radio button, which is chosen); the last one goes on. Stands in the page as `steps`, too.
const char* const plan_script = R"script(
const entries = arguments[0], steps = [];
document.querySelectorAll("[data-walk]").forEach(e => e.removeAttribute("data-walk"));
const by_name = name => document.querySelector(`main [name="${name}"]:not([type=hidden]):not([type=radio])`);
const keys = (e, value) => {
  if (e.matches("select")) return "\uE011" + "\uE015".repeat([...e.options].findIndex(o => o.value === `${value}`));
  if (e.matches("[type=radio]")) return null;
  if (e.matches("[type=date]")) return value.slice(5, 7) + value.slice(8) + value.slice(0, 4);
  return `${value}`;
};
const fill = (e, value) => { if (e) steps.push({ e, value, keys: keys(e, value) }); return !!e; };
const size = (name, wanted) => {
  const part = p => by_name(name + "." + p);
  const left = Math.round(wanted.mm / 25.4 * 16), feet = part("ft") && !wanted.inches ? Math.floor(left / 192) : 0;
  if (wanted.side) fill(document.querySelector(`[name="${name}.side"][value="${wanted.side}"]`));
  if ("deg" in wanted) return fill(part("deg"), wanted.deg);
  if (fill(part("mm"), wanted.mm)) return;
  fill(part("ft"), feet);
  fill(part("in"), Math.floor((left - 192 * feet) / 16));
  fill(part("16"), left % 16);
};
const go_on = e => {
  steps.sort((a, b) => a.e.compareDocumentPosition(b.e) & Node.DOCUMENT_POSITION_FOLLOWING ? -1 : 1);
  const folds = new Set(steps.map(s => s.e.closest("details:not([open])")).filter(d => d));
  for (const fold of folds) {
    const at = steps.findIndex(s => fold.contains(s.e));
    steps.splice(at, 0, { e: fold.querySelector("summary"), keys: "\uE007" });
  }
  steps.push({ e, keys: "\uE007" });
  steps.forEach((s, i) => s.e.setAttribute("data-walk", i));
  window.steps = steps;
  return steps.map(s => s.keys);
};
let own = null;
for (const [name, entry] of Object.entries(entries)) {
  if (typeof entry === "object") { size(name, entry); continue; }
  const button = document.querySelector(`button[name="${name}"][value="${entry}"]`);
  if (button) { own = own || button; continue; }
  const typed = by_name(name + ".text");
  if (typed) { fill(typed, entry); return go_on(typed.form.querySelector("button:not([type=button])")); }
  fill(by_name(name), entry);
}
if (own) return go_on(own);
const form = [...document.querySelectorAll("main form")].find(f => f.querySelector("[name=question]"));
if (!form) return [];
const skip = form.querySelector("button[name=skip]");
return go_on(skip && !steps.length ? skip : form.querySelector("button:not([type=button]):not(.quiet)"));
)script";

/// The same without keys, but for the last step.
const char* const fill_script = R"script(
for (const { e, value } of window.steps) {
  if (e.matches("[type=radio]")) e.checked = true;
  else if (value !== undefined) {
    e.value = value;
    for (const kind of ["input", "change"]) e.dispatchEvent(new Event(kind, { bubbles: true }));
  }
}
)script";

/// What a finger does for the same: choices and folds, values typed, sixteenths picked. What stands
/// there already is left; the last step is counted where it is taken.
const char* const count_script = R"script(
const done = { taps: 0, typed: 0, picked: 0 };
for (const { e, value } of window.steps.slice(0, -1)) {
  if (value === undefined) ++done.taps;
  else if (e.matches("[type=radio]")) done.taps += e.checked ? 0 : 1;
  else if (e.value !== `${value}` && (e.value !== "" || `${value}` !== "0")) {
    ++done[e.matches("select") ? "picked" : "typed"];
  }
}
return done;
)script";

std::string step_mark(std::size_t number) { return "[data-walk='" + std::to_string(number) + "']"; }

/// What a technician has to work the page with.
enum class Hands { finger, keys };

/// What a job took: a value is typed into one field; a length in feet and inches has two.
struct Effort {
    int taps = 0, typed = 0, picked = 0;
};

/// Whether keys and reading begin at what went wrong, where something did, else at the top of a
/// page that says what it is (WCAG 2.2, 2.4.2, 2.4.3, 3.3.1).
const char* const starts_well_script = R"script(
return document.activeElement === (document.querySelector("main > .problem") || document.body) &&
  document.title !== "" && document.querySelectorAll("h1").length === 1;
)script";

/// Whether nothing is on its way. A page with its own script shows itself anew, at any moment.
const char* const quiet_script =
    "return document.readyState === 'complete' && !document.querySelector('[data-working]')";

/// The same where no script of the page asks the server.
const char* const asked_quiet_script = R"script(
const done = arguments[arguments.length - 1], working = document.querySelector("[data-working]");
if (!working) done(document.readyState === "complete");
else fetch(working.dataset.working).then(a => a.json()).then(s => done(!s.working), () => done(false));
)script";

class Technician {
  public:
    Technician(Window& window, int port, const fs::path& jobs, std::string language,
               Inspector& inspector, Hands hands = Hands::finger)
        : window_(window),
          keyboard_(window),
          hands_(hands),
          base_("http://127.0.0.1:" + std::to_string(port)),
          jobs_(jobs),
          language_(std::move(language)),
          inspector_(inspector) {
        inspector_.prepare(window_);
    }

    Window& window() { return window_; }
    /// From now on no page's script reaches the browser.
    void go_without_script() {
        window_.browser_command("Network.enable", Json::object());
        window_.browser_command("Network.setBlockedURLs", {{"urls", {"*/bay.js"}}});
        has_script_ = false;
    }
    void go(const std::string& path) {
        window_.go(base_ + path);
        inspector_.look(window_, language_);
    }
    /// Takes what leads to another page and waits for it.
    void take(const std::string& selector) {
        ++effort.taps;
        window_.run("window.walked = true");
        if (hands_ == Hands::keys) {
            keyboard_.reach(selector);
            keyboard_.press(key::enter);
        } else {
            window_.click(selector);
        }
        arrive(selector);
    }
    /// Follows the links to a page of the job, over the job's own page where there is none here.
    void open(const std::string& rest) {
        const std::string link = "a[href='" + path(rest) + "']";
        if (!window_.has(link)) {
            take("a[href='" + path() + "']");
        }
        take(link);
    }
    /// What is in a field is replaced.
    void type(const std::string& selector, const std::string& text) {
        if (hands_ == Hands::keys) {
            keyboard_.reach(selector);
            keyboard_.press(text);
        } else {
            window_.type(selector, text);
        }
    }
    /// To the page before, with the browser's own key or button.
    void back() {
        window_.back();
        inspector_.look(window_, language_);
    }
    void arrive(const std::string& from) {
        wait_for("a page behind " + from, [&] {
            return window_.run("return !window.walked && document.readyState === 'complete'")
                .get<bool>();
        });
        EXPECT_TRUE(window_.run(starts_well_script).get<bool>()) << window_.address();
        inspector_.look(window_, language_);
    }
    /// Answers one question after the other until a page asks for nothing.
    void answer_questions(const Json& entries) {
        for (int i = 0; i < 60; ++i) {
            const Json keys = window_.run(plan_script, entries);
            if (keys.empty()) {
                return;
            }
            const std::string before = window_.address();
            fill_in(keys);
            const bool same = window_.address() == before && window_.has("main .problem");
            ASSERT_FALSE(same) << before << ": " << window_.text();
        }
    }
    /// Begins a job; its address names it.
    void begin(const Json& entries) {
        take("a[href='/new']");
        answer_questions(entries);
        const std::string address = window_.address();
        const auto at = address.find("/job/");
        ASSERT_NE(at, std::string::npos) << window_.text();
        id = address.substr(at + 5, address.find_first_of("/?", at + 5) - at - 5);
        // The sample photos are of that day: they are not older than the job.
        const std::string text = read_file(file("job.yaml"), 1 << 20);
        write_file(file("job.yaml"),
                   std::regex_replace(text, std::regex("\ndate: [^\n]*"), "\ndate: 2026-03-04"));
    }
    std::string path(const std::string& rest = "") const { return "/job/" + id + rest; }
    fs::path file(const std::string& name) const { return jobs_ / id / name; }
    JobSheet sheet() const {
        return parse_begun_job_sheet(read_file(file("job.yaml"), 1 << 20), file("job.yaml"));
    }

    /// No keyboard can choose in the browser's own window of files: the driver hands the file over.
    void choose_photo(
        const fs::path& photo, const std::string& cradle,
        const std::function<void()>& before_it_is_sent = [] {}) {
        if (window_.address() != base_ + path("/photos")) {
            open("/photos");
        }
        const std::string way = "[name=cradle][value='" + cradle + "']";
        if (hands_ == Hands::keys) {
            keyboard_.choose(way);
            keyboard_.reach("#photo");
        } else {
            const bool chosen =
                window_.run("return document.querySelector(arguments[0]).checked", way);
            effort.taps += chosen ? 0 : 1;
            window_.run("document.querySelector(arguments[0]).checked = true", way);
        }
        ++effort.taps;
        window_.run("window.walked = true");
        before_it_is_sent();
        window_.type("#photo", photo.string());
        if (!has_script_) {  // which sends it as soon as it is chosen
            window_.click("form[data-upload] button");
        }
    }
    /// Waits until the photo is in the job and was looked at.
    void arrive_photo(std::size_t count) {
        wait_for("the photo in its job",
                 [&] { return sheet().sightings.back().photos.size() == count; });
        wait_until_quiet();
    }
    void send(const fs::path& photo, const std::string& cradle) {
        const std::size_t count = sheet().sightings.back().photos.size();
        choose_photo(photo, cradle);
        arrive("the photo");
        arrive_photo(count + 1);
    }
    /// Four photos that were taken before, chosen at once.
    void send_together(const std::string& stage) {
        const std::size_t count = sheet().sightings.back().photos.size();
        if (window_.address() != base_ + path("/photos")) {
            open("/photos");
        }
        std::string all;
        for (const auto* name : {"-inverted-2", "-upright-2", "-inverted-1", "-upright-1"}) {
            all += (all.empty() ? "" : "\n") + (sample_photos / (stage + name + ".jpg")).string();
        }
        if (hands_ == Hands::keys) {
            keyboard_.reach("#photo");
        }
        ++effort.taps;
        window_.run("window.walked = true");
        window_.type("#photo", all);
        arrive("the photos");
        arrive_photo(count + 4);
        EXPECT_EQ(read_file(sheet().sightings.back().photos[count].path, 1 << 26),
                  read_file(sample_photos / (stage + "-upright-1.jpg"), 1 << 26))
            << "by their time";
    }
    void send_all(const std::string& stage, bool inverted) {
        for (const auto* number : {"1", "2"}) {
            for (const auto* cradle : {"upright", "inverted"}) {
                if (inverted || cradle == std::string("upright")) {
                    send(photos / (stage + "-" + cradle + "-" + number + ".jpg"), cradle);
                }
            }
        }
    }
    void take_newest_out() {
        const std::size_t count = sheet().sightings.back().photos.size();
        open("/photos");
        take("form[action$='/photos/out'] button");
        ASSERT_EQ(sheet().sightings.back().photos.size(), count - 1);
    }
    /// Waits until nothing on the page is on its way; it then shows itself anew.
    void wait_until_quiet() {
        wait_for("an answer", [&] {
            return (has_script_ ? window_.run(quiet_script) : window_.run_later(asked_quiet_script))
                .get<bool>();
        });
        if (!has_script_ && window_.has("[data-working]")) {
            take("[data-working] a");
        }
        inspector_.look(window_, language_);
    }
    /// Goes on without tape and level where the page asks for them before the answer.
    void leave_tape_out() {
        open("/tape");
        take("form[action$='/left_out'] button");
    }
    /// The answer's page, once it is there.
    std::string answer() {
        open("/answer");
        wait_until_quiet();
        return window_.text();
    }
    void expect_same_as_measure() const {
        const std::string by_page = read_file(file("job.result.json"), 1 << 24);
        const auto measured =
            run_squaresight("measure --json '" + file("job.yaml").string() + "' 2>/dev/null");
        EXPECT_EQ(measured.exit_code, 0);
        EXPECT_EQ(by_page, measured.output);
    }
    void expect_no_complaint() {
        for (const auto& one : window_.complaints()) {
            const std::string text = one.value("message", "");
            EXPECT_THAT(
                text, AllOf(Not(HasSubstr("Content Security Policy")), Not(HasSubstr("Uncaught"))));
        }
    }

    std::string id;
    fs::path photos = sample_photos;
    Effort effort;

  private:
    void fill_in(const Json& keys) {
        if (hands_ == Hands::finger) {
            const Json done = window_.run(count_script);
            effort.taps += done.at("taps").get<int>();
            effort.typed += done.at("typed").get<int>();
            effort.picked += done.at("picked").get<int>();
            window_.run(fill_script);
        }
        for (std::size_t i = 0; hands_ == Hands::keys && i + 1 < keys.size(); ++i) {
            if (keys[i].is_null()) {
                keyboard_.choose(step_mark(i));
            } else {
                keyboard_.reach(step_mark(i));
                keyboard_.press(keys[i]);
            }
        }
        take(step_mark(keys.size() - 1));
    }

    Window& window_;
    Keyboard keyboard_;
    Hands hands_;
    std::string base_;
    fs::path jobs_;
    std::string language_;
    Inspector& inspector_;
    bool has_script_ = true;
};

Json length(double mm, const char* side = nullptr) {
    Json size{{"mm", mm}};
    if (side != nullptr) {
        size["side"] = side;
    }
    return size;
}

Json angle(double deg, const char* side) { return {{"deg", deg}, {"side", side}}; }

/// The readings of samples/jobs/1042-full, as their tapes show them.
const Json new_job{{"vehicle", "unit 17"}, {"distance", length(4995)}, {"technician", "T3"}};
const Json ready_and_board{{"level_ground", "yes"},
                           {"tyres", "yes"},
                           {"ride_height", "yes"},
                           {"bracket_sound", "yes"},
                           {"face_clean", "yes"},
                           {"codes_saved", "yes"},
                           {"distance", length(4995)},
                           {"line_base", length(6000)},
                           {"target_left", length(2, "minus")},
                           {"mount_left", length(4, "plus")},
                           {"target_height", length(905)},
                           {"mount_height", length(848)},
                           {"floor_rise", angle(0.4, "plus")},
                           {"target_lean_back", angle(0.6, "plus")},
                           {"target_roll_clockwise", angle(0.1, "plus")},
                           {"no", "1"},  // nothing as in an earlier job
                           {"rail_zero", "yes"},
                           {"point_ahead.0", length(60, "minus")},
                           {"point_left.0", length(900, "plus")},
                           {"point_up.0", length(600)},
                           {"point_ahead.1", length(60, "minus")},
                           {"point_left.1", length(900, "minus")},
                           {"point_up.1", length(600)},
                           {"tape_from.0", length(5249)},
                           {"tape_from.1", length(5222)}};
constexpr double left_mm = (6 + 15 / 16.0) * 25.4, right_mm = (7 + 3 / 4.0) * 25.4;

Json tape(double left, double right) {
    return {{"left_point", length(508)},           {"right_point", length(508)},
            {"pass_left.1", length(left)},         {"pass_right.1", length(right)},
            {"pass_left.2", length(left)},         {"pass_right.2", length(right)},
            {"face_level.1", angle(0.8, "minus")}, {"face_level.2", angle(0.8, "minus")}};
}

const Json finish{{"codes_cleared", "yes"},
                  {"electronic_calibration", "not asked for"},
                  {"drive", "2026-03-05"},
                  {"codes_after", "none"},
                  {"reading_after", angle(0.1, "plus")}};

class BayWalk : public testing::Test {
  protected:
    BayWalk() {
        fs::create_directory(jobs());
        server = std::make_unique<BayProcess>(jobs(), scratch.folder() / "log");
    }
    fs::path jobs() const { return scratch.folder() / "jobs"; }

    /// A new code, from the shop lead's page.
    std::string code_for(const char* role, Technician& lead) {
        const std::lock_guard lock(lead_mutex_);
        lead.go("/shop");
        lead.window().run(
            "document.querySelector(`[name=role][value=${arguments[0]}]`).checked = "
            "true",
            role);
        lead.take("form[action='/shop/code'] button");
        return lead.window().run("return document.querySelector('.code').textContent.trim()");
    }
    void pair_by_address(Technician& one, const std::string& code) {
        one.go("/pair?code=" + code);
        one.take("form[action='/pair'] button");
    }

    void walk_in_english(Technician& lead);
    void walk_in_spanish(Technician& lead);
    void review(const std::string& id, Technician& lead);
    void walk_into_trouble(Technician& one);

    Scratch scratch;
    std::unique_ptr<BayProcess> server;
    BrowserDriver driver;
    Inspector inspector;

  private:
    std::mutex lead_mutex_;
};

/// Up to the answer: begun, made ready, board set up.
void prepare(Technician& one) {
    one.begin(new_job);
    one.open("/ready");  // which leads on to the board
    one.answer_questions(ready_and_board);
}

/// The network goes while a photo is on its way: the page says so, goes on by itself where it was.
void send_over_a_broken_network(Technician& one, BreakableNetwork& network, const fs::path& photo) {
    one.choose_photo(photo, "upright", [&] { network.break_after(600000); });
    wait_for("word of the broken network", [&] {
        return network.is_broken() &&
               one.window()
                   .run(
                       "const f = document.querySelector('form[data-upload]');"
                       "return f.querySelector('[role=status]').textContent === f.dataset.waiting")
                   .get<bool>();
    });
    EXPECT_TRUE(one.sheet().sightings.back().photos.empty());
    network.mend();
    one.arrive("the photo");
    one.arrive_photo(1);
    EXPECT_EQ(read_file(one.sheet().sightings.back().photos[0].path, 1 << 26),
              read_file(photo, 1 << 26));
}

/// A photo as messengers pass it on: smaller, without what the phone wrote into it.
fs::path messenger_copy(const Scratch& scratch) {
    cv::Mat picture = cv::imread((sample_photos / "found-upright-2.jpg").string());
    cv::resize(picture, picture, {1600, 1200}, 0, 0, cv::INTER_AREA);
    const fs::path copy = scratch.folder() / "copy.jpg";
    cv::imwrite(copy.string(), picture);
    return copy;
}

/// The sample photos as other files: a photo belongs to one job.
fs::path photos_of_its_own(const Scratch& scratch) {
    const fs::path folder = scratch.folder() / "own-photos";
    for (const auto& photo : fs::directory_iterator(sample_photos)) {
        write_file(folder / photo.path().filename(), read_file(photo.path(), 1 << 26) + "own");
    }
    return folder;
}

void walk_as_found(Technician& one, BreakableNetwork& network, const Scratch& scratch) {
    send_over_a_broken_network(one, network, sample_photos / "found-upright-1.jpg");
    one.send(messenger_copy(scratch), "inverted");
    EXPECT_THAT(one.window().text(), HasSubstr("original")) << "how to send the originals";
    one.take_newest_out();
    one.send(sample_photos / "found-inverted-1.jpg", "inverted");
    one.send(sample_photos / "found-upright-2.jpg", "upright");
    one.send(sample_photos / "found-inverted-2.jpg", "inverted");
    EXPECT_THAT(one.window().text(), HasSubstr("BOARD FOUND"));
    one.open("/tape");
    one.answer_questions(tape(right_mm, left_mm));
    EXPECT_THAT(one.answer(), testing::ContainsRegex("left and right.*swapped|sides? .*swapped"));
    one.open("/tape");
    for (const auto* pass : {"pass.1", "pass.2"}) {  // each leads back to all entries
        one.take("a.row[href$='=" + std::string(pass) + "']");
        one.answer_questions(tape(left_mm, right_mm));
    }
    EXPECT_THAT(one.answer(), AllOf(HasSubstr("DO THIS"), HasSubstr("2\u00a01/4 turns")));
    one.expect_same_as_measure();
}

void walk_to_the_end(Technician& one) {
    one.open("/answer");
    one.take("form[action$='/turned'] button");
    one.take("form[action$='/undo'] button");
    one.open("/answer");
    one.wait_until_quiet();
    one.take("form[action$='/turned'] button");
    one.send_all("adjusted", false);
    one.answer();
    one.take("form[action$='/lock'] button");
}

/// What stands beside the way: earlier measurements, notes, the list.
void look_around(Technician& one) {
    one.open("/stage?stage=1");
    one.go(one.path());
    one.open("/notes");
    one.type("#note", "unit 17");
    one.take("form[action$='/notes'] button");
    one.go("/?show=all&find=17");
    EXPECT_TRUE(one.window().has("a.row[href='" + one.path() + "']"));
    one.take("a.row[href='" + one.path() + "']");
}

void BayWalk::walk_in_english(Technician& lead) {
    Window second_window(driver, "en");
    Technician second(second_window, server->port(), jobs(), "en", inspector, Hands::keys);
    {
        BreakableNetwork network(server->port());
        Window first_window(driver, "en");
        Technician first(first_window, network.port(), jobs(), "en", inspector, Hands::keys);
        first.go("/pair");
        first.type("#code", "WRONG");
        first.take("form[action='/pair'] button");
        first.type("#code", code_for("technician", lead));
        first.take("form[action='/pair'] button");
        prepare(first);
        walk_as_found(first, network, scratch);
        first.expect_no_complaint();
        second.id = first.id;
    }
    // That phone is gone; another carries on where it was.
    pair_by_address(second, code_for("technician", lead));
    second.take("a.row[href='" + second.path() + "']");
    walk_to_the_end(second);
    second.send_together("left");
    second.leave_tape_out();
    EXPECT_THAT(second.answer(), HasSubstr("NOT READY"));
    look_around(second);
    second.answer();  // the note made the sheet another one
    second.open("/handover");
    EXPECT_THAT(second.window().text(), HasSubstr("NOT READY"));
    EXPECT_EQ(printed_sheets(second_window), 1);
    second.open("/report");
    EXPECT_THAT(second.window().text().substr(0, 600), HasSubstr("NOT READY"));
    second.back();
    second.open("/finish");
    second.answer_questions(finish);
    EXPECT_THAT(second.answer(), AllOf(HasSubstr("in tolerance"), Not(HasSubstr("NOT READY"))));
    second.expect_same_as_measure();
    second.open("/handover");
    EXPECT_THAT(second.window().text(),
                AllOf(HasSubstr("unit 17"), HasSubstr("DONE"), Not(HasSubstr("NOT READY"))));
    second.expect_no_complaint();
}

void BayWalk::review(const std::string& id, Technician& lead) {
    Window reviewers_window(driver, "en");
    Technician reviewer(reviewers_window, server->port(), jobs(), "en", inspector);
    pair_by_address(reviewer, code_for("reviewer", lead));
    reviewer.go("/review");
    reviewer.id = id;
    reviewer.take("a.row[href='" + reviewer.path("/review") + "']");
    reviewer.wait_until_quiet();
    EXPECT_THAT(reviewers_window.text(), HasSubstr("unit 17"));
    reviewer.expect_no_complaint();
}

void BayWalk::walk_in_spanish(Technician& lead) {
    Window window(driver, "es");
    Technician one(window, server->port(), jobs(), "es", inspector);
    one.go_without_script();
    one.photos = photos_of_its_own(scratch);
    pair_by_address(one, code_for("technician", lead));
    prepare(one);
    one.go(one.path("/board?question=target_left"));
    EXPECT_TRUE(window.run("return document.querySelector('[data-step]').hidden").get<bool>())
        << "the script shows them";
    one.send_all("found", true);
    one.open("/tape");
    one.answer_questions(tape(left_mm, right_mm));
    EXPECT_THAT(one.answer(), AllOf(HasSubstr("HAGA ESTO"), HasSubstr("2\u00a01/4 vueltas")));
    walk_to_the_end(one);
    one.send(one.photos / "found-upright-1.jpg", "upright");
    EXPECT_THAT(window.text(), HasSubstr("Tome una foto nueva")) << "an old photo as as-left";
    one.take_newest_out();
    one.send_all("left", true);
    one.open("/tape");
    Json as_left = tape(7.25 * 25.4, 7.375 * 25.4);
    as_left["face_level.1"] = as_left["face_level.2"] = angle(0.1, "minus");
    one.answer_questions(as_left);
    EXPECT_THAT(one.answer(), HasSubstr("NO EST\u00c1 LISTO"));
    look_around(one);
    one.open("/finish");
    one.answer_questions(finish);
    EXPECT_THAT(one.answer(), Not(HasSubstr("NO EST\u00c1 LISTO")));
    one.expect_same_as_measure();
    one.open("/handover");
    EXPECT_THAT(window.text(), AllOf(HasSubstr("unit 17"), HasSubstr("5 mar 2026")));
    one.expect_no_complaint();
    review(one.id, lead);
}

TEST_F(BayWalk, WholeJobsAreDoneInTwoLanguagesAtOnce) {
    Window leads_window(driver, "en");
    Technician lead(leads_window, server->port(), jobs(), "en", inspector);
    pair_by_address(lead, server->code());
    auto spanish = std::async(std::launch::async, [&] { walk_in_spanish(lead); });
    walk_in_english(lead);
    spanish.get();
    std::cout << inspector.pages() << " kinds of page looked at\n";
}

/// A shop with a small camera, whose photos are drawn here, so that its mount is turned twice.
class SmallShop {
  public:
    SmallShop() {
        folder_.write("bay.yaml", R"(schema: squaresight/bay/1
name: small bay
mount: mount.yaml
camera: camera.yaml
target: target.yaml
units: in
setup:
  line: {base: 6 m, plumb: 2 mm}
  distance: 3000 mm +/- 3 mm
  target_left: 0 mm +/- 3 mm
  mount_left: 0 mm +/- 3 mm
  target_height: 900 mm +/- 5 mm
  mount_height: 900 mm +/- 5 mm
  floor_rise: 0 deg +/- 0.2 deg
  target_lean_back: 0 deg +/- 0.2 deg
  target_roll_clockwise: 0 deg +/- 0.2 deg
  tapes:
    - {from: {name: left hook, ahead: -60 mm, left: 900 mm, up: 600 mm}, to: right edge, length: 3346 mm +/- 3 mm}
    - {from: {name: right hook, ahead: -60 mm, left: -900 mm, up: 600 mm}, to: left edge, length: 3346 mm +/- 3 mm}
photos: {upright: 2, inverted: 2}
tape_and_level: {left_point: 20 in, right_point: 20 in, passes: 2, face_readings: 2}
)");
        folder_.write("shop.yaml", R"(schema: squaresight/shop/1
name: small shop
bays: [bay.yaml]
mounts: [mount.yaml]
cameras: [camera.yaml]
targets: [target.yaml]
)");
    }
    fs::path file() const { return folder_.file("shop.yaml"); }
    /// Each photo a minute after the one before.
    fs::path photo(double yaw_deg, double pitch_deg, bool inverted) {
        ++minute_;
        folder_.truth[yaw_left_deg] = yaw_deg;
        folder_.truth[pitch_up_deg] = pitch_deg;
        test::PhotoTags tags;
        tags.orientation = inverted ? 3 : 1;
        tags.taken_at = fmt::format("2026:03:04 08:{:02}:00", minute_);
        const std::string name = fmt::format("{}.jpg", minute_);
        folder_.add_photo(name, (inverted ? 180 : 0) + 0.3 * (minute_ % 4), tags);
        return folder_.file(name);
    }

  private:
    test::JobFolder folder_;
    int minute_ = 0;
};

/// The job before, of a truck of the same model: its board stands as it did.
constexpr const char* job_before = R"(schema: squaresight/job/1
job: before
vehicle: unit 16
vehicle_model: model 4
bay: small bay
mount: {0}/mount.yaml
camera: {0}/camera.yaml
target: {0}/target.yaml
sightings:
  - stage: as-found
    setup:
      line: {{base: 6 m, plumb: 2 mm}}
      distance: 3000 mm
      target_left: 0 mm
      mount_left: 3 mm
      target_height: 900 mm
      mount_height: 880 mm
      floor_rise: 0.1 deg
      target_lean_back: 0 deg
      target_roll_clockwise: 0 deg
      tape_points:
        - {{name: left hook, ahead: -60 mm, left: 900 mm, up: 600 mm}}
        - {{name: right hook, ahead: -60 mm, left: -900 mm, up: 600 mm}}
)";

Json inches(double mm, const char* side = nullptr) {
    Json size = length(mm, side);
    size["inches"] = true;
    return size;
}

const Json small_board{{"as_before", "1"},
                       {"line_base", inches(6000)},
                       {"target_left", inches(1.6, "minus")},
                       {"mount_left", inches(1.6, "plus")},
                       {"target_height", inches(900)},
                       {"mount_height", inches(900)},
                       {"rail_zero", "yes"},
                       {"floor_rise", angle(0.1, "plus")},
                       {"target_lean_back", angle(0.1, "plus")},
                       {"target_roll_clockwise", angle(0.1, "plus")},
                       {"tape_from.0", inches(3346)},
                       {"tape_from.1", inches(3346)}};

/// Photos, then tape and level, by the way that the page leads.
void measure_both(Technician& one, SmallShop& shop, double yaw_deg, double pitch_deg) {
    for (const bool inverted : {false, true, false, true}) {
        one.send(shop.photo(yaw_deg, pitch_deg, inverted), inverted ? "inverted" : "upright");
    }
    one.take("a.button[href='" + one.path("/tape") + "']");
    const double differ_mm = std::tan(yaw_deg / deg_per_rad) * 1016;
    Json entries = tape(178, 178 + differ_mm);
    const char* side = pitch_deg < 0 ? "minus" : "plus";
    entries["face_level.1"] = entries["face_level.2"] = angle(std::abs(pitch_deg), side);
    one.answer_questions(entries);
    one.take("a.button[href='" + one.path("/answer") + "']");
    one.wait_until_quiet();
}

/// Turned as told, photographed, and on to the answer.
void turn(Technician& one, SmallShop& shop, double yaw_deg, double pitch_deg) {
    one.take("form[action$='/turned'] button");
    for (int i = 0; i < 2; ++i) {
        one.send(shop.photo(yaw_deg, pitch_deg, false), "upright");
    }
    one.take("a.button[href='" + one.path("/answer") + "']");
    one.wait_until_quiet();
}

/// All that a job can hold of what is measured.
void expect_nothing_left_out(const JobSheet& sheet) {
    const SheetSetup& setup = *sheet.sightings.front().setup;
    EXPECT_TRUE(setup.line_marks && setup.has_distance);
    for (const auto reading :
         {&Setup::target_left_mm, &Setup::mount_left_mm, &Setup::target_height_mm,
          &Setup::mount_height_mm, &Setup::floor_rise_deg, &Setup::target_lean_back_deg,
          &Setup::target_roll_clockwise_deg}) {
        EXPECT_TRUE((setup.readings.*reading).measured);
    }
    EXPECT_EQ(setup.tapes.size(), 2u);
    EXPECT_TRUE(sheet.sightings.front().sensor_yaw_deg);
    ASSERT_EQ(sheet.sightings.size(), 4u);
    for (const auto place : {0u, 3u}) {
        EXPECT_EQ(sheet.sightings[place].photos.size(), 4u);
        EXPECT_EQ(sheet.sightings[place].tape_and_level->passes.size(), 2u);
        EXPECT_EQ(sheet.sightings[place].tape_and_level->face_level_deg.size(), 2u);
    }
    EXPECT_EQ(sheet.sightings[1].photos.size() + sheet.sightings[2].photos.size(), 4u);
}

// The second job of a bay, as most are: how the board stands and where the tapes start is looked at
// and confirmed, the rest is measured. Lengths are typed in inches, as inch tapes are read.
TEST(BayEffort, AJobWithTwoTurningsTakesUnder80TapsAndUnder25TypedValues) {
    SmallShop shop;
    const Scratch scratch;
    const fs::path jobs = scratch.folder() / "jobs";
    write_file(jobs / "before" / "job.yaml",
               fmt::format(fmt::runtime(job_before), shop.file().parent_path().string()));
    const BayProcess server(jobs, scratch.folder() / "log", 0, {}, shop.file());
    const BrowserDriver driver;
    Window window(driver, "en");
    Inspector inspector;
    Technician one(window, server.port(), jobs, "en", inspector);
    one.go("/pair?code=" + server.code());
    one.take("form[action='/pair'] button");
    one.effort = {};
    one.begin({{"vehicle", "unit 17"}, {"vehicle_model", "model 4"}, {"distance", inches(3000)}});
    Json entries = small_board;
    for (const auto* key :
         {"level_ground", "tyres", "ride_height", "bracket_sound", "face_clean", "codes_saved"}) {
        entries[key] = "yes";
    }
    entries["reading_before"] = angle(1.2, "plus");
    one.take("main > p > a.button");
    one.answer_questions(entries);
    one.take("a.button[href='" + one.path("/photos") + "']");
    measure_both(one, shop, 1.1, -0.8);
    turn(one, shop, 0.42, -0.3);
    turn(one, shop, 0.05, -0.05);
    one.take("form[action$='/lock'] button");
    measure_both(one, shop, 0.06, -0.05);
    one.take("a.button[href='" + one.path("/finish") + "']");
    Json closing = finish;
    closing["drive"] = "today";
    one.answer_questions(closing);
    one.take("a.button[href='" + one.path("/answer") + "']");
    expect_nothing_left_out(one.sheet());
    std::cout << one.effort.taps << " taps, " << one.effort.typed << " typed values, "
              << one.effort.picked << " sixteenths picked\n";
    EXPECT_LT(one.effort.taps, 80);
    EXPECT_LT(one.effort.typed, 25);
}

/// A form of the page's own that was changed by its sender.
const char* const send_script = R"script(
const [action, fields] = arguments, form = document.createElement("form");
Object.assign(form, { method: "post", action });
for (const [name, value] of Object.entries(fields)) {
  form.append(Object.assign(document.createElement("input"), { type: "hidden", name, value }));
}
window.walked = true;
document.body.append(form);
form.submit();
)script";

/// What is refused is told on pages like all others.
void BayWalk::walk_into_trouble(Technician& one) {
    Window& window = one.window();
    const auto send = [&](const std::string& action, const Json& fields) {
        window.run(send_script, action, fields);
        one.arrive(action);
        return window.text();
    };
    one.go("/nothing");
    EXPECT_THAT(window.text(), HasSubstr("no such page"));
    EXPECT_THAT(send("/new", {{"job", std::string(70000, 'a')}}), HasSubstr("larger than"));
    EXPECT_THAT(send("/new", {{"token", "none"}}), HasSubstr("too old"));
    one.take("a.button[href='/']");
    one.open("/board");
    const auto hidden = [&](const char* name) -> std::string {
        return window.run("return document.querySelector(arguments[0]).value",
                          "[name=" + std::string(name) + "]");
    };
    Json sent{{"token", hidden("token")},
              {"version", "old"},
              {"question", "mount_left"},
              {"mount_left.in", "3"},
              {"mount_left.side", "plus"}};
    const std::string version = hidden("version");
    EXPECT_THAT(send(one.path("/board"), sent), HasSubstr("Compare both"));
    sent["version"] = version;
    sent["mount_left.in"] = "35";
    EXPECT_THAT(send(one.path("/board"), sent), HasSubstr("I looked again"));
    write_file(scratch.folder() / "no-photo.jpg", "%PDF-1.7");
    one.choose_photo(scratch.folder() / "no-photo.jpg", "upright");
    wait_for("word of what is no photo",
             [&] { return window.has("form[data-upload] .problem[role=status]"); });
    EXPECT_EQ(window.run("return document.activeElement.id"), "photo");
    inspector.look(window, "en");
    one.expect_no_complaint();
}

/// When a page was painted first, and what came over the network for it.
const char* const painted_script = R"script(
const done = arguments[0];
const tell = () => {
  const paint = performance.getEntriesByName("first-contentful-paint")[0];
  if (!paint) { setTimeout(tell, 20); return; }
  const all = ["navigation", "resource"].flatMap(kind => performance.getEntriesByType(kind));
  done([paint.startTime, all.reduce((sum, one) => sum + one.transferSize, 0)]);
};
tell();
)script";

// 1.6 Mbit/s down, 0.75 up, 150 ms to the server: a usual profile of 3G. What the first paint took
// is printed; what it had to wait for is bounded.
TEST_F(BayWalk, PagesAreLightOnASlowNetworkAndTellWhatWentWrong) {
    Window window(driver, "en");
    Technician lead(window, server->port(), jobs(), "en", inspector, Hands::keys);
    pair_by_address(lead, server->code());
    lead.begin(new_job);
    walk_into_trouble(lead);
    window.set_network(false, 150, 1.6e6 / 8);
    for (const auto& page :
         {std::string("/"), lead.path(), lead.path("/board?question=target_left"),
          lead.path("/photos"), lead.path("/answer"), std::string("/shop")}) {
        lead.go(page);
        const Json seen = window.run_later(painted_script);
        std::cout << page << ": painted after " << seen[0].get<double>() << " ms, "
                  << seen[1].get<double>() / 1024 << " KiB\n";
        EXPECT_LT(seen[1].get<double>(), 150 * 1024);
    }
    lead.go(lead.path());
    lead.choose_photo(sample_photos / "found-upright-1.jpg", "upright", [&] {
        window.browser_command("Network.clearBrowserCookies", Json::object());
    });
    lead.arrive("a photo of nobody any more");
    EXPECT_THAT(window.address(), HasSubstr("/pair")) << "it never ends in 'No network'";
}

}  // namespace
}  // namespace squaresight::bay

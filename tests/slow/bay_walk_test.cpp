// A real browser walks whole jobs through the bay page with the sample photos, at a phone's size.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <openssl/evp.h>

#include <filesystem>
#include <future>
#include <iostream>
#include <map>
#include <mutex>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <set>

#include "job/sheet.h"
#include "support/bay_process.h"
#include "support/breakable_network.h"
#include "support/command.h"
#include "support/scratch.h"
#include "support/web_driver.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

using test::BreakableNetwork;
using test::BrowserDriver;
using test::Json;
using test::Window;
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

std::string bytes_of(const std::string& base64) {
    std::string bytes(base64.size(), '\0');
    const int size = EVP_DecodeBlock(reinterpret_cast<unsigned char*>(bytes.data()),
                                     reinterpret_cast<const unsigned char*>(base64.data()),
                                     static_cast<int>(base64.size()));
    bytes.resize(static_cast<std::size_t>(std::max(size, 0)));
    return bytes;
}

/// Sheets of paper that a page takes when it is printed, A4 upright.
int printed_sheets(Window& window) {
    const Json printed = window.browser_command(
        "Page.printToPDF",
        {{"paperWidth", 8.27}, {"paperHeight", 11.69}, {"preferCSSPageSize", true}});
    const std::string pdf = bytes_of(printed.at("data"));
    if (const char* folder = std::getenv("SQUARESIGHT_SCREENS")) {
        write_file(fs::path(folder) / "handover.pdf", pdf);
    }
    const std::regex page("/Type */Page[^s]");
    return static_cast<int>(
        std::distance(std::sregex_iterator(pdf.begin(), pdf.end(), page), std::sregex_iterator()));
}

// --- what every page must be

/// Violations that axe-core finds of WCAG 2.2 A and AA, and our own: fingers in gloves need 44 px;
/// nothing may be beside the screen, also where text is twice as large.
const char* const inspect_script = R"script(
const done = arguments[arguments.length - 1], language = arguments[0], problems = [];
const say = (what, e) => problems.push(what + (e ? ": " + e.outerHTML.slice(0, 160) : ""));
if (document.documentElement.lang !== language) say("language " + document.documentElement.lang);
if (language !== "en") document.querySelectorAll("main [lang=en]:not(small)").forEach(e => say("left in English", e));
const wide = () => document.scrollingElement.scrollWidth > innerWidth;
if (wide()) say("wider than the screen");
for (const e of document.querySelectorAll("a, button, input:not([type=hidden]), select, summary")) {
  const inline = e.matches("p a:not(.button), li a:not(.row), dd a");
  const target = e.matches("[type=radio], [type=checkbox]") ? e.closest("label") || e : e;
  const box = target.getBoundingClientRect();
  if (box.width > 0 && !inline && Math.min(box.width, box.height) < 43.5) say("small target", e);
}
const root = document.documentElement, size = parseFloat(getComputedStyle(root).fontSize);
root.style.fontSize = 2 * size + "px";
if (wide()) say("wider than the screen with text at 200 %");
root.style.fontSize = "";
axe.run({ runOnly: arguments[1], resultTypes: ["violations"] })
  .then(found => {
    for (const v of found.violations)
      for (const n of v.nodes) problems.push(v.id + ": " + n.html.slice(0, 200) + " " +
                                             n.failureSummary.slice(0, 200));
    done(problems);
  }, error => done(["axe: " + error]));
)script";

/// What stands on a page: a page of other parts is looked at for itself.
const char* const parts_script = R"script(
const parts = [...document.querySelectorAll("main *")].filter(e => !e.closest("svg"))
  .map(e => e.tagName + "." + e.className + "." + (e.name || "").replace(/\d/g, ""));
return [...new Set(parts)].sort().join(" ");
)script";

/// Looks at each kind of page once. Where SQUARESIGHT_SCREENS names a folder, pictures of each go
/// there, as a phone and as the shop's computer show it.
class Inspector {
  public:
    void look(Window& window, const std::string& language) {
        if (window.has("[data-working]")) {
            return;  // it goes on by itself: what comes is looked at
        }
        const std::string page = language + kind_of(window.address());
        const std::string parts = window.run(parts_script);
        std::string kind;
        {
            const std::lock_guard lock(mutex_);
            if (!seen_.insert(page + " " + parts).second) {
                return;
            }
            kind = page + " " + std::to_string(++states_[page]);
        }
        inspect(window, language, kind);
        take_pictures(window, kind);
    }
    std::size_t pages() const { return seen_.size(); }

  private:
    inline static const Json wcag_rules{"wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"};
    inline static const Json colour_rules{"color-contrast", "link-in-text-block"};

    void inspect(Window& window, const std::string& language, const std::string& kind) const {
        if (!window.run("return typeof axe !== 'undefined'").get<bool>()) {
            window.run(axe_);
        }
        if (language == "en") {  // words change no colour
            set_colours(window, "dark");
            expect_none(kind + " (dark)", window.run_later(inspect_script, language, colour_rules));
            set_colours(window, "light");
        }
        expect_none(kind, window.run_later(inspect_script, language, wcag_rules));
    }
    static void set_width(Window& window, int width_px) {
        window.browser_command("Emulation.setDeviceMetricsOverride", {{"width", width_px},
                                                                      {"height", 844},
                                                                      {"deviceScaleFactor", 1},
                                                                      {"mobile", width_px < 600}});
    }
    static void take_pictures(Window& window, const std::string& kind) {
        const char* folder = std::getenv("SQUARESIGHT_SCREENS");
        if (folder == nullptr) {
            return;
        }
        for (const int width_px : {1280, 390}) {
            set_width(window, width_px);
            const Json picture = window.browser_command(
                "Page.captureScreenshot", {{"format", "png"}, {"captureBeyondViewport", true}});
            const std::string name = std::regex_replace(kind, std::regex("[^A-Za-z0-9]+"), "-");
            write_file(fs::path(folder) / (name + "-" + std::to_string(width_px) + ".png"),
                       bytes_of(picture.at("data")));
        }
    }
    static void set_colours(Window& window, const std::string& scheme) {
        window.browser_command(
            "Emulation.setEmulatedMedia",
            {{"features", {{{"name", "prefers-color-scheme"}, {"value", scheme}}}}});
    }
    static void expect_none(const std::string& kind, const Json& problems) {
        for (const auto& problem : problems) {
            ADD_FAILURE() << kind << ": " << problem.get<std::string>();
        }
    }
    static std::string kind_of(const std::string& address) {
        static const std::regex host("^[a-z]+://[^/]+"), job("/job/[^/?]+"),
            others("[?&](?!question)[^&]*");
        return std::regex_replace(
            std::regex_replace(std::regex_replace(address, host, ""), job, "/job/1"), others, "");
    }

    std::string axe_ = read_file(root / "tests/support/axe/axe.min.js", 1 << 22);
    std::mutex mutex_;
    std::set<std::string> seen_;
    std::map<std::string, int> states_;
};

// --- a technician at the page

/// Fills in what a page asks for, from entries by their names, and marks the button that goes on.
const char* const fill_script = R"script(
const entries = arguments[0];
document.querySelectorAll("[data-walk]").forEach(e => e.removeAttribute("data-walk"));
const by_name = name => document.querySelector(`main [name="${name}"]:not([type=hidden]):not([type=radio])`);
const set = (e, value) => {
  e.value = value;
  for (const kind of ["input", "change"]) e.dispatchEvent(new Event(kind, { bubbles: true }));
};
const mark = e => { e.setAttribute("data-walk", ""); return true; };
let filled = false;
const set_size = (name, size) => {
  const part = p => by_name(name + "." + p);
  if (size.side) {
    const side = document.querySelector(`[name="${name}.side"][value="${size.side}"]`);
    if (side) side.checked = true;
  }
  if ("deg" in size) { if (part("deg")) { set(part("deg"), size.deg); filled = true; } return; }
  if (part("mm")) { set(part("mm"), size.mm); filled = true; return; }
  if (!part("in")) return;
  let sixteenths = Math.round(size.mm / 25.4 * 16);
  if (part("ft")) { set(part("ft"), Math.floor(sixteenths / 192)); sixteenths %= 192; }
  set(part("in"), Math.floor(sixteenths / 16));
  set(part("16"), sixteenths % 16);
  filled = true;
};
for (const [name, entry] of Object.entries(entries)) {
  if (typeof entry === "object") { set_size(name, entry); continue; }
  const own = document.querySelector(`button[name="${name}"][value="${entry}"]`);
  if (own) return mark(own);
  const typed = by_name(name + ".text");
  if (typed) { set(typed, entry); return mark(typed.form.querySelector("button:not([type=button])")); }
  const field = by_name(name);
  if (field) { set(field, entry); filled = true; }
}
const form = [...document.querySelectorAll("main form")].find(f => f.querySelector("[name=question]"));
if (!form) return false;
const skip = form.querySelector("button[name=skip]");
return mark(skip && !filled ? skip : form.querySelector("button:not([type=button]):not(.quiet)"));
)script";

class Technician {
  public:
    Technician(Window& window, int port, const fs::path& jobs, std::string language,
               Inspector& inspector)
        : window_(window),
          base_("http://127.0.0.1:" + std::to_string(port)),
          jobs_(jobs),
          language_(std::move(language)),
          inspector_(inspector) {}

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
    /// Clicks what leads to another page and waits for it.
    void click(const std::string& selector) {
        window_.run("window.walked = true");
        window_.click(selector);
        arrive(selector);
    }
    void arrive(const std::string& from) {
        wait_for("a page behind " + from, [&] {
            return window_.run("return !window.walked && document.readyState === 'complete'")
                .get<bool>();
        });
        inspector_.look(window_, language_);
    }
    /// Answers one question after the other until a page asks for nothing.
    void answer_questions(const Json& entries) {
        for (int i = 0; i < 60 && window_.run(fill_script, entries).get<bool>(); ++i) {
            const std::string before = window_.address();
            click("[data-walk]");
            const bool same = window_.address() == before && window_.has("main .problem");
            ASSERT_FALSE(same) << before << ": " << window_.text();
        }
    }
    /// Begins a job; its address names it.
    void begin(const Json& entries) {
        click("a[href='/new']");
        answer_questions(entries);
        const std::string address = window_.address();
        const auto at = address.find("/job/");
        ASSERT_NE(at, std::string::npos) << window_.text();
        id = address.substr(at + 5, address.find_first_of("/?", at + 5) - at - 5);
    }
    std::string path(const std::string& rest = "") const { return "/job/" + id + rest; }
    fs::path file(const std::string& name) const { return jobs_ / id / name; }
    JobSheet sheet() const {
        return parse_begun_job_sheet(read_file(file("job.yaml"), 1 << 20), file("job.yaml"));
    }

    void choose_photo(
        const fs::path& photo, const std::string& cradle,
        const std::function<void()>& before_it_is_sent = [] {}) {
        go(path("/photos"));
        window_.run(
            "document.querySelector(`[name=cradle][value='${arguments[0]}']`).checked = true;"
            "window.walked = true",
            cradle);
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
        wait_until_quiet("/photos");
    }
    void send(const fs::path& photo, const std::string& cradle) {
        const std::size_t count = sheet().sightings.back().photos.size();
        choose_photo(photo, cradle);
        arrive("the photo");
        arrive_photo(count + 1);
    }
    void send_all(const std::string& stage, bool inverted) {
        for (const auto* number : {"1", "2"}) {
            for (const auto* cradle : {"upright", "inverted"}) {
                if (inverted || cradle == std::string("upright")) {
                    send(sample_photos / (stage + "-" + cradle + "-" + number + ".jpg"), cradle);
                }
            }
        }
    }
    void take_newest_out() {
        const std::size_t count = sheet().sightings.back().photos.size();
        go(path("/photos"));
        click("form[action$='/photos/out'] button");
        ASSERT_EQ(sheet().sightings.back().photos.size(), count - 1);
    }
    void wait_until_quiet(const std::string& page) {
        window_.go(base_ + path(page));
        wait_for("an answer", [&] {
            const bool quiet = window_
                                   .run(
                                       "return document.readyState === 'complete' && "
                                       "!document.querySelector('[data-working]')")
                                   .get<bool>();
            if (!quiet && !has_script_) {  // which asks by itself
                std::this_thread::sleep_for(std::chrono::milliseconds(200));
                window_.go(base_ + path(page));
            }
            return quiet;
        });
        inspector_.look(window_, language_);
    }
    /// The answer's page, once it is there.
    std::string answer() {
        wait_until_quiet("/answer");
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

  private:
    Window& window_;
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
const Json ready{{"level_ground", "yes"},  {"tyres", "yes"},      {"ride_height", "yes"},
                 {"bracket_sound", "yes"}, {"face_clean", "yes"}, {"codes_saved", "yes"}};
const Json board{{"distance", length(4995)},
                 {"line_base", length(6000)},
                 {"target_left", length(2, "minus")},
                 {"mount_left", length(4, "plus")},
                 {"target_height", length(905)},
                 {"mount_height", length(848)},
                 {"floor_rise", angle(0.4, "plus")},
                 {"target_lean_back", angle(0.6, "plus")},
                 {"target_roll_clockwise", angle(0.1, "plus")},
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
        lead.click("form[action='/shop/code'] button");
        return lead.window().run("return document.querySelector('.code').textContent.trim()");
    }
    void pair_by_address(Technician& one, const std::string& code) {
        one.go("/pair?code=" + code);
        one.click("form[action='/pair'] button");
    }

    void walk_in_english(Technician& lead);
    void walk_in_spanish(Technician& lead);

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
    one.go(one.path("/ready"));
    one.answer_questions(ready);
    one.go(one.path("/board?question=place"));
    one.answer_questions(board);
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

void walk_as_found(Technician& one, BreakableNetwork& network, const Scratch& scratch) {
    send_over_a_broken_network(one, network, sample_photos / "found-upright-1.jpg");
    one.send(messenger_copy(scratch), "inverted");
    EXPECT_THAT(one.window().text(), HasSubstr("original")) << "how to send the originals";
    one.take_newest_out();
    one.send(sample_photos / "found-inverted-1.jpg", "inverted");
    one.send(sample_photos / "found-upright-2.jpg", "upright");
    one.send(sample_photos / "found-inverted-2.jpg", "inverted");
    EXPECT_THAT(one.window().text(), HasSubstr("BOARD FOUND"));
    one.go(one.path("/tape?question=face_level.1"));
    one.answer_questions(tape(right_mm, left_mm));
    EXPECT_THAT(one.answer(), testing::ContainsRegex("left and right.*swapped|sides? .*swapped"));
    one.go(one.path("/tape?question=pass.1"));
    one.answer_questions(tape(left_mm, right_mm));
    EXPECT_THAT(one.answer(), AllOf(HasSubstr("DO THIS"), HasSubstr("2 1/4 turns")));
    one.expect_same_as_measure();
}

void walk_to_the_end(Technician& one) {
    one.go(one.path("/answer"));
    one.click("form[action$='/turned'] button");
    one.send_all("adjusted", false);
    one.answer();
    one.click("form[action$='/lock'] button");
}

void BayWalk::walk_in_english(Technician& lead) {
    Window second_window(driver, "en");
    Technician second(second_window, server->port(), jobs(), "en", inspector);
    {
        BreakableNetwork network(server->port());
        Window first_window(driver, "en");
        Technician first(first_window, network.port(), jobs(), "en", inspector);
        // The keyboard alone: to the field, the code, to the page and on to a new job.
        first.go("/pair");
        const auto tab_to = [&](const std::string& selector) {
            for (int i = 0; i < 30; ++i) {
                first_window.press("\uE004");
                if (first_window.run("return document.activeElement.matches(arguments[0])",
                                     selector)) {
                    return true;
                }
            }
            return false;
        };
        ASSERT_TRUE(tab_to("#code"));
        first_window.run("window.walked = true");
        first_window.press(code_for("technician", lead) + "\uE007");
        first.arrive("the code");
        ASSERT_TRUE(tab_to("a[href='/new']"));
        first_window.run("window.walked = true");
        first_window.press("\uE007");
        first.arrive("a new job");
        ASSERT_TRUE(tab_to("[name=vehicle]"));
        first_window.run("window.walked = true");
        first_window.press("unit 16\uE007");
        first.arrive("the unit");
        first.go("/");
        prepare(first);
        walk_as_found(first, network, scratch);
        first.expect_no_complaint();
        second.id = first.id;
    }
    // That phone is gone; another carries on where it was.
    pair_by_address(second, code_for("technician", lead));
    second.click("a.row[href='" + second.path() + "']");
    walk_to_the_end(second);
    second.send(sample_photos / "found-upright-1.jpg", "upright");
    EXPECT_THAT(second.window().text(), HasSubstr("Take a new photo")) << "an old photo as as-left";
    second.take_newest_out();
    second.send_all("left", true);
    EXPECT_THAT(second.answer(), HasSubstr("NOT READY"));
    second.go(second.path("/handover"));
    EXPECT_THAT(second.window().text(), HasSubstr("NOT READY"));
    EXPECT_EQ(printed_sheets(second_window), 1);
    second.go(second.path("/report"));
    EXPECT_THAT(second.window().text().substr(0, 600), HasSubstr("NOT READY"));
    second.go(second.path("/finish?question=codes_cleared"));
    second.answer_questions(finish);
    EXPECT_THAT(second.answer(), AllOf(HasSubstr("in tolerance"), Not(HasSubstr("NOT READY"))));
    second.expect_same_as_measure();
    second.go(second.path("/handover"));
    EXPECT_THAT(second.window().text(),
                AllOf(HasSubstr("unit 17"), HasSubstr("DONE"), Not(HasSubstr("NOT READY"))));
    second.expect_no_complaint();
    Window reviewers_window(driver, "en");
    Technician reviewer(reviewers_window, server->port(), jobs(), "en", inspector);
    pair_by_address(reviewer, code_for("reviewer", lead));
    reviewer.go("/review");
    reviewer.id = second.id;
    reviewer.wait_until_quiet("/review");
    EXPECT_THAT(reviewers_window.text(), HasSubstr("unit 17"));
    reviewer.expect_no_complaint();
}

void BayWalk::walk_in_spanish(Technician& lead) {
    Window window(driver, "es");
    Technician one(window, server->port(), jobs(), "es", inspector);
    one.go_without_script();
    pair_by_address(one, code_for("technician", lead));
    prepare(one);
    one.go(one.path("/board?question=target_left"));
    EXPECT_TRUE(window.run("return document.querySelector('[data-step]').hidden").get<bool>())
        << "the script shows them";
    one.send_all("found", true);
    one.go(one.path("/tape?question=face_level.1"));
    one.answer_questions(tape(left_mm, right_mm));
    EXPECT_THAT(one.answer(), AllOf(HasSubstr("HAGA ESTO"), HasSubstr("2 1/4")));
    walk_to_the_end(one);
    one.send_all("left", true);
    EXPECT_THAT(one.answer(), HasSubstr("NO EST\u00c1 LISTO"));
    one.go(one.path("/finish?question=codes_cleared"));
    one.answer_questions(finish);
    EXPECT_THAT(one.answer(), Not(HasSubstr("NO EST\u00c1 LISTO")));
    one.expect_same_as_measure();
    one.expect_no_complaint();
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

// 1.6 Mbit/s down, 0.75 up, 150 ms to the server: a usual profile of 3G. What the first paint took
// is printed; what it had to wait for is bounded.
TEST_F(BayWalk, PagesAreLightOnASlowNetwork) {
    Window window(driver, "en");
    Technician lead(window, server->port(), jobs(), "en", inspector);
    pair_by_address(lead, server->code());
    lead.begin(new_job);
    window.set_network(false, 150, 1.6e6 / 8);
    for (const auto& page :
         {std::string("/"), lead.path(), lead.path("/board?question=target_left"),
          lead.path("/photos"), lead.path("/answer"), std::string("/shop")}) {
        lead.go(page);
        const Json seen = window.run(
            "const all = [...performance.getEntriesByType('navigation'),"
            "  ...performance.getEntriesByType('resource')];"
            "return [performance.getEntriesByName('first-contentful-paint')[0].startTime,"
            "  all.reduce((sum, one) => sum + one.transferSize, 0)]");
        std::cout << page << ": painted after " << seen[0].get<double>() << " ms, "
                  << seen[1].get<double>() / 1024 << " KiB\n";
        EXPECT_LT(seen[1].get<double>(), 150 * 1024);
    }
}

}  // namespace
}  // namespace squaresight::bay

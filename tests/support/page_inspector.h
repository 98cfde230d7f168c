#pragma once
#include <gtest/gtest.h>
#include <openssl/evp.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <map>
#include <mutex>
#include <regex>
#include <set>
#include <string>

#include "support/keyboard.h"
#include "support/web_driver.h"
#include "units/files.h"

/// What every page must be for whoever stands before it.
namespace squaresight::test {

inline std::string bytes_of(const std::string& base64) {
    std::string bytes(base64.size(), '\0');
    const int size = EVP_DecodeBlock(reinterpret_cast<unsigned char*>(bytes.data()),
                                     reinterpret_cast<const unsigned char*>(base64.data()),
                                     static_cast<int>(base64.size()));
    bytes.resize(static_cast<std::size_t>(std::max(size, 0)));
    return bytes;
}

/// Fingers in gloves need 44 px (WCAG 2.2, 2.5.8 asks for 24, 2.5.5 for these); nothing may be
/// beside the screen, also where text is twice as large (1.4.4, 1.4.10); a page is in one language.
inline const char* const layout_script = R"script(
const language = arguments[0], problems = [];
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
for (const e of document.querySelectorAll("main input:not([type=radio]):not([type=file]):not([type=hidden]), main select")) {
  const style = getComputedStyle(e), pen = document.createElement("canvas").getContext("2d");
  pen.font = style.font;
  const room = e.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight);
  const longest = e.options ? [...e.options].map(o => o.text) : e.closest(".part") ? [e.value] : [];
  if (e.clientWidth > 0 && longest.some(text => pen.measureText(text).width > room)) say("cut off", e);
}
const words = document.createTreeWalker(document.querySelector("main") || document.body, NodeFilter.SHOW_TEXT);
for (let text; (text = words.nextNode());) {
  if (text.parentElement.closest(".unseen")) continue;
  for (const word of text.data.matchAll(/\p{L}+/gu)) {
    const range = document.createRange();
    range.setStart(text, word.index);
    range.setEnd(text, word.index + word[0].length);
    const tops = [...range.getClientRects()].map(box => Math.round(box.top));
    if (new Set(tops).size > 1) say("broken word " + word[0], text.parentElement);
  }
}
const root = document.documentElement, size = parseFloat(getComputedStyle(root).fontSize);
root.style.fontSize = 2 * size + "px";
if (wide()) say("wider than the screen with text at 200 %");
root.style.fontSize = "";
return problems;
)script";

/// Violations that axe-core finds of these rules.
inline const char* const axe_script = R"script(
const done = arguments[arguments.length - 1], problems = [];
window.loadAxe();
axe.run({ runOnly: arguments[0], resultTypes: ["violations"] })
  .then(found => {
    for (const v of found.violations)
      for (const n of v.nodes) problems.push(v.id + ": " + n.html.slice(0, 200) + " " +
                                             n.failureSummary.slice(0, 200));
    done(problems);
  }, error => done(["axe: " + error]));
)script";

/// What stands on a page: a page of other parts is looked at for itself.
inline const char* const parts_script = R"script(
const parts = [...document.querySelectorAll("main *")].filter(e => !e.closest("svg"))
  .map(e => e.tagName + "." + e.className + "." + (e.name || "").replace(/\d/g, ""));
return [...new Set(parts)].sort().join(" ");
)script";

/// Looks at each kind of page once. Where SQUARESIGHT_SCREENS names a folder, pictures of each go
/// there, as a phone (light and dark) and as the shop's computer show it.
class Inspector {
  public:
    /// Once for each window, before its first page.
    void prepare(Window& window) const {
        window.run_in_every_page(axe_);
        Keyboard::prepare(window);
    }
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

    static void inspect(Window& window, const std::string& language, const std::string& kind) {
        expect_none(kind, window.run(layout_script, language));
        if (language == "en") {  // words change neither a colour nor a way
            Keyboard keyboard(window);
            keyboard.tour();
            set_colours(window, "dark");
            expect_none(kind + " (dark)", window.run_later(axe_script, colour_rules));
            keyboard.look_at_marks();
            set_colours(window, "light");
        }
        expect_none(kind, window.run_later(axe_script, wcag_rules));
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
        const std::string name = std::regex_replace(kind, std::regex("[^A-Za-z0-9]+"), "-");
        const auto take = [&](const std::string& manner) {
            const Json picture = window.browser_command(
                "Page.captureScreenshot", {{"format", "png"}, {"captureBeyondViewport", true}});
            write_file(std::filesystem::path(folder) / (name + "-" + manner + ".png"),
                       bytes_of(picture.at("data")));
        };
        for (const int width_px : {1280, 390}) {
            set_width(window, width_px);
            take(std::to_string(width_px));
        }
        set_colours(window, "dark");
        take("390-dark");
        set_colours(window, "light");
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

    /// Read by the browser in each page, and run where it is asked for.
    std::string axe_ =
        "window.loadAxe = () => {" +
        read_file(std::filesystem::path(SQUARESIGHT_SOURCE_DIR) / "tests/support/axe/axe.min.js",
                  1 << 22) +
        "\nwindow.loadAxe = () => {};};";
    std::mutex mutex_;
    std::set<std::string> seen_;
    std::map<std::string, int> states_;
};

}  // namespace squaresight::test

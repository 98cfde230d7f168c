#pragma once
#include <gtest/gtest.h>

#include <algorithm>
#include <stdexcept>
#include <string>

#include "support/web_driver.h"

/// A page in the hands of someone who has a keyboard and nothing else.
namespace squaresight::test {

/// What the focus must be wherever it stops, by the success criteria of WCAG 2.2
/// (www.w3.org/TR/WCAG22). Stands in the page as `focusing`.
inline const char* const focus_script = R"script(
window.focusing = (() => {
  const problems = new Set(), reached = new Set();
  const say = (what, e) => problems.add(what + ": " + e.outerHTML.slice(0, 160));
  const shown = e => e.checkVisibility({ visibilityProperty: true }) &&
    !(e.closest("details:not([open])") && !e.matches("details > summary"));

  // Of radio buttons with one name one alone is a stop; arrows lead to the others.
  const group = e => [...document.getElementsByName(e.name)].filter(one => one.form === e.form);
  const stopOf = e => e.type === "radio" ? group(e).find(one => one.checked) || group(e)[0] : e;
  const stops = () => [...document.querySelectorAll(
      "a[href], button, input:not([type=hidden]), select, summary, [tabindex='0']")]
    .filter(e => shown(e) && !e.disabled && stopOf(e) === e);
  const follows = (e, other) =>
    !!(other.compareDocumentPosition(e) & Node.DOCUMENT_POSITION_FOLLOWING);
  // From the focus to a stop, so many times Tab; below 0 with Shift.
  const tabs = e => {
    const here = document.activeElement, goal = stopOf(e), all = stops();
    if (here === document.body) return all.indexOf(goal) + 1;
    const now = stopOf(here);
    if (now === goal) return 0;
    return follows(goal, now) ? all.filter(one => follows(one, now) && !follows(one, goal)).length
      : -all.filter(one => follows(now, one) && !follows(goal, one)).length;
  };

  const numbers = colour => colour.match(/[\d.]+/g).map(Number);
  const luminance = colour => {
    const [r, g, b] = numbers(colour).map(v => v / 255)
      .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const contrast = (one, other) => {
    const [low, high] = [luminance(one), luminance(other)].sort((a, b) => a - b);
    return (high + 0.05) / (low + 0.05);
  };
  const behind = e => {
    for (let p = e.parentElement; p; p = p.parentElement) {
      const colour = getComputedStyle(p).backgroundColor;
      if (numbers(colour)[3] !== 0) return colour;
    }
    return "rgb(255, 255, 255)";
  };
  // 2.4.7 Focus Visible, with 1.4.11 Non-text Contrast and the 2 px of 2.4.13.
  const seeMark = e => {
    const style = getComputedStyle(e);
    if (style.outlineStyle === "none" ||
        parseFloat(style.outlineWidth) < 2) {
      say("2.4.7: the focus is not seen", e);
    } else if (contrast(style.outlineColor, behind(e)) < 3) {
      say("1.4.11: the mark of the focus is faint", e);
    }
  };
  // 2.4.11 Focus Not Obscured: here all of it is to be seen, with its mark.
  const seeWhole = e => {
    const box = e.getClientRects()[0], style = getComputedStyle(e);
    const mark = parseFloat(style.outlineWidth) + parseFloat(style.outlineOffset);
    const [x, y] = [(box.left + box.right) / 2, (box.top + box.bottom) / 2];
    const top = document.elementFromPoint(x, y);
    if (box.left < 0 || box.right > innerWidth || (box.height + 2 * mark <= innerHeight &&
        (box.top < mark || box.bottom + mark > innerHeight))) {
      say(`2.4.11: outside the screen, ${Math.round(box.top)} to ${Math.round(box.bottom)}`, e);
    } else if (!e.contains(top)) say("2.4.11: covered by " + (top && top.tagName), e);
  };
  // 2.4.3 Focus Order: downwards, or to the right where another column begins.
  const seeOrder = all => {
    const place = e => {
      const box = e.getClientRects()[0];
      return { top: box.top, left: box.left, bottom: box.bottom, right: box.right };
    };
    for (let i = 1; i < all.length; ++i) {
      const [before, now] = [place(all[i - 1]), place(all[i])];
      if (now.top < before.bottom - 1 && now.left < before.right - 1) {
        say("2.4.3: stands before the stop that it follows", all[i]);
      }
    }
    for (const e of document.querySelectorAll("[tabindex]")) {
      if (e.tabIndex > 0) say("2.4.3: an order of its own", e);
    }
  };
  const look = e => {
    if (e === document.body || e.tabIndex < 0) return;
    reached.add(stopOf(e));
    seeMark(e);
    seeWhole(e);
  };
  addEventListener("keydown", () => look(document.activeElement), true);

  return {
    tabs,
    // From the focus in a group to one of it; nothing where it is chosen.
    arrows: e => {
      const all = group(e), from = all.indexOf(document.activeElement), to = all.indexOf(e);
      return e.checked ? "" : from === to ? " "
        : "\uE015".repeat(Math.max(to - from, 0)) + "\uE013".repeat(Math.max(from - to, 0));
    },
    lookAtMarks: () => { for (const e of stops()) { e.focus(); seeMark(e); } },
    // As after loading: what has the focus by itself, else the top of the page.
    begin: () => {
      const own = document.querySelector("[autofocus]"), body = document.body;
      body.tabIndex = -1;
      (own || body).focus();
      if (!own) body.blur();
      body.removeAttribute("tabindex");
    },
    tabsToLast: () => {
      const all = stops();
      seeOrder(all);
      return all.length && tabs(all.at(-1));
    },
    count: () => stops().length,
    seeHere: () => look(document.activeElement),
    // 2.1.1 Keyboard: there is nothing that no key leads to.
    seeReached: () => {
      look(document.activeElement);
      for (const e of stops()) if (!reached.has(stopOf(e))) say("2.1.1: no key leads here", e);
    },
    told: () => {
      const all = [...problems];
      problems.clear();
      return all;
    },
  };
})();
)script";

/// The keys of a keyboard, as WebDriver names them (www.w3.org/TR/webdriver2, 17.4.2).
namespace key {
inline const std::string tab = "\uE004", enter = "\uE007", shift = "\uE008", home = "\uE011",
                         up = "\uE013", down = "\uE015", space = " ";
}

class Keyboard {
  public:
    /// Once for each window, before its first page.
    static void prepare(Window& window) { window.run_in_every_page(focus_script); }

    /// Of a window that is prepared.
    explicit Keyboard(Window& window) : window_(window) {}

    /// Tab until the focus is on the first element that fits; what is wrong with the focus on the
    /// way is a failure.
    void reach(const std::string& selector) {
        for (int i = 0; i < 20; ++i) {  // parts of a date are stops inside one element
            const Json tabs =
                run("return focusing.tabs(document.querySelector(arguments[0]))", selector);
            if (tabs == 0) {
                run("focusing.seeHere()");
                expect_no_problem();
                return;
            }
            tab(tabs.get<int>());
        }
        throw std::runtime_error("no key leads to " + selector + " on " + window_.address());
    }
    void press(const std::string& keys) { window_.press_keys(keys); }
    /// A radio button.
    void choose(const std::string& selector) {
        reach(selector);
        press(run("return focusing.arrows(document.querySelector(arguments[0]))", selector));
        if (!run("return document.querySelector(arguments[0]).checked", selector).get<bool>()) {
            throw std::runtime_error("no key chooses " + selector + " on " + window_.address());
        }
    }

    /// Through all of the page and back.
    void tour() {
        for (int i = 0; i < 20; ++i) {
            const int tabs = run("return focusing.tabsToLast()").get<int>();
            if (tabs == 0) {
                break;
            }
            tab(tabs);
        }
        tab(std::min(0, 1 - run("return focusing.count()").get<int>()));
        run("focusing.seeReached(); focusing.begin()");
        expect_no_problem();
    }
    /// Whether the mark of the focus is seen on each element, in the colours as they are.
    void look_at_marks() {
        run("focusing.lookAtMarks(); focusing.begin()");
        expect_no_problem();
    }

  private:
    Json run(const std::string& script, const std::string& argument = "") {
        return window_.run(script, argument);
    }
    void tab(int count) {
        std::string keys = count < 0 ? key::shift : "";
        for (int i = 0; i < std::abs(count); ++i) {
            keys += key::tab;
        }
        window_.press_keys(keys);
    }
    void expect_no_problem() {
        for (const auto& problem : run("return focusing.told()")) {
            ADD_FAILURE() << window_.address() << ": " << problem.get<std::string>();
        }
    }

    Window& window_;
};

}  // namespace squaresight::test

#include "report/figures.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "job/words.h"
#include "report/svg.h"
#include "units/quantity.h"

namespace squaresight {

namespace {

using svg::faint;
using svg::ink;
using svg::line_at;
using svg::picture;
using svg::Scale;
using svg::text_at;
using svg::tick_step;

/// Holds the tolerance band and every interval, symmetric about the aim.
double half_span_deg(const ScaleDrawing& drawing) {
    double half = 1.5 * drawing.tolerance_deg;
    for (const auto& mark : drawing.marks) {
        const auto& angle = mark.angle_deg;
        half = std::max(half, std::abs(angle.value - drawing.aim_deg) + angle.expanded_95());
    }
    return std::isfinite(half) && half > 0 ? 1.08 * half : 1;
}

std::vector<double> ticks_deg(const Scale& scale) {
    const double step = tick_step(scale.high_deg - scale.low_deg);
    std::vector<double> ticks;
    for (double k = std::ceil(scale.low_deg / step); k * step <= scale.high_deg; ++k) {
        ticks.push_back(k * step);
    }
    return ticks;
}

std::string tick_text(double deg) {
    return fmt::format("{:g}", std::abs(std::round(deg * 1e6) / 1e6));
}

std::string marker_svg(double x, double y, bool filled) {
    if (filled) {
        return fmt::format(R"(<circle cx="{:.1f}" cy="{:.1f}" r="6" fill="{}"/>)", x, y, ink);
    }
    return fmt::format(
        R"(<path d="M{:.1f} {:.1f}l8 8 -8 8 -8 -8z" fill="#fff" stroke="{}" stroke-width="3"/>)", x,
        y - 8, ink);
}

std::string band_svg(double x, double y, double width, double height) {
    return fmt::format(
        R"(<rect x="{:.1f}" y="{:.1f}" width="{:.1f}" height="{:.1f}" fill="#cfe6d4" stroke="{}" stroke-width="2"/>)",
        x, y, width, height, ink);
}

Scale scale_of(const ScaleDrawing& drawing, double at_low, double at_high) {
    const double half = half_span_deg(drawing);
    return {drawing.aim_deg - half, drawing.aim_deg + half, at_low, at_high};
}

std::string across_svg(const ScaleDrawing& drawing) {
    const Scale x = scale_of(drawing, 14, 346);
    const double top = 42;
    const double bottom = top + 46 * static_cast<double>(drawing.marks.size()) + 8;
    const double low = x(drawing.aim_deg - drawing.tolerance_deg);
    const double high = x(drawing.aim_deg + drawing.tolerance_deg);
    std::string body = text_at(2, 14, "\u25C0 truck\u2019s RIGHT", {14, "start", true}) +
                       text_at(358, 14, "truck\u2019s LEFT \u25B6", {14, "end", true}) +
                       band_svg(low, top, high - low, bottom - top) +
                       text_at((low + high) / 2, top - 6, "limit", {13, "middle"}) +
                       line_at(x(drawing.aim_deg), top, x(drawing.aim_deg), bottom, 2, "6 4");
    for (const double side : {-1.0, 1.0}) {
        if (drawing.service_limit_deg) {
            const double at = x(drawing.aim_deg + side * *drawing.service_limit_deg);
            body += fmt::format(R"(<path d="M{:.1f} {:.1f}l5 9 -10 0z" fill="{}"/>)", at,
                                bottom - 9, ink);
        }
    }
    double y = top + 18;
    for (const auto& mark : drawing.marks) {
        const auto& angle = mark.angle_deg;
        body += text_at(4, y, mark.label + ": " + side_words(angle.value), {14, "start", true}) +
                line_at(x(angle.value - angle.expanded_95()), y + 15,
                        x(angle.value + angle.expanded_95()), y + 15, 5) +
                marker_svg(x(angle.value), y + 15, mark.filled);
        y += 46;
    }
    body += line_at(14, bottom + 4, 346, bottom + 4, 1.5);
    for (const double tick : ticks_deg(x)) {
        body += line_at(x(tick), bottom + 4, x(tick), bottom + 10, 1.5) +
                text_at(x(tick), bottom + 24, tick_text(tick), {13, "middle"});
    }
    body += text_at(180, bottom + 40, "degrees from straight ahead", {13, "middle", false, faint});
    return picture(360, static_cast<int>(bottom) + 46,
                   "side-to-side aim, both methods on one scale", body);
}

/// "0.62 deg down": the drawing itself says that it is the nose.
std::string up_down_words(double pitch_up_deg) {
    const std::string words = nose_words(pitch_up_deg);
    return words.rfind("nose ", 0) == 0 ? words.substr(5) : words;
}

std::string upright_svg(const ScaleDrawing& drawing) {
    const double top = 24;
    const double bottom = 156;
    const Scale y = scale_of(drawing, bottom, top);
    const double high = y(drawing.aim_deg + drawing.tolerance_deg);
    const double low = y(drawing.aim_deg - drawing.tolerance_deg);
    std::string body = text_at(58, 14, "\u25B2 nose UP", {14, "start", true}) +
                       text_at(58, bottom + 18, "\u25BC nose DOWN", {14, "start", true}) +
                       band_svg(58, high, 296, low - high) +
                       text_at(350, high - 5, "limit", {13, "end"}) +
                       line_at(58, y(drawing.aim_deg), 354, y(drawing.aim_deg), 2, "6 4") +
                       line_at(50, top, 50, bottom, 1.5);
    for (const double tick : ticks_deg(y)) {
        body += line_at(44, y(tick), 50, y(tick), 1.5) +
                text_at(40, y(tick) + 4, tick_text(tick), {13, "end"});
    }
    double x = 78;
    for (const auto& mark : drawing.marks) {
        const auto& angle = mark.angle_deg;
        const double at = y(angle.value);
        body += line_at(x, y(angle.value - angle.expanded_95()), x,
                        y(angle.value + angle.expanded_95()), 5) +
                marker_svg(x, at, mark.filled) +
                text_at(x + 14, at - 2, mark.label + ":", {14, "start", true}) +
                text_at(x + 14, at + 14, up_down_words(angle.value), {14, "start", true});
        x += drawing.marks.size() > 2 ? 96 : 146;
    }
    body += text_at(206, bottom + 38, "degrees from level with the rails",
                    {13, "middle", false, faint});
    return picture(360, 200, "up-down aim, both methods on one scale", body);
}

struct Bar {
    std::string source;
    double u_deg = 0;
};

/// Largest first; what does not fit is summed in squares as "all the rest".
std::vector<Bar> largest_bars(const std::vector<BudgetLine>& budget, Axis axis, int rows) {
    std::vector<Bar> bars;
    for (const auto& line : budget) {
        bars.push_back(
            {reading_words(line.source), axis == Axis::yaw ? line.yaw_deg : line.pitch_deg});
    }
    std::stable_sort(bars.begin(), bars.end(),
                     [](const Bar& a, const Bar& b) { return a.u_deg > b.u_deg; });
    const auto shown = static_cast<std::size_t>(std::max(rows, 1));
    if (bars.size() <= shown + 1) {
        return bars;
    }
    double rest = 0;
    for (std::size_t i = shown; i < bars.size(); ++i) {
        rest += bars[i].u_deg * bars[i].u_deg;
    }
    bars.resize(shown);
    bars.push_back({"all the rest", std::sqrt(rest)});
    return bars;
}

/// A point of a clock face: `turns` clockwise from 12 o'clock.
std::string clock_point(double radius, double turns) {
    const double rad = 2 * std::numbers::pi * turns;
    return fmt::format("{:.2f} {:.2f}", 80 + radius * std::sin(rad), 80 - radius * std::cos(rad));
}

std::string spiral_svg(double turns, double sign) {
    const double inner = 38;
    const double outer = 56;
    const int steps = std::max(8, static_cast<int>(turns * 48));
    const auto radius = [&](double t) {
        return turns <= 1 ? 50 : inner + (outer - inner) * t / turns;
    };
    std::string path = "M" + clock_point(radius(0), 0);
    for (int i = 1; i <= steps; ++i) {
        const double t = turns * i / steps;
        path += "L" + clock_point(radius(t), sign * t);
    }
    const double end = radius(turns);
    const double back = 8 / (2 * std::numbers::pi * end);
    const std::string arrow = "M" + clock_point(end + 8, sign * (turns - back)) + "L" +
                              clock_point(end, sign * (turns + back)) + "L" +
                              clock_point(end - 8, sign * (turns - back)) + "z";
    return fmt::format(R"(<path d="{}" fill="none" stroke="{}" stroke-width="5"/>)", path, ink) +
           fmt::format(R"(<path d="{}" fill="{}"/>)", arrow, ink) +
           fmt::format(R"(<circle cx="80" cy="{:.1f}" r="5" fill="{}"/>)", 80 - radius(0), ink);
}

std::string arrow_svg(const char* path) {
    return fmt::format(
        R"(<path d="{}" fill="none" stroke="{}" stroke-width="3" stroke-linecap="round"/>)", path,
        ink);
}

}  // namespace

std::string escaped(const std::string& text) {
    std::string out;
    for (const char c : text) {
        switch (c) {
            case '&':
                out += "&amp;";
                break;
            case '<':
                out += "&lt;";
                break;
            case '>':
                out += "&gt;";
                break;
            case '"':
                out += "&quot;";
                break;
            case '\'':
                out += "&#39;";
                break;
            default:
                if (static_cast<unsigned char>(c) >= 0x20) {
                    out += c;
                }
        }
    }
    return out;
}

std::string mark_svg(Mark mark) {
    switch (mark) {
        case Mark::ok:
            return picture(
                48, 48, "OK",
                R"(<circle cx="24" cy="24" r="22" fill="#0b5d2a"/>)"
                R"(<path d="M12 25l8 9 16-20" fill="none" stroke="#fff" stroke-width="6"/>)");
        case Mark::not_yet:
            return picture(48, 48, "not yet",
                           R"(<path d="M2 2h44v44H2z" fill="#0b3d91"/>)"
                           R"(<path d="M12 9h24M12 39h24M15 9c0 10 18 20 18 30M33 9c0 10-18 20-18 )"
                           R"(30" fill="none" stroke="#fff" stroke-width="4"/>)");
        case Mark::turn:
            return picture(
                48, 48, "turn",
                R"(<path d="M24 1L47 24 24 47 1 24z" fill="#8a4300"/>)"
                R"(<path d="M16 27a9 9 0 1 1 9 8" fill="none" stroke="#fff" stroke-width="4"/>)"
                R"(<path d="M9 24h13l-6 8z" fill="#fff"/>)");
        case Mark::leave:
            return picture(48, 48, "turn nothing",
                           R"(<path d="M24 1l21 7v15c0 12-9 20-21 24C12 43 3 35 3 23V8z" )"
                           R"(fill="#0b5d2a"/>)"
                           R"(<path d="M13 22h22v15H13zM17 22v-5a7 7 0 0 1 14 0v5" fill="none" )"
                           R"(stroke="#fff" stroke-width="4"/>)");
        case Mark::unsure:
            return picture(48, 48, "too close to call",
                           R"(<path d="M24 1l23 44H1z" fill="#4a3580"/>)"
                           R"(<path d="M18 23a6 6 0 1 1 9 5c-2 1-3 2-3 5" fill="none" )"
                           R"(stroke="#fff" stroke-width="4"/><circle cx="24" cy="39" r="2.5" )"
                           R"(fill="#fff"/>)");
        case Mark::stop:
            break;
    }
    return picture(48, 48, "stop",
                   R"(<path d="M15 1h18l14 14v18L33 47H15L1 33V15z" fill="#a30000"/>)"
                   R"(<path d="M9 24h30" stroke="#fff" stroke-width="8"/>)");
}

std::string scale_svg(const ScaleDrawing& drawing) {
    return drawing.axis == Axis::yaw ? across_svg(drawing) : upright_svg(drawing);
}

std::string budget_svg(const std::vector<BudgetLine>& budget, Axis axis, int rows) {
    const auto bars = largest_bars(budget, axis, rows);
    double variance = 0;
    for (const auto& bar : bars) {
        variance += bar.u_deg * bar.u_deg;
    }
    std::string body;
    double y = 0;
    for (const auto& bar : bars) {
        const double share = variance > 0 ? bar.u_deg * bar.u_deg / variance : 0;
        body += text_at(2, y + 12, bar.source, {13}) +
                text_at(358, y + 12, fmt::format("{:.0f} %", 100 * share), {13, "end", true}) +
                fmt::format(R"(<rect x="2" y="{:.1f}" width="356" height="7" fill="#e4e4e4"/>)"
                            R"(<rect x="2" y="{:.1f}" width="{:.1f}" height="7" fill="{}"/>)",
                            y + 16, y + 16, 356 * share, ink);
        y += 29;
    }
    const char* title = axis == Axis::yaw ? "where the error of side-to-side aim comes from"
                                          : "where the error of up-down aim comes from";
    return picture(360, static_cast<int>(y) + 2, title, body);
}

std::string screw_svg(const Correction& correction) {
    std::string body = fmt::format(
        R"(<circle cx="80" cy="80" r="70" fill="#fff" stroke="{}" stroke-width="3"/>)", ink);
    for (int eighth = 0; eighth < 8; ++eighth) {
        body += fmt::format(R"(<path d="M{}L{}" stroke="{}" stroke-width="3"/>)",
                            clock_point(70, eighth / 8.0),
                            clock_point(eighth % 2 == 0 ? 60 : 65, eighth / 8.0), ink);
    }
    const int eighths = static_cast<int>(std::lround(8 * correction.turns));
    if (eighths > 0) {
        body += spiral_svg(correction.turns, correction.clockwise ? 1 : -1);
    }
    body += text_at(80, 87, eighths > 0 ? eighths_text(eighths) : "leave", {20, "middle", true});
    return picture(160, 160, correction.screw + ": " + turns_words(correction), body);
}

std::string mount_svg(const Mount& mount) {
    double reach = std::max({1.0, std::abs(mount.pivot_left_mm), std::abs(mount.pivot_up_mm)});
    for (const auto& screw : mount.screws) {
        reach = std::max({reach, std::abs(screw.left_mm), std::abs(screw.up_mm)});
    }
    const double px_per_mm = 62 / reach;
    const auto x = [&](double left_mm) { return 110 + left_mm * px_per_mm; };
    const auto y = [&](double up_mm) { return 92 - up_mm * px_per_mm; };
    std::string body = fmt::format(
        R"(<rect x="36" y="18" width="148" height="148" rx="10" fill="#f2f2f2" stroke="{}" stroke-width="2"/>)",
        ink);
    const auto label = [&](double left_mm, double up_mm, const std::string& words) {
        const bool right = left_mm > 0;
        return text_at(x(left_mm) + (right ? -12 : 12), y(up_mm) + 5, words,
                       {14, right ? "end" : "start", true});
    };
    body += fmt::format(R"(<path d="M{:.1f} {:.1f}l8 14 -16 0z" fill="{}"/>)",
                        x(mount.pivot_left_mm), y(mount.pivot_up_mm) - 8, ink) +
            label(mount.pivot_left_mm, mount.pivot_up_mm, "pivot");
    for (const auto& screw : mount.screws) {
        const double sx = x(screw.left_mm);
        const double sy = y(screw.up_mm);
        body +=
            fmt::format(
                R"(<circle cx="{:.1f}" cy="{:.1f}" r="8" fill="#fff" stroke="{}" stroke-width="3"/>)",
                sx, sy, ink) +
            line_at(sx - 5, sy, sx + 5, sy, 3) + label(screw.left_mm, screw.up_mm, screw.name);
    }
    body += text_at(2, 184, "truck\u2019s right", {13}) +
            text_at(218, 184, "truck\u2019s left", {13, "end"});
    return picture(220, 190, "mount seen from the front", body);
}

std::string board_svg(BoardPose pose) {
    switch (pose) {
        case BoardPose::turned:  // seen from above: truck below, board ahead
            return picture(120, 80, "board turned, seen from above",
                           arrow_svg("M20 20L100 20") + line_at(24, 34, 96, 6, 6) +
                               arrow_svg("M60 74L60 30M54 38L60 30 66 38") +
                               text_at(66, 72, "truck", {12}));
        case BoardPose::leaning:  // seen from the side
            return picture(120, 80, "board leaning, seen from the side",
                           line_at(20, 74, 112, 74, 2) + line_at(80, 74, 80, 10, 1.5, "4 3") +
                               line_at(80, 74, 98, 12, 6) +
                               arrow_svg("M24 44L66 44M58 38L66 44 58 50") +
                               text_at(10, 66, "truck", {12}));
        case BoardPose::tilted:
            break;
    }
    return picture(120, 80, "board tilted, seen from the truck",
                   line_at(8, 74, 112, 74, 2) +
                       R"(<rect x="30" y="14" width="60" height="44" fill="none" stroke="#666" )"
                       R"(stroke-dasharray="4 3"/>)"
                       R"(<path d="M33.8 9.6L93.1 19 86.2 62.4 26.9 53z" fill="none" )"
                       R"(stroke="#111" stroke-width="4"/>)");
}

}  // namespace squaresight

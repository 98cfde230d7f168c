#include "report/plan_figures.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "report/svg.h"

namespace squaresight {
namespace {

using namespace svg;

constexpr double left_px = 46;
constexpr double right_px = 292;  ///< the boards' names stand beyond
constexpr double top_px = 26;
constexpr double bottom_px = 214;
constexpr double decidable_sigmas = 1.96;  ///< as `cannot_decide`
constexpr double mm_per_foot = 12 * mm_per_inch;

constexpr std::array dash_patterns{"", "7 3", "2 3", "9 3 2 3", "4 2", "12 4"};

struct Curve {
    std::string board;
    std::vector<Eigen::Vector2d> points;  ///< distance in mm, uncertainty in deg
};

std::vector<Curve> curves_of(const BayPlan& plan, Axis axis) {
    std::vector<Curve> curves;
    for (const auto& row : plan.boards) {
        if (curves.empty() || curves.back().board != row.board) {
            curves.push_back({row.board, {}});
        }
        if (row.aim) {
            curves.back().points.emplace_back(
                row.distance_mm, axis == Axis::yaw ? row.aim->yaw_deg : row.aim->pitch_deg);
        }
    }
    std::erase_if(curves, [](const Curve& curve) { return curve.points.empty(); });
    return curves;
}

std::string path_of(const std::vector<Eigen::Vector2d>& points_px, double width,
                    const char* dashes) {
    std::string path;
    for (const auto& point : points_px) {
        path += fmt::format("{}{:.1f} {:.1f}", path.empty() ? "M" : "L", point.x(), point.y());
    }
    return fmt::format(
        R"(<path d="{}" fill="none" stroke="{}" stroke-width="{}" stroke-dasharray="{}"/>)", path,
        ink, width, dashes);
}

/// Names beside the ends of their curves, kept apart.
std::string end_labels(const std::vector<Curve>& curves, const Scale& x, const Scale& y) {
    struct Label {
        std::string words;
        Eigen::Vector2d end;
        double at;
    };
    std::vector<Label> labels;
    for (const auto& curve : curves) {
        const Eigen::Vector2d end(x(curve.points.back().x()), y(curve.points.back().y()));
        labels.push_back({curve.board, end, end.y()});
    }
    std::stable_sort(labels.begin(), labels.end(),
                     [](const Label& a, const Label& b) { return a.at < b.at; });
    constexpr double apart = 15;
    for (std::size_t i = 1; i < labels.size(); ++i) {
        labels[i].at = std::max(labels[i].at, labels[i - 1].at + apart);
    }
    const double over = labels.empty() ? 0 : std::max(0.0, labels.back().at - (bottom_px - 4));
    std::string body;
    for (const auto& label : labels) {
        const double at = label.at - over;
        body += line_at(label.end.x(), label.end.y(), right_px + 6, at, 0.7) +
                text_at(right_px + 9, at + 4, label.words, {12, "start", true});
    }
    return body;
}

std::string axes(const Scale& x, const Scale& y, const std::vector<double>& x_ticks, double x_unit,
                 const std::string& x_words) {
    std::string body = line_at(left_px, bottom_px, right_px, bottom_px, 1.5) +
                       line_at(left_px, top_px, left_px, bottom_px, 1.5);
    for (const double tick : x_ticks) {
        body +=
            line_at(x(tick), bottom_px, x(tick), bottom_px + 5, 1.5) +
            text_at(x(tick), bottom_px + 18, fmt::format("{:.3g}", tick / x_unit), {12, "middle"});
    }
    body +=
        text_at((left_px + right_px) / 2, bottom_px + 36, x_words, {13, "middle", false, faint});
    const double step = tick_step(y.high_deg - y.low_deg);
    for (double k = 0; k * step <= y.high_deg + 1e-9; ++k) {
        const double at = y(k * step);
        body += line_at(left_px - 5, at, left_px, at, 1.5) +
                text_at(left_px - 8, at + 4, fmt::format("{:g}", k * step), {12, "end"});
    }
    return body;
}

std::vector<double> distance_ticks(const BayPlan& plan) {
    const bool feet = plan.bay.unit == LengthUnit::in;
    const double unit = feet ? 4 * mm_per_foot : 1000;
    double nearest = HUGE_VAL, farthest = 0;
    for (const auto& row : plan.boards) {
        nearest = std::min(nearest, row.distance_mm);
        farthest = std::max(farthest, row.distance_mm);
    }
    std::vector<double> ticks;
    for (double k = std::ceil(nearest / unit - 1e-9); k * unit <= farthest + 1e-6; ++k) {
        ticks.push_back(k * unit);
    }
    return ticks;
}

}  // namespace

std::string boards_svg(const BayPlan& plan, Axis axis) {
    const bool yaw = axis == Axis::yaw;
    const auto curves = curves_of(plan, axis);
    const double decidable =
        (yaw ? plan.bay.mount.tolerance_yaw_deg : plan.bay.mount.tolerance_pitch_deg) /
        decidable_sigmas;
    double highest = 0, nearest = HUGE_VAL, farthest = 0;
    for (const auto& curve : curves) {
        for (const auto& point : curve.points) {
            highest = std::max(highest, point.y());
            nearest = std::min(nearest, point.x());
            farthest = std::max(farthest, point.x());
        }
    }
    const bool limit_in_view = decidable < 2.5 * highest;
    const Scale y{0, 1.12 * std::max(highest, limit_in_view ? decidable : 0), bottom_px, top_px};
    const Scale x{nearest, std::max(farthest, nearest + 1), left_px + 8, right_px - 4};
    const bool feet = plan.bay.unit == LengthUnit::in;
    std::string body =
        text_at(left_px - 40, 10, "standard uncertainty, degrees", {13, "start", true}) +
        axes(x, y, distance_ticks(plan), feet ? mm_per_foot : 1000,
             feet ? "distance of the board, feet" : "distance of the board, metres");
    if (limit_in_view) {
        body += line_at(left_px, y(decidable), right_px, y(decidable), 2, "6 4") +
                text_at(right_px - 2, y(decidable) - 5,
                        fmt::format("largest that can decide: {:.2f}", decidable), {12, "end"});
    } else {
        body += text_at(right_px - 2, top_px + 6,
                        fmt::format("can decide up to {:.2f}, far above", decidable), {12, "end"});
    }
    for (std::size_t i = 0; i < curves.size(); ++i) {
        std::vector<Eigen::Vector2d> points_px;
        for (const auto& point : curves[i].points) {
            points_px.emplace_back(x(point.x()), y(point.y()));
        }
        body += path_of(points_px, 2, dash_patterns[i % dash_patterns.size()]);
    }
    body += end_labels(curves, x, y);
    body += fmt::format(
        R"(<circle cx="{:.1f}" cy="{:.1f}" r="6" fill="#fff" stroke="{}" stroke-width="3"/>)",
        x(plan.bay.setup.readings.distance_mm.value),
        y(yaw ? plan.aim.yaw_deg : plan.aim.pitch_deg), ink);
    return picture(360, 258,
                   yaw ? "uncertainty of side-to-side aim against distance"
                       : "uncertainty of up-down aim against distance",
                   body);
}

std::string power_svg(const BayPlan& plan, Axis axis) {
    const bool yaw = axis == Axis::yaw;
    const double tolerance =
        yaw ? plan.bay.mount.tolerance_yaw_deg : plan.bay.mount.tolerance_pitch_deg;
    const DecisionPower power = yaw ? plan.yaw_power() : plan.pitch_power();
    const Scale x{0, 2 * tolerance, left_px, right_px + 50};
    const Scale y{0, 100, bottom_px, top_px};
    std::array<std::vector<Eigen::Vector2d>, 3> calls;
    for (int i = 0; i <= 100; ++i) {
        const double error = 2 * tolerance * i / 100;
        const CallChances chances = power.at(error);
        calls[0].emplace_back(x(error), y(100 * chances.in_tolerance));
        calls[1].emplace_back(x(error), y(100 * chances.too_close_to_call));
        calls[2].emplace_back(x(error), y(100 * chances.out_of_tolerance));
    }
    std::vector<double> ticks;
    const double step = tick_step(2 * tolerance);
    for (double k = 0; k * step <= 2 * tolerance + 1e-9; ++k) {
        ticks.push_back(k * step);
    }
    std::string body =
        text_at(left_px - 40, 10, "of 100 measurements", {13, "start", true}) +
        fmt::format(R"(<rect x="{:.1f}" y="{}" width="{:.1f}" height="{}" fill="#e3efe6"/>)",
                    left_px, top_px, x(tolerance) - left_px, bottom_px - top_px) +
        axes(x, y, ticks, 1, "true error, degrees off the aim") +
        line_at(x(tolerance), top_px, x(tolerance), bottom_px, 2, "6 4") +
        text_at(x(tolerance) + 4, top_px - 4, "limit", {12, "start"});
    body += path_of(calls[0], 3, "") + path_of(calls[1], 2, "3 3") + path_of(calls[2], 3, "9 4");
    body += text_at(x(0.06 * tolerance), top_px + 30, "in tolerance", {13, "start", true}) +
            text_at(x(1.97 * tolerance), top_px + 30, "out of tolerance", {13, "end", true}) +
            text_at(x(tolerance), bottom_px - 8, "too close to call", {13, "middle", true});
    return picture(
        360, 258,
        yaw ? "chances of each call for side-to-side aim" : "chances of each call for up-down aim",
        body);
}

}  // namespace squaresight

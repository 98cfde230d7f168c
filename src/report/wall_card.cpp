#include "report/wall_card.h"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <ctime>
#include <numbers>
#include <string>
#include <vector>

#include "job/words.h"
#include "target/page.h"
#include "units/quantity.h"

namespace squaresight {
namespace {

constexpr double page_width_mm = 297;
constexpr double page_height_mm = 210;
constexpr double margin_mm = 12;
constexpr double panel_width_mm = 132;
constexpr double panel_top_mm = 33;
constexpr double panel_head_mm = 48;
constexpr double panel_height_mm = 131;
constexpr double row_height_mm = 10.4;
/// Capitals 6.6 mm high: 11 arc minutes at 2 m, twice what a good eye needs.
constexpr double row_text_mm = 9;
constexpr std::size_t most_rows = 7;

constexpr std::array readings_deg{0.1, 0.2, 0.3, 0.5, 1.0, 1.5, 2.0, 3.0, 5.0};

/// A reading and the turns it takes when it is positive (left, up) and negative (right, down).
struct CardRow {
    double reading_deg;
    double turns_positive;
    double turns_negative;
};

double turns_clockwise(const Mount& mount, int screw, double off_aim_deg) {
    const bool yaw = mount.screws[screw].turns == Axis::yaw;
    return exact_turns_clockwise(mount, mount.aim_yaw_left_deg + (yaw ? off_aim_deg : 0),
                                 mount.aim_pitch_up_deg + (yaw ? 0 : off_aim_deg),
                                 mount.aim_yaw_left_deg, mount.aim_pitch_up_deg)[screw];
}

std::vector<CardRow> card_rows(const Mount& mount, int screw) {
    std::vector<CardRow> rows;
    for (const double reading : readings_deg) {
        const CardRow row{reading, turns_clockwise(mount, screw, reading),
                          turns_clockwise(mount, screw, -reading)};
        const double least = std::min(std::abs(row.turns_positive), std::abs(row.turns_negative));
        const double most = std::max(std::abs(row.turns_positive), std::abs(row.turns_negative));
        if (least >= 1.0 / 16 && most <= mount.screws[screw].travel_turns &&
            rows.size() < most_rows) {
            rows.push_back(row);
        }
    }
    return rows;
}

/// Whether turning for one aim takes more than a tenth as much of the other screw.
bool screws_act_on_both(const Mount& mount) {
    for (int i = 0; i < 2; ++i) {
        const bool yaw = mount.screws[i].turns == Axis::yaw;
        const auto turns = exact_turns_clockwise(mount, mount.aim_yaw_left_deg + (yaw ? 1 : 0),
                                                 mount.aim_pitch_up_deg + (yaw ? 0 : 1),
                                                 mount.aim_yaw_left_deg, mount.aim_pitch_up_deg);
        if (std::abs(turns[1 - i]) > 0.1 * std::abs(turns[i])) {
            return true;
        }
    }
    return false;
}

/// Text shrunk until it fits.
void fitted_text(Page& page, double x_mm, double y_mm, double size_mm, double width_mm,
                 const std::string& words, Align align = Align::left, bool bold = false) {
    const double width = page.text_width_mm(size_mm, words, bold);
    page.text(x_mm, y_mm, width > width_mm ? size_mm * width_mm / width : size_mm, words, align,
              bold);
}

/// A screw's head with an arrow round it, as seen facing the head.
void draw_turn(Page& page, double x_mm, double y_mm, double radius_mm, bool clockwise) {
    const double thickness = 1.4;
    page.disc(x_mm, y_mm, radius_mm * 0.42);
    page.ink(1, 1, 1);
    page.rect(x_mm - radius_mm * 0.28, y_mm - 0.45, radius_mm * 0.56, 0.9);
    page.rect(x_mm - 0.45, y_mm - radius_mm * 0.28, 0.9, radius_mm * 0.56);
    page.ink(0, 0, 0);
    page.arc(x_mm, y_mm, radius_mm, 130, 410, thickness);
    // The arrow sits at the end that is reached last; angles run clockwise from 3 o'clock.
    const double end = (clockwise ? 410 : 130) * std::numbers::pi / 180;
    const double along = clockwise ? 1 : -1;
    const Eigen::Vector2d outward(std::cos(end), std::sin(end));
    const Eigen::Vector2d forward = along * Eigen::Vector2d(-outward.y(), outward.x());
    const Eigen::Vector2d base = Eigen::Vector2d(x_mm, y_mm) + radius_mm * outward;
    const double size = radius_mm * 0.42;
    page.polygon({base + 1.5 * size * forward, base + size * outward, base - size * outward});
}

std::string turns_cell(double turns) {
    return eighths_text(static_cast<int>(std::lround(std::abs(turns) * 8)));
}

/// The side with the sensor's sign where the profile says it (a table needs it).
std::string side_name(const Mount& mount, Axis axis, bool positive) {
    if (axis == Axis::pitch) {
        return positive ? "NOSE UP" : "NOSE DOWN";
    }
    std::string side = positive ? "LEFT" : "RIGHT";
    if (mount.table.empty()) {
        return side;
    }
    return side + (positive == mount.sensor_positive_left ? " (+)" : " (-)");
}

void draw_column_head(Page& page, double x_mm, double y_mm, const std::string& side,
                      bool clockwise) {
    page.text(x_mm, y_mm, 6.5, side, Align::centre, true);
    draw_turn(page, x_mm, y_mm + 11.8, 7.6, clockwise);
    page.text(x_mm, y_mm + 25.5, 5, clockwise ? "clockwise" : "counter-clockwise", Align::centre,
              true);
}

void draw_rows(Page& page, const std::vector<CardRow>& rows, double left_mm,
               const double (&column_mm)[3]) {
    double y = panel_top_mm + panel_head_mm;
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const CardRow& row = rows[i];
        if (i % 2 == 1) {  // a band leads the eye across
            page.ink(0.9, 0.9, 0.9);
            page.rect(left_mm + 0.3, y, panel_width_mm - 0.6, row_height_mm);
            page.ink(0, 0, 0);
        }
        y += row_height_mm;
        const double base = y - 1.8;
        page.text(column_mm[0], base, row_text_mm, fmt::format("{:g} deg", row.reading_deg),
                  Align::centre);
        page.text(column_mm[1], base, row_text_mm, turns_cell(row.turns_positive), Align::centre,
                  true);
        page.text(column_mm[2], base, row_text_mm, turns_cell(row.turns_negative), Align::centre,
                  true);
    }
}

void draw_panel(Page& page, const Mount& mount, int screw, double left_mm) {
    const Screw& s = mount.screws[screw];
    const bool yaw = s.turns == Axis::yaw;
    const double column_mm[] = {left_mm + 21, left_mm + 62, left_mm + 105};
    const double rule_mm = panel_top_mm + panel_head_mm;
    page.frame(left_mm, panel_top_mm, panel_width_mm, panel_height_mm, 0.6);
    fitted_text(page, left_mm + 4, panel_top_mm + 9.5, 9, panel_width_mm - 8,
                fmt::format("{}: turn screw {}", yaw ? "Side to side" : "Up-down", s.name),
                Align::left, true);
    page.text(column_mm[0], panel_top_mm + 30, 6.5, "If it points", Align::centre);
    page.text(column_mm[0], panel_top_mm + 38, 6.5, "off by", Align::centre);
    draw_column_head(page, column_mm[1], panel_top_mm + 18.5, side_name(mount, s.turns, true),
                     turns_clockwise(mount, screw, 1) > 0);
    draw_column_head(page, column_mm[2], panel_top_mm + 18.5, side_name(mount, s.turns, false),
                     turns_clockwise(mount, screw, -1) > 0);
    page.line(left_mm, rule_mm, left_mm + panel_width_mm, rule_mm, 0.6);
    draw_rows(page, card_rows(mount, screw), left_mm, column_mm);
    fitted_text(
        page, left_mm + 4, panel_top_mm + panel_height_mm - 3, 5, panel_width_mm - 8,
        fmt::format("Over {:g} turns from as found: stop. Check reading, thread left, bracket.",
                    s.travel_turns));
}

std::vector<std::string> table_lines(const Mount& mount) {
    std::string rows;
    for (const auto& row : mount.table) {
        const double off_deg =
            angle_from_reading_deg(mount, row.axis, row.reading_deg) -
            (row.axis == Axis::yaw ? mount.aim_yaw_left_deg : mount.aim_pitch_up_deg);
        rows += fmt::format("{}{} {} = {}", rows.empty() ? "" : ";  ", row.screw,
                            row.axis == Axis::yaw ? side_words(off_deg) : nose_words(off_deg),
                            turns_words(row.turns_clockwise));
    }
    if (rows.empty()) {
        return {};
    }
    return {"Service table: " + rows};
}

/// Lines under the panels, most needed first.
std::vector<std::string> advice(const Mount& mount) {
    std::vector<std::string> lines{
        "Turns, as seen facing the screw's head. Past the mark: back past it by 1/4 turn, then up "
        "to it again."};
    if (screws_act_on_both(mount)) {
        lines.push_back("Each screw moves both aims: correct one, measure again, then the other.");
    }
    for (const auto& line : table_lines(mount)) {
        lines.push_back(line);
    }
    return lines;
}

void draw_head(Page& page, const Mount& mount) {
    const double width_mm = page_width_mm - 2 * margin_mm;
    fitted_text(page, margin_mm, 16, 13, width_mm, mount.name, Align::left, true);
    const Estimate yaw{mount.aim_yaw_left_deg, 0};
    const Estimate pitch{mount.aim_pitch_up_deg, 0};
    if (!plan_correction(mount, yaw, pitch, 0, {}).findings.empty()) {
        page.ink(0.75, 0, 0);
        fitted_text(page, margin_mm, 27, 8, width_mm,
                    "DO NOT USE: the service table and the screws' geometry differ.", Align::left,
                    true);
        page.ink(0, 0, 0);
        return;
    }
    fitted_text(
        page, margin_mm, 27, 8, width_mm,
        fmt::format("Should point {}.  Limit {} side to side, {} up-down{}.",
                    aim_words(mount.aim_yaw_left_deg, mount.aim_pitch_up_deg),
                    angle_words(mount.tolerance_yaw_deg), angle_words(mount.tolerance_pitch_deg),
                    mount.tolerance_stated ? "" : " (common practice, no source)"));
}

void draw_foot(Page& page, const Mount& mount) {
    const double width_mm = page_width_mm - 2 * margin_mm;
    double y = panel_top_mm + panel_height_mm + 6.8;
    for (const auto& line : advice(mount)) {
        fitted_text(page, margin_mm, y, 6, width_mm, line);
        y += 6.6;
    }
    page.ink(0.75, 0, 0);
    fitted_text(page, margin_mm, y, 6.5, width_mm,
                "Secure the vehicle. The maker's service information comes first. Lock, then "
                "measure again.",
                Align::left, true);
    page.ink(0, 0, 0);
    fitted_text(page, margin_mm, page_height_mm - 8, 5, width_mm,
                fmt::format("Source: {}.  Card printed {:%Y-%m-%d}.",
                            mount.source.empty() ? "NONE GIVEN, limits unproven" : mount.source,
                            fmt::localtime(std::time(nullptr))));
}

}  // namespace

void write_wall_card(const Mount& mount, const std::filesystem::path& file) {
    Page page(file, page_width_mm, page_height_mm, PageKind::pdf);
    page.title("Turns of " + mount.name);
    draw_head(page, mount);
    const bool yaw_first = mount.screws[0].turns == Axis::yaw;
    draw_panel(page, mount, yaw_first ? 0 : 1, margin_mm);
    draw_panel(page, mount, yaw_first ? 1 : 0, page_width_mm - margin_mm - panel_width_mm);
    draw_foot(page, mount);
    page.finish();
}

}  // namespace squaresight

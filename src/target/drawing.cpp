#include "target/drawing.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "target/layout.h"
#include "target/sheets.h"
#include "units/quantity.h"

namespace squaresight {
namespace {

using Point = Eigen::Vector2d;

constexpr double edge_mark_mm = 8;  ///< from the nominal edge to the base of the mark

/// Everything that the parts of the drawing share. All on the sheet: mm right and down of its top
/// left corner.
struct Sheet {
    Page& page;
    const Target& target;
    double width, height;
    Margins margins;

    /// Size of words and ticks.
    double words(double size) const { return size * margins.words; }
    Point pattern_corner() const {
        const auto& pattern = target.pattern;
        return target.centre_mm - pattern.square_mm / 2 * Point(pattern.across, pattern.down);
    }
};

void draw_squares(const Sheet& sheet) {
    const auto& pattern = sheet.target.pattern;
    const Point corner = sheet.pattern_corner();
    const double side = pattern.square_mm;
    std::vector<Eigen::Vector4d> black;
    for (int row = 0; row < pattern.down; ++row) {
        for (int column = 0; column < pattern.across; ++column) {
            if (!is_white_square(pattern, column, row)) {
                black.emplace_back(corner.x() + column * side, corner.y() + row * side, side, side);
            }
        }
    }
    sheet.page.rects(black);
}

void draw_markers(const Sheet& sheet) {
    const auto& pattern = sheet.target.pattern;
    if (!pattern.has_markers()) {
        return;
    }
    const auto dictionary = marker_dictionary(pattern.dictionary, "dictionary");
    const int cells = dictionary.size;
    const double cell = pattern.marker_mm / (cells + 2);  // a border of one black cell
    const double inset = (pattern.square_mm - pattern.marker_mm) / 2;
    std::vector<Eigen::Vector4d> black, white;
    for (const auto& place : marker_places(pattern)) {
        const Point corner = sheet.pattern_corner() +
                             pattern.square_mm * Point(place.column, place.row) +
                             Point(inset, inset);
        black.emplace_back(corner.x(), corner.y(), pattern.marker_mm, pattern.marker_mm);
        const auto& bits = dictionary.bits[static_cast<std::size_t>(place.id)];
        for (int i = 0; i < cells * cells; ++i) {
            if (bits[static_cast<std::size_t>(i)] != 0) {
                const int row = i / cells;
                white.emplace_back(corner.x() + (i % cells + 1) * cell,
                                   corner.y() + (row + 1) * cell, cell, cell);
            }
        }
    }
    sheet.page.rects(black);
    sheet.page.ink(1, 1, 1);
    sheet.page.rects(white);
    sheet.page.ink(0, 0, 0);
}

/// A triangle with its tip at `tip`, pointing along the unit vector `direction`.
void draw_arrowhead(const Sheet& sheet, const Point& tip, const Point& direction, double length,
                    double half_width) {
    const Point across(-direction.y(), direction.x());
    const Point base = tip - length * direction;
    sheet.page.polygon({tip, base + half_width * across, base - half_width * across});
}

/// White arrows in the black squares around the centre point at it from a distance, opposite each
/// other where it is a corner, so that the corner is measured as every other.
void draw_centre_mark(const Sheet& sheet) {
    const auto& pattern = sheet.target.pattern;
    const bool on_column = pattern.across % 2 == 0, on_row = pattern.down % 2 == 0;
    const double tip_squares = on_column && on_row ? 0.3 : 0.1;
    sheet.page.ink(1, 1, 1);
    for (const int right : {-1, 0, 1}) {
        for (const int down : {-1, 0, 1}) {
            if ((right != 0) != on_column || (down != 0) != on_row || (right == 0 && down == 0)) {
                continue;
            }
            const Point outward = Point(right, down).normalized();
            const Point inside =
                sheet.target.centre_mm - sheet.pattern_corner() + 0.1 * pattern.square_mm * outward;
            if (!is_white_square(pattern, static_cast<int>(inside.x() / pattern.square_mm),
                                 static_cast<int>(inside.y() / pattern.square_mm))) {
                draw_arrowhead(sheet,
                               sheet.target.centre_mm + tip_squares * pattern.square_mm * outward,
                               -outward, 0.12 * pattern.square_mm, 0.04 * pattern.square_mm);
            }
        }
    }
    sheet.page.ink(0, 0, 0);
}

/// A mark whose tip is the middle of an edge of the nominal sheet. Where a plotter leaves the tip
/// out, the base of the arrow still stands `edge_mark_mm` inside.
void draw_edge_mark(const Sheet& sheet, const Point& tip, const Point& outward) {
    const Point along(-outward.y(), outward.x());
    draw_arrowhead(sheet, tip, outward, edge_mark_mm, 3);
    const Point from = tip - edge_mark_mm * outward, to = from - sheet.words(3) * outward;
    sheet.page.line(from.x(), from.y(), to.x(), to.y(), 0.3);
    const Point one = tip + 12 * along, other = tip - 12 * along;
    sheet.page.line(one.x(), one.y(), other.x(), other.y(), 0.4);
}

void draw_edge_marks(const Sheet& sheet) {
    const Point centre = sheet.target.centre_mm;
    draw_edge_mark(sheet, {centre.x(), 0}, {0, -1});
    draw_edge_mark(sheet, {centre.x(), sheet.height}, {0, 1});
    draw_edge_mark(sheet, {0, centre.y()}, {-1, 0});
    draw_edge_mark(sheet, {sheet.width, centre.y()}, {1, 0});
}

/// A line with end lines; the bar's length is from the middle of one to the middle of the other.
void draw_bar(const Sheet& sheet, const Point& start, const Point& direction, double length) {
    const Point tick = sheet.words(2) * Point(-direction.y(), direction.x());
    const auto cross_line = [&](double at, double share) {
        const Point middle = start + at * direction;
        const Point from = middle - share * tick, to = middle + share * tick;
        sheet.page.line(from.x(), from.y(), to.x(), to.y(), 0.25);
    };
    const Point end = start + length * direction;
    sheet.page.line(start.x(), start.y(), end.x(), end.y(), 0.25);
    cross_line(0, 1);
    cross_line(length, 1);
    if (const auto mark = short_check_mm(length)) {
        cross_line(*mark, 0.7);
    }
}

/// Where words stand: their foot's end or middle, by `align`.
struct Line {
    Point at;
    double size;
    double room;
    Align align = Align::left;
    double turned_deg = 0;
    bool bold = false;
};

/// `size`, or what is left of it where the words would be longer than their room.
double fitting(const Sheet& sheet, const std::string& words, double size, double room,
               bool bold = false) {
    return size * std::min(1.0, room / sheet.page.text_width_mm(size, words, bold));
}

void write(const Sheet& sheet, const Line& line, const std::string& words) {
    sheet.page.text(line.at.x(), line.at.y(),
                    fitting(sheet, words, line.size, line.room, line.bold), words, line.align,
                    line.bold, line.turned_deg);
}

std::string mm_and_inches(double length_mm) {
    return fmt::format("{:g} mm = {:.3f} in", length_mm, length_mm / mm_per_inch);
}

std::string bar_words(const std::string& name, double length_mm) {
    const auto mark = short_check_mm(length_mm);
    return fmt::format("{}: {}{}", name, mm_and_inches(length_mm),
                       mark ? ", to the short line " + mm_and_inches(*mark) : "");
}

std::string sheet_words(const Target& target) {
    const std::string name = sheet_name(target.sheet_width_mm, target.sheet_height_mm);
    return fmt::format("{}{:g} x {:g} mm ({:.2f} x {:.2f} in)", name.empty() ? "" : name + ", ",
                       target.sheet_width_mm, target.sheet_height_mm,
                       target.sheet_width_mm / mm_per_inch, target.sheet_height_mm / mm_per_inch);
}

std::string pattern_words(const Pattern& pattern) {
    const auto squares =
        fmt::format("{} x {} squares of {:g} mm", pattern.across, pattern.down, pattern.square_mm);
    return pattern.has_markers()
               ? fmt::format("{}, markers {:g} mm, {} from {}", squares, pattern.marker_mm,
                             pattern.dictionary, pattern.first_id)
               : squares + ", plain: for the phone check only";
}

void draw_top_band(const Sheet& sheet) {
    const double foot = sheet.margins.unprintable_mm + sheet.words(13);
    const double middle = sheet.width / 4;
    write(sheet, {{middle, foot}, sheet.words(15), sheet.width / 4, Align::centre, 0, true}, "TOP");
    for (const int side : {-1, 1}) {
        const Point tip(middle + side * sheet.words(30), foot - sheet.words(11));
        draw_arrowhead(sheet, tip, {0, -1}, sheet.words(6), sheet.words(5));
        sheet.page.rect(tip.x() - sheet.words(1.5), tip.y() + sheet.words(5.5), sheet.words(3),
                        sheet.words(5.5));
    }
    const double right = sheet.width * 3 / 4, room = sheet.width / 2 - 50;
    write(sheet, {{right, foot - sheet.words(6.5)}, sheet.words(6.5), room, Align::centre, 0, true},
          sheet.target.name);
    write(sheet, {{right, foot}, sheet.words(4), room, Align::centre}, sheet_words(sheet.target));
    write(sheet, {{sheet.width / 2 + 5, foot - sheet.words(6.5)}, sheet.words(3), 30}, "top edge");
}

void draw_bottom_band(const Sheet& sheet) {
    const double begin = sheet.height - sheet.margins.end_mm;
    const double bar = check_bar_mm(sheet.target).x();
    draw_bar(sheet, {(sheet.width - bar) / 2, begin + sheet.words(3)}, {1, 0}, bar);
    const double first = begin + sheet.words(9), second = begin + sheet.words(13.6);
    const double left = sheet.margins.side_mm, middle = sheet.width / 2;
    const double right = middle + 7 + sheet.words(22);
    const double room = middle - left - 12, room_right = sheet.width - left - right;
    const double size = sheet.words(4);
    write(sheet, {{left, first}, size, room, Align::left, 0, true},
          bar_words("CHECK BAR ACROSS", bar));
    write(sheet, {{left, second}, size, room},
          "Print at 100 %, no 'fit to page'. Measure both bars, enter what you read.");
    write(sheet, {{right, first}, size, room_right}, pattern_words(sheet.target.pattern));
    write(sheet, {{right, second}, size, room_right},
          "Keep flat, do not fold. Mount on a flat, rigid board, TOP up.");
    write(sheet, {{middle + 5, second}, sheet.words(3), 20}, "bottom edge");
}

void draw_left_band(const Sheet& sheet) {
    const double side = sheet.margins.side_mm, middle = sheet.height / 2;
    const double bar = check_bar_mm(sheet.target).y();
    const double room = sheet.height - sheet.margins.end_mm - sheet.margins.unprintable_mm;
    draw_bar(sheet, {side - sheet.words(3), sheet.margins.unprintable_mm + (room - bar) / 2},
             {0, 1}, bar);
    const double foot = side - sheet.words(5.6), size = sheet.words(3.4);
    const double half = middle - sheet.margins.end_mm - 12;
    write(sheet, {{foot, sheet.height - sheet.margins.end_mm}, size, half, Align::left, -90, true},
          bar_words("CHECK BAR DOWN", bar));
    write(sheet, {{foot, middle - 5}, sheet.words(3), 30, Align::left, -90}, "left edge");
    write(sheet, {{foot, sheet.margins.end_mm}, size, half - 14, Align::right, -90},
          "Plumb line: top and bottom marks. White arrow: centre.");
}

void draw_right_band(const Sheet& sheet) {
    const double foot = sheet.width - sheet.margins.side_mm + sheet.words(3);
    const double middle = sheet.height / 2, start = sheet.margins.end_mm;
    const double room = middle - start - sheet.words(28);
    const std::string tapes = "Tapes: to the tips of the four edge marks, never to the paper.";
    const std::string tip =
        fmt::format("A tip that is cut off: {:g} mm outside the base of its arrow.", edge_mark_mm);
    const double size = std::min(fitting(sheet, tapes, sheet.words(6), room),
                                 fitting(sheet, tip, sheet.words(6), room));
    write(sheet, {{foot, start}, size, room, Align::left, 90}, tapes);
    write(sheet, {{foot, middle + 8}, size, room, Align::left, 90}, tip);
    write(sheet, {{foot, middle - 5}, sheet.words(3), 30, Align::right, 90}, "right edge");
}

}  // namespace

void draw_target(const Target& target, const std::filesystem::path& file, PageKind kind,
                 double dots_per_inch) {
    Page page(file, target.sheet_width_mm, target.sheet_height_mm, kind, dots_per_inch);
    page.title(target.name);
    const Sheet sheet{page, target, target.sheet_width_mm, target.sheet_height_mm,
                      margins_of(target.sheet_width_mm, target.sheet_height_mm)};
    draw_squares(sheet);
    draw_markers(sheet);
    draw_centre_mark(sheet);
    draw_edge_marks(sheet);
    draw_top_band(sheet);
    draw_bottom_band(sheet);
    draw_left_band(sheet);
    draw_right_band(sheet);
    page.finish();
}

}  // namespace squaresight

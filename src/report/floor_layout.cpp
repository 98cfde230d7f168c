#include "report/floor_layout.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "job/words.h"
#include "report/floor_pen.h"
#include "report/floor_plan.h"
#include "units/quantity.h"

namespace squaresight {
namespace {

constexpr double margin_mm = 12;
constexpr double plan_top_mm = 44;
constexpr double plan_width_mm = 88;  ///< of the drawing from above; words stand beside it
constexpr double steps_top_mm = 40;
constexpr double side_view_mm = 42;  ///< height of the drawing from the side, with its title
constexpr double foot_mm = 22;       ///< from the last drawing to the bottom of the page
constexpr double largest_text_mm = 4, smallest_text_mm = 2.9;

/// A phone shows the picture 358 px wide: 4 px to the millimetre, no letter under 12 px.
constexpr double picture_width_mm = 90;
constexpr double longest_plan_mm = 150;
constexpr double smallest_on_a_phone_mm = 3.2;

class Sheet {
  public:
    Sheet(Page& page, const Floor& floor, const Wording& wording, double width_mm, double height_mm)
        : page_(page),
          pen_(page),
          floor_(floor),
          wording_(wording),
          sizes_(floor_sizes(floor)),
          steps_(floor_steps(floor)),
          width_(width_mm),
          height_(height_mm),
          plan_(floor, wording,
                {margin_mm, plan_top_mm, plan_width_mm, plan_bottom() - plan_top_mm - 8, true}) {}

    void draw() {
        draw_head();
        plan_.draw(pen_);
        draw_steps();
        draw_side_view();
        draw_foot();
    }

  private:
    double plan_bottom() const { return height_ - foot_mm - side_view_mm - 4; }
    LengthUnit other_unit() const {
        return floor_.unit == LengthUnit::mm ? LengthUnit::in : LengthUnit::mm;
    }
    std::string said(const std::string& english) const { return wording_(english); }

    void draw_head() {
        const double width = width_ - 2 * margin_mm;
        const std::string scale = scale_words(plan_.scale());
        page_.text(width_ - margin_mm, 18, 5, scale, Align::right, true);
        pen_.fitted(margin_mm, 18, 8, width - page_.text_width_mm(5, scale, true) - 6, title(),
                    true);
        page_.frame(margin_mm, 22, width, 11.5, 0.5);
        pen_.fitted(margin_mm + 3, 26.8, 4, width - 6, said(floor_seen_words), true);
        pen_.fitted(margin_mm + 3, 31.6, 4, width - 6, said(floor_sides_words), true);
    }

    std::string title() const { return said("Floor layout: " + floor_.bay); }
    std::string scale_words(double scale) const {
        return said(fmt::format("Scale 1 : {:.0f}", scale));
    }

    // ---- steps

    double steps_left() const { return margin_mm + plan_width_mm + 6; }
    double steps_width() const { return width_ - margin_mm - steps_left(); }

    std::vector<std::string> wrapped(const std::string& words, double size, double room) {
        std::vector<std::string> lines;
        std::string line;
        std::size_t begin = 0;
        while (begin < words.size()) {
            const std::size_t end = std::min(words.find(' ', begin), words.size());
            const std::string word = words.substr(begin, end - begin);
            const std::string longer = line.empty() ? word : fmt::format("{} {}", line, word);
            if (!line.empty() && page_.text_width_mm(size, longer) > room) {
                lines.push_back(line);
                line = word;
            } else {
                line = longer;
            }
            begin = end + 1;
        }
        lines.push_back(line);
        return lines;
    }

    static constexpr double line_factor = 1.32;
    static constexpr double indent_mm = 8;

    /// Height of all steps at this size of text; draws them where `draw`.
    double set_steps(double size, bool draw) {
        const double x = steps_left() + indent_mm;
        const double room = steps_width() - indent_mm;
        const double top = steps_top_mm;
        double y = top;
        int count = 0;
        for (const auto& step : steps_) {
            ++count;
            y += 1.15 * size;
            if (draw) {
                pen_.number({steps_left() + 3, y - 0.4 * size}, count, 3);
                page_.text(x, y, 1.15 * size, said(step.heading), Align::left, true);
            }
            y += 0.2 * size;
            for (const auto& sentence : step.sentences) {
                for (const auto& line : wrapped(said(sentence), size, room)) {
                    y += line_factor * size;
                    if (draw) {
                        pen_.fitted(x, y, size, room, line);
                    }
                }
                y += 0.15 * size;
            }
            if (step.item == FloorItem::tapes) {
                y = tape_table(y + 0.4 * size, size, draw);
            }
            y += 1.1 * size;
        }
        return y - top;
    }

    void draw_steps() {
        const double room = plan_bottom() - steps_top_mm;
        double size = largest_text_mm;
        while (size > smallest_text_mm && set_steps(size, false) > room) {
            size -= 0.05;
        }
        set_steps(size, true);
    }

    /// Columns as in the drawing: the truck's right edge at the left hand.
    double tape_table(double y, double size, bool draw) {
        const double left = steps_left() + 1;
        const double width = steps_width() - 1;
        const double first = 0.22 * width;
        const double column = (width - first) / 3;
        const double row = 2.75 * size;
        const double head = 1.5 * size;
        if (draw) {
            const char* names[] = {"right edge", "centre", "left edge"};
            for (int i = 0; i < 3; ++i) {
                pen_.fitted(left + first + (i + 0.5) * column, y + 1.05 * size, 0.95 * size,
                            column - 2, said(names[i]), true, Align::centre);
            }
            for (std::size_t p = 0; p < floor_.points.size(); ++p) {
                tape_row(p, y + head + static_cast<double>(p) * row, left, first, column, row,
                         size);
            }
            const double bottom = y + head + static_cast<double>(floor_.points.size()) * row;
            page_.line(left, bottom, left + width, bottom, 0.3);
        }
        return y + head + static_cast<double>(floor_.points.size()) * row;
    }

    /// `size`, or what is left of it where the longest length would not fit its column.
    double fitting_size(double size, double column) {
        double widest = 0;
        for (const auto& tape : sizes_.tapes) {
            widest = std::max(
                widest, page_.text_width_mm(size, length_words(tape.length_mm, floor_.unit), true));
        }
        return size * std::min(1.0, (column - 2) / widest);
    }

    void tape_row(std::size_t point, double y, double left, double first, double column, double row,
                  double size) {
        page_.line(left, y, left + first + 3 * column, y, 0.3);
        pen_.fitted(left, y + 0.62 * row, 0.95 * size, first - 2, floor_.points[point].name, true);
        const double length_size = fitting_size(size, column);
        for (std::size_t i = 0; i < 3; ++i) {
            const double length_mm = sizes_.tapes[3 * point + (2 - i)].length_mm;
            const double x = left + first + (static_cast<double>(i) + 0.5) * column;
            page_.text(x, y + 1.2 * size, length_size, length_words(length_mm, floor_.unit),
                       Align::centre, true);
            pen_.fitted(x, y + 2.35 * size, 0.85 * size, column - 2,
                        "(" + length_words(length_mm, other_unit()) + ")", false, Align::centre);
        }
    }

    // ---- side view

    void draw_side_view() {
        if (!floor_.setup.target_height_mm.measured) {
            return;
        }
        const double top = height_ - foot_mm - side_view_mm;
        page_.line(margin_mm, top, width_ - margin_mm, top, 0.3);
        page_.text(margin_mm, top + 6, 4, said("Heights, seen from the truck's left side"),
                   Align::left, true);
        const double target = floor_.setup.target_height_mm.value;
        const double mount = floor_.setup.mount_height_mm.value;
        const double high = std::max({target + floor_.target.centre_mm.y(), mount + 200, 1400.0});
        const double ground = top + side_view_mm - 3;
        const double least =
            std::max(high / (side_view_mm - 12),
                     (floor_.setup.distance_mm.value + 1600) / (width_ - 2 * margin_mm - 45));
        const double scale = 5 * std::ceil(least / 5);
        const double board_x = margin_mm + 40;
        const double face_x = board_x + floor_.setup.distance_mm.value / scale;
        draw_side_truck(face_x, ground, scale);
        pen_.stroke({margin_mm, ground}, {width_ - margin_mm, ground}, 0.5);
        const double centre_y = ground - target / scale;
        pen_.stroke({board_x, centre_y - floor_.target.centre_mm.y() / scale},
                    {board_x, ground - sizes_.board_bottom_mm / scale}, 1.6);
        pen_.stroke({board_x, ground - sizes_.board_bottom_mm / scale}, {board_x, ground}, 0.3);
        pen_.stroke({board_x, centre_y}, {board_x + 2.4, centre_y}, 0.4);
        side_height(board_x - 4, ground, centre_y, said("board's centre"), target, Align::right);
        side_height(face_x - 4, ground, ground - mount / scale, said("sensor's face"), mount,
                    Align::right);
        pen_.stroke({face_x - 5, ground - mount / scale}, {face_x, ground - mount / scale}, 0.25);
        pen_.stroke({board_x - 5, centre_y}, {board_x, centre_y}, 0.25);
        page_.text(width_ - margin_mm, top + 6, 3.4, scale_words(scale), Align::right);
    }

    void draw_side_truck(double face_x, double ground, double scale) {
        const double mount = floor_.setup.mount_height_mm.value;
        pen_.grey(0.72);
        page_.rect(face_x, ground - (mount + 150) / scale, bumper_deep_mm / scale, 400 / scale);
        pen_.grey(0.86);
        page_.rect(face_x + bumper_deep_mm / scale, ground - (mount + 130) / scale, 1400 / scale,
                   180 / scale);
        page_.disc(face_x + 1150 / scale, ground - 480 / scale, 480 / scale);
        pen_.black();
        page_.rect(face_x, ground - (mount + mount_half_mm) / scale, bumper_deep_mm / scale,
                   2 * mount_half_mm / scale);
    }

    void side_height(double x, double ground, double y, const std::string& what, double height_mm,
                     Align align) {
        pen_.stroke({x, ground}, {x, y}, 0.25);
        pen_.arrowhead({x, ground}, {0, 1}, 1.8);
        pen_.arrowhead({x, y}, {0, -1}, 1.8);
        const double words = align == Align::right ? x - 2.6 : x + 2.6;
        page_.text(words, ground - 10.4, 3.4, what, align);
        page_.text(words, ground - 6.2, 3.4, length_words(height_mm, floor_.unit), align, true);
        page_.text(words, ground - 2.2, 3, "(" + length_words(height_mm, other_unit()) + ")",
                   align);
    }

    void draw_foot() {
        const double top = height_ - foot_mm + 4;
        const double width = width_ - 2 * margin_mm;
        page_.frame(margin_mm, top, width, 8, 0.5);
        pen_.fitted(margin_mm + 3, top + 5.5, 3.8, width - 6, said(floor_caution_words), true);
        pen_.fitted(
            margin_mm, top + 12, 3, width,
            said("Board, line, points and distances are to scale where the page is printed at "
                 "100 %; the truck is a sketch. Rails and heights of your truck decide."));
    }

    Page& page_;
    FloorPen pen_;
    const Floor& floor_;
    const Wording& wording_;
    FloorSizes sizes_;
    std::vector<FloorStep> steps_;
    double width_, height_;
    FloorPlan plan_;
};

}  // namespace

void write_floor_layout(const Floor& floor, const std::filesystem::path& file, PageKind kind,
                        const Wording& wording) {
    const double width_mm = floor.unit == LengthUnit::in ? 8.5 * mm_per_inch : 210;
    const double height_mm = floor.unit == LengthUnit::in ? 11 * mm_per_inch : 297;
    Page page(file, width_mm, height_mm, kind, 150);
    page.title(wording("Floor layout: " + floor.bay));
    Sheet(page, floor, wording, width_mm, height_mm).draw();
    page.finish();
}

void write_floor_picture(const Floor& floor, const std::filesystem::path& file, PageKind kind,
                         const Wording& wording) {
    const FloorPlan plan(
        floor, wording,
        {2, 8, picture_width_mm - 4, longest_plan_mm, false, smallest_on_a_phone_mm});
    Page page(file, picture_width_mm, plan.bottom_mm(), kind);
    FloorPen pen(page);
    plan.draw(pen);
    page.finish();
}

}  // namespace squaresight

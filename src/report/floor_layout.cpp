#include "report/floor_layout.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "job/words.h"
#include "units/quantity.h"

namespace squaresight {
namespace {

using Point = Eigen::Vector2d;

constexpr double side_view_mm = 42;  ///< height of the drawing from the side, with its title
constexpr double foot_mm = 22;       ///< from the last drawing to the bottom of the page
constexpr double line_factor = 1.32;
constexpr double longest_plan_in_column_mm = 190;
/// A phone shows the column 358 px wide: 4 px to the millimetre, no letter under 12 px.
constexpr double column_width_mm = 90;

/// What differs between the sheet, with the steps beside the plan, and the column, with them below.
struct Measures {
    double margin_mm, plan_width_mm;
    double text_mm, smallest_text_mm, smallest_size_mm;  ///< of the steps; of the plan's sizes
};
constexpr Measures sheet_measures{12, 88, 4, 2.9, 2.2};
constexpr Measures column_measures{4, column_width_mm - 8, 3.6, 3.6, 3.2};

/// The truck is a sketch: common sizes, no vehicle in particular.
constexpr double truck_half_mm = 1240;
constexpr double rail_middle_mm = 390;
constexpr double rail_width_mm = 80;
constexpr double bumper_deep_mm = 180;
constexpr double mount_half_mm = 90;

/// "on the string", "120 mm (4 3/4 in) to the truck's left of the string".
std::string place_words(double left_mm, LengthUnit unit) {
    if (std::abs(left_mm) < 0.5) {
        return "on the string";
    }
    return fmt::format("{} to the truck's {} of the string",
                       length_both_ways(std::abs(left_mm), unit), left_mm > 0 ? "LEFT" : "RIGHT");
}

constexpr const char* seen_words =
    "Seen from above, the way you see it when you stand ahead of the truck and face it.";
constexpr const char* sides_words =
    "Left and right are the truck's own, as seated in the cab: the truck's LEFT is on your RIGHT.";
constexpr const char* hang_words =
    "Hang the board's centre level with the sensor's face, and measure both heights above the "
    "floor below.";
constexpr const char* caution_words =
    "Wheels chocked, key out. No laser toward eyes. Strings trip: mark them. The vehicle maker's "
    "service information comes first.";

/// One thing to do, with its number in the drawing.
struct Step {
    std::string heading;
    std::vector<std::string> sentences;
    bool tapes = false;  ///< the table of tapes stands below it
};

/// Numbers of the steps, as they stand in the drawing.
struct StepNumbers {
    int line = 0, rectangle = 0, board = 0, tapes = 0, level = 0;
};

class Layout {
  public:
    /// `height_mm` of a sheet; a column takes what it needs.
    Layout(Page& page, const Floor& floor, const Wording& wording, double width_mm,
           std::optional<double> height_mm)
        : page_(page),
          floor_(floor),
          wording_(wording),
          measures_(height_mm ? sheet_measures : column_measures),
          sizes_(floor_sizes(floor)),
          width_(width_mm),
          height_(height_mm) {
        collect_steps();
        choose_scale();
    }

    void draw() {
        if (height_) {
            draw_head();
            draw_plan();
            draw_steps();
            draw_side_view();
            draw_foot();
        } else {
            column_head(true);
            draw_plan();
            set_steps(measures_.text_mm, true);
            column_foot(true);
        }
    }

    /// The height that a column takes.
    double column_height() { return column_foot(false) + measures_.margin_mm; }

  private:
    std::string size(double length_mm) const { return length_both_ways(length_mm, floor_.unit); }
    LengthUnit other_unit() const {
        return floor_.unit == LengthUnit::mm ? LengthUnit::in : LengthUnit::mm;
    }
    double distance() const { return floor_.setup.distance_mm.value; }
    bool heights_known() const { return floor_.setup.target_height_mm.measured; }
    bool plumbed() const { return floor_.line_base_mm > 0; }
    /// Of the string in V.
    double string_left() const { return -floor_.setup.mount_left_mm.value; }
    double rear_mark_ahead() const { return -sizes_.front_mark_behind_mm - floor_.line_base_mm; }
    double string_end_ahead() const {
        return plumbed() ? sizes_.string_mm + rear_mark_ahead() : sizes_.string_mm;
    }

    // ---- words

    std::string said(const std::string& english) const { return wording_(english); }

    void collect_steps() {
        add_line_step();
        add_rectangle_step();
        add_board_step();
        add_tape_step();
        add_level_step();
    }

    int add(Step step) {
        step.heading = said(step.heading);
        for (auto& sentence : step.sentences) {
            sentence = said(sentence);
        }
        steps_.push_back(std::move(step));
        return static_cast<int>(steps_.size());
    }

    void add_line_step() {
        Step step{"Line of the frame rails", {}};
        if (plumbed()) {
            step.sentences.push_back(fmt::format(
                "Plumb the middle between the rails to the floor at two places, {} apart, the "
                "front one {} behind the sensor's face. Each mark within {}.",
                size(floor_.line_base_mm), size(sizes_.front_mark_behind_mm),
                size(floor_.plumb_limit_mm)));
            if (floor_.smallest_base_mm) {
                step.sentences.push_back(base_words());
            }
        }
        step.sentences.push_back(fmt::format("String {}and past the board: {} long.",
                                             plumbed() ? "over both marks " : "along the rails ",
                                             size(sizes_.string_mm)));
        step.sentences.push_back(
            fmt::format("The sensor's face stands {}.",
                        place_words(floor_.setup.mount_left_mm.value, floor_.unit)));
        numbers_.line = add(step);
    }

    std::string base_words() const {
        std::string words = fmt::format("Smallest base that serves: {}.",
                                        size(std::ceil(*floor_.smallest_base_mm)));
        if (floor_.ample_base_mm) {
            words += fmt::format(" From {} on, the line hardly adds to the give-or-take.",
                                 size(std::ceil(*floor_.ample_base_mm)));
        }
        return words;
    }

    void add_rectangle_step() {
        numbers_.rectangle = add(
            {"Square to the string",
             {fmt::format("Rectangle on the floor from under the face to under the board: sides {} "
                          "and {}, half of it on each side of the string.",
                          size(sizes_.rectangle_length_mm), size(sizes_.rectangle_width_mm)),
              fmt::format("Both diagonals {}: equal diagonals make it square. 1/8 in (3 mm) of "
                          "difference is {:.2f} deg.",
                          size(sizes_.diagonal_mm), sizes_.diagonals_eighth_deg)}});
    }

    void add_board_step() {
        const Target& target = floor_.target;
        Step step{"Board",
                  {fmt::format("{}, {} wide, {} high, TOP up. Its centre {} ahead of the face, {}.",
                               target.name, size(target.sheet_width_mm),
                               size(target.sheet_height_mm), size(distance()),
                               place_words(floor_.setup.target_left_mm.value, floor_.unit))}};
        if (heights_known()) {
            step.sentences.push_back(
                fmt::format("Centre {} above the floor, lower edge {}. The sensor's face {}.",
                            size(floor_.setup.target_height_mm.value), size(sizes_.board_bottom_mm),
                            size(floor_.setup.mount_height_mm.value)));
        }
        if (!heights_known() && !height_) {
            step.sentences.push_back(hang_words);
        }
        numbers_.board = add(step);
    }

    void add_tape_step() {
        if (floor_.points.empty()) {
            return;
        }
        Step step{"Crossed tapes", {}, true};
        for (const auto& point : floor_.points) {
            step.sentences.push_back(point_words(point));
        }
        step.sentences.push_back("To the printed marks, never to the paper:");
        numbers_.tapes = add(step);
    }

    std::string point_words(const BumperPoint& point) const {
        const Eigen::Vector3d& at = point.position_in_vehicle_mm;
        return fmt::format("{}: {} to the {} of the face, {} {} it, {} up.", point.name,
                           size(std::abs(at.y())), at.y() >= 0 ? "LEFT" : "RIGHT",
                           size(std::abs(at.x())), at.x() < 0 ? "behind" : "ahead of",
                           size(at.z()));
    }

    void add_level_step() {
        if (!sizes_.points_eighth_deg) {
            return;
        }
        const double left = *floor_.tape_left_point_mm;
        const double right = *floor_.tape_right_point_mm;
        const std::string where =
            std::abs(left - right) < 0.5
                ? size(left) + " to the left and right of the face"
                : size(left) + " to the left, " + size(right) + " to the right of the face";
        numbers_.level = add({"Tape-and-level points",
                              {where + ".", fmt::format("1/8 in (3 mm) between left and right is "
                                                        "{:.2f} deg there.",
                                                        *sizes_.points_eighth_deg)}});
    }

    // ---- scale and places

    double head() { return height_ ? 36 : column_head(false); }
    double plan_top() { return head() + 8; }
    double plan_bottom() {
        return height_ ? *height_ - foot_mm - side_view_mm - 4 : plan_top() + plan_length_;
    }

    /// The largest scale of 1 : 5, 10, 15, ... at which the plan fits.
    void choose_scale() {
        const double rear = plumbed() ? rear_mark_ahead() - 150 : -1500;
        const double front = string_end_ahead();
        double half = std::max(truck_half_mm, sizes_.rectangle_width_mm / 2) + 60;
        for (const auto& mark : {sizes_.left_mark_in_vehicle_mm, sizes_.right_mark_in_vehicle_mm}) {
            half = std::max(half, std::abs(mark.y() - string_left()) + 60);
        }
        for (const auto& point : floor_.points) {
            half = std::max(half, std::abs(point.position_in_vehicle_mm.y() - string_left()) + 60);
        }
        double room_down = height_ ? plan_bottom() - plan_top() - 8 : longest_plan_in_column_mm;
        const double room_across =
            measures_.plan_width_mm - 16;  // dimension lines stand at both sides
        const double least = std::max((front - rear) / room_down, 2 * half / room_across);
        scale_ = std::max(5.0, 5 * std::ceil(least / 5));
        half_mm_ = half / scale_;
        rear_ahead_ = rear;
        axis_x_ = measures_.margin_mm + measures_.plan_width_mm / 2;
        if (!height_) {
            room_down = (front - rear) / scale_;
            plan_length_ = room_down + 10;  // with the size across below it
        }
        // The plan stands in the middle of its room.
        face_y_ = plan_top() + (room_down - (front - rear) / scale_) / 2 - rear / scale_;
    }

    /// Page coordinates of a point of V: the truck's left is at the reader's right.
    Point at(double ahead_mm, double left_mm) const {
        return {axis_x_ + (left_mm - string_left()) / scale_, face_y_ + ahead_mm / scale_};
    }
    Point at(const Eigen::Vector3d& in_vehicle_mm) const {
        return at(in_vehicle_mm.x(), in_vehicle_mm.y());
    }

    // ---- drawing

    void grey(double share) { page_.ink(share, share, share); }
    void black() { page_.ink(0, 0, 0); }

    void stroke(const Point& from, const Point& to, double thickness) {
        page_.line(from.x(), from.y(), to.x(), to.y(), thickness);
    }

    void dashes(const Point& from, const Point& to, double thickness, double dash, double gap) {
        const double length = (to - from).norm();
        const Point along = (to - from) / std::max(length, 1e-9);
        for (double at = 0; at < length; at += dash + gap) {
            stroke(from + at * along, from + std::min(at + dash, length) * along, thickness);
        }
    }

    /// A number in a ring, to be found again among the steps.
    void number(const Point& at, int value, double radius = 2.9) {
        black();
        page_.disc(at.x(), at.y(), radius);
        page_.ink(1, 1, 1);
        page_.text(at.x(), at.y() + 0.36 * 1.25 * radius, 1.25 * radius, std::to_string(value),
                   Align::centre, true);
        black();
    }

    void arrowhead(const Point& tip, const Point& direction, double length = 2.2) {
        const Point across(-direction.y(), direction.x());
        const Point base = tip - length * direction;
        page_.polygon({tip, base + 0.35 * length * across, base - 0.35 * length * across});
    }

    /// A dimension line with its size, upright or across; the words stand on a white ground.
    void dimension(const Point& from, const Point& to, const std::string& words) {
        const Point along = (to - from).normalized();
        const Point across(-along.y(), along.x());
        stroke(from, to, 0.25);
        arrowhead(from, -along);
        arrowhead(to, along);
        for (const Point& end : {from, to}) {
            stroke(end - 1.8 * across, end + 1.8 * across, 0.25);
        }
        const double length = (to - from).norm();
        const double text = std::min(3.4, 3.4 * (length - 8) / page_.text_width_mm(3.4, words));
        if (text < measures_.smallest_size_mm) {
            return;  // the steps say it
        }
        const bool upright = std::abs(along.y()) > 0.5;
        const double wide = page_.text_width_mm(text, words) + 2;
        const Point middle = (from + to) / 2;
        page_.ink(1, 1, 1);
        if (upright) {
            page_.rect(middle.x() - 2, middle.y() - wide / 2, 4, wide);
        } else {
            page_.rect(middle.x() - wide / 2, middle.y() - 2, wide, 4);
        }
        black();
        if (upright) {
            page_.text(middle.x() + 0.36 * text, middle.y(), text, words, Align::centre, false,
                       -90);
        } else {
            page_.text(middle.x(), middle.y() + 0.36 * text, text, words, Align::centre);
        }
    }

    void draw_head() {
        const double width = width_ - 2 * margin();
        const std::string scale = scale_words(scale_);
        page_.text(width_ - margin(), 18, 5, scale, Align::right, true);
        fitted(margin(), 18, 8, width - page_.text_width_mm(5, scale, true) - 6, title(), true);
        page_.frame(margin(), 22, width, 11.5, 0.5);
        fitted(margin() + 3, 26.8, 4, width - 6, said(seen_words), true);
        fitted(margin() + 3, 31.6, 4, width - 6, said(sides_words), true);
    }

    double margin() const { return measures_.margin_mm; }
    std::string title() const { return said("Floor layout: " + floor_.bay); }
    std::string scale_words(double scale) const {
        return said(fmt::format("Scale 1 : {:.0f}", scale));
    }

    /// Lines of text from `y` down; returns where they end.
    double paragraph(double y, double size, const std::string& words, bool bold, bool draw) {
        const double room = width_ - 2 * margin();
        for (const auto& line : wrapped(words, size, room, bold)) {
            y += line_factor * size;
            if (draw) {
                fitted(margin(), y, size, room, line, bold);
            }
        }
        return y + 0.3 * size;
    }

    /// Title and sides; returns where they end.
    double column_head(bool draw) {
        double y = paragraph(margin(), 5, title(), true, draw);
        y = paragraph(y, measures_.text_mm, said(seen_words), false, draw);
        return paragraph(y, measures_.text_mm, said(sides_words), true, draw);
    }

    /// The cautions below the steps; returns where they end.
    double column_foot(bool draw) {
        const double top = plan_bottom() + 4 + set_steps(measures_.text_mm, false);
        return paragraph(top, measures_.text_mm, said(caution_words), true, draw);
    }

    void fitted(double x, double y, double size, double room, const std::string& words,
                bool bold = false, Align align = Align::left) {
        const double wide = page_.text_width_mm(size, words, bold);
        page_.text(x, y, wide > room ? size * room / wide : size, words, align, bold);
    }

    void draw_plan() {
        const double left = axis_x_ - half_mm_;
        const double right = axis_x_ + half_mm_;
        const double y = plan_top() - 3.5;
        page_.text(margin(), y, 3.6, said("\u25C0 truck's RIGHT"), Align::left, true);
        page_.text(margin() + measures_.plan_width_mm, y, 3.6, said("truck's LEFT \u25B6"),
                   Align::right, true);
        draw_truck();
        draw_rectangle();
        draw_tapes();
        draw_string();
        draw_board();
        draw_points();
        draw_dimensions(left, right);
    }

    void draw_truck() {
        const double s = string_left();
        const auto block = [&](double from_ahead, double to_ahead, double from_left,
                               double to_left) {
            const Point a = at(from_ahead, s + from_left);
            const Point b = at(to_ahead, s + to_left);
            page_.rect(a.x(), a.y(), b.x() - a.x(), b.y() - a.y());
        };
        grey(0.86);
        for (const double side : {-1.0, 1.0}) {
            const double middle = side * rail_middle_mm;
            block(rear_ahead_, -bumper_deep_mm, middle - rail_width_mm / 2,
                  middle + rail_width_mm / 2);
        }
        for (const double side : {-1.0, 1.0}) {
            const double middle = side * (truck_half_mm - 180);
            for (double axle = -1300; axle - 500 > rear_ahead_; axle -= 4500) {
                block(axle - 480, axle + 480, middle - 150, middle + 150);
            }
        }
        grey(0.72);
        block(-bumper_deep_mm, 0, -truck_half_mm, truck_half_mm);
        black();
        const double m = floor_.setup.mount_left_mm.value;
        block(-bumper_deep_mm, 0, m - mount_half_mm, m + mount_half_mm);
    }

    void draw_string() {
        const double s = string_left();
        const Point end = at(string_end_ahead(), s);
        stroke(at(plumbed() ? rear_mark_ahead() : rear_ahead_, s), end, 0.6);
        page_.disc(end.x(), end.y(), 0.8);
        if (!plumbed()) {
            number(at(-900, s), numbers_.line);
            return;
        }
        for (const double ahead : {rear_mark_ahead(), -sizes_.front_mark_behind_mm}) {
            const Point mark = at(ahead, s);
            page_.ink(1, 1, 1);
            page_.disc(mark.x(), mark.y(), 1.7);
            black();
            page_.arc(mark.x(), mark.y(), 1.7, 0, 360, 0.4);
            stroke(mark - Point(2.6, 0), mark + Point(2.6, 0), 0.3);
            stroke(mark - Point(0, 2.6), mark + Point(0, 2.6), 0.3);
        }
        number(at(rear_mark_ahead() + floor_.line_base_mm / 2, s), numbers_.line);
    }

    void draw_rectangle() {
        const double half = sizes_.rectangle_width_mm / 2;
        const double s = string_left();
        const Point a = at(0, s - half), b = at(0, s + half);
        const Point c = at(distance(), s + half), d = at(distance(), s - half);
        grey(0.35);
        for (const auto& [from, to] : {std::pair{a, b}, {b, c}, {c, d}, {d, a}}) {
            stroke(from, to, 0.3);
        }
        dashes(a, c, 0.25, 1.6, 1.2);
        dashes(b, d, 0.25, 1.6, 1.2);
        black();
        for (const Point& corner : {a, b, c, d}) {
            page_.ink(1, 1, 1);
            page_.disc(corner.x(), corner.y(), 1);
            black();
            page_.arc(corner.x(), corner.y(), 1, 0, 360, 0.35);
        }
    }

    void draw_board() {
        const Point left = at(sizes_.left_mark_in_vehicle_mm);
        const Point right = at(sizes_.right_mark_in_vehicle_mm);
        const Point centre = at(sizes_.centre_in_vehicle_mm);
        stroke(left, right, 1.6);
        const Point along = (right - left).normalized();
        const Point to_truck(-along.y(), along.x());
        const Point toward = to_truck.y() < 0 ? to_truck : Point(-to_truck);
        for (const Point& mark : {left, centre, right}) {
            stroke(mark, mark + 2.4 * toward, 0.4);
        }
    }

    void draw_tapes() {
        for (const auto& point : floor_.points) {
            const Point from = at(point.position_in_vehicle_mm);
            for (const auto& mark : {sizes_.left_mark_in_vehicle_mm, sizes_.centre_in_vehicle_mm,
                                     sizes_.right_mark_in_vehicle_mm}) {
                stroke(from, at(mark), 0.2);
            }
        }
    }

    void draw_points() {
        for (const auto& point : floor_.points) {
            const Point mark = at(point.position_in_vehicle_mm);
            page_.rect(mark.x() - 1, mark.y() - 1, 2, 2);
        }
        if (sizes_.points_eighth_deg) {
            for (const double left : {-*floor_.tape_right_point_mm, *floor_.tape_left_point_mm}) {
                const Point tip = at(0, left);
                page_.polygon({tip, tip + Point(-1.3, -2.6), tip + Point(1.3, -2.6)});
            }
        }
    }

    void draw_dimensions(double left, double right) {
        const double s = string_left();
        const LengthUnit unit = floor_.unit;
        const double x = left - 3;
        if (plumbed()) {
            dimension({x, at(rear_mark_ahead(), s).y()},
                      {x, at(-sizes_.front_mark_behind_mm, s).y()},
                      length_words(floor_.line_base_mm, unit));
            dimension({right + 3, at(rear_mark_ahead(), s).y()},
                      {right + 3, at(string_end_ahead(), s).y()},
                      said("string " + length_words(sizes_.string_mm, unit)));
        }
        dimension({x, at(0, s).y()}, {x, at(distance(), s).y()}, length_words(distance(), unit));
        const double half = sizes_.rectangle_width_mm / 2;
        const double y = std::max(at(string_end_ahead(), s).y() + 4, at(distance(), s).y() + 11);
        dimension({at(0, s - half).x(), y}, {at(0, s + half).x(), y},
                  length_words(sizes_.rectangle_width_mm, unit));
        number_places();
    }

    void number_places() {
        const double half = sizes_.rectangle_width_mm / 2;
        const double s = string_left();
        number(at(0.3 * distance(), s - half), numbers_.rectangle);
        const Point centre = at(sizes_.centre_in_vehicle_mm);
        const Point edge = at(sizes_.left_mark_in_vehicle_mm);
        number({std::max((centre.x() + edge.x()) / 2, centre.x() + 4.5), centre.y() + 4.6},
               numbers_.board);
        if (numbers_.tapes > 0) {
            const Point from = at(floor_.points.front().position_in_vehicle_mm);
            const Point to = at(sizes_.left_mark_in_vehicle_mm);
            number(from + 0.45 * (to - from), numbers_.tapes);
        }
        if (numbers_.level > 0) {
            const Point bumper = at(-bumper_deep_mm, *floor_.tape_left_point_mm);
            number({std::max(bumper.x(), axis_x_ + 7.5), bumper.y() - 3.6}, numbers_.level);
        }
    }

    // ---- steps

    double steps_left() const {
        return height_ ? margin() + measures_.plan_width_mm + 6 : margin();
    }
    double steps_width() const { return width_ - margin() - steps_left(); }
    double steps_top() { return height_ ? head() + 4 : plan_bottom() + 4; }

    std::vector<std::string> wrapped(const std::string& words, double size, double room,
                                     bool bold = false) {
        std::vector<std::string> lines;
        std::string line;
        std::size_t begin = 0;
        while (begin < words.size()) {
            const std::size_t end = std::min(words.find(' ', begin), words.size());
            const std::string word = words.substr(begin, end - begin);
            const std::string longer = line.empty() ? word : line + " " + word;
            if (!line.empty() && page_.text_width_mm(size, longer, bold) > room) {
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

    static constexpr double indent_mm = 8;

    /// Height of all steps at this size of text; draws them where `draw`.
    double set_steps(double size, bool draw) {
        const double x = steps_left() + indent_mm;
        const double room = steps_width() - indent_mm;
        const double top = steps_top();
        double y = top;
        int count = 0;
        for (const auto& step : steps_) {
            ++count;
            y += 1.15 * size;
            if (draw) {
                number({steps_left() + 3, y - 0.4 * size}, count, 3);
                page_.text(x, y, 1.15 * size, step.heading, Align::left, true);
            }
            y += 0.2 * size;
            for (const auto& sentence : step.sentences) {
                for (const auto& line : wrapped(sentence, size, room)) {
                    y += line_factor * size;
                    if (draw) {
                        fitted(x, y, size, room, line);
                    }
                }
                y += 0.15 * size;
            }
            if (step.tapes) {
                y = tape_table(y + 0.4 * size, size, draw);
            }
            y += 1.1 * size;
        }
        return y - top;
    }

    void draw_steps() {
        const double room = plan_bottom() - steps_top();
        double size = measures_.text_mm;
        while (size > measures_.smallest_text_mm && set_steps(size, false) > room) {
            size -= 0.05;
        }
        set_steps(size, true);
    }

    /// Columns as in the drawing: the truck's right edge at the left hand.
    double tape_table(double y, double size, bool draw) {
        const double left = steps_left() + 1;
        const double width = steps_width() - 1;
        const double first = height_ ? 0.22 * width : 0;  // in a column the name stands above
        const double column = (width - first) / 3;
        const double row = (height_ ? 2.75 : 4.2) * size;
        const double head = 1.5 * size;
        if (draw) {
            const char* names[] = {"right edge", "centre", "left edge"};
            for (int i = 0; i < 3; ++i) {
                fitted(left + first + (i + 0.5) * column, y + 1.05 * size, 0.95 * size, column - 2,
                       said(names[i]), true, Align::centre);
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
        const std::string& name = floor_.points[point].name;
        if (height_) {
            fitted(left, y + 0.62 * row, 0.95 * size, first - 2, name, true);
        } else {
            fitted(left, y + 1.3 * size, size, 3 * column, name, true);
            y += 1.45 * size;
        }
        const double length_size = fitting_size(size, column);
        for (std::size_t i = 0; i < 3; ++i) {
            const double length_mm = sizes_.tapes[3 * point + (2 - i)].length_mm;
            const double x = left + first + (static_cast<double>(i) + 0.5) * column;
            page_.text(x, y + 1.2 * size, length_size, length_words(length_mm, floor_.unit),
                       Align::centre, true);
            fitted(x, y + 2.35 * size, 0.85 * size, column - 2,
                   "(" + length_words(length_mm, other_unit()) + ")", false, Align::centre);
        }
    }

    // ---- side view

    void draw_side_view() {
        const double top = *height_ - foot_mm - side_view_mm;
        page_.line(margin(), top, width_ - margin(), top, 0.3);
        page_.text(margin(), top + 6, 4, said("Heights, seen from the truck's left side"),
                   Align::left, true);
        if (!heights_known()) {
            fitted(margin(), top + 14, 4, width_ - 2 * margin(), said(hang_words));
            return;
        }
        const double target = floor_.setup.target_height_mm.value;
        const double mount = floor_.setup.mount_height_mm.value;
        const double high = std::max({target + floor_.target.centre_mm.y(), mount + 200, 1400.0});
        const double ground = top + side_view_mm - 3;
        const double least = std::max(high / (side_view_mm - 12),
                                      (distance() + 1600) / (width_ - 2 * margin() - 45));
        const double scale = 5 * std::ceil(least / 5);
        const double board_x = margin() + 40;
        const double face_x = board_x + distance() / scale;
        draw_side_truck(face_x, ground, scale);
        stroke({margin(), ground}, {width_ - margin(), ground}, 0.5);
        const double centre_y = ground - target / scale;
        stroke({board_x, centre_y - floor_.target.centre_mm.y() / scale},
               {board_x, ground - sizes_.board_bottom_mm / scale}, 1.6);
        stroke({board_x, ground - sizes_.board_bottom_mm / scale}, {board_x, ground}, 0.3);
        stroke({board_x, centre_y}, {board_x + 2.4, centre_y}, 0.4);
        side_height(board_x - 4, ground, centre_y, said("board's centre"), target, Align::right);
        side_height(face_x - 4, ground, ground - mount / scale, said("sensor's face"), mount,
                    Align::right);
        stroke({face_x - 5, ground - mount / scale}, {face_x, ground - mount / scale}, 0.25);
        stroke({board_x - 5, centre_y}, {board_x, centre_y}, 0.25);
        page_.text(width_ - margin(), top + 6, 3.4, scale_words(scale), Align::right);
    }

    void draw_side_truck(double face_x, double ground, double scale) {
        const double mount = floor_.setup.mount_height_mm.value;
        grey(0.72);
        page_.rect(face_x, ground - (mount + 150) / scale, bumper_deep_mm / scale, 400 / scale);
        grey(0.86);
        page_.rect(face_x + bumper_deep_mm / scale, ground - (mount + 130) / scale, 1400 / scale,
                   180 / scale);
        page_.disc(face_x + 1150 / scale, ground - 480 / scale, 480 / scale);
        black();
        page_.rect(face_x, ground - (mount + mount_half_mm) / scale, bumper_deep_mm / scale,
                   2 * mount_half_mm / scale);
    }

    void side_height(double x, double ground, double y, const std::string& what, double height_mm,
                     Align align) {
        stroke({x, ground}, {x, y}, 0.25);
        arrowhead({x, ground}, {0, 1}, 1.8);
        arrowhead({x, y}, {0, -1}, 1.8);
        const double words = align == Align::right ? x - 2.6 : x + 2.6;
        page_.text(words, ground - 10.4, 3.4, what, align);
        page_.text(words, ground - 6.2, 3.4, length_words(height_mm, floor_.unit), align, true);
        page_.text(words, ground - 2.2, 3, "(" + length_words(height_mm, other_unit()) + ")",
                   align);
    }

    void draw_foot() {
        const double top = *height_ - foot_mm + 4;
        const double width = width_ - 2 * margin();
        page_.frame(margin(), top, width, 8, 0.5);
        fitted(margin() + 3, top + 5.5, 3.8, width - 6, said(caution_words), true);
        fitted(margin(), top + 12, 3, width,
               said("Board, line, points and distances are to scale where the page is printed at "
                    "100 %; the truck is a sketch. Rails and heights of your truck decide."));
    }

    Page& page_;
    const Floor& floor_;
    const Wording& wording_;
    Measures measures_;
    FloorSizes sizes_;
    double width_;
    std::optional<double> height_;  ///< of a sheet; none: a column
    std::vector<Step> steps_;
    StepNumbers numbers_;
    double scale_ = 50;
    double plan_length_ = 0;  ///< of a column's plan
    double half_mm_ = 0;      ///< of the plan on the page, without dimension lines
    double rear_ahead_ = 0;   ///< where the sketch of the truck ends
    double axis_x_ = 0;       ///< of the string on the page
    double face_y_ = 0;
};

}  // namespace

void write_floor_layout(const Floor& floor, const std::filesystem::path& file, PageKind kind,
                        const Wording& wording) {
    const double width_mm = floor.unit == LengthUnit::in ? 8.5 * mm_per_inch : 210;
    const double height_mm = floor.unit == LengthUnit::in ? 11 * mm_per_inch : 297;
    Page page(file, width_mm, height_mm, kind, 150);
    page.title(wording("Floor layout: " + floor.bay));
    Layout(page, floor, wording, width_mm, height_mm).draw();
    page.finish();
}

void write_floor_column(const Floor& floor, const std::filesystem::path& file, PageKind kind,
                        const Wording& wording) {
    Page measured(file, column_width_mm, column_width_mm, kind);
    const double height_mm =
        Layout(measured, floor, wording, column_width_mm, std::nullopt).column_height();
    Page page(file, column_width_mm, height_mm, kind);
    Layout(page, floor, wording, column_width_mm, std::nullopt).draw();
    page.finish();
}

}  // namespace squaresight

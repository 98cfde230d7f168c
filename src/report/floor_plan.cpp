#include "report/floor_plan.h"

#include <algorithm>
#include <cmath>

#include "job/words.h"

namespace squaresight {
namespace {

/// The rest of the sketched truck.
constexpr double truck_half_mm = 1240;
constexpr double rail_middle_mm = 390;
constexpr double rail_width_mm = 80;

}  // namespace

FloorPlan::FloorPlan(const Floor& floor, const Wording& wording, const PlanRoom& room)
    : floor_(floor),
      wording_(wording),
      room_(room),
      sizes_(floor_sizes(floor)),
      steps_(floor_steps(floor)) {
    choose_scale();
}

double FloorPlan::string_end_ahead() const {
    return plumbed() ? sizes_.string_mm + rear_mark_ahead() : sizes_.string_mm;
}

double FloorPlan::size_across_y() const {
    const double s = string_left();
    return std::max(at(string_end_ahead(), s).y() + 4, at(distance(), s).y() + 11);
}

int FloorPlan::number_of(FloorItem item) const {
    const auto found = std::find_if(steps_.begin(), steps_.end(),
                                    [&](const FloorStep& step) { return step.item == item; });
    return found == steps_.end() ? 0 : static_cast<int>(found - steps_.begin()) + 1;
}

void FloorPlan::choose_scale() {
    const double rear = plumbed() ? rear_mark_ahead() - 150 : -1500;
    const double front = string_end_ahead();
    double half = std::max(truck_half_mm, sizes_.rectangle_width_mm / 2) + 60;
    for (const auto& mark : {sizes_.left_mark_in_vehicle_mm, sizes_.right_mark_in_vehicle_mm}) {
        half = std::max(half, std::abs(mark.y() - string_left()) + 60);
    }
    for (const auto& point : floor_.points) {
        half = std::max(half, std::abs(point.position_in_vehicle_mm.y() - string_left()) + 60);
    }
    const double room_across = room_.width_mm - 16;  // dimension lines stand at both sides
    const double least = std::max((front - rear) / room_.height_mm, 2 * half / room_across);
    scale_ = std::max(5.0, 5 * std::ceil(least / 5));
    half_mm_ = half / scale_;
    rear_ahead_ = rear;
    axis_x_ = room_.left_mm + room_.width_mm / 2;
    const double spare = room_.height_mm - (front - rear) / scale_;
    face_y_ = room_.top_mm + (room_.in_the_middle ? spare / 2 : 0) - rear / scale_;
}

/// Page coordinates of a point of V: the truck's left is at the reader's right.
FloorPlan::Point FloorPlan::at(double ahead_mm, double left_mm) const {
    return {axis_x_ + (left_mm - string_left()) / scale_, face_y_ + ahead_mm / scale_};
}

FloorPlan::Point FloorPlan::at(const Eigen::Vector3d& in_vehicle_mm) const {
    return at(in_vehicle_mm.x(), in_vehicle_mm.y());
}

void FloorPlan::draw(FloorPen& pen) const {
    const double y = room_.top_mm - 3.5;
    pen.page().text(room_.left_mm, y, 3.6, wording_("\u25C0 truck's RIGHT"), Align::left, true);
    pen.page().text(room_.left_mm + room_.width_mm, y, 3.6, wording_("truck's LEFT \u25B6"),
                    Align::right, true);
    draw_truck(pen);
    draw_rectangle(pen);
    draw_tapes(pen);
    draw_string(pen);
    draw_board(pen);
    draw_points(pen);
    draw_dimensions(pen);
    draw_numbers(pen);
}

void FloorPlan::draw_truck(FloorPen& pen) const {
    const double s = string_left();
    const auto block = [&](double from_ahead, double to_ahead, double from_left, double to_left) {
        const Point a = at(from_ahead, s + from_left);
        const Point b = at(to_ahead, s + to_left);
        pen.page().rect(a.x(), a.y(), b.x() - a.x(), b.y() - a.y());
    };
    pen.grey(0.86);
    for (const double side : {-1.0, 1.0}) {
        const double middle = side * rail_middle_mm;
        block(rear_ahead_, -bumper_deep_mm, middle - rail_width_mm / 2, middle + rail_width_mm / 2);
    }
    for (const double side : {-1.0, 1.0}) {
        const double middle = side * (truck_half_mm - 180);
        for (double axle = -1300; axle - 500 > rear_ahead_; axle -= 4500) {
            block(axle - 480, axle + 480, middle - 150, middle + 150);
        }
    }
    pen.grey(0.72);
    block(-bumper_deep_mm, 0, -truck_half_mm, truck_half_mm);
    pen.black();
    const double m = floor_.setup.mount_left_mm.value;
    block(-bumper_deep_mm, 0, m - mount_half_mm, m + mount_half_mm);
}

void FloorPlan::draw_string(FloorPen& pen) const {
    const double s = string_left();
    const Point end = at(string_end_ahead(), s);
    pen.stroke(at(plumbed() ? rear_mark_ahead() : rear_ahead_, s), end, 0.6);
    pen.page().disc(end.x(), end.y(), 0.8);
    if (!plumbed()) {
        pen.number(at(-900, s), number_of(FloorItem::line));
        return;
    }
    for (const double ahead : {rear_mark_ahead(), -sizes_.front_mark_behind_mm}) {
        const Point mark = at(ahead, s);
        pen.page().ink(1, 1, 1);
        pen.page().disc(mark.x(), mark.y(), 1.7);
        pen.black();
        pen.page().arc(mark.x(), mark.y(), 1.7, 0, 360, 0.4);
        pen.stroke(mark - Point(2.6, 0), mark + Point(2.6, 0), 0.3);
        pen.stroke(mark - Point(0, 2.6), mark + Point(0, 2.6), 0.3);
    }
    pen.number(at(rear_mark_ahead() + floor_.line_base_mm / 2, s), number_of(FloorItem::line));
}

void FloorPlan::draw_rectangle(FloorPen& pen) const {
    const double half = sizes_.rectangle_width_mm / 2;
    const double s = string_left();
    const Point a = at(0, s - half), b = at(0, s + half);
    const Point c = at(distance(), s + half), d = at(distance(), s - half);
    pen.grey(0.35);
    for (const auto& [from, to] : {std::pair{a, b}, {b, c}, {c, d}, {d, a}}) {
        pen.stroke(from, to, 0.3);
    }
    pen.dashes(a, c, 0.25, 1.6, 1.2);
    pen.dashes(b, d, 0.25, 1.6, 1.2);
    pen.black();
    for (const Point& corner : {a, b, c, d}) {
        pen.page().ink(1, 1, 1);
        pen.page().disc(corner.x(), corner.y(), 1);
        pen.black();
        pen.page().arc(corner.x(), corner.y(), 1, 0, 360, 0.35);
    }
}

void FloorPlan::draw_board(FloorPen& pen) const {
    const Point left = at(sizes_.left_mark_in_vehicle_mm);
    const Point right = at(sizes_.right_mark_in_vehicle_mm);
    const Point centre = at(sizes_.centre_in_vehicle_mm);
    pen.stroke(left, right, 1.6);
    const Point along = (right - left).normalized();
    const Point to_truck(-along.y(), along.x());
    const Point toward = to_truck.y() < 0 ? to_truck : Point(-to_truck);
    for (const Point& mark : {left, centre, right}) {
        pen.stroke(mark, mark + 2.4 * toward, 0.4);
    }
}

void FloorPlan::draw_tapes(FloorPen& pen) const {
    for (const auto& point : floor_.points) {
        const Point from = at(point.position_in_vehicle_mm);
        for (const auto& mark : {sizes_.left_mark_in_vehicle_mm, sizes_.centre_in_vehicle_mm,
                                 sizes_.right_mark_in_vehicle_mm}) {
            pen.stroke(from, at(mark), 0.2);
        }
    }
}

void FloorPlan::draw_points(FloorPen& pen) const {
    for (const auto& point : floor_.points) {
        const Point mark = at(point.position_in_vehicle_mm);
        pen.page().rect(mark.x() - 1, mark.y() - 1, 2, 2);
    }
    if (sizes_.points_eighth_deg) {
        for (const double left : {-*floor_.tape_right_point_mm, *floor_.tape_left_point_mm}) {
            const Point tip = at(0, left);
            pen.page().polygon({tip, tip + Point(-1.3, -2.6), tip + Point(1.3, -2.6)});
        }
    }
}

void FloorPlan::draw_dimensions(FloorPen& pen) const {
    const double s = string_left();
    const LengthUnit unit = floor_.unit;
    const double x = axis_x_ - half_mm_ - 3;
    const double right = axis_x_ + half_mm_;
    const auto dimension = [&](const Point& from, const Point& to, const std::string& words) {
        pen.dimension(from, to, words, room_.smallest_words_mm);
    };
    if (plumbed()) {
        dimension({x, at(rear_mark_ahead(), s).y()}, {x, at(-sizes_.front_mark_behind_mm, s).y()},
                  length_words(floor_.line_base_mm, unit));
        dimension({right + 3, at(rear_mark_ahead(), s).y()},
                  {right + 3, at(string_end_ahead(), s).y()},
                  wording_("string " + length_words(sizes_.string_mm, unit)));
    }
    dimension({x, at(0, s).y()}, {x, at(distance(), s).y()}, length_words(distance(), unit));
    const double half = sizes_.rectangle_width_mm / 2;
    const double y = size_across_y();
    dimension({at(0, s - half).x(), y}, {at(0, s + half).x(), y},
              length_words(sizes_.rectangle_width_mm, unit));
}

void FloorPlan::draw_numbers(FloorPen& pen) const {
    const double half = sizes_.rectangle_width_mm / 2;
    const double s = string_left();
    pen.number(at(0.3 * distance(), s - half), number_of(FloorItem::rectangle));
    const Point centre = at(sizes_.centre_in_vehicle_mm);
    const Point edge = at(sizes_.left_mark_in_vehicle_mm);
    pen.number({std::max((centre.x() + edge.x()) / 2, centre.x() + 4.5), centre.y() + 4.6},
               number_of(FloorItem::board));
    if (number_of(FloorItem::tapes) > 0) {
        const Point from = at(floor_.points.front().position_in_vehicle_mm);
        const Point to = at(sizes_.left_mark_in_vehicle_mm);
        pen.number(from + 0.45 * (to - from), number_of(FloorItem::tapes));
    }
    if (number_of(FloorItem::level) > 0) {
        const Point bumper = at(-bumper_deep_mm, *floor_.tape_left_point_mm);
        pen.number({std::max(bumper.x(), axis_x_ + 7.5), bumper.y() - 3.6},
                   number_of(FloorItem::level));
    }
}

}  // namespace squaresight

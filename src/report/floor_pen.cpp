#include "report/floor_pen.h"

#include <algorithm>
#include <cmath>

namespace squaresight {

void FloorPen::stroke(const Point& from, const Point& to, double thickness) {
    page_.line(from.x(), from.y(), to.x(), to.y(), thickness);
}

void FloorPen::dashes(const Point& from, const Point& to, double thickness, double dash,
                      double gap) {
    const double length = (to - from).norm();
    const Point along = (to - from) / std::max(length, 1e-9);
    for (double at = 0; at < length; at += dash + gap) {
        stroke(from + at * along, from + std::min(at + dash, length) * along, thickness);
    }
}

void FloorPen::number(const Point& at, int value, double radius) {
    black();
    page_.disc(at.x(), at.y(), radius);
    page_.ink(1, 1, 1);
    page_.text(at.x(), at.y() + 0.36 * 1.25 * radius, 1.25 * radius, std::to_string(value),
               Align::centre, true);
    black();
}

void FloorPen::arrowhead(const Point& tip, const Point& direction, double length) {
    const Point across(-direction.y(), direction.x());
    const Point base = tip - length * direction;
    page_.polygon({tip, base + 0.35 * length * across, base - 0.35 * length * across});
}

void FloorPen::dimension(const Point& from, const Point& to, const std::string& words,
                         double smallest_words) {
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
    if (text < smallest_words) {
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
        page_.text(middle.x() + 0.36 * text, middle.y(), text, words, Align::centre, false, -90);
    } else {
        page_.text(middle.x(), middle.y() + 0.36 * text, text, words, Align::centre);
    }
}

void FloorPen::fitted(double x, double y, double size, double room, const std::string& words,
                      bool bold, Align align) {
    const double wide = page_.text_width_mm(size, words, bold);
    page_.text(x, y, wide > room ? size * room / wide : size, words, align, bold);
}

}  // namespace squaresight

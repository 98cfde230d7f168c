#pragma once
#include <Eigen/Core>
#include <string>

#include "target/page.h"

namespace squaresight {

/// What the floor's drawings are made of. Millimetres on the page.
class FloorPen {
  public:
    using Point = Eigen::Vector2d;

    explicit FloorPen(Page& page) : page_(page) {}

    Page& page() { return page_; }
    void grey(double share) { page_.ink(share, share, share); }
    void black() { page_.ink(0, 0, 0); }
    void stroke(const Point& from, const Point& to, double thickness);
    void dashes(const Point& from, const Point& to, double thickness, double dash, double gap);
    /// A number in a disc, to be found again among the steps.
    void number(const Point& at, int value, double radius = 2.9);
    void arrowhead(const Point& tip, const Point& direction, double length = 2.2);
    /// A dimension line with its size, upright or across; the words stand on a white ground, or are
    /// left out where they would be smaller than that.
    void dimension(const Point& from, const Point& to, const std::string& words,
                   double smallest_words);
    /// One line of text, made smaller where it is wider than its room.
    void fitted(double x, double y, double size, double room, const std::string& words,
                bool bold = false, Align align = Align::left);

  private:
    Page& page_;
};

}  // namespace squaresight

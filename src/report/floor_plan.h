#pragma once
#include "plan/floor.h"
#include "report/floor_pen.h"
#include "report/floor_steps.h"

namespace squaresight {

/// Where a drawing from above may stand on its page, in mm.
struct PlanRoom {
    double left_mm = 0, top_mm = 0, width_mm = 0, height_mm = 0;
    bool in_the_middle = false;      ///< of its height, else at its top
    double smallest_words_mm = 2.2;  ///< sizes that would be smaller are left out
};

/// The sketched mount and bumper of the drawings: common sizes, no vehicle in particular.
constexpr double mount_half_mm = 90;
constexpr double bumper_deep_mm = 180;

/// The drawing of a bay's floor from above, as someone who faces the truck sees it.
class FloorPlan {
  public:
    FloorPlan(const Floor& floor, const Wording& wording, const PlanRoom& room);

    double scale() const { return scale_; }  ///< the largest of 1 : 5, 10, 15, ... that fits
    double bottom_mm() const { return size_across_y() + 3; }
    void draw(FloorPen& pen) const;

  private:
    using Point = FloorPen::Point;

    void choose_scale();
    bool plumbed() const { return floor_.line_base_mm > 0; }
    double distance() const { return floor_.setup.distance_mm.value; }
    double string_left() const { return -floor_.setup.mount_left_mm.value; }  ///< in V
    double rear_mark_ahead() const { return -sizes_.front_mark_behind_mm - floor_.line_base_mm; }
    double string_end_ahead() const;
    double size_across_y() const;
    int number_of(FloorItem item) const;  ///< 0: there is none
    Point at(double ahead_mm, double left_mm) const;
    Point at(const Eigen::Vector3d& in_vehicle_mm) const;
    void draw_truck(FloorPen& pen) const;
    void draw_string(FloorPen& pen) const;
    void draw_rectangle(FloorPen& pen) const;
    void draw_board(FloorPen& pen) const;
    void draw_tapes(FloorPen& pen) const;
    void draw_points(FloorPen& pen) const;
    void draw_dimensions(FloorPen& pen) const;
    void draw_numbers(FloorPen& pen) const;

    const Floor& floor_;
    const Wording& wording_;
    PlanRoom room_;
    FloorSizes sizes_;
    std::vector<FloorStep> steps_;
    double scale_ = 50;
    double half_mm_ = 0;     ///< of the plan on the page, without dimension lines
    double rear_ahead_ = 0;  ///< where the sketch of the truck ends
    double axis_x_ = 0;      ///< of the string on the page
    double face_y_ = 0;
};

}  // namespace squaresight

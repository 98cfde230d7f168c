#include "report/floor_steps.h"

#include <fmt/format.h>

#include <cmath>

#include "job/words.h"
#include "units/quantity.h"

namespace squaresight {

const char* const floor_seen_words =
    "Seen from above, the way you see it when you stand ahead of the truck and face it.";
const char* const floor_sides_words =
    "Left and right are the truck's own, as seated in the cab: the truck's LEFT is on your RIGHT.";
const char* const floor_caution_words =
    "Wheels chocked, key out. No laser toward eyes. Strings trip: mark them. The vehicle maker's "
    "service information comes first.";

namespace {

/// "on the string", "120 mm (4 3/4 in) to the truck's left of the string".
std::string place_words(double left_mm, LengthUnit unit) {
    if (std::abs(left_mm) < 0.5) {
        return "on the string";
    }
    return fmt::format("{} to the truck's {} of the string",
                       length_both_ways(std::abs(left_mm), unit), left_mm > 0 ? "LEFT" : "RIGHT");
}

class Steps {
  public:
    explicit Steps(const Floor& floor) : floor_(floor), sizes_(floor_sizes(floor)) {
        add_line_step();
        add_rectangle_step();
        add_board_step();
        add_tape_step();
        add_level_step();
    }

    std::vector<FloorStep> list() const { return steps_; }

  private:
    std::string size(double length_mm) const { return length_both_ways(length_mm, floor_.unit); }

    void add_line_step() {
        FloorStep step{FloorItem::line, "Line of the frame rails", {}};
        if (plumbed_) {
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
                                             plumbed_ ? "over both marks " : "along the rails ",
                                             size(sizes_.string_mm)));
        step.sentences.push_back(
            fmt::format("The sensor's face stands {}.",
                        place_words(floor_.setup.mount_left_mm.value, floor_.unit)));
        steps_.push_back(step);
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
        steps_.push_back(
            {FloorItem::rectangle,
             "Square to the string",
             {fmt::format("Rectangle on the floor from under the face to under the board: sides {} "
                          "and {}, half of it on each side of the string.",
                          size(sizes_.rectangle_length_mm), size(sizes_.rectangle_width_mm)),
              fmt::format("Both diagonals {}: equal diagonals make it square. 1/8 in (3 mm) of "
                          "difference is {:.2f} deg.",
                          size(sizes_.diagonal_mm), sizes_.diagonals_eighth_deg)}});
    }

    void add_board_step() {
        const Target& target = floor_.target;
        FloorStep step{
            FloorItem::board,
            "Board",
            {fmt::format("{}, {} wide, {} high, TOP up. Its centre {} ahead of the face, {}.",
                         target.name, size(target.sheet_width_mm), size(target.sheet_height_mm),
                         size(floor_.setup.distance_mm.value),
                         place_words(floor_.setup.target_left_mm.value, floor_.unit))}};
        if (floor_.setup.target_height_mm.measured) {
            step.sentences.push_back(
                fmt::format("Centre {} above the floor, lower edge {}. The sensor's face {}.",
                            size(floor_.setup.target_height_mm.value), size(sizes_.board_bottom_mm),
                            size(floor_.setup.mount_height_mm.value)));
        } else {
            step.sentences.push_back(
                "Hang the board's centre level with the sensor's face, and measure both heights "
                "above the floor below.");
        }
        steps_.push_back(step);
    }

    void add_tape_step() {
        if (floor_.points.empty()) {
            return;
        }
        FloorStep step{FloorItem::tapes, "Crossed tapes", {}};
        for (const auto& point : floor_.points) {
            step.sentences.push_back(point_words(point));
        }
        step.sentences.push_back("To the printed marks, never to the paper:");
        steps_.push_back(step);
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
        steps_.push_back({FloorItem::level,
                          "Tape-and-level points",
                          {where + ".", fmt::format("1/8 in (3 mm) between left and right is "
                                                    "{:.2f} deg there.",
                                                    *sizes_.points_eighth_deg)}});
    }

    const Floor& floor_;
    FloorSizes sizes_;
    bool plumbed_ = floor_.line_base_mm > 0;
    std::vector<FloorStep> steps_;
};

}  // namespace

std::vector<FloorStep> floor_steps(const Floor& floor) { return Steps(floor).list(); }

}  // namespace squaresight

#pragma once
#include <optional>
#include <string>
#include <vector>

#include "adjust/adjustment.h"
#include "mount/mount.h"

/// The report's pictures as inline SVG. Every text that comes from a file is escaped. Meaning is
/// carried by shape and words; colour only repeats it, so that a grey print says the same.
namespace squaresight {

/// How a statement is marked: in tolerance and done a tick in a circle; something else comes first
/// an hourglass in a square; a bar in an octagon; turn: an arrow in a diamond; turn nothing: a lock
/// in a shield; too close to call: a question mark in a triangle.
enum class Mark { ok, not_yet, stop, turn, leave, unsure };

std::string mark_svg(Mark mark);

/// One method's answer on a scale drawing. Angles signed left or up.
struct ScaleMark {
    std::string label;
    Estimate angle_deg;
    bool filled = true;  ///< a filled disc (photos) or a hollow diamond (tape and level)
};

/// Where the face points against where it should.
struct ScaleDrawing {
    Axis axis = Axis::yaw;
    double aim_deg = 0;
    double tolerance_deg = 0;
    std::optional<double> service_limit_deg;  ///< the trade's plain rule, either side of the aim
    std::vector<ScaleMark> marks;             ///< one to three
};

/// Yaw lies across, as seen by someone who faces the truck (the truck's left is at the right hand);
/// pitch stands upright, nose up at the top.
std::string scale_svg(const ScaleDrawing& drawing);

/// The `rows` largest inputs of one angle as bars of their share of the variance, and the rest.
std::string budget_svg(const std::vector<BudgetLine>& budget, Axis axis, int rows);

/// A screw's head with its turns as a spiral from 12 o'clock; marks at every eighth.
std::string screw_svg(const Correction& correction);

/// The mount's face with pivot and screws, as seen by someone who faces the truck.
std::string mount_svg(const Mount& mount);

/// The ways a board can stand wrong.
enum class BoardPose { turned, leaning, tilted };

std::string board_svg(BoardPose pose);

/// Text for SVG and HTML: & < > " ' replaced, control characters dropped.
std::string escaped(const std::string& text);

}  // namespace squaresight

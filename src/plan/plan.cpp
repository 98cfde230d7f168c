#include "plan/plan.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "plan/improvements.h"
#include "target/sheets.h"
#include "units/error.h"

namespace squaresight {
namespace {

constexpr double foot_mm = 12 * mm_per_inch;
/// What is compared; the bay's own value stands among them.
constexpr double metres_compared[] = {2000, 3000, 4000, 5000, 6000, 8000};
constexpr double feet_compared[] = {6, 10, 14, 18, 22, 26};
constexpr double base_metres_compared[] = {1000, 2000, 3000, 4000, 6000};
constexpr double base_feet_compared[] = {3, 6, 10, 13, 20};
constexpr int pairs_compared[] = {1, 2, 3, 4, 6};

constexpr double decidable_sigmas = 1.96;  ///< as `cannot_decide`
/// The line adds less than a tenth to u where its share is below this part of the rest:
/// sqrt(1.1^2 - 1).
constexpr double ample_line_share = 0.458;
constexpr double least_gain = 0.02;  ///< of an improvement that is named

template <class Metres, class Feet>
std::vector<double> compared(LengthUnit unit, const Metres& metres, const Feet& feet,
                             double own_mm) {
    std::vector<double> values(std::begin(metres), std::end(metres));
    if (unit == LengthUnit::in) {
        values.assign(std::begin(feet), std::end(feet));
        for (double& value : values) {
            value *= foot_mm;
        }
    }
    const bool there = std::any_of(values.begin(), values.end(),
                                   [&](double value) { return std::abs(value - own_mm) < 1; });
    if (!there && own_mm > 0) {
        values.push_back(own_mm);
        std::sort(values.begin(), values.end());
    }
    return values;
}

double base_mm(const PlannedBay& bay) {
    return bay.setup.line_marks ? bay.setup.line_marks->base_mm : 0;
}

/// The bay as it is planned, as a row of a comparison.
Alternative row_of(const PlannedBay& bay) {
    Alternative row;
    row.board = sheet_words(bay.target);
    row.distance_mm = bay.setup.readings.distance_mm.value;
    row.line_base_mm = base_mm(bay);
    row.photos = bay.upright_photos + bay.inverted_photos + bay.quarter_photos;
    return row;
}

Alternative tried(const PlannedBay& bay, bool planned) {
    Alternative row = row_of(bay);
    row.planned = planned;
    const BayPrediction found = predict_in(bay);
    row.aim = found.aim;
    row.problem = found.problem;
    return row;
}

bool same_sheet(const Target& a, const Target& b) {
    return std::abs(a.sheet_width_mm - b.sheet_width_mm) < 1 &&
           std::abs(a.sheet_height_mm - b.sheet_height_mm) < 1;
}

std::vector<Target> compared_boards(const PlannedBay& bay) {
    std::vector<Target> boards;
    bool own_there = false;
    for (const auto& sheet : common_sheets(bay.unit)) {
        const Target board = board_of(sheet, bay.target);
        const bool own = same_sheet(board, bay.target);
        own_there = own_there || own;
        boards.push_back(own ? bay.target : board);
    }
    if (!own_there) {
        boards.push_back(bay.target);
        std::sort(boards.begin(), boards.end(), [](const Target& a, const Target& b) {
            return a.sheet_width_mm < b.sheet_width_mm;
        });
    }
    return boards;
}

std::vector<Alternative> compare_boards(const PlannedBay& planned) {
    const double own_mm = planned.setup.readings.distance_mm.value;
    std::vector<Alternative> rows;
    for (const auto& board : compared_boards(planned)) {
        for (const double distance_mm :
             compared(planned.unit, metres_compared, feet_compared, own_mm)) {
            PlannedBay bay = planned;
            bay.target = board;
            bay.setup.readings.distance_mm.value = distance_mm;
            rows.push_back(tried(
                bay, same_sheet(board, planned.target) && std::abs(distance_mm - own_mm) < 1));
        }
    }
    return rows;
}

std::vector<Alternative> compare_lines(const PlannedBay& planned) {
    PlumbMarks marks = planned.setup.line_marks.value_or(*usual_bay().setup.line_marks);
    std::vector<Alternative> rows;
    for (const double base :
         compared(planned.unit, base_metres_compared, base_feet_compared, base_mm(planned))) {
        PlannedBay bay = planned;
        marks.base_mm = base;
        plumb_line(marks, bay.setup);
        rows.push_back(tried(bay, std::abs(base - base_mm(planned)) < 1));
    }
    return rows;
}

std::vector<Alternative> compare_photos(const PlannedBay& planned) {
    std::vector<Alternative> rows;
    for (const int pairs : pairs_compared) {
        PlannedBay bay = planned;
        bay.upright_photos = bay.inverted_photos = pairs;
        rows.push_back(
            tried(bay, planned.upright_photos == pairs && planned.inverted_photos == pairs));
    }
    return rows;
}

/// Bumper points of a layout: those that tapes start from, else those of tape-and-level, else usual
/// ones.
std::vector<BumperPoint> points_of(const PlannedBay& bay) {
    std::vector<BumperPoint> points;
    for (const auto& tape : bay.setup.tapes) {
        const bool known = std::any_of(points.begin(), points.end(), [&](const BumperPoint& one) {
            return one.name == tape.from.name;
        });
        if (!known) {
            points.push_back({tape.from.name, tape.from.position_in_vehicle_mm});
        }
    }
    if (points.empty() && bay.tape_and_level) {
        const double up_mm = bay.setup.readings.mount_height_mm.value;
        points = {{"left point", {0, bay.tape_and_level->left_point_mm, up_mm}},
                  {"right point", {0, -bay.tape_and_level->right_point_mm, up_mm}}};
    }
    if (points.empty()) {
        for (const auto& tape : crossed_tapes()) {
            points.push_back({tape.from.name, tape.from.position_in_vehicle_mm});
        }
    }
    std::stable_sort(points.begin(), points.end(), [](const BumperPoint& a, const BumperPoint& b) {
        return a.position_in_vehicle_mm.y() > b.position_in_vehicle_mm.y();
    });
    return points;
}

/// Base whose line adds `line_u_deg`, the rails' own bow included.
double base_for(double line_u_deg, const PlumbMarks& marks) {
    const double u_mm = std::hypot(std::sqrt(2.0) * standard_from_limit(marks.plumb_limit_mm),
                                   standard_from_limit(4 * marks.bow_limit_mm));
    return u_mm / line_u_deg * deg_per_rad;
}

/// Bases that leave room for what the rest of the budget takes.
void set_bases(const PlannedBay& planned, Floor& floor) {
    PlannedBay bay = planned;
    bay.setup.readings.line_left_deg.standard_uncertainty = 0;
    bay.setup.readings.rail_bow_deg = 0;
    const auto rest = predict_in(bay).aim;
    const double largest = planned.mount.tolerance_yaw_deg / decidable_sigmas;
    const auto& marks = planned.setup.line_marks;
    if (!rest || rest->yaw_deg >= largest || !marks || marks->plumb_limit_mm <= 0) {
        return;
    }
    floor.smallest_base_mm =
        base_for(std::sqrt(largest * largest - rest->yaw_deg * rest->yaw_deg), *marks);
    floor.ample_base_mm = base_for(ample_line_share * rest->yaw_deg, *marks);
}

/// Of the change from a first stage to one with so many photos upside down.
PredictedAim predicted_change(const PlannedBay& bay, int inverted_photos) {
    MeasuredJob job = job_in(bay);
    job.sightings.push_back(later_stage(bay, inverted_photos));
    const Prediction both = predict(job, bay.corner_noise_px);
    if (!both.solved) {
        return {NAN, NAN};
    }
    const AdjustedStage& second = both.stages.back();
    return {second.yaw_change_left_deg->standard_uncertainty,
            second.pitch_change_up_deg->standard_uncertainty};
}

/// That an aim cannot be decided, without what the adjustment would improve first: in a plan the
/// improvements say what is enough.
void tell_what_cannot_be_decided(BayPlan& plan) {
    Findings& findings = plan.stage.findings;
    std::erase_if(findings, [](const Finding& one) { return one.code == "cannot-decide"; });
    const auto tell = [&](const char* aim, double u_deg, double tolerance_deg) {
        if (cannot_decide(u_deg, tolerance_deg)) {
            findings.push_back(
                {Level::warning, "cannot-decide",
                 fmt::format("{} cannot be shown to be within its limit in this bay: give or take "
                             "{:.2f} deg against a limit of {:.2f} deg.",
                             aim, 2 * u_deg, tolerance_deg)});
        }
    };
    tell("Side-to-side aim", plan.aim.yaw_deg, plan.bay.mount.tolerance_yaw_deg);
    tell("Up-down aim", plan.aim.pitch_deg, plan.bay.mount.tolerance_pitch_deg);
}

void predict_bay(BayPlan& plan) {
    const BayPrediction found = predict_in(plan.bay);
    if (!found.aim) {
        throw InputError(
            "plan",
            fmt::format("a {} board {} ahead cannot be measured ({})", sheet_words(plan.bay.target),
                        shown_length(plan.bay.setup.readings.distance_mm.value, plan.bay.unit),
                        found.problem),
            "change the distance, the board or the camera file");
    }
    plan.aim = *found.aim;
    plan.stage = found.prediction.stages.front();
    tell_what_cannot_be_decided(plan);
    plan.corners = found.prediction.fewest_corners;
    const int all = plan.bay.target.pattern.corner_count();
    if (plan.corners < all) {
        plan.stage.findings.push_back(
            {Level::note, "board-cut",
             fmt::format("Only {} of the board's {} corners are in the picture: take a smaller "
                         "board or stand it farther away.",
                         plan.corners, all)});
    }
    plan.pixels_per_square = found.prediction.pixels_per_square;
    plan.change = predicted_change(plan.bay, plan.bay.inverted_photos);
    plan.change_upright = predicted_change(plan.bay, 0);
}

}  // namespace

Floor floor_of(const PlannedBay& bay) {
    Floor floor;
    floor.bay = bay.name;
    floor.unit = bay.unit;
    floor.target = bay.target;
    floor.setup = bay.setup.readings;
    floor.line_base_mm = base_mm(bay);
    floor.plumb_limit_mm = bay.setup.line_marks ? bay.setup.line_marks->plumb_limit_mm : 0;
    if (bay.tape_and_level) {
        floor.tape_left_point_mm = bay.tape_and_level->left_point_mm;
        floor.tape_right_point_mm = bay.tape_and_level->right_point_mm;
    }
    floor.points = points_of(bay);
    set_bases(bay, floor);
    return floor;
}

bool BayPlan::reaches() const { return reaches_limits(aim, bay.mount); }

DecisionPower BayPlan::yaw_power() const { return {aim.yaw_deg, bay.mount.tolerance_yaw_deg}; }

DecisionPower BayPlan::pitch_power() const {
    return {aim.pitch_deg, bay.mount.tolerance_pitch_deg};
}

const Improvement* BayPlan::cheapest() const {
    if (improvements.empty()) {
        return nullptr;
    }
    const Improvement& first = improvements.front();
    const bool makes_it_serve = first.reaches && !reaches();
    return makes_it_serve || first.gain >= least_gain ? &first : nullptr;
}

BayPlan plan_bay(const PlannedBay& bay) {
    BayPlan plan;
    plan.bay = bay;
    predict_bay(plan);
    plan.boards = compare_boards(bay);
    plan.lines = compare_lines(bay);
    plan.photos = compare_photos(bay);
    plan.improvements = improvements_of(plan);
    plan.floor = floor_of(bay);
    return plan;
}

}  // namespace squaresight

#include "simulate/practice_readings.h"

#include <algorithm>
#include <cmath>

#include "adjust/model.h"
#include "simulate/practice_geometry.h"

namespace squaresight {
namespace {

/// Height of a mount's face where the bay does not measure it.
constexpr double usual_mount_height_mm = 850;

/// Of an inclinometer's display, far below its limit: its error is its own, and shows the same
/// every time it is set on the face.
constexpr double last_digit_deg = 0.01;

/// A scale finer than this is read exactly.
constexpr double most_marks = 1e8;

double limit_of(const Reading& reading) { return std::sqrt(3.0) * reading.standard_uncertainty; }

/// How far from its usual value a bay is set up, either way; what is stated rather than read stays
/// at its usual value. Assumptions, no source.
double usual_spread(PoseInput input) {
    switch (input) {
        case distance_mm:
            return 20;
        case target_left_mm:
        case mount_left_mm:
        case target_height_mm:
        case mount_height_mm:
            return 10;
        case floor_rise_deg:
            return 0.3;
        case target_lean_back_deg:
        case target_roll_clockwise_deg:
            return 0.5;
        default:
            return 0;
    }
}

Dimension dimension_of(const SetupReadingName& entry) {
    return std::string_view(entry.unit) == "mm" ? Dimension::length : Dimension::angle;
}

/// Rails that are bowed between the marks: their ends, and the truck with them, point away from the
/// line by four times the bow over the base.
void draw_line(const SheetSetup& written, PracticeTruth& truth, Draw& draw) {
    double& line_deg = truth.pose[line_left_deg];
    if (const auto& marks = written.line_marks) {
        const double near_mm = draw.rectangular(marks->plumb_limit_mm);
        const double far_mm = draw.rectangular(marks->plumb_limit_mm);
        truth.rail_bow_mm = draw.rectangular(marks->bow_limit_mm);
        line_deg = (far_mm - near_mm + 4 * truth.rail_bow_mm) / marks->base_mm * deg_per_rad;
        return;
    }
    const Reading& line = written.readings.line_left_deg;
    line_deg = line.value - draw.rectangular(limit_of(line));
}

/// Heights that were not measured: only their difference is bounded.
void draw_unmeasured_heights(const SheetSetup& written, PoseValues& pose, Draw& draw) {
    pose[mount_height_mm] = usual_mount_height_mm;
    pose[target_height_mm] =
        usual_mount_height_mm + draw.rectangular(limit_of(written.readings.target_height_mm));
}

double on_scale(double value, double step) { return std::round(value / step) * step; }

/// Lays the laser on the face once more. A beam is laid for each side by itself, and leaves the
/// face alike to either; a line reversed has its other end to the left.
BeamAngles lay_laser(const BayTape& bay, bool reversed, const PracticeTruth& truth,
                     PracticeStage& stage, Draw& draw) {
    const double left_deg = draw.rectangular(bay.laser_seating_limit_deg);
    const bool is_beam = bay.laser == Laser::beam;
    const double right_deg = is_beam ? draw.rectangular(bay.laser_seating_limit_deg) : -left_deg;
    stage.laser_seating_deg.emplace_back(left_deg, right_deg);
    const double own_deg = reversed ? -truth.laser_angle_deg : truth.laser_angle_deg;
    return {left_deg + own_deg, right_deg + (is_beam ? own_deg : -own_deg)};
}

}  // namespace

double reading_step(double limit, Dimension dimension, LengthUnit unit) {
    constexpr double inch = mm_per_inch;
    const bool in_inches = dimension == Dimension::length && unit == LengthUnit::in;
    const std::vector<double> usual = in_inches ? std::vector{inch / 16, inch / 32, inch / 64}
                                      : dimension == Dimension::length ? std::vector{1.0, 0.5}
                                                                       : std::vector{0.1, 0.05};
    for (const double step : usual) {
        if (step <= limit * (1 + 1e-9)) {
            return step;
        }
    }
    return std::pow(10, std::floor(std::log10(limit)));
}

double read_off(double truth, double limit, double step, Draw& draw) {
    if (limit <= 0 || std::abs(truth) > most_marks * step) {
        return truth;
    }
    const int first = static_cast<int>(std::ceil((truth - limit) / step - 1e-9));
    const int last = static_cast<int>(std::floor((truth + limit) / step + 1e-9));
    return step * draw.whole(first, last);
}

SheetSetup draw_setup(const PracticeBay& practice, PracticeTruth& truth, Draw& draw) {
    SheetSetup written = practice.bay.setup;
    PoseValues& pose = truth.pose;
    draw_line(written, truth, draw);
    for (const auto& entry : setup_reading_names) {
        if (entry.input == line_left_deg) {
            continue;
        }
        Reading& reading = written.readings.*entry.reading;
        const double limit = limit_of(reading);
        const double spread = draw.rectangular(usual_spread(entry.input));
        if (limit > 0 && reading.measured && spread != 0) {
            const double step = reading_step(limit, dimension_of(entry), practice.bay.unit);
            reading.value = on_scale(reading.value + spread, step);
        }
        pose[entry.input] = reading.value - draw.rectangular(limit);
    }
    pose[distance_mm] -= centre_behind_mm(truth.sheet);
    if (!written.readings.target_height_mm.measured) {
        draw_unmeasured_heights(written, pose, draw);
    }
    return written;
}

void draw_points(const SheetSetup& written, PracticeTruth& truth, Draw& draw) {
    for (const auto& tape : written.tapes) {
        Eigen::Vector3d at = tape.from.position_in_vehicle_mm;
        for (double& axis : at) {
            axis -= draw.rectangular(std::sqrt(3.0) * tape.from.standard_uncertainty_mm);
        }
        truth.points_mm.emplace(tape.from.name, at);
    }
}

void read_tapes(const PracticeBay& practice, const PracticeTruth& truth, SheetSetup& written,
                Draw& draw) {
    const Eigen::Isometry3d board = vehicle_from_board(truth.pose);
    for (auto& tape : written.tapes) {
        const Eigen::Vector3d to =
            board *
            point_in_target_mm(truth.sheet, practice.target, tape_end_mm(tape.to, practice.target));
        const double limit = limit_of(tape.length_mm);
        tape.length_mm.value =
            read_off((to - truth.points_mm.at(tape.from.name)).norm(), limit,
                     reading_step(limit, Dimension::length, practice.bay.unit), draw);
    }
}

void square_bumper(const BayTape& bay, PracticeTruth& truth) {
    if (bay.squared_by == SquaredBy::line) {
        truth.bumper_square_mm -= (bay.left_point_mm + bay.right_point_mm) *
                                  std::tan(truth.pose[line_left_deg] * rad_per_deg);
    }
}

TapeAndLevel read_tape_and_level(const BayTape& bay, LengthUnit unit, const PracticeTruth& truth,
                                 PracticeStage& stage, Draw& draw) {
    TapeAndLevel tape = usual_readings(bay);
    const double level_deg = face_level_deg(stage.pose) + truth.inclinometer_off_deg;
    tape.face_level_deg.assign(static_cast<std::size_t>(bay.face_readings),
                               on_scale(level_deg, last_digit_deg));
    const double step = reading_step(bay.pass_limit_mm, Dimension::length, unit);
    for (int laying = 1; laying <= bay.layings; ++laying) {
        const bool reversed = bay.reversed && laying % 2 == 0;
        const BeamAngles angles = lay_laser(bay, reversed, truth, stage, draw);
        const TapesToBeam tapes =
            tapes_to_beam(stage.pose, bay, angles, stage.beam_level_deg, truth.bumper_square_mm);
        for (int pass = 0; pass < bay.passes; ++pass) {
            const double left_mm = read_off(tapes.left_mm, bay.pass_limit_mm, step, draw);
            const double right_mm = read_off(tapes.right_mm, bay.pass_limit_mm, step, draw);
            tape.passes.push_back({left_mm, right_mm, laying, reversed});
        }
    }
    return tape;
}

}  // namespace squaresight

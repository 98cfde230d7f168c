#include "simulate/practice_readings.h"

#include <algorithm>
#include <cmath>

#include "adjust/model.h"

namespace squaresight {
namespace {

/// Height of a mount's face where the bay does not measure it.
constexpr double usual_mount_height_mm = 850;

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

double draw_line_deg(const SheetSetup& written, Draw& draw) {
    if (const auto& marks = written.line_marks) {
        const double near_mm = draw.rectangular(marks->plumb_limit_mm);
        const double far_mm = draw.rectangular(marks->plumb_limit_mm);
        return (far_mm - near_mm) / marks->base_mm * deg_per_rad;
    }
    const Reading& line = written.readings.line_left_deg;
    return line.value - draw.rectangular(limit_of(line));
}

/// Where the middle of the sheet lies ahead of its mean plane, of which the pose tells.
double centre_ahead_mm(const PracticeSheet& sheet) {
    return -(sheet.bow_across_mm + sheet.bow_down_mm) / 3;
}

/// Heights that were not measured: only their difference is bounded.
void draw_unmeasured_heights(const SheetSetup& written, PoseValues& pose, Draw& draw) {
    pose[mount_height_mm] = usual_mount_height_mm;
    pose[target_height_mm] =
        usual_mount_height_mm + draw.rectangular(limit_of(written.readings.target_height_mm));
}

double on_scale(double value, double step) { return std::round(value / step) * step; }

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
    pose[line_left_deg] = draw_line_deg(written, draw);
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
    pose[distance_mm] -= centre_ahead_mm(truth.sheet);
    if (!written.readings.target_height_mm.measured) {
        draw_unmeasured_heights(written, pose, draw);
    }
    return written;
}

void read_tapes(const PracticeBay& practice, PracticeTruth& truth, SheetSetup& written,
                Draw& draw) {
    const Setup nominal = measured_setup(written, practice.target);
    const Pose<double> target = vehicle_from_target(truth.pose.data());
    for (std::size_t i = 0; i < written.tapes.size(); ++i) {
        const TapePoint& from = written.tapes[i].from;
        const double point_limit_mm = std::sqrt(3.0) * from.standard_uncertainty_mm;
        Eigen::Vector3d at = from.position_in_vehicle_mm;
        for (double& axis : at) {
            axis -= draw.rectangular(point_limit_mm);
        }
        at = truth.points_mm.emplace(from.name, at).first->second;
        const Eigen::Vector3d to =
            target.rotation *
                point_in_target_mm(truth.sheet, practice.target, nominal.tapes[i].to_in_target_mm) +
            target.translation_mm;
        Reading& length = written.tapes[i].length_mm;
        const double limit = limit_of(length);
        length.value = read_off((to - at).norm(), limit,
                                reading_step(limit, Dimension::length, practice.bay.unit), draw);
    }
}

TapeAndLevel read_tape_and_level(const BayTape& bay, LengthUnit unit, const PracticeTruth& truth,
                                 const PracticeStage& stage, Draw& draw) {
    TapeAndLevel tape;
    tape.face_level_limit_deg = bay.face_limit_deg;
    tape.left_point_mm = bay.left_point_mm;
    tape.right_point_mm = bay.right_point_mm;
    tape.pass_limit_mm = bay.pass_limit_mm;
    tape.bumper_square_limit_mm = bay.bumper_square_limit_mm;
    tape.beam_level_limit_deg = bay.beam_level_limit_deg;
    tape.laser_angle_limit_deg = bay.laser_angle_limit_deg;

    // The inclinometer's error is its own: it shows the same every time it is set on the face.
    const double level_deg =
        read_off(stage.pose[pitch_up_deg] - stage.pose[rail_zero_deg], bay.face_limit_deg,
                 reading_step(bay.face_limit_deg, Dimension::angle, unit), draw);
    tape.face_level_deg.assign(static_cast<std::size_t>(bay.face_readings), level_deg);

    // The beam runs in the face, tilted about its normal: so much ahead for each mm to the left.
    const double ahead_a_left = -std::tan(stage.pose[yaw_left_deg] * rad_per_deg) -
                                std::tan(stage.pose[pitch_up_deg] * rad_per_deg) *
                                    std::tan(stage.beam_level_deg * rad_per_deg);
    const double away = std::tan(truth.laser_angle_deg * rad_per_deg);
    const double left_mm =
        bay.beam_at_mm + bay.left_point_mm * (ahead_a_left + away) - truth.bumper_square_mm / 2;
    const double right_mm =
        bay.beam_at_mm + bay.right_point_mm * (-ahead_a_left + away) + truth.bumper_square_mm / 2;
    const double step = reading_step(bay.pass_limit_mm, Dimension::length, unit);
    for (int pass = 0; pass < bay.passes; ++pass) {
        const double left_read = read_off(left_mm, bay.pass_limit_mm, step, draw);
        tape.passes.push_back({left_read, read_off(right_mm, bay.pass_limit_mm, step, draw)});
    }
    return tape;
}

}  // namespace squaresight

#include "tape/tape.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "tape/service_rule.h"
#include "units/error.h"

namespace squaresight {
namespace {

constexpr double service_tapes_mm = mm_per_inch / 8;
constexpr double implausible_difference_mm = 4 * mm_per_inch;
/// Face level unknown: a mount that still hangs straight stands within this of its aim.
constexpr double unmeasured_pitch_limit_deg = 3;
constexpr double rounding = 1e-9;

double square(double x) { return x * x; }

[[noreturn]] void refuse(const char* where, const std::string& wrong, const char* next) {
    throw InputError(where, wrong, next);
}

void check_limit(const char* name, double value, double limit) {
    if (!std::isfinite(value) || !(limit >= 0 && std::isfinite(limit))) {
        refuse(name, "is not a number with limits", "write it as 0 mm +/- 3 mm");
    }
}

void check(const TapeAndLevel& r) {
    if (r.passes.empty() && r.face_level_deg.empty()) {
        refuse("tape_and_level", "has neither tape passes nor a face level",
               "measure left and right, or put the inclinometer on the face");
    }
    check_limit("face_level", 0, r.face_level_limit_deg);
    check_limit("rail_zero", r.rail_zero_deg, r.rail_zero_limit_deg);
    check_limit("bumper_square", r.bumper_square_mm, r.bumper_square_limit_mm);
    check_limit("beam_level", r.beam_level_deg, r.beam_level_limit_deg);
    check_limit("laser_angle", r.laser_angle_deg, r.laser_angle_limit_deg);
    check_limit("passes", 0, r.pass_limit_mm);
    for (const double level : r.face_level_deg) {
        if (!(std::abs(level) < 45)) {
            refuse("face_level", fmt::format("{:g} deg is no level of an upright face", level),
                   "give it from upright, nose up positive; a display of 89.4 is face_display");
        }
    }
    if (r.passes.empty()) {
        return;
    }
    if (!(r.left_point_mm > 0 && r.right_point_mm > 0 && std::isfinite(r.left_point_mm) &&
          std::isfinite(r.right_point_mm))) {
        refuse("left_point, right_point", "are not both away from the centreline",
               "measure from a point on each side, 12 in or more from the sensor's centreline");
    }
    for (const auto& pass : r.passes) {
        if (!(pass.left_mm >= 0 && pass.right_mm >= 0 && std::isfinite(pass.left_mm) &&
              std::isfinite(pass.right_mm))) {
            refuse("passes", "a tape is no length", "give both tapes of each pass");
        }
    }
}

/// Mean of readings and how far apart the furthest two are.
struct Repeated {
    double mean = 0;
    double range = 0;
    double deviation = 0;  ///< standard deviation; 0 with one
};

Repeated repeated(const std::vector<double>& values) {
    Repeated r;
    for (const double value : values) {
        r.mean += value / static_cast<double>(values.size());
    }
    const auto [low, high] = std::minmax_element(values.begin(), values.end());
    r.range = *high - *low;
    double squares = 0;
    for (const double value : values) {
        squares += square(value - r.mean);
    }
    if (values.size() > 1) {
        r.deviation = std::sqrt(squares / static_cast<double>(values.size() - 1));
    }
    return r;
}

/// Right minus left of every pass as if the beam were ahead of the points, mm.
std::vector<double> differences_mm(const TapeAndLevel& readings) {
    std::vector<double> differences;
    for (const auto& pass : readings.passes) {
        const double difference = pass.right_mm - pass.left_mm;
        differences.push_back(readings.beam_ahead ? difference : -difference);
    }
    return differences;
}

void find_tape_faults(const TapeAndLevel& readings, const Repeated& difference,
                      Findings& findings) {
    const auto length = [&](double mm) { return bumper_length(mm, readings.unit); };
    if (has_close_point(readings)) {
        const double closest = std::min(readings.left_point_mm, readings.right_point_mm);
        findings.push_back(
            {Level::warning, "tape-points-close",
             fmt::format("a reference point is only {} from the centreline, where {} counts for "
                         "much: measure from points {} or more out",
                         length(closest), shown_difference(service_tapes_mm, readings.unit),
                         length(close_point_mm))});
    }
    if (std::abs(readings.left_point_mm - readings.right_point_mm) > 1) {
        findings.push_back(
            {Level::note, "tape-points-unequal",
             fmt::format("the points are {} to the left and {} to the right: the laser's own angle "
                         "then no longer cancels; equal distances are better",
                         length(readings.left_point_mm), length(readings.right_point_mm))});
    }
    for (std::size_t i = 0; i < readings.passes.size(); ++i) {
        const auto& pass = readings.passes[i];
        if (std::abs(pass.right_mm - pass.left_mm) > implausible_difference_mm) {
            findings.push_back(
                {Level::warning, "tape-implausible",
                 fmt::format(
                     "pass {}: left {} and right {} differ by more than {}; read both again", i + 1,
                     length(pass.left_mm), length(pass.right_mm),
                     length(implausible_difference_mm))});
        }
    }
    // Two tapes, each within its limit, move a difference by twice the limit either way.
    if (difference.range > 4 * readings.pass_limit_mm + rounding) {
        findings.push_back({Level::warning, "tape-scatter",
                            fmt::format("the passes disagree by {}, more than reading the tape "
                                        "explains: did the laser or the truck move? measure again "
                                        "(the wider spread is counted)",
                                        shown_difference(difference.range, readings.unit))});
    }
}

void add(std::vector<BudgetLine>& budget, const char* source, double yaw_deg, double pitch_deg) {
    budget.push_back({source, std::abs(yaw_deg), std::abs(pitch_deg)});
}

double whole(const std::vector<BudgetLine>& budget, double BudgetLine::*share) {
    double squares = 0;
    for (const auto& line : budget) {
        squares += square(line.*share);
    }
    return std::sqrt(squares);
}

/// Up-down aim: the inclinometer's limit belongs to the instrument, so that repeating does not
/// shrink it; readings that lie further apart than their limits allow widen it.
void solve_pitch(const TapeAndLevel& readings, TapeOutcome& outcome) {
    const Repeated level = repeated(readings.face_level_deg);
    if (level.range > 2 * readings.face_level_limit_deg + rounding) {
        outcome.findings.push_back(
            {Level::warning, "level-scatter",
             fmt::format("the inclinometer readings lie {:.2f} deg apart, more than its limits "
                         "allow: clean the face and measure again (the wider spread is counted)",
                         level.range)});
    }
    const double limit_deg = std::max(readings.face_level_limit_deg, level.range / 2);
    outcome.has_pitch = true;
    outcome.pitch_up_deg.value = level.mean + readings.rail_zero_deg;
    add(outcome.budget, "inclinometer", 0, standard_from_limit(limit_deg));
    outcome.pitch_from_rail_zero_deg = standard_from_limit(readings.rail_zero_limit_deg);
    add(outcome.budget, "rail zero", 0, outcome.pitch_from_rail_zero_deg);
}

/// Side-to-side aim: tan(yaw) = (right - left - bumper - laser * (a_right - a_left)) /
/// (a_left + a_right) - tan(pitch) * tan(tilt), tapes taken as if the beam were ahead.
void solve_yaw(const TapeAndLevel& r, const Repeated& difference, const Estimate& pitch,
               TapeOutcome& outcome) {
    const double base_mm = r.left_point_mm + r.right_point_mm;
    const double unequal_mm = r.right_point_mm - r.left_point_mm;
    const double laser = std::tan(r.laser_angle_deg * rad_per_deg);
    const double slope = std::tan(pitch.value * rad_per_deg);
    const double tilt = std::tan(r.beam_level_deg * rad_per_deg);
    const double tangent =
        (difference.mean - r.bumper_square_mm - laser * unequal_mm) / base_mm - slope * tilt;
    outcome.has_yaw = true;
    outcome.yaw_left_deg.value = std::atan(tangent) * deg_per_rad;

    const double deg_per_tangent = deg_per_rad / (1 + square(tangent));
    const double u_pass_mm = std::sqrt(2.0 / static_cast<double>(r.passes.size())) *
                             standard_from_limit(std::max(r.pass_limit_mm, difference.range / 4));
    const double u_laser = standard_from_limit(r.laser_angle_limit_deg * rad_per_deg);
    const double u_tilt = standard_from_limit(r.beam_level_limit_deg * rad_per_deg);
    const double u_slope = pitch.standard_uncertainty * rad_per_deg;
    // The product of two inputs near zero: its second-order term counts (GUM 5.1.2, note).
    const double u_beam =
        std::sqrt(square(slope * u_tilt) + square(tilt * u_slope) + square(u_slope * u_tilt));
    add(outcome.budget, "tape passes", deg_per_tangent * u_pass_mm / base_mm, 0);
    add(outcome.budget, "bumper square",
        deg_per_tangent * standard_from_limit(r.bumper_square_limit_mm) / base_mm, 0);
    add(outcome.budget, "laser angle", deg_per_tangent * u_laser * unequal_mm / base_mm, 0);
    add(outcome.budget, "beam level", deg_per_tangent * u_beam, 0);
}

}  // namespace

bool has_close_point(const TapeAndLevel& readings) {
    return std::min(readings.left_point_mm, readings.right_point_mm) < close_point_mm - rounding;
}

std::string bumper_length(double length_mm, LengthUnit unit) {
    return unit == LengthUnit::in ? inches_text(length_mm) : shown_length(length_mm, unit);
}

double service_difference_mm(const TapeAndLevel& readings, double aim_yaw_left_deg) {
    const double base_mm = readings.left_point_mm + readings.right_point_mm;
    const double wanted_mm = std::tan(aim_yaw_left_deg * rad_per_deg) * base_mm;
    return std::abs(repeated(differences_mm(readings)).mean - wanted_mm);
}

TapeOutcome solve_tape(const TapeAndLevel& readings, double aim_yaw_left_deg,
                       double aim_pitch_up_deg) {
    check(readings);
    TapeOutcome outcome;
    Estimate pitch{aim_pitch_up_deg, standard_from_limit(unmeasured_pitch_limit_deg)};
    if (!readings.face_level_deg.empty()) {
        solve_pitch(readings, outcome);
        outcome.pitch_up_deg.standard_uncertainty = whole(outcome.budget, &BudgetLine::pitch_deg);
        pitch = outcome.pitch_up_deg;
        outcome.service_limit.pitch_met =
            std::abs(pitch.value - aim_pitch_up_deg) <= service_pitch_deg + rounding;
    }
    if (!readings.passes.empty()) {
        const Repeated difference = repeated(differences_mm(readings));
        const double base_mm = readings.left_point_mm + readings.right_point_mm;
        find_tape_faults(readings, difference, outcome.findings);
        solve_yaw(readings, difference, pitch, outcome);
        outcome.yaw_left_deg.standard_uncertainty = whole(outcome.budget, &BudgetLine::yaw_deg);
        outcome.pass_repeatability_mm = difference.deviation;
        outcome.service_limit.yaw_met =
            service_difference_mm(readings, aim_yaw_left_deg) <= service_tapes_mm + rounding;
        outcome.service_limit.yaw_equivalent_deg =
            std::atan(service_tapes_mm / base_mm) * deg_per_rad;
    }
    std::stable_sort(
        outcome.budget.begin(), outcome.budget.end(),
        [](const BudgetLine& a, const BudgetLine& b) { return a.yaw_deg > b.yaw_deg; });
    return outcome;
}

}  // namespace squaresight

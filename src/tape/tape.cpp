#include "tape/tape.h"

#include <fmt/format.h>

#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <map>

#include "tape/service_rule.h"
#include "units/error.h"
#include "units/normal.h"

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
    check_limit("laser_seating", 0, r.laser_seating_limit_deg);
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

/// Mean of readings and how far apart they lie.
struct Repeated {
    double mean = 0;
    double range = 0;
    double deviation = 0;  ///< standard deviation; 0 with one
    double freedom = 0;    ///< degrees of freedom of that
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
        r.freedom = static_cast<double>(values.size() - 1);
        r.deviation = std::sqrt(squares / r.freedom);
    }
    return r;
}

/// Right minus left of a pass as if the beam were ahead of the points, mm.
double difference_mm(const TapeAndLevel& readings, const TapePass& pass) {
    const double difference = pass.right_mm - pass.left_mm;
    return readings.beam_ahead ? difference : -difference;
}

/// Passes taped with the laser lying one way round.
struct Orientation {
    std::map<int, std::vector<double>> layings_mm;  ///< differences, by laying

    std::vector<double> passes_mm() const {
        std::vector<double> all;
        for (const auto& [laying, differences] : layings_mm) {
            all.insert(all.end(), differences.begin(), differences.end());
        }
        return all;
    }
    std::vector<double> laying_means_mm() const {
        std::vector<double> means;
        for (const auto& [laying, differences] : layings_mm) {
            means.push_back(repeated(differences).mean);
        }
        return means;
    }
};

/// What all passes say together; both orientations of a reversed line weigh alike, so that its
/// angle leaves the mean.
struct Passes {
    double mean_mm = 0;           ///< right minus left
    double angle_share = 0;       ///< of a line's angle that is left in the mean: 1, 0, or -1
    double reading_weight = 0;    ///< of one difference's variance in that of the mean
    double laying_weight = 0;     ///< of one laying's variance
    double scatter_mm = 0;        ///< of the mean, from the repeats: s / sqrt(n)
    double scatter_freedom = 0;   ///< degrees of freedom of that; 0: nothing repeats
    double repeatability_mm = 0;  ///< s of a single repeat
    double widest_mm = 0;         ///< largest range of passes to one laying
};

std::vector<Orientation> orientations_of(const TapeAndLevel& readings) {
    std::map<bool, Orientation> by_reversed;
    for (const auto& pass : readings.passes) {
        by_reversed[pass.reversed].layings_mm[pass.laying].push_back(difference_mm(readings, pass));
    }
    std::vector<Orientation> all;
    for (const auto& [reversed, orientation] : by_reversed) {
        all.push_back(orientation);
    }
    return all;
}

Passes together(const TapeAndLevel& readings) {
    const auto orientations = orientations_of(readings);
    const double groups = static_cast<double>(orientations.size());
    const bool relaid =
        std::any_of(orientations.begin(), orientations.end(),
                    [](const Orientation& one) { return one.layings_mm.size() > 1; });
    Passes passes;
    double squares = 0;
    double repeats_weight = 0;
    for (const auto& one : orientations) {
        const auto every = one.passes_mm();
        const auto repeats = relaid ? one.laying_means_mm() : every;
        const Repeated scatter = repeated(repeats);
        passes.mean_mm += scatter.mean / groups;
        passes.reading_weight += 1 / static_cast<double>(every.size()) / square(groups);
        passes.laying_weight += 1 / static_cast<double>(one.layings_mm.size()) / square(groups);
        repeats_weight += 1 / static_cast<double>(repeats.size()) / square(groups);
        squares += square(scatter.deviation) * scatter.freedom;
        passes.scatter_freedom += scatter.freedom;
        for (const auto& [laying, differences] : one.layings_mm) {
            passes.widest_mm = std::max(passes.widest_mm, repeated(differences).range);
        }
    }
    for (const auto& pass : readings.passes) {
        passes.angle_share +=
            (pass.reversed ? -1.0 : 1.0) / static_cast<double>(readings.passes.size());
    }
    if (orientations.size() > 1) {
        passes.angle_share = 0;
    }
    if (passes.scatter_freedom > 0) {
        passes.repeatability_mm = std::sqrt(squares / passes.scatter_freedom);
        passes.scatter_mm = passes.repeatability_mm * std::sqrt(repeats_weight);
    }
    return passes;
}

void find_tape_faults(const TapeAndLevel& readings, const Passes& passes, Findings& findings) {
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
             fmt::format(
                 "the points are {} to the left and {} to the right: {}; equal distances are "
                 "better",
                 length(readings.left_point_mm), length(readings.right_point_mm),
                 readings.laser == Laser::beam ? "the laser's own angle then no longer cancels"
                                               : "the two tapes then do not weigh alike")});
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
    if (passes.widest_mm > 4 * readings.pass_limit_mm + rounding) {
        findings.push_back({Level::warning, "tape-scatter",
                            fmt::format("the passes disagree by {}, more than reading the tape "
                                        "explains: did the laser or the truck move? measure again "
                                        "(the wider spread is counted)",
                                        shown_difference(passes.widest_mm, readings.unit))});
    }
}

void add(std::vector<BudgetLine>& budget, const char* source, double yaw_deg, double pitch_deg) {
    budget.push_back({source, std::abs(yaw_deg), std::abs(pitch_deg)});
}

/// Widens u for the few degrees of freedom of one of its shares, so that 2 u holds 95 %: the
/// effective degrees of freedom by Welch-Satterthwaite (GUM G.4.1), then Student's t. What it adds
/// is a line of the budget.
double few_repeats_deg(double u_deg, double scatter_deg, double scatter_freedom) {
    if (!(scatter_deg > 0 && scatter_freedom > 0 && u_deg > 0)) {
        return 0;
    }
    const double freedom = scatter_freedom * std::pow(u_deg / scatter_deg, 4);
    const boost::math::students_t_distribution<> student(freedom);
    const double factor = boost::math::quantile(student, probability_below(2)) / 2;
    return u_deg * std::sqrt(std::max(0.0, factor * factor - 1));
}

/// Up-down aim: the inclinometer's limit belongs to the instrument, so that repeating does not
/// shrink it; what the readings scatter by counts beside it.
void solve_pitch(const TapeAndLevel& readings, TapeOutcome& outcome) {
    const Repeated level = repeated(readings.face_level_deg);
    if (level.range > 2 * readings.face_level_limit_deg + rounding) {
        outcome.findings.push_back(
            {Level::warning, "level-scatter",
             fmt::format("the inclinometer readings lie {:.2f} deg apart, more than its limits "
                         "allow: clean the face and measure again (the wider spread is counted)",
                         level.range)});
    }
    outcome.has_pitch = true;
    outcome.pitch_up_deg.value = level.mean + readings.rail_zero_deg;
    const double instrument_deg = standard_from_limit(readings.face_level_limit_deg);
    const double scatter_deg =
        level.deviation / std::sqrt(static_cast<double>(readings.face_level_deg.size()));
    outcome.pitch_from_rail_zero_deg = standard_from_limit(readings.rail_zero_limit_deg);
    const double u_deg = std::hypot(instrument_deg, scatter_deg, outcome.pitch_from_rail_zero_deg);
    const double few_deg = few_repeats_deg(u_deg, scatter_deg, level.freedom);
    add(outcome.budget, "inclinometer", 0, instrument_deg);
    add(outcome.budget, "level readings", 0, scatter_deg);
    add(outcome.budget, "rail zero", 0, outcome.pitch_from_rail_zero_deg);
    add(outcome.budget, "few repeats", 0, few_deg);
    outcome.pitch_up_deg.standard_uncertainty = std::hypot(u_deg, few_deg);
    outcome.pitch_shares = {std::hypot(scatter_deg, few_deg), instrument_deg};
}

/// How much of the laser's angle reaches the tangent of side-to-side aim.
double laser_share(const TapeAndLevel& r, const Passes& passes) {
    return r.laser == Laser::line
               ? passes.angle_share
               : -(r.right_point_mm - r.left_point_mm) / (r.left_point_mm + r.right_point_mm);
}

/// How much of a laying's seating does: a line turns as a whole, a beam is laid for each side.
double seating_share(const TapeAndLevel& r) {
    return r.laser == Laser::line ? 1
                                  : std::hypot(r.left_point_mm, r.right_point_mm) /
                                        (r.left_point_mm + r.right_point_mm);
}

/// Side-to-side aim (see tape.h), tapes taken as if the beam were ahead.
void solve_yaw(const TapeAndLevel& r, const Passes& passes, const Estimate& pitch,
               TapeOutcome& outcome) {
    const double base_mm = r.left_point_mm + r.right_point_mm;
    const double slope = std::tan(pitch.value * rad_per_deg);
    const double tilt = std::tan(r.beam_level_deg * rad_per_deg);
    const double share = laser_share(r, passes);
    const double tangent = (passes.mean_mm - r.bumper_square_mm) / base_mm +
                           share * std::tan(r.laser_angle_deg * rad_per_deg) - slope * tilt;
    outcome.has_yaw = true;
    outcome.yaw_left_deg.value = std::atan(tangent) * deg_per_rad;

    const double deg_per_tangent = deg_per_rad / (1 + square(tangent));
    const double u_tilt = standard_from_limit(r.beam_level_limit_deg * rad_per_deg);
    const double u_slope = pitch.standard_uncertainty * rad_per_deg;
    // The product of two inputs near zero: its second-order term counts (GUM 5.1.2, note).
    const double beam_deg =
        deg_per_tangent * std::hypot(slope * u_tilt, tilt * u_slope, u_slope * u_tilt);
    const double reading_deg = deg_per_tangent / base_mm * std::sqrt(2 * passes.reading_weight) *
                               standard_from_limit(r.pass_limit_mm);
    const double scatter_deg = deg_per_tangent / base_mm * passes.scatter_mm;
    const double passes_deg = std::hypot(reading_deg, scatter_deg);
    const double seating_deg = seating_share(r) * std::sqrt(passes.laying_weight) *
                               standard_from_limit(r.laser_seating_limit_deg);
    const double bumper_deg =
        deg_per_tangent / base_mm * standard_from_limit(r.bumper_square_limit_mm);
    const double angle_deg = std::abs(share) * standard_from_limit(r.laser_angle_limit_deg);
    const double own_deg = std::hypot(passes_deg, seating_deg, beam_deg);
    const double common_deg = std::hypot(bumper_deg, angle_deg);
    outcome.yaw_from_line_deg = r.squared_by == SquaredBy::line ? r.line_deg : 0;
    const double u_deg = std::hypot(own_deg, common_deg, outcome.yaw_from_line_deg);
    const double few_deg = few_repeats_deg(u_deg, scatter_deg, passes.scatter_freedom);
    add(outcome.budget, "tape passes", passes_deg, 0);
    add(outcome.budget, "laser seating", seating_deg, 0);
    add(outcome.budget, "bumper square", bumper_deg, 0);
    add(outcome.budget, "laser angle", angle_deg, 0);
    add(outcome.budget, "beam level", beam_deg, 0);
    if (outcome.yaw_from_line_deg > 0) {
        add(outcome.budget, "rails' line", outcome.yaw_from_line_deg, 0);
    }
    add(outcome.budget, "few repeats", few_deg, 0);
    outcome.yaw_left_deg.standard_uncertainty = std::hypot(u_deg, few_deg);
    outcome.yaw_shares = {std::hypot(own_deg, few_deg), common_deg};
}

/// One line for each cause: those that both angles have are joined, those that add nothing and are
/// no input of their own are left out.
void tidy(std::vector<BudgetLine>& budget) {
    std::vector<BudgetLine> tidied;
    for (const auto& line : budget) {
        const auto same = std::find_if(tidied.begin(), tidied.end(), [&](const BudgetLine& one) {
            return one.source == line.source;
        });
        if (same != tidied.end()) {
            same->yaw_deg = std::hypot(same->yaw_deg, line.yaw_deg);
            same->pitch_deg = std::hypot(same->pitch_deg, line.pitch_deg);
        } else {
            tidied.push_back(line);
        }
    }
    std::erase_if(tidied, [](const BudgetLine& line) {
        return line.source == "few repeats" && line.yaw_deg == 0 && line.pitch_deg == 0;
    });
    std::stable_sort(tidied.begin(), tidied.end(), [](const BudgetLine& a, const BudgetLine& b) {
        return a.yaw_deg > b.yaw_deg;
    });
    budget = std::move(tidied);
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
    return std::abs(together(readings).mean_mm - wanted_mm);
}

TapeOutcome solve_tape(const TapeAndLevel& readings, double aim_yaw_left_deg,
                       double aim_pitch_up_deg) {
    check(readings);
    TapeOutcome outcome;
    Estimate pitch{aim_pitch_up_deg, standard_from_limit(unmeasured_pitch_limit_deg)};
    if (!readings.face_level_deg.empty()) {
        solve_pitch(readings, outcome);
        pitch = outcome.pitch_up_deg;
        outcome.service_limit.pitch_met =
            std::abs(pitch.value - aim_pitch_up_deg) <= service_pitch_deg + rounding;
    }
    if (!readings.passes.empty()) {
        const Passes passes = together(readings);
        const double base_mm = readings.left_point_mm + readings.right_point_mm;
        find_tape_faults(readings, passes, outcome.findings);
        solve_yaw(readings, passes, pitch, outcome);
        outcome.pass_repeatability_mm = passes.repeatability_mm;
        outcome.service_limit.yaw_met =
            service_difference_mm(readings, aim_yaw_left_deg) <= service_tapes_mm + rounding;
        outcome.service_limit.yaw_equivalent_deg =
            std::atan(service_tapes_mm / base_mm) * deg_per_rad;
    }
    tidy(outcome.budget);
    return outcome;
}

}  // namespace squaresight

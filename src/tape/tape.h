#pragma once
#include <string>
#include <vector>

#include "adjust/adjustment.h"
#include "adjust/decision.h"
#include "units/finding.h"
#include "units/quantity.h"

namespace squaresight {

/// The trade's plain limit of up-down aim (common practice, no source).
inline constexpr double service_pitch_deg = 1.5;
/// Reference points closer to the centreline than this are too close for the trade's rule (common
/// practice, no source).
inline constexpr double close_point_mm = 12 * mm_per_inch;

/// One pass of the tape, from the reference points forward to the laser's line. mm.
struct TapePass {
    double left_mm = 0;
    double right_mm = 0;
};

/// Tape-and-level readings of one stage. Limits are limits of error (rectangular).
struct TapeAndLevel {
    std::vector<double> face_level_deg;  ///< nose up positive; several readings of one face
    double face_level_limit_deg = 0.1;
    double rail_zero_deg = 0;  ///< true pitch = face level + rail zero
    double rail_zero_limit_deg = 0.1;
    double left_point_mm = 0;  ///< from the sensor's centreline, positive
    double right_point_mm = 0;
    std::vector<TapePass> passes;
    double pass_limit_mm = mm_per_inch / 32;
    bool beam_ahead = true;       ///< of the points; otherwise behind, and tapes run back to it
    double bumper_square_mm = 0;  ///< left point ahead positive
    double bumper_square_limit_mm = 3;
    double beam_level_deg = 0;  ///< of the whole line, its left end up positive
    double beam_level_limit_deg = 1;
    double laser_angle_deg = 0;  ///< of the beam off the face, away from it positive
    double laser_angle_limit_deg = 0.2;
    LengthUnit unit = LengthUnit::in;  ///< in which findings tell lengths
};

/// Whether a reference point lies closer to the centreline than `close_point_mm`.
bool has_close_point(const TapeAndLevel& readings);

/// The trade's plain rule, printed beside the probability.
struct ServiceLimit {
    /// Mean of left and right tapes equal within 1/8 in, whatever the points' distance and whatever
    /// the bumper; with an aim that is not straight ahead, within 1/8 in of what the aim makes.
    bool yaw_met = false;
    bool pitch_met = false;         ///< face within 1.5 deg of the aim
    double yaw_equivalent_deg = 0;  ///< what 1/8 in means at the distance that was used
};

struct TapeOutcome {
    bool has_yaw = false;    ///< passes were given
    bool has_pitch = false;  ///< a face level was given
    Estimate yaw_left_deg;
    Estimate pitch_up_deg;
    double pass_repeatability_mm =
        0;  ///< standard deviation of right - left over passes; 0 with one
    /// "tape passes", "bumper square", "laser angle", "beam level" (yaw), "inclinometer",
    /// "rail zero" (pitch); squares sum to u squared, largest share of yaw first.
    std::vector<BudgetLine> budget;
    double pitch_from_rail_zero_deg = 0;  ///< signed share that vision has too
    ServiceLimit service_limit;
    Findings findings;
};

/// Face level of an inclinometer that shows 90 on an upright face: a display of 89.4 is a nose 0.6
/// up (the top leans back, toward the truck).
inline double face_level_from_display_deg(double display_deg) { return 90 - display_deg; }

/// Yaw and pitch by tape and level:
///   tan(yaw) = (right - left - bumper - laser * (a_right - a_left)) / (a_left + a_right)
///              - tan(pitch) * tan(beam level)
/// with tapes swapped where the beam is behind the points. Pitch is the mean face level plus the
/// rail zero; without a face level it is taken as the aim within 3 deg for the beam's level.
/// Passes average their reading error; bumper, laser, inclinometer and rail zero are shared and do
/// not shrink. Readings that scatter beyond their limits widen them. Findings: `tape-points-close`,
/// `tape-points-unequal`, `tape-implausible`, `tape-scatter`, `level-scatter`.
/// InputError for readings that give no angle (neither passes nor level, points at zero, a tape or
/// an angle that is none).
TapeOutcome solve_tape(const TapeAndLevel& readings, double aim_yaw_left_deg,
                       double aim_pitch_up_deg);

}  // namespace squaresight

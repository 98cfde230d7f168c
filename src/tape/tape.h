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
    int laying = 1;         ///< passes of equal number were taped to one laying of the laser
    bool reversed = false;  ///< the laser lay end for end in that laying
};

/// What the laser throws. It decides how its own angle off the face counts.
enum class Laser {
    line,  ///< one straight line to both sides: all of it, unless the laser was also laid reversed
    beam,  ///< a beam, the tool turned half a turn about the face's normal for the other side:
           ///< only as far as the points are unequal
};

/// How the bumper was found square; photos share the cause or not.
enum class SquaredBy {
    nothing,    ///< it was not looked at
    diagonals,  ///< from the frame, by diagonals
    line,       ///< with the string that the board was set out by
};

/// A frame may be this much out of square by its diagonals before a shop straightens it, and a
/// bumper hangs on it (common practice, no source).
inline constexpr double unmeasured_bumper_limit_mm = 6;
/// Of a bumper whose squareness was measured; a usual figure where the sheet gives no limit.
inline constexpr double measured_bumper_limit_mm = 3;

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
    double bumper_square_limit_mm = unmeasured_bumper_limit_mm;
    SquaredBy squared_by = SquaredBy::nothing;
    double line_deg = 0;        ///< standard uncertainty of the rails' line, if squared with it
    double beam_level_deg = 0;  ///< of the whole line, its left end up positive
    double beam_level_limit_deg = 1;
    Laser laser = Laser::line;
    double laser_angle_deg = 0;  ///< off the face, away from it positive; of a line: its left end
    double laser_angle_limit_deg = 0.2;
    double laser_seating_limit_deg = 0.1;  ///< of each laying on the face; assumption, no source
    LengthUnit unit = LengthUnit::in;      ///< in which findings tell lengths
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

/// An angle of tape-and-level by what its causes have in common. Standard uncertainties, deg.
struct TapeShares {
    double own_deg = 0;     ///< of this stage alone
    double common_deg = 0;  ///< of every stage alike: bumper, the laser's angle, inclinometer
};

struct TapeOutcome {
    bool has_yaw = false;    ///< passes were given
    bool has_pitch = false;  ///< a face level was given
    Estimate yaw_left_deg;
    Estimate pitch_up_deg;
    double pass_repeatability_mm =
        0;  ///< standard deviation of right - left over passes; 0 with one
    /// "tape passes", "laser seating", "bumper square", "laser angle", "beam level",
    /// "rails' line" (yaw), "inclinometer", "level readings", "rail zero" (pitch), "few repeats"
    /// (both); squares sum to u squared, largest share of yaw first.
    std::vector<BudgetLine> budget;
    TapeShares yaw_shares, pitch_shares;  ///< the rail zero and the line in neither
    double pitch_from_rail_zero_deg = 0;  ///< signed share that vision has too
    double yaw_from_line_deg = 0;         ///< the same, if the bumper was squared with the line
    ServiceLimit service_limit;
    Findings findings;
};

/// Face level of an inclinometer that shows 90 on an upright face: a display of 89.4 is a nose 0.6
/// up (the top leans back, toward the truck).
inline double face_level_from_display_deg(double display_deg) { return 90 - display_deg; }

/// Yaw and pitch by tape and level:
///   tan(yaw) = (right - left - bumper) / (a_left + a_right) - tan(pitch) * tan(beam level)
///              + laser's part
/// with tapes swapped if the beam is behind the points. The laser's part is
/// -tan(angle) * (a_right - a_left) / (a_left + a_right) for a beam, and tan(angle) for a line,
/// less the share of passes that were taped with the line reversed. Pitch is the mean face level
/// plus the rail zero; without a face level it is taken as the aim within 3 deg for the beam's
/// level. Passes average their reading error, layings their seating; bumper, the laser's angle,
/// inclinometer and rail zero do not shrink. What repeats scatter by (layings, where there are
/// several, else passes; face levels) counts beside their limits as s / sqrt(n) (GUM 4.2.3), and
/// the few degrees of freedom widen u so that 2 u holds 95 % (GUM G.4.1, Welch-Satterthwaite).
/// Findings: `tape-points-close`, `tape-points-unequal`, `tape-implausible`, `tape-scatter`,
/// `level-scatter`.
/// InputError for readings that give no angle (neither passes nor level, points at zero, a tape or
/// an angle that is none).
TapeOutcome solve_tape(const TapeAndLevel& readings, double aim_yaw_left_deg,
                       double aim_pitch_up_deg);

}  // namespace squaresight

#pragma once
#include <string>
#include <vector>

#include "adjust/adjustment.h"
#include "adjust/decision.h"
#include "units/finding.h"
#include "units/quantity.h"

namespace squaresight {

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
    bool beam_ahead = true;       ///< of the points; otherwise behind
    double bumper_square_mm = 0;  ///< left point ahead positive
    double bumper_square_limit_mm = 3;
    double beam_level_deg = 0;
    double beam_level_limit_deg = 1;
    double laser_angle_deg = 0;
    double laser_angle_limit_deg = 0.2;
};

/// The trade's plain rule, printed beside the probability.
struct ServiceLimit {
    bool yaw_met = false;    ///< left and right equal within 1/8 in, whatever the points' distance
    bool pitch_met = false;  ///< face within 1.5 deg of the aim
    double yaw_equivalent_deg = 0;  ///< what 1/8 in means at the distance that was used
};

struct TapeOutcome {
    bool has_yaw = false;    ///< passes were given
    bool has_pitch = false;  ///< a face level was given
    Estimate yaw_left_deg;
    Estimate pitch_up_deg;
    double pass_repeatability_mm =
        0;                           ///< standard deviation of right - left over passes; 0 with one
    std::vector<BudgetLine> budget;  ///< squares sum to u squared
    double pitch_from_rail_zero_deg = 0;  ///< signed share that vision has too
    ServiceLimit service_limit;
    Findings findings;
};

/// Yaw and pitch by tape and level. Throws InputError for readings that give no angle (points at
/// zero, a single side).
TapeOutcome solve_tape(const TapeAndLevel& readings, double aim_yaw_left_deg,
                       double aim_pitch_up_deg);

}  // namespace squaresight

#pragma once
#include <string>
#include <vector>

#include "adjust/decision.h"
#include "adjust/measurement.h"
#include "units/finding.h"

namespace squaresight {

/// One input's share of the uncertainty; squares sum to the square of the whole.
struct BudgetLine {
    std::string source;
    double yaw_deg = 0;
    double pitch_deg = 0;
};

/// A reading after the adjustment (Baarda).
struct CheckedReading {
    std::string name;  ///< key of the job sheet, "tape left hook to left edge", ...
    double value = 0;
    std::string unit;     ///< mm or deg
    double residual = 0;  ///< adjusted minus read
    double w = 0;         ///< standardised residual
    double redundancy = 0;
    double findable = 0;     ///< smallest error that the test would find: 4.13 u / sqrt(r)
    bool set_aside = false;  ///< found to be a blunder and left out of the solution
};

struct AdjustedPhoto {
    std::string file;
    int corners = 0;
    double rms_px = 0;
    double roll_deg = 0;         ///< of the cradle about the face normal: 0 upright, 180 inverted
    double corner_noise_px = 0;  ///< standard deviation that was found for this photo's corners
};

/// Yaw and pitch of one stage. Angles of the face in V.
struct AdjustedStage {
    bool solved =
        false;  ///< false: no photo of the stage could be used, or nothing could be solved
    std::string stage;
    Estimate yaw_left_deg;
    Estimate pitch_up_deg;
    double correlation = 0;  ///< of yaw and pitch
    /// Change since the stage before; absent in the first.
    std::optional<Estimate> yaw_change_left_deg;
    std::optional<Estimate> pitch_change_up_deg;
    double change_correlation = 0;  ///< of both changes
    std::vector<AdjustedPhoto> photos;
    std::vector<CheckedReading> readings;
    std::vector<BudgetLine> budget;  ///< largest share of yaw first
    /// What tape-and-level may share by name with vision, signed: share of the rail zero in pitch,
    /// d pitch / d rail zero * u(rail zero), and of the rails' line, its bow included, in yaw.
    double pitch_from_rail_zero_deg = 0;
    double yaw_from_line_deg = 0;
    /// Names of readings any set of which may be wrong, the one that was left out first; empty
    /// where all fit. Until they are taken again nothing is in tolerance.
    std::vector<std::vector<std::string>> suspects;
    /// Names of lengths that nothing checks: an inch misread would move yaw beyond its tolerance.
    std::vector<std::string> inch_unchecked;
    Findings findings;
};

struct Adjustment {
    bool solved = false;
    std::vector<AdjustedStage> stages;
    Eigen::Vector2d cradle_offset_deg{0, 0};  ///< left, up
    double chi_square = 0;                    ///< of the readings
    double degrees_of_freedom = 0;            ///< sum of their redundancies
    Findings findings;                        ///< of the whole job
};

/// Solves all sightings of a job together (docs/how-it-measures.md). Never throws for bad numbers:
/// what cannot be solved comes back with `solved == false` and a finding that says why.
Adjustment adjust(const MeasuredJob& job);

}  // namespace squaresight

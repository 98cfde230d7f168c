#pragma once
#include <vector>

#include "calibrate/calibration.h"

namespace squaresight {

/// How well photos fit a lens that was found without them: every fifth left out in turn.
struct HeldOut {
    std::vector<double> rms_px;  ///< per axis, one a view; not a number where it could not be tried
    double total_rms_px = 0;     ///< of all corners
};

/// `all` is the solution of all photos, by this or a narrower model.
HeldOut hold_out(const CalibrationData& data, const CalibrationModel& model,
                 const CalibrationSolution& all);

/// Whether the wider model describes photos better that it was not fitted to: a smaller misfit in
/// the mean over the photos, by more than twice what that mean scatters by.
bool predicts_better(const HeldOut& wider, const HeldOut& narrower);

}  // namespace squaresight

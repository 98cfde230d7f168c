#pragma once
#include <Eigen/Core>
#include <vector>

#include "adjust/adjustment.h"

namespace squaresight {

/// What an adjustment will state before anything was measured.
struct Prediction {
    bool solved = false;  ///< false: the board is hardly in the picture, or nothing is determined
    std::vector<AdjustedStage> stages;  ///< as `adjust` fills them, residuals zero
    double pixels_per_square = 0;       ///< in the first photo
    int fewest_corners = 0;             ///< in a photo
    /// Of what is then known about the cradle, in the order of Cradle::covariance.
    Eigen::Matrix<double, 5, 5> cradle_covariance = Eigen::Matrix<double, 5, 5>::Zero();
};

/// Linear propagation at the readings themselves, the board turned off square-on by half its limit
/// (no board stands exactly square-on, the weakest pose): the uncertainties, redundancies and
/// budgets that `adjust` finds for a job whose readings are as `job` says, whose mount is square,
/// and whose corners scatter by `corner_noise_px` (`adjust` takes 0.03 px or more). The photos'
/// labels say how the cradle stands; their corners are not used: every corner of the board that
/// falls into the picture counts.
Prediction predict(const MeasuredJob& job, double corner_noise_px);

}  // namespace squaresight

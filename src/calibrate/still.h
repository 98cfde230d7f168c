#pragma once
#include <string>
#include <vector>

#include "calibrate/board_photos.h"

namespace squaresight {

/// How steadily a phone points, from photos of a target of which neither was touched between.
struct StillScatter {
    int photos = 0;
    std::vector<std::string> left_out;  ///< photos that show no board, or another place
    double jitter_deg = 0;              ///< standard deviation per axis, corner noise taken off
    /// What is written to the camera file: a little more, for so few photos (a t-distribution's
    /// standard deviation).
    double standard_uncertainty_deg = 0;
    double lower_95_deg = 0;
    double upper_95_deg = 0;
};

inline constexpr int fewest_still_photos = 5;

/// InputError where fewer than that show the board, or the phone or board plainly moved.
StillScatter scatter_of_still(const std::vector<BoardPhoto>& photos,
                              const std::vector<CalibrationBoard>& boards,
                              const CalibrationSolution& known, const CalibrationModel& model);

}  // namespace squaresight

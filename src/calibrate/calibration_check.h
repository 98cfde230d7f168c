#pragma once
#include <string>
#include <vector>

#include "calibrate/board_photos.h"

namespace squaresight {

enum class CalibrationStanding { holds, changed, cannot_tell };

/// Whether a calibration still holds, by new photos of a board.
struct CalibrationCheck {
    CalibrationStanding standing = CalibrationStanding::cannot_tell;
    double chi_square = 0;       ///< of what the photos move the lens by, in its own uncertainties
    int degrees_of_freedom = 0;  ///< directions in which the photos tell something new
    double p = 1;                ///< of so large a chi-square when nothing changed
    double focal_change = 0;     ///< share by which the focal length seems to have grown
    double focal_change_u = 0;
    double principal_moved_px = 0;
    double pointing_change_deg =
        0;  ///< largest change over the picture's inner part, its middle taken off
    double smallest_change_deg = 0;     ///< that these photos would have found, there
    std::vector<std::string> left_out;  ///< photos, and why
    int photos = 0;
    std::string words;  ///< what was found and what to do
};

/// InputError where the photos are of another phone or size than the camera file, or too few show
/// a board.
CalibrationCheck check_calibration(const Camera& camera, const std::vector<Target>& boards,
                                   const std::vector<BoardPhotoFile>& files,
                                   const std::vector<TapedDistance>& tapes,
                                   const PhotoProgress& begin);

}  // namespace squaresight

#pragma once
#include <vector>

#include "calibrate/calibration.h"

namespace squaresight {

/// How far the corners of one board lie off the shape that was found (scale, bow, twist), along the
/// board's normal, by what all photos of it agree on.
struct BoardBend {
    int corners = 0;        ///< seen in three photos or more
    double rms_mm = 0;      ///< root mean square of their displacements, noise taken off
    double largest_mm = 0;  ///< largest displacement
    double chi_square = 0;  ///< of the displacements; about `corners` for a board as found
    double explained = 0;   ///< share of the squared misfits that the displacements explain
};

/// Of each board, as the data's. A solved calibration.
std::vector<BoardBend> board_bends(const CalibrationData& data,
                                   const CalibrationSolution& solution);

}  // namespace squaresight

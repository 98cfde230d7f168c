#pragma once
#include "calibrate/phone_check.h"

namespace squaresight {

/// Whether photos at a taped distance tell the focal length there: two or more.
bool tells_working_focus(const CalibrationData& data);

/// The photo that would tell most: of the board at working distance while fewer than two of those
/// are there, else of the first board, held so that the uncertainty of pointing over the picture
/// falls most and as no photo has it yet. Nothing where no photo brings it down by a tenth.
std::optional<NextPhoto> next_photo(const CalibrationData& data,
                                    const CalibrationSolution& solution);

}  // namespace squaresight

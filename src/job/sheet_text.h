#pragma once
#include <string>

#include "job/sheet.h"
#include "units/quantity.h"

namespace squaresight {

/// The text of a job sheet that reads back as the same sheet: lengths in the shop's unit, limits
/// with every reading, paths relative to the folder of `sheet.file`.
std::string job_sheet_yaml(const JobSheet& sheet, LengthUnit unit);

/// Turns as a job sheet holds them: "5/8 counter-clockwise", "1 1/2 clockwise", "0".
std::string sheet_turns_text(double turns_clockwise);

}  // namespace squaresight

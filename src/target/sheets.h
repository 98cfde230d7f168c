#pragma once
#include <string>
#include <vector>

namespace squaresight {

/// A trimmed sheet of paper by its public name.
struct SheetSize {
    std::string name;
    double short_mm = 0;
    double long_mm = 0;
};

/// ISO 216 A and B, ANSI (ASME Y14.1) A to E and ARCH A to E1.
const std::vector<SheetSize>& sheet_sizes();

/// The sheet of that name; upper or lower case, with or without a space or hyphen ("arch-d").
/// Also "letter", "tabloid" and "24x36". InputError (where: `where`) for another name.
SheetSize sheet_size(const std::string& name, const std::string& where);

/// Name of the sheet of this size, either way up; empty if it is none of the list.
std::string sheet_name(double width_mm, double height_mm);

}  // namespace squaresight

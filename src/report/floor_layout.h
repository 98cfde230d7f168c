#pragma once
#include <filesystem>

#include "plan/floor.h"
#include "target/page.h"

namespace squaresight {

/// The floor layout of a bay: one upright page to scale (Letter where the shop measures in inches,
/// else A4), as someone who faces the truck sees it, with left and right as seated in the cab.
/// Black on white. InputError if the file cannot be written.
void write_floor_layout(const Floor& floor, const std::filesystem::path& file, PageKind kind);

}  // namespace squaresight

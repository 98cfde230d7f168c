#pragma once
#include <filesystem>

#include "plan/floor.h"
#include "report/floor_steps.h"
#include "target/page.h"

namespace squaresight {

/// The floor layout of a bay: one upright page to scale (Letter where the shop measures in inches,
/// else A4), as someone who faces the truck sees it, with left and right as seated in the cab.
/// Black on white. InputError if the file cannot be written.
void write_floor_layout(const Floor& floor, const std::filesystem::path& file, PageKind kind,
                        const Wording& wording = in_english);

/// Its drawing from above alone, for a phone's screen: 90 mm wide, no letter smaller than 12 px
/// where it is shown 358 px wide. The steps that its numbers stand for are floor_steps.
void write_floor_picture(const Floor& floor, const std::filesystem::path& file, PageKind kind,
                         const Wording& wording = in_english);

}  // namespace squaresight

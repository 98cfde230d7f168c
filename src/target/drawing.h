#pragma once
#include <filesystem>

#include "target/page.h"
#include "target/target.h"

namespace squaresight {

/// Draws a target made by `design_target` at true scale: pattern, TOP, edge and centre marks,
/// check bars, instructions. InputError if the file cannot be written.
void draw_target(const Target& target, const std::filesystem::path& file, PageKind kind,
                 double dots_per_inch = 100);

}  // namespace squaresight

#pragma once
#include <filesystem>
#include <functional>
#include <string>

#include "plan/floor.h"
#include "target/page.h"

namespace squaresight {

/// An English sentence or label in the reader's language.
using Wording = std::function<std::string(const std::string& english)>;

inline std::string in_english(const std::string& english) { return english; }

/// The floor layout of a bay: one upright page to scale (Letter where the shop measures in inches,
/// else A4), as someone who faces the truck sees it, with left and right as seated in the cab.
/// Black on white. InputError if the file cannot be written.
void write_floor_layout(const Floor& floor, const std::filesystem::path& file, PageKind kind,
                        const Wording& wording = in_english);

/// The same for a phone's screen: one column, 90 mm wide and as long as it takes, whose smallest
/// letters are 12 px where it is shown 358 px wide.
void write_floor_column(const Floor& floor, const std::filesystem::path& file, PageKind kind,
                        const Wording& wording = in_english);

}  // namespace squaresight

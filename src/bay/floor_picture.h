#pragma once
#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include "bay/messages.h"
#include "job/bay_file.h"
#include "job/sheet.h"
#include "plan/floor.h"

namespace squaresight::bay {

/// The floor of a bay with the board of a job at its distance. InputError for a file that cannot be
/// read.
Floor job_floor(const Bay& bay, const JobSheet& sheet);

enum class FloorShape { sheet, picture };  ///< for paper, for a phone's screen

/// Its layout as SVG (report/floor_layout.h), kept in `folder` from the first time on.
std::string floor_svg(const Floor& floor, FloorShape shape, Language language,
                      const std::filesystem::path& folder);

/// Its crossed tapes: from where to where, in words, and the length.
std::vector<std::pair<std::string, std::string>> floor_tapes(const Floor& floor, Language language);

/// The lengths to tape: keys of the catalogue, and each as the shop's tape shows it.
std::vector<std::pair<std::string, std::string>> floor_lengths(const Floor& floor);

}  // namespace squaresight::bay

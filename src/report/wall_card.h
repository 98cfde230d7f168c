#pragma once
#include <filesystem>

#include "mount/mount.h"

namespace squaresight {

/// The mount's card for the wall (PDF, one A4 page, to be read from 2 m): for each screw the turns
/// by what the sensor shows, with the direction drawn, from the geometry with the other aim right;
/// the service table's rows, limits, source and day of printing beside it, a caution below.
/// InputError if the file cannot be written.
void write_wall_card(const Mount& mount, const std::filesystem::path& file);

}  // namespace squaresight

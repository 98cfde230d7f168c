#pragma once
#include <filesystem>
#include <string>
#include <vector>

#include "photo/photo.h"
#include "sight/sight.h"
#include "target/target.h"

namespace squaresight {

/// What a photo has been reduced to (schema squaresight/corners/1): all that a job takes from it.
struct ReducedPhoto {
    int width_px = 0;  ///< sensor-native
    int height_px = 0;
    PhotoFacts facts;
    std::string digest;           ///< of the picture's file; without one, of the corners file
    std::vector<Corner> corners;  ///< sorted by index; none where the board was not found
};

/// Whether a file that stands in a photo's place is such a reduction, by its name: the end
/// ".corners.yaml".
bool is_corners_file(const std::filesystem::path& file);

/// Reads and checks a corners file of this pattern. InputError as in units/entry.h, and for a
/// corner that the pattern lacks, that stands twice or outside the picture, or whose covariance is
/// none.
ReducedPhoto load_corners(const std::filesystem::path& file, const Pattern& pattern);

/// The file's text; what is not known is left out.
std::string corners_yaml(const ReducedPhoto& photo);

}  // namespace squaresight

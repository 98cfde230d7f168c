#pragma once
#include <array>
#include <filesystem>
#include <opencv2/core.hpp>
#include <optional>
#include <string>

#include "photo/identity.h"

namespace squaresight {

/// What a photo's metadata say; nothing where they are silent.
struct PhotoFacts {
    bool has_metadata = false;  ///< any EXIF at all
    CameraIdentity identity;
    std::optional<int>
        orientation;  ///< EXIF 1..8; how the native image must be turned to stand upright
    std::optional<double>
        digital_zoom;      ///< above 1 when zoomed; 0, 1 and 0/0 mean none and are left out
    std::string taken_at;  ///< "YYYY:MM:DD HH:MM:SS" as written, or empty
    std::optional<int> stated_width_px;  ///< EXIF pixel size, when given
    std::optional<int> stated_height_px;
};

/// A photo with pixels as the sensor has them: EXIF rotation is not applied.
struct Photo {
    std::filesystem::path file;
    cv::Mat grey;  ///< CV_8UC1
    PhotoFacts facts;
    std::string digest;  ///< SHA-256 of the file's bytes, hexadecimal
};

/// Reads a JPEG or PNG. InputError if it is missing, of another kind, truncated, broken or larger
/// than 200 megapixels.
Photo load_photo(const std::filesystem::path& file);

/// The same photo in colour (CV_8UC3, BGR), sensor-native, decoded at `1/scale_denominator` of its
/// size (1, 2, 4 or 8): for pictures in reports.
cv::Mat load_colour(const std::filesystem::path& file, int scale_denominator);

/// SHA-256 (FIPS 180-4) of bytes, hexadecimal.
std::string sha256_hex(const std::string& bytes);

}  // namespace squaresight

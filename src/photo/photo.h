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
    /// EXIF 1..8: how the native image must be turned to stand upright. In a HEIC what the
    /// container says, where it says anything.
    std::optional<int> orientation;
    std::optional<double> digital_zoom;  ///< as written; 0 and 0/0 mean none and are left out
    std::string taken_at;                ///< "YYYY:MM:DD HH:MM:SS" as written, or empty
    std::optional<int> utc_offset_min;   ///< of that clock, minutes east of UTC
    std::optional<int> stated_width_px;  ///< EXIF pixel size, when given
    std::optional<int> stated_height_px;
};

/// Whether the phone enlarged the picture: a digital zoom more than 0.5 % from 1. (Some phones
/// write 1.0007 for none.)
bool is_zoomed(const PhotoFacts& facts);

/// A photo with pixels as the sensor has them: neither EXIF's rotation nor a HEIC container's
/// rotation, mirror and crop are applied.
struct Photo {
    std::filesystem::path file;
    cv::Mat grey;  ///< CV_8UC1, luma
    PhotoFacts facts;
    std::string digest;  ///< SHA-256 of the file's bytes, hexadecimal
};

/// Reads a JPEG, HEIC (8 to 16 bits) or PNG; of several pictures in a file the main one.
/// InputError if it is missing, of another kind, moving, cropped, truncated or broken, larger than
/// 200 megapixels, or would take more than 1 GiB of memory.
Photo load_photo(const std::filesystem::path& file);

/// The same photo in colour (CV_8UC3, BGR), sensor-native, decoded at `1/scale_denominator` of its
/// size (1, 2, 4 or 8): for pictures in reports.
cv::Mat load_colour(const std::filesystem::path& file, int scale_denominator);

/// SHA-256 (FIPS 180-4) of bytes, hexadecimal.
std::string sha256_hex(const std::string& bytes);

}  // namespace squaresight

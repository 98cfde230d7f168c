#pragma once
#include <string_view>
#include <vector>

#include "photo/photo.h"

namespace squaresight {

constexpr unsigned jpeg_start_of_scan = 0xda;

/// A marker segment of a JPEG (ITU-T T.81, B.1.1.4).
struct JpegSegment {
    unsigned marker;
    std::string_view content;
};

/// The segments from the start of a JPEG to its first scan, whose header is the last; those before
/// the damage where one is broken.
std::vector<JpegSegment> jpeg_segments(std::string_view bytes);

/// The EXIF block among a JPEG's segments (APP1 "Exif"), beginning with its TIFF header; empty
/// where there is none.
std::string_view exif_block_of_jpeg(const std::vector<JpegSegment>& segments);

/// What an EXIF block (JEITA CP-3451) says. A tag that is broken or absurd is left out: metadata
/// alone never make a photo unusable.
PhotoFacts facts_from_exif(std::string_view block);

}  // namespace squaresight

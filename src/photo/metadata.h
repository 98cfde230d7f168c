#pragma once
#include <string_view>

#include "photo/photo.h"

namespace squaresight {

/// The EXIF block inside a photo's bytes, beginning with its TIFF header; empty where there is
/// none. Looks into JPEG (APP1 segment "Exif") and PNG (chunk eXIf); never fails.
std::string_view exif_block_of_jpeg(std::string_view bytes);
std::string_view exif_block_of_png(std::string_view bytes);

/// What an EXIF block (JEITA CP-3451) says. A tag that is broken or absurd is left out: metadata
/// alone never make a photo unusable.
PhotoFacts facts_from_exif(std::string_view block);

}  // namespace squaresight

#pragma once
#include <string>

#include "render/scene.h"

namespace squaresight {

/// Metadata of one photo.
struct PhotoMetadata {
    int orientation = 1;   ///< EXIF 1, 3, 6 or 8
    std::string taken_at;  ///< "2026:03:04 09:12:00"
};

/// JPEG bytes with an EXIF block put behind their start marker.
std::string with_exif(const std::string& jpeg, const Picture& picture,
                      const PhotoMetadata& metadata);

}  // namespace squaresight

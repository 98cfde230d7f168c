#pragma once
#include <optional>
#include <string>

namespace squaresight {

/// What a camera says of itself in a photo's metadata; empty where it was not told.
struct CameraIdentity {
    std::string make;
    std::string model;
    std::string lens;
    std::optional<double> focal_length_mm;
    /// Focal length that gives the same field on 35 mm film: also tells a picture that was cropped
    /// from the middle of the sensor.
    std::optional<double> focal_length_35mm_mm;
};

}  // namespace squaresight

#pragma once
#include <opencv2/core.hpp>
#include <optional>
#include <string>

#include "job/result.h"

namespace squaresight {

/// A photo as a picture for people: turned upright by its EXIF orientation, at most `longest_px` a
/// side, corners crossed and joined row by row, numbered and captioned where `captioned`.
/// Nothing if the photo cannot be read.
std::optional<cv::Mat> annotated_photo(const JobResult& result, std::size_t sighting_index,
                                       const PhotoResult& photo, int longest_px, bool captioned);

/// JPEG bytes of a picture.
std::string jpeg_bytes(const cv::Mat& picture, int quality);

}  // namespace squaresight

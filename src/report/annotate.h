#pragma once
#include <opencv2/core.hpp>
#include <optional>
#include <string>

#include "job/result.h"

namespace squaresight {

/// The board in a photo as a picture for people (all of the photo where no board was found): turned
/// upright by its EXIF orientation, at most `longest_px` a side, corners crossed and joined row by
/// row, numbered and captioned where `captioned`.
/// Nothing if the photo cannot be read.
std::optional<cv::Mat> annotated_photo(const JobResult& result, std::size_t sighting_index,
                                       const PhotoResult& photo, int longest_px, bool captioned);

/// JPEG bytes of a picture.
std::string jpeg_bytes(const cv::Mat& picture, int quality);

}  // namespace squaresight

#pragma once
#include <filesystem>
#include <opencv2/core.hpp>
#include <optional>
#include <string>

/// One decoder a kind of file. Internal to `photo`.
namespace squaresight {

/// Pixels as the sensor has them, and what stands beside them in the file.
struct DecodedPhoto {
    cv::Mat pixels;
    std::string exif;  ///< beginning with its TIFF header; empty where there is none
    std::optional<int> container_orientation;  ///< EXIF 1..8, as the container itself says
};

/// `type` is CV_8UC1 (luma) or CV_8UC3 (BGR), decoded at `1/scale_denominator` of the size.
/// InputError where the file is broken, or too large for the memory that reading may take.
DecodedPhoto decode_jpeg(const std::string& bytes, const std::filesystem::path& file, int type,
                         int scale_denominator);
DecodedPhoto decode_png(const std::string& bytes, const std::filesystem::path& file, int type,
                        int scale_denominator);
DecodedPhoto decode_heif(const std::string& bytes, const std::filesystem::path& file, int type,
                         int scale_denominator);

/// A picture at a fraction of its size, odd sizes rounded up.
cv::Mat scaled_down(const cv::Mat& picture, int scale_denominator);

}  // namespace squaresight

#include "photo/photo.h"

#include <cmath>
#include <new>
#include <opencv2/imgproc.hpp>

#include "photo/decoders.h"
#include "photo/kind.h"
#include "photo/metadata.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight {
namespace {

constexpr std::uintmax_t largest_file_bytes = 320u << 20;
constexpr double zoom_limit = 0.005;

DecodedPhoto decode(const std::string& bytes, const std::filesystem::path& file, int type,
                    int scale_denominator) {
    try {
        switch (kind_of(bytes, file)) {
            case PhotoKind::jpeg:
                return decode_jpeg(bytes, file, type, scale_denominator);
            case PhotoKind::png:
                return decode_png(bytes, file, type, scale_denominator);
            case PhotoKind::heif:
                return decode_heif(bytes, file, type, scale_denominator);
        }
    } catch (const std::bad_alloc&) {
        refuse_hungry(file, 2 * largest_working_bytes);
    }
    refuse_kind(file, "no photo");
}

}  // namespace

bool is_zoomed(const PhotoFacts& facts) {
    return facts.digital_zoom && std::abs(*facts.digital_zoom - 1) > zoom_limit;
}

Photo load_photo(const std::filesystem::path& file) {
    const std::string bytes = read_file(file, largest_file_bytes);
    const DecodedPhoto decoded = decode(bytes, file, CV_8UC1, 1);
    Photo photo;
    photo.file = file;
    photo.grey = decoded.pixels;
    photo.facts = facts_from_exif(decoded.exif);
    if (decoded.container_orientation) {
        photo.facts.orientation = decoded.container_orientation;
    }
    photo.digest = sha256_hex(bytes);
    return photo;
}

cv::Mat load_colour(const std::filesystem::path& file, int scale_denominator) {
    return decode(read_file(file, largest_file_bytes), file, CV_8UC3, scale_denominator).pixels;
}

cv::Mat scaled_down(const cv::Mat& picture, int scale_denominator) {
    if (scale_denominator == 1) {
        return picture;
    }
    const auto scaled = [&](int px) { return (px + scale_denominator - 1) / scale_denominator; };
    cv::Mat small;
    cv::resize(picture, small, {scaled(picture.cols), scaled(picture.rows)}, 0, 0, cv::INTER_AREA);
    return small;
}

}  // namespace squaresight

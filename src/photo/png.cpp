#include <opencv2/imgcodecs.hpp>

#include "photo/decoders.h"
#include "photo/kind.h"
#include "units/bytes.h"

namespace squaresight {
namespace {

/// Bytes of a PNG's pixels once inflated (ISO/IEC 15948, 11.2.2).
double inflated_bytes(std::string_view bytes) {
    constexpr int channels_of[] = {1, 0, 3, 1, 2, 0, 4};
    const unsigned depth = big_endian(bytes, 24, 1);
    const unsigned colour = big_endian(bytes, 25, 1);
    const int channels = colour < std::size(channels_of) ? channels_of[colour] : 4;
    return 1.0 * big_endian(bytes, 16, 4) * big_endian(bytes, 20, 4) * channels * depth / 8;
}

/// Walks the chunks to the end (ISO/IEC 15948, 5.3), so that a file that was cut short or damaged
/// is refused here: libpng would write lines of its own to the terminal. Returns the EXIF block.
std::string check_png(std::string_view bytes, const std::filesystem::path& file) {
    constexpr std::size_t header_end = 33;
    constexpr double most_inflated_bytes = 640e6;
    if (bytes.size() < header_end || bytes.substr(12, 4) != "IHDR") {
        refuse_broken(file, "no header");
    }
    refuse_giant(file, big_endian(bytes, 16, 4), big_endian(bytes, 20, 4));
    if (inflated_bytes(bytes) > most_inflated_bytes) {
        refuse_hungry(file, 2 * largest_working_bytes);
    }
    std::string exif;
    std::size_t at = 8;
    while (at + 12 <= bytes.size()) {
        const std::size_t length = big_endian(bytes, at, 4);
        if (length > bytes.size() - at - 12) {
            break;
        }
        const auto chunk = bytes.substr(at + 4, 4 + length);
        if (png_crc(chunk) != big_endian(bytes, at + 8 + length, 4)) {
            refuse_broken(file, "some of its bytes have changed");
        }
        if (chunk == "IEND") {
            return exif;
        }
        if (chunk.starts_with("acTL")) {
            refuse_kind(file, "a moving picture (animated PNG)");
        }
        if (chunk.starts_with("eXIf")) {
            exif = chunk.substr(4);
        }
        at += 12 + length;
    }
    refuse_broken(file, "it ends too early");
}

}  // namespace

DecodedPhoto decode_png(const std::string& bytes, const std::filesystem::path& file, int type,
                        int scale_denominator) {
    DecodedPhoto decoded;
    decoded.exif = check_png(bytes, file);
    const cv::Mat raw(1, static_cast<int>(bytes.size()), CV_8UC1, const_cast<char*>(bytes.data()));
    // Without the flag OpenCV turns the picture as EXIF says, silently.
    const int flags =
        (type == CV_8UC1 ? cv::IMREAD_GRAYSCALE : cv::IMREAD_COLOR) | cv::IMREAD_IGNORE_ORIENTATION;
    try {
        decoded.pixels = cv::imdecode(raw, flags);
    } catch (const cv::Exception&) {
        decoded.pixels.release();
    }
    if (decoded.pixels.empty()) {
        refuse_broken(file, "its data cannot be decoded");
    }
    decoded.pixels = scaled_down(decoded.pixels, scale_denominator);
    return decoded;
}

}  // namespace squaresight

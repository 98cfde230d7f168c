#include "photo/photo.h"

#include <fmt/format.h>
#include <turbojpeg.h>

#include <memory>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "photo/metadata.h"
#include "units/bytes.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight {
namespace {

using namespace std::string_view_literals;

constexpr std::uintmax_t largest_file_bytes = 512u << 20;
constexpr double largest_megapixels = 200;

enum class Kind { jpeg, png };

[[noreturn]] void refuse_kind(const std::filesystem::path& file, std::string_view what) {
    throw InputError(file.string(), fmt::format("is {}, not a JPEG or PNG", what),
                     "take or export the photo as JPEG at full size");
}

/// The kind of photo by its first bytes; the file's name is not believed.
Kind kind_of(const std::string& bytes, const std::filesystem::path& file) {
    const std::string_view head = std::string_view(bytes).substr(0, 16);
    if (head.starts_with("\xff\xd8\xff"sv)) {
        return Kind::jpeg;
    }
    if (head.starts_with("\x89PNG\r\n\x1a\n"sv)) {
        return Kind::png;
    }
    if (head.find("ftyp"sv) == 4) {
        throw InputError(file.string(), "is a HEIC or AVIF photo or a video, not a JPEG or PNG",
                         "set the phone to 'most compatible' (JPEG) and take it again");
    }
    if (head.starts_with("II*\0"sv) || head.starts_with("MM\0*"sv)) {
        refuse_kind(file, "a raw photo (DNG) or TIFF");
    }
    if (head.starts_with("RIFF"sv) && head.find("WEBP"sv) == 8) {
        refuse_kind(file, "a WebP picture");
    }
    if (head.starts_with("GIF8"sv)) {
        refuse_kind(file, "a GIF picture");
    }
    if (head.starts_with("%PDF"sv)) {
        refuse_kind(file, "a PDF");
    }
    refuse_kind(file, "no photo");
}

void refuse_giant(const std::filesystem::path& file, double width_px, double height_px) {
    if (width_px * height_px > largest_megapixels * 1e6) {
        throw InputError(file.string(), fmt::format("has {:.0f} x {:.0f} px", width_px, height_px),
                         fmt::format("photos up to {} megapixels are read; take it at the size of "
                                     "the camera file",
                                     largest_megapixels));
    }
}

[[noreturn]] void refuse_broken(const std::filesystem::path& file, std::string_view reason) {
    throw InputError(file.string(), fmt::format("is a broken photo ({})", reason),
                     "copy it from the phone again, complete");
}

struct CloseDecoder {
    void operator()(void* decoder) const { tjDestroy(decoder); }
};

/// Stray bytes between the last scan and the end marker: some phones write them, the picture is
/// whole. libjpeg's other warnings mean that pixels were made up.
bool is_harmless(std::string_view warning) {
    return warning.find("extraneous bytes before marker 0xd9") != std::string_view::npos;
}

cv::Mat decode_jpeg(const std::string& bytes, const std::filesystem::path& file, int type,
                    int scale_denominator) {
    const std::unique_ptr<void, CloseDecoder> decoder(tjInitDecompress());
    const auto* data = reinterpret_cast<const unsigned char*>(bytes.data());
    int width = 0, height = 0, subsampling = 0, colourspace = 0;
    if (tjDecompressHeader3(decoder.get(), data, bytes.size(), &width, &height, &subsampling,
                            &colourspace) != 0 &&
        tjGetErrorCode(decoder.get()) == TJERR_FATAL) {
        refuse_broken(file, tjGetErrorStr2(decoder.get()));
    }
    refuse_giant(file, width, height);
    if (colourspace == TJCS_CMYK || colourspace == TJCS_YCCK) {
        refuse_kind(file, "a CMYK picture for print");
    }
    const tjscalingfactor scale{1, scale_denominator};
    cv::Mat picture(TJSCALED(height, scale), TJSCALED(width, scale), type);
    const int format = type == CV_8UC1 ? TJPF_GRAY : TJPF_BGR;
    if (tjDecompress2(decoder.get(), data, bytes.size(), picture.data, picture.cols,
                      static_cast<int>(picture.step), picture.rows, format,
                      TJFLAG_ACCURATEDCT | TJFLAG_LIMITSCANS) != 0 &&
        !is_harmless(tjGetErrorStr2(decoder.get()))) {
        refuse_broken(file, tjGetErrorStr2(decoder.get()));
    }
    return picture;
}

/// Walks the chunks to the end (ISO/IEC 15948, 5.3), so that a file that was cut short or damaged
/// is refused here: libpng would write lines of its own to the terminal.
void check_png(const std::string& bytes, const std::filesystem::path& file) {
    constexpr std::size_t header_end = 33;
    if (bytes.size() < header_end || bytes.substr(12, 4) != "IHDR") {
        refuse_broken(file, "no header");
    }
    refuse_giant(file, big_endian(bytes, 16, 4), big_endian(bytes, 20, 4));
    std::size_t at = 8;
    while (at + 12 <= bytes.size()) {
        const std::size_t length = big_endian(bytes, at, 4);
        if (length > bytes.size() - at - 12) {
            break;
        }
        const auto chunk = std::string_view(bytes).substr(at + 4, 4 + length);
        if (png_crc(chunk) != big_endian(bytes, at + 8 + length, 4)) {
            refuse_broken(file, "some of its bytes have changed");
        }
        if (chunk == "IEND") {
            return;
        }
        at += 12 + length;
    }
    refuse_broken(file, "it ends too early");
}

cv::Mat decode_png(const std::string& bytes, const std::filesystem::path& file, int type) {
    check_png(bytes, file);
    const cv::Mat raw(1, static_cast<int>(bytes.size()), CV_8UC1, const_cast<char*>(bytes.data()));
    // Without the flag OpenCV turns the picture as EXIF says, silently.
    const int flags =
        (type == CV_8UC1 ? cv::IMREAD_GRAYSCALE : cv::IMREAD_COLOR) | cv::IMREAD_IGNORE_ORIENTATION;
    cv::Mat picture;
    try {
        picture = cv::imdecode(raw, flags);
    } catch (const cv::Exception&) {
        picture.release();
    }
    if (picture.empty()) {
        refuse_broken(file, "its data cannot be decoded");
    }
    return picture;
}

}  // namespace

Photo load_photo(const std::filesystem::path& file) {
    const std::string bytes = read_file(file, largest_file_bytes);
    Photo photo;
    photo.file = file;
    if (kind_of(bytes, file) == Kind::jpeg) {
        photo.grey = decode_jpeg(bytes, file, CV_8UC1, 1);
        photo.facts = facts_from_exif(exif_block_of_jpeg(bytes));
    } else {
        photo.grey = decode_png(bytes, file, CV_8UC1);
        photo.facts = facts_from_exif(exif_block_of_png(bytes));
    }
    photo.digest = sha256_hex(bytes);
    return photo;
}

cv::Mat load_colour(const std::filesystem::path& file, int scale_denominator) {
    const std::string bytes = read_file(file, largest_file_bytes);
    if (kind_of(bytes, file) == Kind::jpeg) {
        return decode_jpeg(bytes, file, CV_8UC3, scale_denominator);
    }
    cv::Mat full = decode_png(bytes, file, CV_8UC3);
    if (scale_denominator == 1) {
        return full;
    }
    const auto scaled = [&](int px) { return (px + scale_denominator - 1) / scale_denominator; };
    cv::Mat small;
    cv::resize(full, small, {scaled(full.cols), scaled(full.rows)}, 0, 0, cv::INTER_AREA);
    return small;
}

}  // namespace squaresight

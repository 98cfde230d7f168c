#include <fmt/format.h>
#include <turbojpeg.h>

#include <cstring>
#include <memory>

#include "photo/decoders.h"
#include "photo/kind.h"
#include "photo/metadata.h"
#include "units/bytes.h"

namespace squaresight {
namespace {

constexpr int most_scans = 64;  ///< the usual progressive script has 10

struct CloseDecoder {
    void operator()(void* decoder) const { tjDestroy(decoder); }
};

/// Stray bytes between the last scan and the end marker: some phones write them, the picture is
/// whole. libjpeg's other warnings mean that pixels were made up.
bool is_harmless(std::string_view warning) {
    return warning.find("extraneous bytes before marker 0xd9") != std::string_view::npos;
}

/// Memory for the coefficients of the whole picture, which libjpeg keeps when they come in several
/// scans (two bytes each; ITU-T T.81, B.2.2 and B.2.3); 0 where they come in one.
double kept_coefficient_bytes(const std::vector<JpegSegment>& segments) {
    double bytes = 0;
    unsigned components = 0;
    bool progressive = false;
    for (const auto& [marker, content] : segments) {
        const bool is_frame =
            marker >= 0xc0 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc;
        if (is_frame && content.size() >= 6) {
            progressive = marker == 0xc2;
            components = big_endian(content, 5, 1);
            bytes = 2.0 * big_endian(content, 1, 2) * big_endian(content, 3, 2);
            double share = 0;
            double largest = 1;
            for (std::size_t at = 7; at < content.size(); at += 3) {
                const unsigned factors = big_endian(content, at, 1);
                const double blocks = (factors >> 4) * (factors & 15);
                share += blocks;
                largest = std::max(largest, blocks);
            }
            bytes *= share / largest;
        }
        if (marker == jpeg_start_of_scan && !content.empty() && !progressive &&
            big_endian(content, 0, 1) == components) {
            return 0;
        }
    }
    return bytes;
}

/// Scans after the first cost next to nothing in the file and a pass over the picture each.
bool has_many_scans(std::string_view bytes) {
    int scans = 0;
    for (std::size_t at = 0; at + 1 < bytes.size(); ++at) {
        const void* found = std::memchr(bytes.data() + at, 0xff, bytes.size() - at - 1);
        if (found == nullptr) {
            return false;
        }
        at = static_cast<std::size_t>(static_cast<const char*>(found) - bytes.data());
        const auto marker = static_cast<unsigned char>(bytes[at + 1]);
        scans += marker == jpeg_start_of_scan ? 1 : 0;
        if (marker == 0xd9 || scans > most_scans) {
            break;
        }
    }
    return scans > most_scans;
}

}  // namespace

DecodedPhoto decode_jpeg(const std::string& bytes, const std::filesystem::path& file, int type,
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
    const auto segments = jpeg_segments(bytes);
    const double kept_bytes = kept_coefficient_bytes(segments);
    if (kept_bytes > 0 && has_many_scans(bytes)) {
        refuse_broken(file, fmt::format("it comes in more than {} passes", most_scans));
    }
    const tjscalingfactor scale{1, scale_denominator};
    const cv::Size size(TJSCALED(width, scale), TJSCALED(height, scale));
    refuse_hungry(file, static_cast<double>(bytes.size()) + kept_bytes +
                            1.0 * CV_ELEM_SIZE(type) * size.width * size.height);
    cv::Mat picture(size, type);
    const int format = type == CV_8UC1 ? TJPF_GRAY : TJPF_BGR;
    if (tjDecompress2(decoder.get(), data, bytes.size(), picture.data, picture.cols,
                      static_cast<int>(picture.step), picture.rows, format,
                      TJFLAG_ACCURATEDCT | TJFLAG_LIMITSCANS) != 0 &&
        !is_harmless(tjGetErrorStr2(decoder.get()))) {
        refuse_broken(file, tjGetErrorStr2(decoder.get()));
    }
    return {picture, std::string(exif_block_of_jpeg(segments)), {}};
}

}  // namespace squaresight

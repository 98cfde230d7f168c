#include "photo/kind.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <vector>

#include "units/bytes.h"
#include "units/error.h"

namespace squaresight {
namespace {

using namespace std::string_view_literals;

constexpr double largest_megapixels = 200;

/// Other kinds of file by what their first bytes are, or have at a place.
struct Signature {
    std::size_t at;
    std::string_view bytes;
    std::string_view what;
};
constexpr std::array signatures{
    Signature{0, "II*\0"sv, "a raw photo (DNG) or TIFF"},
    Signature{0, "MM\0*"sv, "a raw photo (DNG) or TIFF"},
    Signature{0, "II+\0"sv, "a raw photo (DNG) or TIFF"},
    Signature{0, "MM\0+"sv, "a raw photo (DNG) or TIFF"},
    Signature{8, "WEBP"sv, "a WebP picture"},
    Signature{8, "AVI "sv, "a video"},
    Signature{4, "moov"sv, "a video"},
    Signature{4, "mdat"sv, "a video"},
    Signature{0, "\x1a\x45\xdf\xa3"sv, "a video"},
    Signature{0, "GIF8"sv, "a GIF picture"},
    Signature{0, "BM"sv, "a BMP picture"},
    Signature{0, "%PDF"sv, "a PDF"},
    Signature{0, "\xff\x0a"sv, "a JPEG XL picture"},
    Signature{4, "JXL "sv, "a JPEG XL picture"},
    Signature{4, "jP  "sv, "a JPEG 2000 picture"},
};

/// Main brand first, then the compatible ones (ISO/IEC 14496-12, 4.3).
std::vector<std::string_view> brands_of(std::string_view bytes) {
    const std::size_t end = std::min<std::size_t>({big_endian(bytes, 0, 4), bytes.size(), 4096});
    std::vector<std::string_view> brands;
    for (std::size_t at = 8; at + 4 <= end; at += at == 8 ? 8 : 4) {
        brands.push_back(bytes.substr(at, 4));
    }
    return brands;
}

void refuse_other_brands(std::string_view bytes, const std::filesystem::path& file) {
    const auto brands = brands_of(bytes);
    const auto main_is = [&](std::initializer_list<std::string_view> any) {
        return !brands.empty() && std::find(any.begin(), any.end(), brands[0]) != any.end();
    };
    const auto names = [&](std::string_view brand) {
        return std::find(brands.begin(), brands.end(), brand) != brands.end();
    };
    if (main_is({"msf1", "hevc", "hevx", "hevm", "hevs", "avis"})) {
        refuse_kind(file, "a moving picture (HEIF or AVIF image sequence)");
    }
    const bool is_heic = names("heic") || names("heix") || names("heim") || names("heis");
    if (main_is({"avif"}) || (names("avif") && !is_heic)) {
        refuse_kind(file, "an AVIF picture");
    }
    if (main_is({"crx "})) {
        refuse_kind(file, "a raw photo");
    }
    if (!is_heic && !main_is({"mif1", "mif2"})) {
        refuse_kind(file, "a video");
    }
}

}  // namespace

PhotoKind kind_of(std::string_view bytes, const std::filesystem::path& file) {
    if (bytes.starts_with("\xff\xd8\xff"sv)) {
        return PhotoKind::jpeg;
    }
    if (bytes.starts_with("\x89PNG\r\n\x1a\n"sv)) {
        return PhotoKind::png;
    }
    if (bytes.size() >= 16 && bytes.substr(4, 4) == "ftyp") {
        refuse_other_brands(bytes, file);
        return PhotoKind::heif;
    }
    for (const auto& [at, signature, what] : signatures) {
        if (bytes.size() >= at && bytes.substr(at).starts_with(signature)) {
            refuse_kind(file, what);
        }
    }
    refuse_kind(file, "no photo");
}

void refuse_kind(const std::filesystem::path& file, std::string_view what) {
    throw InputError(file.string(), fmt::format("is {}, not a JPEG, HEIC or PNG", what),
                     "take or export the photo as JPEG or HEIC at full size");
}

void refuse_broken(const std::filesystem::path& file, std::string_view reason) {
    throw InputError(file.string(), fmt::format("is a broken photo ({})", reason),
                     "copy it from the phone again, complete");
}

void refuse_giant(const std::filesystem::path& file, double width_px, double height_px) {
    if (width_px * height_px > largest_megapixels * 1e6) {
        throw InputError(file.string(), fmt::format("has {:.0f} x {:.0f} px", width_px, height_px),
                         fmt::format("photos up to {} megapixels are read; take it at the size of "
                                     "the camera file",
                                     largest_megapixels));
    }
}

void refuse_hungry(const std::filesystem::path& file, double working_bytes) {
    if (working_bytes > largest_working_bytes) {
        throw InputError(
            file.string(),
            fmt::format("would take {:.1f} GB of memory to decode", working_bytes / 1e9),
            "set the phone to a smaller photo size (12 megapixels are plenty) and calibrate that");
    }
}

}  // namespace squaresight

#include "photo/metadata.h"

#include <libexif/exif-data.h>

#include <algorithm>
#include <cmath>
#include <memory>

#include "units/bytes.h"

namespace squaresight {
namespace {

using namespace std::string_view_literals;

constexpr auto exif_signature = "Exif\0\0"sv;
constexpr std::size_t largest_block = 0xffff - 8;

struct Unref {
    void operator()(ExifData* data) const { exif_data_unref(data); }
};

/// Printable ASCII of a text tag, padding and blanks at its ends taken off.
std::string text_of(ExifData* data, ExifIfd directory, ExifTag tag) {
    const ExifEntry* entry = exif_content_get_entry(data->ifd[directory], tag);
    if (entry == nullptr || entry->format != EXIF_FORMAT_ASCII || entry->data == nullptr) {
        return {};
    }
    std::string text;
    for (unsigned i = 0; i < std::min(entry->size, 200u) && entry->data[i] != 0; ++i) {
        const unsigned char byte = entry->data[i];
        text += byte < 0x20 || byte > 0x7e ? ' ' : static_cast<char>(byte);
    }
    text.erase(text.find_last_not_of(' ') + 1);
    text.erase(0, text.find_first_not_of(' '));
    return text;
}

/// The first component of a numeric tag; nothing where it is absent, 0/0 or of another format.
std::optional<double> number_of(ExifData* data, ExifIfd directory, ExifTag tag) {
    const ExifEntry* entry = exif_content_get_entry(data->ifd[directory], tag);
    if (entry == nullptr || entry->data == nullptr || entry->components == 0 ||
        entry->size < exif_format_get_size(entry->format)) {
        return std::nullopt;
    }
    const ExifByteOrder order = exif_data_get_byte_order(data);
    switch (entry->format) {
        case EXIF_FORMAT_SHORT:
            return exif_get_short(entry->data, order);
        case EXIF_FORMAT_LONG:
            return exif_get_long(entry->data, order);
        case EXIF_FORMAT_RATIONAL: {
            const ExifRational ratio = exif_get_rational(entry->data, order);
            if (ratio.denominator == 0) {
                return std::nullopt;
            }
            return static_cast<double>(ratio.numerator) / ratio.denominator;
        }
        default:
            return std::nullopt;
    }
}

std::optional<int> size_px_of(ExifData* data, ExifTag tag) {
    const auto size = number_of(data, EXIF_IFD_EXIF, tag);
    if (!size || *size < 1 || *size > 1e6) {
        return std::nullopt;
    }
    return static_cast<int>(*size);
}

/// Digits where the shape has d, a sign where it has s; a camera without a set clock writes blanks
/// or zeros.
bool has_shape(std::string_view text, std::string_view shape) {
    return std::equal(text.begin(), text.end(), shape.begin(), shape.end(),
                      [](char c, char wanted) {
                          return wanted == 'd'   ? c >= '0' && c <= '9'
                                 : wanted == 's' ? c == '+' || c == '-'
                                                 : c == wanted;
                      });
}

/// "+02:00" in minutes east of UTC; nothing where the camera wrote blanks.
std::optional<int> utc_offset_of(const std::string& text) {
    if (!has_shape(text, "sdd:dd")) {
        return std::nullopt;
    }
    const int minutes = 60 * std::stoi(text.substr(1, 2)) + std::stoi(text.substr(4, 2));
    return text[0] == '-' ? -minutes : minutes;
}

void read_time(ExifData* data, PhotoFacts& facts) {
    struct Place {
        ExifIfd directory;
        ExifTag time, utc_offset;
    };
    const Place places[] = {
        {EXIF_IFD_EXIF, EXIF_TAG_DATE_TIME_ORIGINAL, EXIF_TAG_OFFSET_TIME_ORIGINAL},
        {EXIF_IFD_EXIF, EXIF_TAG_DATE_TIME_DIGITIZED, EXIF_TAG_OFFSET_TIME_DIGITIZED},
        {EXIF_IFD_0, EXIF_TAG_DATE_TIME, EXIF_TAG_OFFSET_TIME}};
    for (const auto& [directory, time, utc_offset] : places) {
        std::string text = text_of(data, directory, time);
        if (has_shape(text, "dddd:dd:dd dd:dd:dd") && !text.starts_with("0000")) {
            facts.taken_at = text;
            facts.utc_offset_min = utc_offset_of(text_of(data, EXIF_IFD_EXIF, utc_offset));
            return;
        }
    }
}

CameraIdentity identity_of(ExifData* data) {
    CameraIdentity identity;
    identity.make = text_of(data, EXIF_IFD_0, EXIF_TAG_MAKE);
    identity.model = text_of(data, EXIF_IFD_0, EXIF_TAG_MODEL);
    identity.lens = text_of(data, EXIF_IFD_EXIF, EXIF_TAG_LENS_MODEL);
    const auto focal_length = number_of(data, EXIF_IFD_EXIF, EXIF_TAG_FOCAL_LENGTH);
    if (focal_length && *focal_length > 0) {
        identity.focal_length_mm = focal_length;
    }
    const auto equivalent = number_of(data, EXIF_IFD_EXIF, EXIF_TAG_FOCAL_LENGTH_IN_35MM_FILM);
    if (equivalent && *equivalent > 0) {
        identity.focal_length_35mm_mm = equivalent;
    }
    return identity;
}

}  // namespace

std::vector<JpegSegment> jpeg_segments(std::string_view bytes) {
    constexpr unsigned fill = 0xff;
    std::vector<JpegSegment> segments;
    std::size_t at = 2;
    while (at + 4 <= bytes.size() && static_cast<unsigned char>(bytes[at]) == 0xff) {
        const unsigned marker = big_endian(bytes, at + 1, 1);
        if (marker == fill) {
            ++at;
            continue;
        }
        const std::size_t length = big_endian(bytes, at + 2, 2);
        if (length < 2 || at + 2 + length > bytes.size()) {
            break;
        }
        segments.push_back({marker, bytes.substr(at + 4, length - 2)});
        if (marker == jpeg_start_of_scan) {
            break;
        }
        at += 2 + length;
    }
    return segments;
}

std::string_view exif_block_of_jpeg(const std::vector<JpegSegment>& segments) {
    constexpr unsigned app1 = 0xe1;
    for (const auto& [marker, content] : segments) {
        if (marker == app1 && content.starts_with(exif_signature)) {
            return content.substr(exif_signature.size());
        }
    }
    return {};
}

PhotoFacts facts_from_exif(std::string_view block) {
    PhotoFacts facts;
    if (block.size() < 8) {
        return facts;
    }
    // libexif takes a block only with the signature that stands before it in a JPEG, and no more
    // than a JPEG can hold. What is longer has a maker's own data at its end.
    const std::string signed_block =
        std::string(exif_signature) + std::string(block.substr(0, largest_block));
    const std::unique_ptr<ExifData, Unref> data(exif_data_new());
    if (!data) {
        return facts;
    }
    // By default libexif adds tags that the standard asks for and the camera did not write.
    exif_data_unset_option(data.get(), EXIF_DATA_OPTION_FOLLOW_SPECIFICATION);
    exif_data_load_data(data.get(), reinterpret_cast<const unsigned char*>(signed_block.data()),
                        static_cast<unsigned>(signed_block.size()));
    facts.has_metadata = std::any_of(std::begin(data->ifd), std::end(data->ifd),
                                     [](const ExifContent* ifd) { return ifd->count > 0; });
    facts.identity = identity_of(data.get());
    const auto orientation = number_of(data.get(), EXIF_IFD_0, EXIF_TAG_ORIENTATION);
    if (orientation && *orientation >= 1 && *orientation <= 8) {
        facts.orientation = static_cast<int>(*orientation);
    }
    const auto zoom = number_of(data.get(), EXIF_IFD_EXIF, EXIF_TAG_DIGITAL_ZOOM_RATIO);
    if (zoom && *zoom > 0) {
        facts.digital_zoom = zoom;
    }
    read_time(data.get(), facts);
    facts.stated_width_px = size_px_of(data.get(), EXIF_TAG_PIXEL_X_DIMENSION);
    facts.stated_height_px = size_px_of(data.get(), EXIF_TAG_PIXEL_Y_DIMENSION);
    return facts;
}

}  // namespace squaresight

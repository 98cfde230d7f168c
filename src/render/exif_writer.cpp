#include "render/exif_writer.h"

#include <libexif/exif-data.h>

#include <cmath>
#include <cstdlib>
#include <cstring>
#include <memory>

namespace squaresight {
namespace {

constexpr ExifByteOrder byte_order = EXIF_BYTE_ORDER_INTEL;

class ExifBlock {
  public:
    ExifBlock() : data_(exif_data_new()) {
        exif_data_set_byte_order(data_, byte_order);
        exif_data_set_data_type(data_, EXIF_DATA_TYPE_COMPRESSED);
    }
    ~ExifBlock() { exif_data_unref(data_); }
    ExifBlock(const ExifBlock&) = delete;
    ExifBlock& operator=(const ExifBlock&) = delete;

    void text(ExifIfd ifd, ExifTag tag, const std::string& value) {
        if (value.empty()) {
            return;
        }
        std::memcpy(entry(ifd, tag, EXIF_FORMAT_ASCII, value.size() + 1, 1), value.c_str(),
                    value.size() + 1);
    }
    void whole(ExifIfd ifd, ExifTag tag, unsigned short value) {
        exif_set_short(entry(ifd, tag, EXIF_FORMAT_SHORT, 1, 2), byte_order, value);
    }
    void ratio(ExifIfd ifd, ExifTag tag, unsigned numerator, unsigned denominator) {
        exif_set_rational(entry(ifd, tag, EXIF_FORMAT_RATIONAL, 1, 8), byte_order,
                          {numerator, denominator});
    }
    std::string bytes() const {
        unsigned char* buffer = nullptr;
        unsigned size = 0;
        exif_data_save_data(data_, &buffer, &size);
        const std::string all(reinterpret_cast<char*>(buffer), size);
        std::free(buffer);
        return all;
    }

  private:
    /// A new entry of `components` times `component_bytes`; its memory belongs to the block.
    unsigned char* entry(ExifIfd ifd, ExifTag tag, ExifFormat format, std::size_t components,
                         std::size_t component_bytes) {
        ExifMem* memory = exif_mem_new_default();
        ExifEntry* made = exif_entry_new_mem(memory);
        const auto size = static_cast<unsigned>(components * component_bytes);
        made->data = static_cast<unsigned char*>(exif_mem_alloc(memory, size));
        made->size = size;
        made->tag = tag;
        made->components = components;
        made->format = format;
        exif_content_add_entry(data_->ifd[ifd], made);
        exif_entry_unref(made);
        exif_mem_unref(memory);
        return made->data;
    }

    ExifData* data_;
};

}  // namespace

std::string with_exif(const std::string& jpeg, const Picture& picture,
                      const PhotoMetadata& metadata) {
    ExifBlock block;
    block.text(EXIF_IFD_0, EXIF_TAG_MAKE, picture.make);
    block.text(EXIF_IFD_0, EXIF_TAG_MODEL, picture.model);
    block.whole(EXIF_IFD_0, EXIF_TAG_ORIENTATION,
                static_cast<unsigned short>(metadata.orientation));
    block.text(EXIF_IFD_0, EXIF_TAG_DATE_TIME, metadata.taken_at);
    block.text(EXIF_IFD_EXIF, EXIF_TAG_DATE_TIME_ORIGINAL, metadata.taken_at);
    block.text(EXIF_IFD_EXIF, EXIF_TAG_LENS_MODEL, picture.lens);
    const auto hundredths = [](double value) {
        return static_cast<unsigned>(std::lround(value * 100));
    };
    if (picture.focal_length_mm > 0) {
        block.ratio(EXIF_IFD_EXIF, EXIF_TAG_FOCAL_LENGTH, hundredths(picture.focal_length_mm), 100);
    }
    if (picture.focal_length_35mm_mm > 0) {
        block.whole(EXIF_IFD_EXIF, EXIF_TAG_FOCAL_LENGTH_IN_35MM_FILM,
                    static_cast<unsigned short>(std::lround(picture.focal_length_35mm_mm)));
    }
    block.ratio(EXIF_IFD_EXIF, EXIF_TAG_DIGITAL_ZOOM_RATIO, hundredths(picture.digital_zoom), 100);
    block.whole(EXIF_IFD_EXIF, EXIF_TAG_PIXEL_X_DIMENSION,
                static_cast<unsigned short>(picture.width_px));
    block.whole(EXIF_IFD_EXIF, EXIF_TAG_PIXEL_Y_DIMENSION,
                static_cast<unsigned short>(picture.height_px));
    const std::string exif = block.bytes();
    const std::size_t length = exif.size() + 2;
    const std::string marker{'\xff', '\xe1', static_cast<char>(length >> 8),
                             static_cast<char>(length & 0xff)};
    return jpeg.substr(0, 2) + marker + exif + jpeg.substr(2);
}

}  // namespace squaresight

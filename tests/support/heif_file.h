#pragma once
#include <libheif/heif.h>

#include <array>
#include <cmath>
#include <memory>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>
#include <stdexcept>
#include <string>
#include <vector>

#include "support/exif_block.h"
#include "units/bytes.h"

/// HEIC files as phones write them, put together box by box (ISO/IEC 14496-12, 23008-12), so that a
/// test can have every arrangement; only the pictures inside are coded by libheif's encoder.
namespace squaresight::heif {

using namespace std::string_literals;

inline std::string box(const std::string& type, const std::string& body) {
    return big_endian_bytes(static_cast<unsigned>(8 + body.size())) + type + body;
}

inline std::string full_box(const std::string& type, unsigned version, const std::string& body) {
    return box(type, big_endian_bytes(version << 24) + body);
}

inline std::string one_byte(unsigned value) { return {static_cast<char>(value)}; }

/// Turned by quarters to the left (6.5.10); mirrored, axis 0: top and bottom change places
/// (6.5.12).
inline std::string irot(unsigned quarters_left) { return box("irot", one_byte(quarters_left)); }
inline std::string imir(unsigned axis) { return box("imir", one_byte(axis)); }

inline std::string ispe(unsigned width, unsigned height) {
    return full_box("ispe", 0, big_endian_bytes(width) + big_endian_bytes(height));
}

/// Clean aperture: width, height and offset of the middle, each as a fraction.
inline std::string clap(const std::array<int, 8>& values) {
    std::string body;
    for (const int value : values) {
        body += big_endian_bytes(static_cast<unsigned>(value));
    }
    return box("clap", body);
}

inline std::string nclx(bool full_range) {
    return box("colr", "nclx"s + two_bytes(1) + two_bytes(13) + two_bytes(6) +
                           one_byte(full_range ? 0x80 : 0));
}

/// An HEVC picture: how it is coded (a box hvcC) and its data.
struct Coded {
    unsigned width = 0;
    unsigned height = 0;
    std::string hvcc;
    std::string data;
};

struct Coding {
    int bits = 8;
    bool full_range = true;
    bool monochrome = false;
    bool lossless = false;
};

inline void require(const heif_error& error) {
    if (error.code != heif_error_Ok) {
        throw std::runtime_error(error.message);
    }
}

/// Fills a plane with `values` (CV_32F, 0..1; chroma -0.5..0.5), as BT.601 codes them.
inline void fill_plane(heif_image* image, heif_channel channel, const cv::Mat& values,
                       const Coding& coding) {
    require(heif_image_add_plane(image, channel, values.cols, values.rows, coding.bits));
    const bool is_luma = channel == heif_channel_Y;
    const double unit = 1 << (coding.bits - 8);
    const double top = (1 << coding.bits) - 1;
    const double gain = coding.full_range ? top : (is_luma ? 219 : 224) * unit;
    const double zero = is_luma ? (coding.full_range ? 0 : 16 * unit) : 128 * unit;
    int stride = 0;
    std::uint8_t* data = heif_image_get_plane(image, channel, &stride);
    cv::Mat plane(values.rows, values.cols, coding.bits > 8 ? CV_16UC1 : CV_8UC1, data,
                  static_cast<std::size_t>(stride));
    values.convertTo(plane, plane.type(), gain, zero);
}

inline cv::Mat halved(const cv::Mat& plane) {
    cv::Mat half;
    cv::resize(plane, half, {(plane.cols + 1) / 2, (plane.rows + 1) / 2}, 0, 0, cv::INTER_AREA);
    return half;
}

inline std::shared_ptr<heif_image> image_of(const cv::Mat& picture, const Coding& coding) {
    cv::Mat bgr;
    picture.convertTo(bgr, CV_32F, 1 / 255.0);
    if (bgr.channels() == 1) {
        cv::cvtColor(bgr, bgr, cv::COLOR_GRAY2BGR);
    }
    std::array<cv::Mat, 3> planes;
    cv::split(bgr, planes);
    const cv::Mat luma = 0.114 * planes[0] + 0.587 * planes[1] + 0.299 * planes[2];
    heif_image* made = nullptr;
    require(
        heif_image_create(picture.cols, picture.rows,
                          coding.monochrome ? heif_colorspace_monochrome : heif_colorspace_YCbCr,
                          coding.monochrome ? heif_chroma_monochrome : heif_chroma_420, &made));
    const std::shared_ptr<heif_image> image(made, heif_image_release);
    fill_plane(made, heif_channel_Y, luma, coding);
    if (!coding.monochrome) {
        fill_plane(made, heif_channel_Cb, halved((planes[0] - luma) / 1.772), coding);
        fill_plane(made, heif_channel_Cr, halved((planes[2] - luma) / 1.402), coding);
    }
    return image;
}

inline heif_error append(heif_context*, const void* data, std::size_t size, void* bytes) {
    static_cast<std::string*>(bytes)->append(static_cast<const char*>(data), size);
    return {heif_error_Ok, heif_suberror_Unspecified, ""};
}

/// A whole file by libheif's own writer.
inline std::string file_by_libheif(const cv::Mat& picture, const Coding& coding) {
    const auto image = image_of(picture, coding);
    const std::unique_ptr<heif_color_profile_nclx, decltype(&heif_nclx_color_profile_free)> profile(
        heif_nclx_color_profile_alloc(), heif_nclx_color_profile_free);
    profile->full_range_flag = coding.full_range;
    profile->matrix_coefficients = heif_matrix_coefficients_ITU_R_BT_601_6;
    require(heif_image_set_nclx_color_profile(image.get(), profile.get()));
    const std::unique_ptr<heif_context, decltype(&heif_context_free)> context(heif_context_alloc(),
                                                                              heif_context_free);
    heif_encoder* encoder = nullptr;
    require(heif_context_get_encoder_for_format(context.get(), heif_compression_HEVC, &encoder));
    const std::unique_ptr<heif_encoder, decltype(&heif_encoder_release)> owner(
        encoder, heif_encoder_release);
    heif_encoder_set_lossy_quality(encoder, 97);
    heif_encoder_set_lossless(encoder, coding.lossless ? 1 : 0);
    heif_encoder_set_parameter(encoder, "preset", "ultrafast");
    const std::unique_ptr<heif_encoding_options, decltype(&heif_encoding_options_free)> options(
        heif_encoding_options_alloc(), heif_encoding_options_free);
    options->output_nclx_profile = profile.get();
    heif_image_handle* handle = nullptr;
    require(heif_context_encode_image(context.get(), image.get(), encoder, options.get(), &handle));
    heif_image_handle_release(handle);
    std::string bytes;
    heif_writer writer{1, append};
    require(heif_context_write(context.get(), &writer, &bytes));
    return bytes;
}

/// A grey or BGR picture (8 bits a channel), coded.
inline Coded coded(const cv::Mat& picture, const Coding& coding = {}) {
    const std::string bytes = file_by_libheif(picture, coding);
    const std::size_t hvcc = bytes.find("hvcC") - 4;
    const std::size_t mdat = bytes.find("mdat") - 4;
    return {static_cast<unsigned>(picture.cols), static_cast<unsigned>(picture.rows),
            bytes.substr(hvcc, big_endian(bytes, hvcc, 4)), bytes.substr(mdat + 8)};
}

class File {
  public:
    /// Items are numbered from 1. `properties` are boxes beside size and coding, in this order.
    unsigned add_picture(const Coded& picture, const std::vector<std::string>& properties = {}) {
        std::vector<std::string> all{picture.hvcc, ispe(picture.width, picture.height)};
        all.insert(all.end(), properties.begin(), properties.end());
        return add_item("hvc1", picture.data, all);
    }

    unsigned add_grid(unsigned rows, unsigned columns, unsigned width, unsigned height,
                      const std::vector<unsigned>& tiles,
                      const std::vector<std::string>& properties = {}) {
        std::vector<std::string> all{ispe(width, height)};
        all.insert(all.end(), properties.begin(), properties.end());
        const unsigned grid =
            add_item("grid",
                     one_byte(0) + one_byte(1) + one_byte(rows - 1) + one_byte(columns - 1) +
                         big_endian_bytes(width) + big_endian_bytes(height),
                     all);
        refer("dimg", grid, tiles);
        return grid;
    }

    unsigned add_exif(const std::string& block, unsigned of_item) {
        const unsigned item = add_item("Exif", big_endian_bytes(6) + "Exif\0\0"s + block, {});
        refer("cdsc", item, {of_item});
        return item;
    }

    unsigned add_item(const std::string& type, const std::string& data,
                      const std::vector<std::string>& properties) {
        items_.push_back({type, data, {}});
        for (const auto& property : properties) {
            properties_ += property;
            items_.back().properties.push_back(++property_count_);
        }
        return static_cast<unsigned>(items_.size());
    }

    void refer(const std::string& type, unsigned from, const std::vector<unsigned>& to) {
        std::string body = two_bytes(from) + two_bytes(to.size());
        for (const unsigned item : to) {
            body += two_bytes(item);
        }
        references_ += box(type, body);
    }

    unsigned primary = 1;
    std::string brands = "heic\0\0\0\0mif1heic"s;

    std::string bytes() const {
        const std::string start = box("ftyp", brands);
        const auto head = static_cast<unsigned>(start.size() + meta(0).size() + 8);
        std::string data;
        for (const auto& item : items_) {
            data += item.data;
        }
        return start + meta(head) + box("mdat", data);
    }

  private:
    struct Item {
        std::string type, data;
        std::vector<unsigned> properties;
    };

    std::string meta(unsigned data_at) const {
        std::string types, places, associations;
        for (std::size_t n = 0; n < items_.size(); ++n) {
            const Item& item = items_[n];
            const auto length = static_cast<unsigned>(item.data.size());
            types += full_box("infe", 2, two_bytes(n + 1) + two_bytes(0) + item.type + one_byte(0));
            places += two_bytes(n + 1) + two_bytes(0) + two_bytes(1) + big_endian_bytes(data_at) +
                      big_endian_bytes(length);
            data_at += length;
            associations +=
                two_bytes(n + 1) + one_byte(static_cast<unsigned>(item.properties.size()));
            for (const unsigned property : item.properties) {
                associations += two_bytes(0x8000 | property);
            }
        }
        const auto count = static_cast<unsigned>(items_.size());
        const std::string associated = big_endian_bytes(1) + big_endian_bytes(count) + associations;
        return full_box("meta", 0,
                        full_box("hdlr", 0, std::string(4, '\0') + "pict" + std::string(13, '\0')) +
                            full_box("pitm", 0, two_bytes(primary)) +
                            full_box("iloc", 0, "\x44\0"s + two_bytes(count) + places) +
                            full_box("iinf", 0, two_bytes(count) + types) +
                            box("iprp", box("ipco", properties_) + box("ipma", associated)) +
                            (references_.empty() ? "" : full_box("iref", 0, references_)));
    }

    std::vector<Item> items_;
    std::string properties_;
    unsigned property_count_ = 0;
    std::string references_;
};

/// One picture in one file.
inline std::string file_of(const Coded& picture, const std::vector<std::string>& properties = {},
                           const std::string& exif = "") {
    File file;
    const unsigned item = file.add_picture(picture, properties);
    if (!exif.empty()) {
        file.add_exif(exif, item);
    }
    return file.bytes();
}

}  // namespace squaresight::heif

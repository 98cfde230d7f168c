#include <libheif/heif.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <memory>
#include <opencv2/imgproc.hpp>

#include "photo/decoders.h"
#include "photo/heif_layout.h"
#include "photo/kind.h"
#include "units/bytes.h"

namespace squaresight {
namespace {

using Context = std::unique_ptr<heif_context, decltype(&heif_context_free)>;
using Handle = std::unique_ptr<const heif_image_handle, decltype(&heif_image_handle_release)>;
using Options = std::unique_ptr<heif_decoding_options, decltype(&heif_decoding_options_free)>;
using Image = std::unique_ptr<const heif_image, decltype(&heif_image_release)>;

void check(const heif_error& error, const std::filesystem::path& file) {
    if (error.code != heif_error_Ok) {
        std::string reason = error.message == nullptr ? "" : error.message;
        std::replace_if(
            reason.begin(), reason.end(), [](char c) { return c < 0x20 || c > 0x7e; }, ' ');
        reason.erase(reason.find_last_not_of(' ') + 1);
        refuse_broken(file, reason);
    }
}

/// libheif 1.15 gives colour pictures as red, green and blue whatever is asked for, the range of
/// the coded values (limited or full) undone. What that takes at most: the coded picture in 4:2:0
/// and the three planes.
double working_bytes_of(const HeifLayout& layout) {
    const double bytes_per_value = layout.bits > 8 ? 2 : 1;
    return 4.5 * bytes_per_value * layout.width_px * layout.height_px;
}

Image decoded_image(const heif_image_handle* handle, const std::filesystem::path& file) {
    const Options options(heif_decoding_options_alloc(), heif_decoding_options_free);
    options->ignore_transformations = 1;
    options->convert_hdr_to_8bit = 0;
    options->strict_decoding = 1;
    heif_image* image = nullptr;
    check(heif_decode_image(handle, &image, heif_colorspace_undefined, heif_chroma_undefined,
                            options.get()),
          file);
    return {image, heif_image_release};
}

/// One plane, 8 or 16 bits a value, as it lies in the image.
cv::Mat plane_of(const heif_image* image, heif_channel channel) {
    int stride = 0;
    const std::uint8_t* data = heif_image_get_plane_readonly(image, channel, &stride);
    const int type = heif_image_get_bits_per_pixel(image, channel) > 8 ? CV_16UC1 : CV_8UC1;
    return {heif_image_get_height(image, channel), heif_image_get_width(image, channel), type,
            const_cast<std::uint8_t*>(data), static_cast<std::size_t>(stride)};
}

/// What a value is to be multiplied by to reach 0..255.
double to_8_bits(const heif_image* image, heif_channel channel) {
    return 255.0 / ((1 << heif_image_get_bits_per_pixel_range(image, channel)) - 1);
}

constexpr std::array bgr{heif_channel_B, heif_channel_G, heif_channel_R};

template <typename Value>
void luma_row(const std::array<cv::Mat, 3>& planes, int y, const std::array<float, 3>& weights,
              unsigned char* out) {
    const Value* blue = planes[0].ptr<Value>(y);
    const Value* green = planes[1].ptr<Value>(y);
    const Value* red = planes[2].ptr<Value>(y);
    for (int x = 0; x < planes[0].cols; ++x) {
        const float luma = weights[0] * static_cast<float>(blue[x]) +
                           weights[1] * static_cast<float>(green[x]) +
                           weights[2] * static_cast<float>(red[x]);
        out[x] = static_cast<unsigned char>(std::min(luma + 0.5f, 255.0f));
    }
}

/// ITU-R BT.601 luma, as JPEG has it: the same scene is then the same grey in every kind of file.
cv::Mat luma_of(const heif_image* image) {
    const std::array<cv::Mat, 3> planes{plane_of(image, bgr[0]), plane_of(image, bgr[1]),
                                        plane_of(image, bgr[2])};
    const auto scale = static_cast<float>(to_8_bits(image, bgr[0]));
    const std::array<float, 3> weights{0.114f * scale, 0.587f * scale, 0.299f * scale};
    cv::Mat grey(planes[0].size(), CV_8UC1);
    for (int y = 0; y < grey.rows; ++y) {
        if (planes[0].depth() == CV_8U) {
            luma_row<std::uint8_t>(planes, y, weights, grey.ptr(y));
        } else {
            luma_row<std::uint16_t>(planes, y, weights, grey.ptr(y));
        }
    }
    return grey;
}

cv::Mat colour_of(const heif_image* image, int scale_denominator) {
    std::array<cv::Mat, 3> small;
    for (std::size_t i = 0; i < bgr.size(); ++i) {
        scaled_down(plane_of(image, bgr[i]), scale_denominator)
            .convertTo(small[i], CV_8U, to_8_bits(image, bgr[i]));
    }
    cv::Mat colour;
    cv::merge(small, colour);
    return colour;
}

cv::Mat pixels_of(const heif_image* image, int type, int scale_denominator) {
    if (heif_image_get_colorspace(image) == heif_colorspace_monochrome) {
        cv::Mat grey;
        scaled_down(plane_of(image, heif_channel_Y), scale_denominator)
            .convertTo(grey, CV_8U, to_8_bits(image, heif_channel_Y));
        if (type == CV_8UC3) {
            cv::cvtColor(grey, grey, cv::COLOR_GRAY2BGR);
        }
        return grey;
    }
    return type == CV_8UC1 ? luma_of(image) : colour_of(image, scale_denominator);
}

/// The EXIF item of the main picture: a number that says how far on the TIFF header begins, then
/// the block (ISO/IEC 23008-12, A.2.1).
std::string exif_of(const heif_image_handle* handle) {
    heif_item_id item = 0;
    if (heif_image_handle_get_list_of_metadata_block_IDs(handle, "Exif", &item, 1) < 1) {
        return {};
    }
    std::string block(heif_image_handle_get_metadata_size(handle, item), '\0');
    const heif_error error = heif_image_handle_get_metadata(handle, item, block.data());
    if (error.code != heif_error_Ok || block.size() < 4) {
        return {};
    }
    const std::size_t header_at = 4 + std::size_t{big_endian(block, 0, 4)};
    return header_at < block.size() ? block.substr(header_at) : std::string();
}

}  // namespace

DecodedPhoto decode_heif(const std::string& bytes, const std::filesystem::path& file, int type,
                         int scale_denominator) {
    const HeifLayout layout = read_heif_layout(bytes, file);
    refuse_hungry(file, static_cast<double>(bytes.size()) + working_bytes_of(layout));
    const Context context(heif_context_alloc(), heif_context_free);
    check(heif_context_read_from_memory_without_copy(context.get(), bytes.data(), layout.end,
                                                     nullptr),
          file);
    heif_image_handle* primary = nullptr;
    check(heif_context_get_primary_image_handle(context.get(), &primary), file);
    const Handle handle(primary, heif_image_handle_release);
    const Image image = decoded_image(handle.get(), file);
    DecodedPhoto decoded{pixels_of(image.get(), type, scale_denominator), exif_of(handle.get()),
                         layout.orientation};
    const cv::Size coded(layout.width_px, layout.height_px);
    if (scale_denominator == 1 && decoded.pixels.size() != coded) {
        refuse_broken(file, "its size is not what its container says");
    }
    return decoded;
}

}  // namespace squaresight

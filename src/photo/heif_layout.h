#pragma once
#include <filesystem>
#include <optional>
#include <string_view>

/// What a HEIC's container says before any pixel is decoded. Internal to `photo`.
namespace squaresight {

struct HeifLayout {
    int width_px = 0;  ///< of the main picture as it is coded, which is as the sensor has it
    int height_px = 0;
    int bits = 8;  ///< of a channel
    /// EXIF 1..8, from the container's rotation and mirror in their order; nothing where it has
    /// neither.
    std::optional<int> orientation;
    std::size_t end = 0;  ///< where the container's last whole box ends; what follows is not read
};

/// Reads the container (ISO/IEC 14496-12 boxes, ISO/IEC 23008-12 items). InputError where it is
/// broken, has no HEVC-coded main picture, shows only a part of it, or asks for unreasonable work.
///
/// The mirror's axis is read as the standard's second edition has it (0: top and bottom change
/// places). The first edition's words can be read the other way round; encoders do not.
HeifLayout read_heif_layout(std::string_view bytes, const std::filesystem::path& file);

}  // namespace squaresight

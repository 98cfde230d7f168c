#pragma once
#include <optional>
#include <string_view>

/// What a coded HEVC picture says of itself. Internal to `photo`.
namespace squaresight {

struct HevcFormat {
    int width_px = 0;  ///< shown; a few more may be coded to fill the last block
    int height_px = 0;
    int bits = 8;  ///< of the luma
};

constexpr unsigned hevc_sequence_parameters = 33;  ///< NAL unit type (ITU-T H.265, table 7-1)

/// Type of a NAL unit, from its header (7.3.1.2).
unsigned hevc_unit_type(std::string_view unit);

/// Reads a sequence parameter set (7.3.2.2), header included; nothing where it is broken.
std::optional<HevcFormat> hevc_format(std::string_view unit);

}  // namespace squaresight

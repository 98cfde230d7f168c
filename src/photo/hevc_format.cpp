#include "photo/hevc_format.h"

#include <cstdint>
#include <string>

namespace squaresight {
namespace {

/// Bits from the front; zeros after the end, which `ok` tells.
class Bits {
  public:
    explicit Bits(std::string_view bytes) : bytes_(bytes) {}

    std::uint64_t take(int count) {
        std::uint64_t value = 0;
        for (; count > 0; --count, ++at_) {
            const std::size_t byte = at_ / 8;
            const unsigned bit =
                byte < bytes_.size()
                    ? static_cast<unsigned char>(bytes_[byte]) >> (7 - at_ % 8) & 1u
                    : 0u;
            value = value << 1 | bit;
        }
        return value;
    }
    void skip(std::size_t count) { at_ += count; }
    bool ok() const { return at_ <= 8 * bytes_.size() && !broken_; }

    /// ue(v), 9.2.
    std::int64_t exp_golomb() {
        int zeros = 0;
        while (ok() && take(1) == 0) {
            broken_ = ++zeros > 31;
        }
        return ok() ? static_cast<std::int64_t>((std::uint64_t{1} << zeros) - 1 + take(zeros)) : 0;
    }

  private:
    std::string_view bytes_;
    std::size_t at_ = 0;
    bool broken_ = false;
};

/// Without the bytes (3 after two zeros) that keep start codes out of the data (7.3.1.1).
std::string unescaped(std::string_view unit) {
    std::string bytes;
    int zeros = 0;
    for (const char byte : unit) {
        if (zeros >= 2 && byte == 3) {
            zeros = 0;
            continue;
        }
        zeros = byte == 0 ? zeros + 1 : 0;
        bytes += byte;
    }
    return bytes;
}

/// profile_tier_level(1, layers), 7.3.3.
void skip_profile(Bits& bits, unsigned layers) {
    bits.skip(96);
    if (layers == 0) {
        return;
    }
    std::size_t sub_layer_bits = 0;
    for (unsigned layer = 0; layer < 8; ++layer) {
        const std::uint64_t present = bits.take(2);
        if (layer < layers) {
            sub_layer_bits += (present & 2 ? 88 : 0) + (present & 1 ? 8 : 0);
        }
    }
    bits.skip(sub_layer_bits);
}

}  // namespace

unsigned hevc_unit_type(std::string_view unit) {
    return unit.empty() ? 0 : static_cast<unsigned char>(unit[0]) >> 1 & 0x3fu;
}

std::optional<HevcFormat> hevc_format(std::string_view unit) {
    constexpr std::size_t ample_bytes = 400;
    const std::string bytes = unescaped(unit.substr(0, ample_bytes));
    Bits bits(bytes);
    bits.skip(16 + 4);
    const auto layers = static_cast<unsigned>(bits.take(3));
    bits.skip(1);
    skip_profile(bits, layers);
    bits.exp_golomb();
    const std::int64_t chroma = bits.exp_golomb();
    if (chroma == 3) {
        bits.skip(1);
    }
    std::int64_t width = bits.exp_golomb();
    std::int64_t height = bits.exp_golomb();
    if (bits.take(1) != 0) {  // conformance window, in units of chroma samples
        const std::int64_t unit_width = chroma == 1 || chroma == 2 ? 2 : 1;
        const std::int64_t unit_height = chroma == 1 ? 2 : 1;
        width -= unit_width * (bits.exp_golomb() + bits.exp_golomb());
        height -= unit_height * (bits.exp_golomb() + bits.exp_golomb());
    }
    const std::int64_t depth = 8 + bits.exp_golomb();
    constexpr std::int64_t largest_px = 1 << 16;
    if (!bits.ok() || chroma > 3 || width < 1 || height < 1 || width > largest_px ||
        height > largest_px || depth > 16) {
        return std::nullopt;
    }
    return HevcFormat{static_cast<int>(width), static_cast<int>(height), static_cast<int>(depth)};
}

}  // namespace squaresight

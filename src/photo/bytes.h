#pragma once
#include <cstdint>
#include <string_view>

namespace squaresight {

/// Big-endian number of `count` bytes at `at`, which must lie inside `bytes`.
inline std::uint32_t big_endian(std::string_view bytes, std::size_t at, std::size_t count) {
    std::uint32_t value = 0;
    for (const char byte : bytes.substr(at, count)) {
        value = value << 8 | static_cast<unsigned char>(byte);
    }
    return value;
}

}  // namespace squaresight

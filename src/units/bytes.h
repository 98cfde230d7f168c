#pragma once
#include <cstdint>
#include <string>
#include <string_view>

namespace squaresight {

/// Big-endian number of `count` (up to 4) bytes at `at`, which must lie inside `bytes`.
std::uint32_t big_endian(std::string_view bytes, std::size_t at, std::size_t count);

/// The four bytes of a number, highest first.
std::string big_endian_bytes(std::uint32_t value);

/// Cyclic redundancy check of a PNG chunk's name and data (ISO/IEC 15948, annex D).
std::uint32_t png_crc(std::string_view bytes);

}  // namespace squaresight

#include "units/bytes.h"

#include <array>

namespace squaresight {
namespace {

constexpr std::array<std::uint32_t, 256> crc_table = [] {
    std::array<std::uint32_t, 256> table{};
    for (std::uint32_t n = 0; n < table.size(); ++n) {
        std::uint32_t crc = n;
        for (int bit = 0; bit < 8; ++bit) {
            crc = (crc & 1) != 0 ? 0xedb88320 ^ crc >> 1 : crc >> 1;
        }
        table[n] = crc;
    }
    return table;
}();

}  // namespace

std::uint32_t big_endian(std::string_view bytes, std::size_t at, std::size_t count) {
    std::uint32_t value = 0;
    for (const char byte : bytes.substr(at, count)) {
        value = value << 8 | static_cast<unsigned char>(byte);
    }
    return value;
}

std::string big_endian_bytes(std::uint32_t value) {
    std::string bytes;
    for (int shift = 24; shift >= 0; shift -= 8) {
        bytes += static_cast<char>(value >> shift & 0xff);
    }
    return bytes;
}

std::uint32_t png_crc(std::string_view bytes) {
    std::uint32_t crc = 0xffffffff;
    for (const char byte : bytes) {
        crc = crc_table[(crc ^ static_cast<unsigned char>(byte)) & 0xff] ^ crc >> 8;
    }
    return ~crc;
}

}  // namespace squaresight

#pragma once
#include <string>
#include <vector>

#include "units/bytes.h"

namespace squaresight {

using namespace std::string_literals;

/// Little-endian EXIF block, tag by tag as JEITA CP-3451 lays it out.
class ExifBlock {
  public:
    static std::string u16(unsigned v) {
        return {static_cast<char>(v & 0xff), static_cast<char>(v >> 8 & 0xff)};
    }
    static std::string u32(unsigned v) { return u16(v & 0xffff) + u16(v >> 16); }

    void text(bool in_exif, unsigned tag, const std::string& value) {
        add(in_exif, tag, 2, value + '\0', static_cast<unsigned>(value.size() + 1));
    }
    void short_number(bool in_exif, unsigned tag, unsigned value) {
        add(in_exif, tag, 3, u16(value), 1);
    }
    void ratio(bool in_exif, unsigned tag, unsigned above, unsigned below) {
        add(in_exif, tag, 5, u32(above) + u32(below), 1);
    }

    std::string bytes() const {
        auto first = directories_[0];
        const auto exif_at = 8 + size_of(first.size() + 1);
        first.push_back({0x8769, 4, u32(static_cast<unsigned>(exif_at)), 1});
        const auto data_at = exif_at + size_of(directories_[1].size());
        std::string data;
        std::string block = "II*\0"s + u32(8);
        block += directory(first, data_at, data);
        block += directory(directories_[1], data_at, data);
        return block + data;
    }

  private:
    struct Tag {
        unsigned tag, format;
        std::string value;
        unsigned count;
    };
    void add(bool in_exif, unsigned tag, unsigned format, std::string value, unsigned count) {
        directories_[in_exif].push_back({tag, format, std::move(value), count});
    }
    static std::size_t size_of(std::size_t tags) { return 2 + 12 * tags + 4; }
    static std::string directory(const std::vector<Tag>& tags, std::size_t data_at,
                                 std::string& data) {
        std::string out = u16(static_cast<unsigned>(tags.size()));
        for (const auto& tag : tags) {
            out += u16(tag.tag) + u16(tag.format) + u32(tag.count);
            if (tag.value.size() <= 4) {
                out += tag.value + std::string(4 - tag.value.size(), '\0');
            } else {
                out += u32(static_cast<unsigned>(data_at + data.size()));
                data += tag.value;
            }
        }
        return out + u32(0);
    }
    std::vector<Tag> directories_[2];
};

inline std::string two_bytes(std::size_t value) {
    return big_endian_bytes(static_cast<unsigned>(value)).substr(2);
}

inline std::string jpeg_segment(char marker, const std::string& content) {
    return "\xff"s + marker + two_bytes(content.size() + 2) + content;
}

/// A JPEG with an EXIF block put behind its start marker.
inline std::string with_exif(std::string jpeg, const std::string& exif_block) {
    jpeg.insert(2, jpeg_segment('\xe1', "Exif\0\0"s + exif_block));
    return jpeg;
}

}  // namespace squaresight

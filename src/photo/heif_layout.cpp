#include "photo/heif_layout.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <set>
#include <tuple>
#include <utility>
#include <vector>

#include "photo/hevc_format.h"
#include "photo/kind.h"
#include "units/bytes.h"
#include "units/error.h"

namespace squaresight {
namespace {

constexpr std::size_t most_items = 10000;
constexpr std::size_t most_tiles = 4096;

/// A stretch of the file, read from its front.
class Bytes {
  public:
    Bytes(std::string_view rest, const std::filesystem::path& file) : rest_(rest), file_(&file) {}

    std::string_view take(std::size_t count) {
        if (count > rest_.size()) {
            fail("its container ends too early");
        }
        const auto taken = rest_.substr(0, count);
        rest_.remove_prefix(count);
        return taken;
    }
    unsigned number(std::size_t count) { return big_endian(take(count), 0, count); }
    std::uint64_t long_number(std::size_t count) {
        const std::uint64_t high = count > 4 ? number(count - 4) : 0;
        return high << 32 | number(std::min<std::size_t>(count, 4));
    }
    std::string_view rest() const { return rest_; }
    bool empty() const { return rest_.empty(); }
    std::size_t size() const { return rest_.size(); }
    [[noreturn]] void fail(std::string_view reason) const { refuse_broken(*file_, reason); }

  private:
    std::string_view rest_;
    const std::filesystem::path* file_;

    friend struct Box;
};

/// ISO/IEC 14496-12, 4.2.
struct Box {
    std::string_view type;
    Bytes body;

    static Box read(Bytes& from) {
        const std::size_t before = from.size();
        std::uint64_t size = from.number(4);
        const auto type = from.take(4);
        if (size == 1) {
            size = std::uint64_t{from.number(4)} << 32;
            size |= from.number(4);
        }
        const std::size_t header = before - from.size();
        if (size == 0) {
            size = before;
        }
        if (size < header || size > before) {
            from.fail("a part of its container is longer than the file");
        }
        return {type, Bytes(from.take(static_cast<std::size_t>(size) - header), *from.file_)};
    }
};

std::vector<Box> boxes_in(Bytes bytes) {
    std::vector<Box> boxes;
    while (!bytes.empty()) {
        boxes.push_back(Box::read(bytes));
    }
    return boxes;
}

/// Reads version and flags of a full box.
std::pair<unsigned, unsigned> version_and_flags(Bytes& body) {
    const unsigned version = body.number(1);
    return {version, body.number(3)};
}

struct Reference {
    std::string_view type;
    unsigned from;
    std::vector<unsigned> to;
};

/// A stretch of an item's data; in the file, or in the box `idat`.
struct Extent {
    bool in_idat;
    std::uint64_t at, length;
};

/// What is used of the box `meta`.
struct Meta {
    std::optional<unsigned> primary;
    std::map<unsigned, std::vector<Extent>> extents;
    std::string_view idat;
    std::map<unsigned, std::string_view> item_types;
    std::vector<Box> properties;
    std::map<unsigned, std::vector<unsigned>> properties_of;  ///< in order; counted from 1
    std::vector<Reference> references;
};

/// ISO/IEC 14496-12, 8.11.3.
void read_locations(Bytes body, Meta& meta) {
    const auto [version, flags] = version_and_flags(body);
    const unsigned sizes = body.number(2);
    const std::size_t offset_bytes = sizes >> 12;
    const std::size_t length_bytes = sizes >> 8 & 15;
    const std::size_t base_bytes = sizes >> 4 & 15;
    const std::size_t index_bytes = version == 0 ? 0 : sizes & 15;
    for (unsigned items = body.number(version < 2 ? 2 : 4); items > 0; --items) {
        auto& extents = meta.extents[body.number(version < 2 ? 2 : 4)];
        const bool in_idat = version > 0 && (body.number(2) & 15) == 1;
        body.take(2);
        const std::uint64_t base = body.long_number(base_bytes);
        for (unsigned left = body.number(2); left > 0; --left) {
            body.take(index_bytes);
            const std::uint64_t at = base + body.long_number(offset_bytes);
            extents.push_back({in_idat, at, body.long_number(length_bytes)});
        }
    }
}

void read_item_types(Bytes body, Meta& meta) {
    const auto [version, flags] = version_and_flags(body);
    body.take(version == 0 ? 2 : 4);
    for (Box& entry : boxes_in(body)) {
        const auto [entry_version, entry_flags] = version_and_flags(entry.body);
        if (entry.type != "infe" || entry_version < 2) {
            continue;
        }
        const unsigned id = entry.body.number(entry_version == 2 ? 2 : 4);
        entry.body.take(2);
        meta.item_types[id] = entry.body.take(4);
        if (meta.item_types.size() > most_items) {
            body.fail(fmt::format("it lists more than {} items", most_items));
        }
    }
}

void read_associations(Bytes body, Meta& meta) {
    const auto [version, flags] = version_and_flags(body);
    const unsigned count = body.number(4);
    for (unsigned n = 0; n < count; ++n) {
        const unsigned id = body.number(version < 1 ? 2 : 4);
        auto& list = meta.properties_of[id];
        for (unsigned left = body.number(1); left > 0; --left) {
            const unsigned index =
                (flags & 1) != 0 ? body.number(2) & 0x7fff : body.number(1) & 0x7f;
            if (index > meta.properties.size()) {
                body.fail("it names a property that is not there");
            }
            if (index > 0) {
                list.push_back(index);
            }
        }
    }
}

void read_properties(const Bytes& body, Meta& meta) {
    const auto parts = boxes_in(body);
    for (const Box& part : parts) {
        if (part.type == "ipco") {
            meta.properties = boxes_in(part.body);
        }
    }
    for (const Box& part : parts) {
        if (part.type == "ipma") {
            read_associations(part.body, meta);
        }
    }
}

void read_references(Bytes body, Meta& meta) {
    const auto [version, flags] = version_and_flags(body);
    const std::size_t id_bytes = version == 0 ? 2 : 4;
    std::size_t targets = 0;
    for (Box& box : boxes_in(body)) {
        Reference reference{box.type, box.body.number(id_bytes), {}};
        for (unsigned left = box.body.number(2); left > 0; --left) {
            reference.to.push_back(box.body.number(id_bytes));
        }
        targets += reference.to.size();
        if (targets > 2 * most_tiles + most_items) {
            body.fail("its pictures refer to too many others");
        }
        meta.references.push_back(std::move(reference));
    }
}

Meta read_meta(Bytes body) {
    version_and_flags(body);
    Meta meta;
    for (Box& box : boxes_in(body)) {
        if (box.type == "pitm") {
            const auto [version, flags] = version_and_flags(box.body);
            meta.primary = box.body.number(version == 0 ? 2 : 4);
        } else if (box.type == "iloc") {
            read_locations(box.body, meta);
        } else if (box.type == "idat") {
            meta.idat = box.body.rest();
        } else if (box.type == "iinf") {
            read_item_types(box.body, meta);
        } else if (box.type == "iprp") {
            read_properties(box.body, meta);
        } else if (box.type == "iref") {
            read_references(box.body, meta);
        }
    }
    return meta;
}

/// A turn or mirror of a picture as a matrix on (right, down), native to upright.
using Turn = std::array<int, 4>;
constexpr Turn quarter_left{0, 1, -1, 0};
constexpr Turn top_and_bottom_swapped{1, 0, 0, -1};
constexpr Turn sides_swapped{-1, 0, 0, 1};

constexpr Turn after(const Turn& b, const Turn& a) {
    return {b[0] * a[0] + b[1] * a[2], b[0] * a[1] + b[1] * a[3], b[2] * a[0] + b[3] * a[2],
            b[2] * a[1] + b[3] * a[3]};
}

/// EXIF's orientation 1..8 (JEITA CP-3451, 4.6.4 A, tag 274).
int exif_orientation(const Turn& turn) {
    constexpr std::array<Turn, 8> turns{{{1, 0, 0, 1},
                                         {-1, 0, 0, 1},
                                         {-1, 0, 0, -1},
                                         {1, 0, 0, -1},
                                         {0, 1, 1, 0},
                                         {0, -1, 1, 0},
                                         {0, -1, -1, 0},
                                         {0, 1, -1, 0}}};
    return 1 + static_cast<int>(std::find(turns.begin(), turns.end(), turn) - turns.begin());
}

class Reader {
  public:
    Reader(const Meta& meta, std::string_view bytes, const std::filesystem::path& file)
        : meta_(meta), bytes_(bytes), file_(file) {}

    HeifLayout layout() const {
        if (!meta_.primary || !meta_.item_types.count(*meta_.primary)) {
            refuse_broken(file_, "no main picture is named");
        }
        const unsigned primary = *meta_.primary;
        HeifLayout layout;
        std::tie(layout.width_px, layout.height_px) = size_of(primary);
        refuse_giant(file_, layout.width_px, layout.height_px);
        layout.orientation = orientation_of(primary);
        refuse_crop(primary, layout);
        refuse_transparency(primary);
        for (const unsigned part : parts_of(primary)) {
            layout.bits = std::max(layout.bits, format_of(part).bits);
        }
        return layout;
    }

  private:
    std::string_view type_of(unsigned item) const {
        const auto found = meta_.item_types.find(item);
        return found == meta_.item_types.end() ? std::string_view() : found->second;
    }

    std::vector<Box> properties_of(unsigned item) const {
        std::vector<Box> found;
        const auto list = meta_.properties_of.find(item);
        if (list != meta_.properties_of.end()) {
            for (const unsigned index : list->second) {
                found.push_back(meta_.properties[index - 1]);
            }
        }
        return found;
    }

    std::optional<Bytes> property(unsigned item, std::string_view type) const {
        for (const Box& box : properties_of(item)) {
            if (box.type == type) {
                return box.body;
            }
        }
        return std::nullopt;
    }

    std::pair<int, int> size_of(unsigned item) const {
        auto body = property(item, "ispe");
        if (!body) {
            refuse_broken(file_, "a picture's size is not told");
        }
        version_and_flags(*body);
        const unsigned width = body->number(4);
        const unsigned height = body->number(4);
        constexpr unsigned largest = 1 << 20;
        if (width < 1 || height < 1 || width > largest || height > largest) {
            refuse_broken(file_, fmt::format("a picture's size is {} x {}", width, height));
        }
        return {static_cast<int>(width), static_cast<int>(height)};
    }

    /// Rotation (6.5.10) and mirror (6.5.12), applied in the order in which they are listed.
    std::optional<int> orientation_of(unsigned item) const {
        Turn turn{1, 0, 0, 1};
        bool told = false;
        for (Box& box : properties_of(item)) {
            if (box.type == "irot") {
                for (unsigned quarters = box.body.number(1) & 3; quarters > 0; --quarters) {
                    turn = after(quarter_left, turn);
                }
                told = true;
            } else if (box.type == "imir") {
                turn = after((box.body.number(1) & 1) != 0 ? sides_swapped : top_and_bottom_swapped,
                             turn);
                told = true;
            }
        }
        return told ? std::optional(exif_orientation(turn)) : std::nullopt;
    }

    /// A clean aperture (ISO/IEC 14496-12, 12.1.4) is either an encoder's way to say that it filled
    /// up the last block, which changes nothing, or a crop made afterwards.
    void refuse_crop(unsigned item, const HeifLayout& layout) const {
        auto body = property(item, "clap");
        if (!body) {
            return;
        }
        std::array<double, 4> values{};  // width, height, offset right, offset down
        for (std::size_t i = 0; i < values.size(); ++i) {
            const unsigned above = body->number(4);
            const unsigned below = body->number(4);
            const double signed_above = i < 2 ? 1.0 * above : 1.0 * static_cast<int>(above);
            if (below == 0) {
                body->fail("its crop has no size");
            }
            values[i] = signed_above / below;
        }
        constexpr double last_block_px = 64;
        const auto starts_at_edge = [](double whole, double kept, double offset) {
            const double first = (whole - kept) / 2 + offset;
            return std::abs(first) < 0.75 && whole - kept < last_block_px && kept <= whole;
        };
        if (!starts_at_edge(layout.width_px, values[0], values[2]) ||
            !starts_at_edge(layout.height_px, values[1], values[3])) {
            throw InputError(file_.string(), "shows only a part of its picture: it was cropped",
                             "bring the photo as the phone took it, before any editing");
        }
    }

    /// A second picture of transparency would be decoded with the first, whatever its size.
    void refuse_transparency(unsigned primary) const {
        for (const auto& reference : meta_.references) {
            const bool of_primary =
                std::find(reference.to.begin(), reference.to.end(), primary) != reference.to.end();
            if (reference.type != "auxl" || !of_primary) {
                continue;
            }
            auto body = property(reference.from, "auxC");
            if (!body) {
                continue;
            }
            const auto name = body->take(body->size());
            if (name.find("alpha") != std::string_view::npos ||
                name.find("auxid:1") != std::string_view::npos) {
                throw InputError(file_.string(), "is a picture with transparency, not a photo",
                                 "bring the photo as the phone took it, before any editing");
            }
        }
    }

    /// The coded pictures that the main one is put together from (a grid, 6.6.2.3); itself where it
    /// is in one piece. Each once.
    std::set<unsigned> parts_of(unsigned primary) const {
        if (type_of(primary) != "grid") {
            return {primary};
        }
        std::vector<unsigned> tiles;
        for (const auto& reference : meta_.references) {
            if (reference.type == "dimg" && reference.from == primary) {
                tiles.insert(tiles.end(), reference.to.begin(), reference.to.end());
            }
        }
        if (tiles.empty()) {
            refuse_broken(file_, "its pieces are missing");
        }
        if (tiles.size() > most_tiles) {
            throw InputError(file_.string(),
                             fmt::format("is put together from {} pieces, more than {}",
                                         tiles.size(), most_tiles),
                             "bring the photo as the phone took it");
        }
        double pixels = 0;
        for (const unsigned tile : tiles) {
            const auto [width, height] = size_of(tile);
            pixels += 1.0 * width * height;
        }
        refuse_giant(file_, pixels / 1.1, 1);  // the last row and column may reach beyond
        return {tiles.begin(), tiles.end()};
    }

    /// The format of a coded picture, which must be of the size that the container says: a decoder
    /// takes memory by the picture's own word.
    HevcFormat format_of(unsigned item) const {
        const auto type = type_of(item);
        if (type == "av01") {
            refuse_kind(file_, "an AVIF picture");
        }
        if (type != "hvc1") {
            refuse_kind(file_, "a picture made of others, or coded in another way");
        }
        std::optional<HevcFormat> format;
        for (const auto unit : units_of(item)) {
            if (hevc_unit_type(unit) != hevc_sequence_parameters) {
                continue;
            }
            format = hevc_format(unit);
            if (!format || std::pair(format->width_px, format->height_px) != size_of(item)) {
                refuse_broken(file_, "a picture's size is not what its container says");
            }
        }
        if (!format) {
            refuse_broken(file_, "how it is coded is not told");
        }
        return *format;
    }

    /// Units of a coded picture: those beside it (ISO/IEC 14496-15, 8.3.3.1), then those in its
    /// data.
    std::vector<std::string_view> units_of(unsigned item) const {
        auto body = property(item, "hvcC");
        if (!body) {
            refuse_broken(file_, "how it is coded is not told");
        }
        std::vector<std::string_view> units;
        body->take(21);
        const std::size_t length_bytes = 1 + (body->number(1) & 3);
        for (unsigned arrays = body->number(1); arrays > 0; --arrays) {
            body->take(1);
            for (unsigned left = body->number(2); left > 0; --left) {
                units.push_back(body->take(body->number(2)));
            }
        }
        Bytes data(data_of(item), file_);
        while (!data.empty()) {
            units.push_back(data.take(data.number(length_bytes)));
        }
        return units;
    }

    std::string_view data_of(unsigned item) const {
        const auto found = meta_.extents.find(item);
        if (found == meta_.extents.end() || found->second.size() != 1) {
            refuse_broken(file_, "a picture's data are missing or scattered");
        }
        const Extent& extent = found->second.front();
        const std::string_view whole = extent.in_idat ? meta_.idat : bytes_;
        if (extent.at > whole.size() || extent.length > whole.size() - extent.at) {
            refuse_broken(file_, "it ends too early");
        }
        return whole.substr(extent.at, extent.length);
    }

    const Meta& meta_;
    std::string_view bytes_;
    const std::filesystem::path& file_;
};

}  // namespace

HeifLayout read_heif_layout(std::string_view bytes, const std::filesystem::path& file) {
    std::optional<Bytes> meta;
    bool has_track = false;
    std::size_t end = 0;
    Bytes rest(bytes, file);
    try {
        while (!rest.empty()) {
            const Box box = Box::read(rest);
            end = bytes.size() - rest.size();
            has_track = has_track || box.type == "moov";
            if (box.type == "meta" && !meta) {
                meta = box.body;
            }
        }
    } catch (const InputError&) {
        if (!meta) {
            throw;
        }  // else what a phone hung on behind the container
    }
    if (!meta) {
        if (has_track) {
            refuse_kind(file, "a video or a moving picture");
        }
        refuse_broken(file, "its container lists no picture");
    }
    HeifLayout layout = Reader(read_meta(*meta), bytes, file).layout();
    layout.end = end;
    return layout;
}

}  // namespace squaresight

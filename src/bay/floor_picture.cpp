#include "bay/floor_picture.h"

#include <fmt/format.h>

#include "bay/phrases.h"
#include "job/words.h"
#include "photo/photo.h"
#include "plan/plan.h"
#include "report/floor_layout.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

constexpr std::uintmax_t largest_picture_bytes = 8u << 20;

/// All that the layout shows.
std::string identity(const Floor& floor) {
    std::string text = fmt::format(
        "{} {} {} {} {} {} {} {} {} {}", floor.bay, static_cast<int>(floor.unit), floor.target.name,
        floor.line_base_mm, floor.plumb_limit_mm, floor.smallest_base_mm.value_or(0),
        floor.ample_base_mm.value_or(0), floor.tape_left_point_mm.value_or(0),
        floor.tape_right_point_mm.value_or(0), floor.setup.distance_mm.value);
    const FloorSizes sizes = floor_sizes(floor);
    text += fmt::format(" {} {} {}", floor.setup.target_left_mm.value,
                        floor.setup.mount_left_mm.value, sizes.board_bottom_mm);
    for (const auto& tape : sizes.tapes) {
        text += fmt::format(" {} {} {}", tape.from, tape.to, tape.length_mm);
    }
    return sha256_hex(text);
}

}  // namespace

Floor job_floor(const Bay& bay, const JobSheet& sheet) {
    PlannedBay planned = load_planned_bay(bay.file);
    if (sheet.target_file) {
        planned.target = load_target(*sheet.target_file);
    }
    if (!sheet.sightings.empty() && sheet.sightings.front().setup &&
        sheet.sightings.front().setup->has_distance) {
        planned.setup.readings.distance_mm = sheet.sightings.front().setup->readings.distance_mm;
    }
    return floor_of(planned);
}

std::string floor_svg(const Floor& floor, FloorShape shape, Language language,
                      const std::filesystem::path& folder) {
    const auto file = folder / fmt::format("{}.{}.{}.svg", identity(floor), language_tag(language),
                                           shape == FloorShape::sheet ? "sheet" : "picture");
    if (!std::filesystem::exists(file)) {
        std::filesystem::create_directories(folder);
        const auto write = shape == FloorShape::sheet ? write_floor_layout : write_floor_picture;
        write(floor, file, PageKind::svg, [language](const std::string& english) {
            return translated(english, language).text;
        });
    }
    return read_file(file, largest_picture_bytes);
}

std::vector<std::pair<std::string, std::string>> floor_tapes(const Floor& floor,
                                                             Language language) {
    std::vector<std::pair<std::string, std::string>> tapes;
    for (const auto& tape : floor_sizes(floor).tapes) {
        tapes.emplace_back(tape.from + ", " + message(language, tape.to),
                           length_words(tape.length_mm, floor.unit));
    }
    return tapes;
}

std::vector<std::pair<std::string, std::string>> floor_lengths(const Floor& floor) {
    const FloorSizes sizes = floor_sizes(floor);
    const auto words = [&](double length_mm) { return length_words(length_mm, floor.unit); };
    std::vector<std::pair<std::string, std::string>> lengths{
        {"distance", words(floor.setup.distance_mm.value)}};
    if (floor.line_base_mm > 0) {
        lengths.emplace_back("line_base", words(floor.line_base_mm));
    }
    lengths.emplace_back(
        "floor_sides", words(sizes.rectangle_length_mm) + " × " + words(sizes.rectangle_width_mm));
    lengths.emplace_back("floor_diagonals", words(sizes.diagonal_mm));
    if (floor.setup.target_height_mm.measured) {
        lengths.emplace_back("target_height", words(floor.setup.target_height_mm.value));
        lengths.emplace_back("mount_height", words(floor.setup.mount_height_mm.value));
    }
    return lengths;
}

}  // namespace squaresight::bay

#include <fmt/format.h>

#include "target/target.h"
#include "units/entry.h"
#include "units/error.h"

namespace squaresight {
namespace {

constexpr std::string_view schema = "squaresight/target/1";

void read_markers(const Entry& entry, Pattern& pattern) {
    const auto dictionary = entry.find("dictionary");
    const auto marker = entry.find("marker");
    if (!dictionary && !marker) {
        if (const auto first_id = entry.find("first_id")) {
            first_id->fail(
                "stands without markers",
                "add 'marker' and 'dictionary', or take it out for a plain checkerboard");
        }
        return;
    }
    pattern.dictionary = entry.at("dictionary").text();
    pattern.marker_mm = entry.at("marker").length_mm(1, 5000);
    if (pattern.marker_mm >= pattern.square_mm) {
        marker->fail("is not smaller than the square", "measure both on the sheet, in one unit");
    }
    const auto known = marker_dictionary(pattern.dictionary, dictionary->where()).bits.size();
    if (const auto first_id = entry.find("first_id")) {
        pattern.first_id = first_id->whole(0, 100000);
    }
    const auto needed = static_cast<std::size_t>(pattern.first_id) + marker_places(pattern).size();
    if (needed > known) {
        dictionary->fail(fmt::format("{} holds {} markers, the pattern needs {}",
                                     pattern.dictionary, known, needed),
                         "check the squares, first_id and the dictionary's name");
    }
}

Pattern read_pattern(const Entry& entry) {
    entry.expect_keys(
        {"across", "down", "square", "marker", "dictionary", "first_id", "first_square"});
    Pattern pattern;
    pattern.across = entry.at("across").whole(3, 200);
    pattern.down = entry.at("down").whole(3, 200);
    pattern.square_mm = entry.at("square").length_mm(1, 5000);
    if (const auto colour = entry.find("first_square")) {
        pattern.first_square =
            colour->word({"black", "white"}) == "black" ? SquareColour::black : SquareColour::white;
    }
    read_markers(entry, pattern);
    return pattern;
}

void read_sheet(const Entry& entry, Target& target) {
    entry.expect_keys({"width", "height"});
    target.sheet_width_mm = entry.at("width").length_mm(20, 10000);
    target.sheet_height_mm = entry.at("height").length_mm(20, 10000);
}

void read_centre(const Entry& root, Target& target) {
    target.centre_mm = {target.sheet_width_mm / 2, target.sheet_height_mm / 2};
    const auto centre = root.find("centre");
    if (centre) {
        centre->expect_keys({"right", "down"});
        target.centre_mm = {centre->at("right").length_mm(0, target.sheet_width_mm),
                            centre->at("down").length_mm(0, target.sheet_height_mm)};
    }
    const auto& pattern = target.pattern;
    const Eigen::Vector2d half{pattern.across * pattern.square_mm / 2,
                               pattern.down * pattern.square_mm / 2};
    const Eigen::Vector2d sheet{target.sheet_width_mm, target.sheet_height_mm};
    const double slack_mm = 0.01;
    const Eigen::Vector2d first = target.centre_mm - half, last = target.centre_mm + half - sheet;
    if (first.minCoeff() < -slack_mm || last.maxCoeff() > slack_mm) {
        root.at("pattern").fail(
            fmt::format("is {:g} x {:g} mm and reaches beyond the sheet of {:g} x {:g} mm",
                        2 * half.x(), 2 * half.y(), sheet.x(), sheet.y()),
            "check squares, square, sheet and centre; is the sheet given on its side?");
    }
}

void read_print(const Entry& root, Target& target) {
    if (const auto printed = root.find("printed")) {
        printed->expect_keys({"across", "down", "skew"});
        target.printed_across = printed->at("across").number(0.9, 1.1);
        target.printed_down = printed->at("down").number(0.9, 1.1);
        target.print_checked = true;
        if (const auto skew = printed->find("skew")) {
            target.printed_skew = skew->number(-0.05, 0.05);
            target.skew_checked = true;
        }
    }
    if (const auto flatness = root.find("flatness")) {
        target.flatness_mm = flatness->length_mm(0, 100);
    }
    if (const auto date = root.find("printed_on")) {
        target.printed_on = date->date();
    }
    if (const auto date = root.find("checked_on")) {
        target.checked_on = date->date();
    }
}

std::string mm(double length) { return yaml_number(length) + " mm"; }

std::string pattern_yaml(const Pattern& pattern) {
    std::string text = fmt::format("pattern:\n  across: {}\n  down: {}\n  square: {}\n",
                                   pattern.across, pattern.down, mm(pattern.square_mm));
    if (pattern.has_markers()) {
        text += fmt::format("  marker: {}\n  dictionary: {}\n  first_id: {}\n",
                            mm(pattern.marker_mm), pattern.dictionary, pattern.first_id);
    }
    return text + fmt::format("  first_square: {}\n",
                              pattern.first_square == SquareColour::black ? "black" : "white");
}

}  // namespace

Target load_target(const std::filesystem::path& file) {
    const Entry root = Entry::load(file, schema);
    root.expect_keys({"schema", "name", "sheet", "pattern", "centre", "printed", "flatness",
                      "printed_on", "checked_on"});
    Target target;
    target.name = root.at("name").text();
    read_sheet(root.at("sheet"), target);
    target.pattern = read_pattern(root.at("pattern"));
    read_centre(root, target);
    read_print(root, target);
    return target;
}

std::string target_yaml(const Target& target) {
    std::string text =
        fmt::format("schema: {}\nname: {}\nsheet: {{width: {}, height: {}}}\n", schema,
                    yaml_text(target.name), mm(target.sheet_width_mm), mm(target.sheet_height_mm));
    text += pattern_yaml(target.pattern);
    text += fmt::format("centre: {{right: {}, down: {}}}\n", mm(target.centre_mm.x()),
                        mm(target.centre_mm.y()));
    if (target.print_checked) {
        text += fmt::format(
            "printed: {{across: {}, down: {}{}}}\n", yaml_number(target.printed_across),
            yaml_number(target.printed_down),
            target.skew_checked ? fmt::format(", skew: {}", yaml_number(target.printed_skew)) : "");
    }
    text += fmt::format("flatness: {}\n", mm(target.flatness_mm));
    if (!target.printed_on.empty()) {
        text += fmt::format("printed_on: {}\n", target.printed_on);
    }
    if (!target.checked_on.empty()) {
        text += fmt::format("checked_on: {}\n", target.checked_on);
    }
    return text;
}

}  // namespace squaresight

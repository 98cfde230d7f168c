#include "simulate/human_error.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <charconv>
#include <cmath>

#include "units/error.h"
#include "units/quantity.h"

namespace squaresight {
namespace {

using Names = std::vector<std::string_view>;

const Names lengths_read{"distance",     "target_left",   "mount_left",     "target_height",
                         "mount_height", "tape_1",        "tape_2",         "left_pass",
                         "right_pass",   "one_left_pass", "one_right_pass", "left_point",
                         "right_point"};
const Names short_lengths_read{"left_pass",  "right_pass",  "target_left", "mount_left",
                               "left_point", "right_point", "distance"};
const Names axes{"yaw", "pitch", "both"};
const Names stages{"as-found", "adjusted", "as-left"};

[[noreturn]] void refuse(const std::string& text, const std::string& wrong,
                         const std::string& next) {
    throw InputError("--error " + text, wrong, next);
}

template <class Range>
std::string near_or_all(std::string_view word, const Range& known) {
    const std::string near = nearest_name(word, known);
    return near.empty()
               ? fmt::format("write one of: {}", fmt::join(known, ", "))
               : fmt::format("did you mean '{}'? Known are: {}", near, fmt::join(known, ", "));
}

const HumanErrorKind& kind_named(const std::string& text, std::string_view name) {
    Names known;
    for (const auto& kind : human_error_kinds()) {
        if (kind.name == name) {
            return kind;
        }
        known.push_back(kind.name);
    }
    refuse(text, fmt::format("'{}' is no error that is known", name), near_or_all(name, known));
}

double size_of(const std::string& text, std::string_view digits, const HumanErrorKind& kind) {
    double size = 0;
    const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), size);
    const bool number = error == std::errc{} && end == digits.data() + digits.size();
    if (!number || !std::isfinite(size) || std::abs(size) > 1e4) {
        refuse(text, fmt::format("'{}' is no size", digits),
               kind.unit.empty() ? std::string("leave the size out")
                                 : fmt::format("write a number of {}", kind.unit));
    }
    return size;
}

void read_place(const std::string& text, std::string_view words, const HumanErrorKind& kind,
                HumanError& error) {
    while (!words.empty()) {
        const auto slash = std::min(words.find('/'), words.size());
        const std::string_view word = words.substr(0, slash);
        words.remove_prefix(std::min(slash + 1, words.size()));
        if (std::find(stages.begin(), stages.end(), word) != stages.end()) {
            error.stage = word;
        } else if (std::find(kind.places.begin(), kind.places.end(), word) != kind.places.end()) {
            error.place = word;
        } else {
            Names known = stages;
            known.insert(known.end(), kind.places.begin(), kind.places.end());
            refuse(text, fmt::format("'{}' is no place for this error", word),
                   near_or_all(word, known));
        }
    }
}

}  // namespace

const std::vector<HumanErrorKind>& human_error_kinds() {
    using enum Mistake;
    static const std::vector<HumanErrorKind> kinds{
        {sixteenth_misread,
         "sixteenth-misread",
         "sixteenths of an inch",
         "a length is read off wrong by sixteenths of an inch",
         1,
         {1, 2, 4, 8},
         lengths_read},
        {inch_misread,
         "inch-misread",
         "inches",
         "a length is read off wrong by whole inches",
         1,
         {1, 2, 4, 12},
         lengths_read},
        {feet_for_inches,
         "feet-for-inches",
         "",
         "a length in inches is written down as feet",
         1,
         {1},
         short_lengths_read},
        {inches_for_mm,
         "inches-for-mm",
         "",
         "a length in millimetres is written down as inches",
         1,
         {1},
         {"target_left", "mount_left", "left_pass", "right_pass", "distance"}},
        {left_right_swapped,
         "left-right-swapped",
         "",
         "left and right are mixed up: two tapes change places, an offset its side",
         1,
         {1},
         {"passes", "tapes", "target_left", "mount_left"}},
        {nose_sign_swapped,
         "nose-sign-swapped",
         "",
         "an inclinometer's up is written down as down",
         1,
         {1},
         {"face_level", "floor_rise", "target_lean_back"}},
        {degree_misread,
         "degree-misread",
         "deg",
         "an inclinometer is read off wrong by so many degrees",
         1,
         {0.2, 0.5, 1, 2, 5},
         {"face_level", "floor_rise", "target_lean_back", "target_roll_clockwise"}},
        {board_off_line,
         "board-off-line",
         "mm",
         "the board stands further left of the line than was written down",
         50,
         {2, 5, 10, 15, 20, 25, 30, 40, 50, 100},
         {}},
        {wrong_line,
         "wrong-line",
         "deg",
         "the marks of the rails' line are off: the line is turned further left",
         0.2,
         {0.05, 0.1, 0.2, 0.3, 0.5, 1},
         {}},
        {rail_zero_place,
         "rail-zero-place",
         "deg",
         "the inclinometer was zeroed where the rail points further up",
         0.5,
         {0.1, 0.2, 0.5, 1, 2},
         {}},
        {bumper_unsquare,
         "bumper-unsquare",
         "mm",
         "the bumper's left point is further ahead than was written down",
         10,
         {3, 6, 10, 15, 25},
         {}},
        {tape_point_elsewhere,
         "tape-point-elsewhere",
         "mm",
         "tapes of the setup start further ahead or left than was written down: all, or one",
         20,
         {5, 10, 20, 50, 100},
         {"ahead", "left", "one_ahead", "one_left"}},
        {board_on_head, "board-on-head", "", "the board hangs with its TOP down", 1, {1}, {}},
        {print_scale,
         "print-scale",
         "%",
         "the sheet was printed too large (small where negative)",
         -3,
         {-0.1, -0.2, -0.5, -1, -2, -3},
         {}},
        {wrong_camera_file,
         "wrong-camera-file",
         "%",
         "the camera file is of another phone of the same model, whose focal length differs",
         1,
         {0.2, 0.5, 1, 2, 3, 5},
         {}},
        {wrong_lens,
         "wrong-lens",
         "times",
         "the phone's other lens, so many times as long, was used",
         2,
         {1.05, 1.2, 1.5, 2},
         {"told", "untold"}},
        {zoom,
         "zoom",
         "times",
         "the phone zoomed in while the photos were taken",
         1.5,
         {1.01, 1.02, 1.05, 1.1, 1.5, 2},
         {"told", "untold"}},
        {cradle_labels,
         "cradle-labels",
         "photos",
         "so many photos have 'upright' written for inverted, or the other way round",
         1,
         {1, 2, 3, 4},
         {}},
        {cradle_knocked,
         "cradle-knocked",
         "deg",
         "the cradle was knocked before this measurement",
         0.5,
         {0.05, 0.1, 0.15, 0.2, 0.3, 0.5, 1},
         {"sideways", "up"},
         true},
        {cradle_not_seated,
         "cradle-not-seated",
         "deg",
         "the cradle did not sit flat on the face in the first photo",
         0.5,
         {0.05, 0.1, 0.15, 0.2, 0.3, 0.5, 1},
         {"sideways", "up"}},
        {truck_moved,
         "truck-moved",
         "mm (deg where turned)",
         "the truck moved before this measurement, and the sheet says 'setup: same'",
         20,
         {1, 2, 5, 10, 20, 50},
         {"sideways", "ahead", "turned"},
         true},
        {wrong_photo,
         "wrong-photo",
         "photos",
         "so many photos of an earlier measurement are listed again: the same, or others of it",
         1,
         {1, 2},
         {"copy", "earlier", "untimed"},
         true},
        {wrong_screw,
         "wrong-screw",
         "",
         "each screw was turned in place of the other",
         1,
         {1},
         {},
         true},
        {wrong_way, "wrong-way", "", "a screw was turned the wrong way", 1, {1}, axes, true},
        {half_turned,
         "half-turned",
         "of the turns",
         "only so much of the turns was made",
         0.5,
         {0.9, 0.75, 0.5, 0.25, 0},
         {"both", "yaw", "pitch"},
         true},
        {wrong_mount_profile,
         "wrong-mount-profile",
         "%",
         "the profile is of another mount: a turn does so much more than it says",
         50,
         {10, 20, 30, 50, 75},
         {},
         true},
        {clockwise_sense,
         "clockwise-sense",
         "",
         "the profile says 'in' of a screw whose clockwise is 'out', or the other way round",
         1,
         {1},
         axes,
         true},
    };
    return kinds;
}

const HumanErrorKind& HumanError::kind() const {
    const auto& kinds = human_error_kinds();
    return *std::find_if(kinds.begin(), kinds.end(),
                         [&](const HumanErrorKind& one) { return one.mistake == mistake; });
}

std::string HumanError::text() const {
    std::string text(kind().name);
    if (!kind().unit.empty()) {
        text += fmt::format("={}", size);
    }
    if (!stage.empty() || !place.empty()) {
        text += fmt::format("@{}{}{}", stage, stage.empty() || place.empty() ? "" : "/", place);
    }
    return text;
}

HumanError parse_human_error(const std::string& text) {
    const std::string_view whole = text;
    const auto at = std::min(whole.find('@'), whole.size());
    const std::string_view before = whole.substr(0, at);
    const auto equals = std::min(before.find('='), before.size());
    const HumanErrorKind& kind = kind_named(text, before.substr(0, equals));
    HumanError error{kind.mistake, kind.usual, "", ""};
    if (equals < before.size()) {
        error.size = size_of(text, before.substr(equals + 1), kind);
    }
    if (kind.unit.empty() && error.size != 1) {
        refuse(text, "has a size, but this error is made or not", "leave '=SIZE' out");
    }
    if (at < whole.size()) {
        read_place(text, whole.substr(at + 1), kind, error);
    }
    return error;
}

}  // namespace squaresight

#include "target/layout.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "units/error.h"

namespace squaresight {
namespace {

constexpr double quiet_zone_squares = 0.25;
constexpr int squares_along_short_side = 8;

struct Room {
    double across_mm = 0;
    double down_mm = 0;
};

Room room_of(const TargetWish& wish) {
    const Margins margins = margins_of(wish.sheet_width_mm, wish.sheet_height_mm);
    return {wish.sheet_width_mm - 2 * margins.side_mm, wish.sheet_height_mm - 2 * margins.end_mm};
}

/// Squares that fit with the quiet zone at both ends.
int squares_in(double length_mm, double square_mm) {
    return static_cast<int>(std::floor(length_mm / square_mm - 2 * quiet_zone_squares + 1e-9));
}

/// A plain board with an even and an odd side differs from itself turned half a turn.
void make_unsymmetrical(Pattern& pattern) {
    if ((pattern.across + pattern.down) % 2 == 0) {
        int& longer = pattern.across >= pattern.down ? pattern.across : pattern.down;
        --longer;
    }
}

Pattern filled(const TargetWish& wish, double square_mm) {
    const Room room = room_of(wish);
    Pattern pattern;
    pattern.square_mm = square_mm;
    pattern.across = squares_in(room.across_mm, square_mm);
    pattern.down = squares_in(room.down_mm, square_mm);
    return pattern;
}

double area(const Pattern& pattern) {
    return pattern.across * pattern.down * pattern.square_mm * pattern.square_mm;
}

Pattern largest_pattern(const TargetWish& wish) {
    const bool landscape = wish.sheet_width_mm >= wish.sheet_height_mm;
    Pattern best;
    for (int square_mm = 500; square_mm >= 5; --square_mm) {
        Pattern pattern = filled(wish, square_mm);
        int& short_side = landscape ? pattern.down : pattern.across;
        if (short_side < squares_along_short_side) {
            continue;
        }
        short_side = squares_along_short_side;
        if (wish.checkerboard) {
            make_unsymmetrical(pattern);
        }
        if (area(pattern) > area(best)) {
            best = pattern;
        }
    }
    return best;
}

Pattern pattern_of_square(const TargetWish& wish) {
    Pattern pattern = filled(wish, *wish.square_mm);
    if (wish.checkerboard) {
        make_unsymmetrical(pattern);
    }
    if (std::max(pattern.across, pattern.down) < 6 || std::min(pattern.across, pattern.down) < 4) {
        throw InputError("--square",
                         fmt::format("only {} x {} squares of {:g} mm fit on this sheet",
                                     pattern.across, pattern.down, *wish.square_mm),
                         "6 x 4 are needed; take smaller squares or a larger sheet");
    }
    return pattern;
}

void add_markers(Pattern& pattern) {
    pattern.marker_mm = std::floor(0.74 * pattern.square_mm);
    for (const auto* name : {"DICT_4X4_100", "DICT_4X4_250", "DICT_4X4_1000"}) {
        pattern.dictionary = name;
        if (marker_places(pattern).size() <= marker_dictionary(name, "dictionary").bits.size()) {
            return;
        }
    }
    throw InputError("--square", "more squares than there are markers", "take larger squares");
}

double bar_length(double longest) {
    const double step = longest >= 500 ? 100 : 10;
    return std::floor(longest / step) * step;
}

}  // namespace

Margins margins_of(double sheet_width_mm, double sheet_height_mm) {
    Margins margins;
    margins.words = std::clamp(std::min(sheet_width_mm, sheet_height_mm) / 594, 0.8, 1.5);
    margins.side_mm = margins.unprintable_mm + 9 * margins.words;
    margins.end_mm = margins.unprintable_mm + 15 * margins.words;
    return margins;
}

double quiet_zone_mm(const Pattern& pattern) { return quiet_zone_squares * pattern.square_mm; }

Target design_target(const TargetWish& wish) {
    Target target;
    target.name = wish.name;
    target.sheet_width_mm = wish.sheet_width_mm;
    target.sheet_height_mm = wish.sheet_height_mm;
    target.centre_mm = {wish.sheet_width_mm / 2, wish.sheet_height_mm / 2};
    target.pattern = wish.square_mm ? pattern_of_square(wish) : largest_pattern(wish);
    if (!wish.checkerboard) {
        add_markers(target.pattern);
    }
    return target;
}

Eigen::Vector2d check_bar_mm(const Target& target) {
    const Margins margins = margins_of(target.sheet_width_mm, target.sheet_height_mm);
    const double air = 2;  // so that the bars touch neither each other nor what is not printed
    return {bar_length(target.sheet_width_mm - 2 * margins.unprintable_mm - air),
            bar_length(target.sheet_height_mm - margins.unprintable_mm - margins.end_mm - air)};
}

std::optional<double> short_check_mm(double bar_mm) {
    return bar_mm >= 700 ? std::optional(500.0) : std::nullopt;
}

std::optional<double> print_scale(double measured_mm, double bar_mm) {
    const auto to_millionth = [](double scale) { return std::round(scale * 1e6) / 1e6; };
    const double scale = measured_mm / bar_mm;
    if (scale >= 0.9 && scale <= 1.1) {
        return to_millionth(scale);
    }
    const auto mark_mm = short_check_mm(bar_mm);
    if (mark_mm && measured_mm >= 0.9 * *mark_mm && measured_mm <= 1.1 * *mark_mm) {
        return to_millionth(measured_mm / *mark_mm);
    }
    return std::nullopt;
}

}  // namespace squaresight

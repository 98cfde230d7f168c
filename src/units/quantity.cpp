#include "units/quantity.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cmath>
#include <numeric>
#include <stdexcept>
#include <vector>

namespace squaresight {
namespace {

struct Unit {
    std::string_view name;
    Dimension dimension;
    double factor;  ///< to mm or deg
};

constexpr double mm_per_foot = 12 * mm_per_inch;

constexpr std::array units{Unit{"mm", Dimension::length, 1},
                           Unit{"cm", Dimension::length, 10},
                           Unit{"m", Dimension::length, 1000},
                           Unit{"in", Dimension::length, mm_per_inch},
                           Unit{"inch", Dimension::length, mm_per_inch},
                           Unit{"inches", Dimension::length, mm_per_inch},
                           Unit{"\"", Dimension::length, mm_per_inch},
                           Unit{"''", Dimension::length, mm_per_inch},
                           Unit{"ft", Dimension::length, mm_per_foot},
                           Unit{"foot", Dimension::length, mm_per_foot},
                           Unit{"feet", Dimension::length, mm_per_foot},
                           Unit{"'", Dimension::length, mm_per_foot},
                           Unit{"deg", Dimension::angle, 1},
                           Unit{"mrad", Dimension::angle, deg_per_rad / 1000},
                           Unit{"arcmin", Dimension::angle, 1.0 / 60}};

constexpr double largest_number = 1e12;

[[noreturn]] void refuse(const std::string& text) { throw std::invalid_argument(text); }

const char* unit_advice(Dimension dimension) {
    return dimension == Dimension::length
               ? "write a length with mm, cm, m, in or ft, such as 5000 mm, 6 1/16 in or 16' 4 "
                 "1/2\""
               : "write an angle with deg, mrad or arcmin, such as 0.2 deg";
}

std::string_view trimmed(std::string_view text) {
    while (!text.empty() && std::isspace(static_cast<unsigned char>(text.front()))) {
        text.remove_prefix(1);
    }
    while (!text.empty() && std::isspace(static_cast<unsigned char>(text.back()))) {
        text.remove_suffix(1);
    }
    return text;
}

/// Takes one unsigned decimal number off the front of `text`; nothing if there is none.
std::optional<double> take_decimal(std::string_view& text) {
    text = trimmed(text);
    if (text.empty() ||
        !(std::isdigit(static_cast<unsigned char>(text.front())) || text.front() == '.')) {
        return std::nullopt;
    }
    double value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc{} || !std::isfinite(value) || value > largest_number) {
        refuse(fmt::format("'{}' is not a usable number; write it in plain digits", text));
    }
    text.remove_prefix(static_cast<std::size_t>(end - text.data()));
    return value;
}

/// The divisor after a '/', if one follows.
std::optional<double> take_divisor(std::string_view& text) {
    text = trimmed(text);
    if (text.empty() || text.front() != '/') {
        return std::nullopt;
    }
    text.remove_prefix(1);
    const auto divisor = take_decimal(text);
    if (!divisor || *divisor <= 0 || std::floor(*divisor) != *divisor) {
        refuse("a fraction needs a whole number above zero under the bar; write it as 5/16");
    }
    return divisor;
}

void refuse_decimals(double part_of_fraction) {
    if (std::floor(part_of_fraction) != part_of_fraction) {
        refuse("decimals and a fraction do not go together; write 7.5 or 7 1/2");
    }
}

/// Takes "7", "7.5", "5/16" or "7 5/16" off the front of `text`.
std::optional<double> take_mixed(std::string_view& text) {
    const auto first = take_decimal(text);
    if (!first) {
        return std::nullopt;
    }
    if (const auto divisor = take_divisor(text)) {
        refuse_decimals(*first);
        return *first / *divisor;
    }
    std::string_view rest = text;
    if (const auto second = take_decimal(rest)) {
        const auto divisor = take_divisor(rest);
        if (!divisor) {
            refuse("two numbers stand side by side; write one number, or a fraction as 7 5/16");
        }
        refuse_decimals(*first);
        refuse_decimals(*second);
        if (*second >= *divisor) {
            refuse("the fraction is one or more; write it as 7 5/16");
        }
        text = rest;
        return *first + *second / *divisor;
    }
    return first;
}

/// Takes a unit's word or mark off the front of `text`; empty if there is none.
std::string_view take_unit(std::string_view& text) {
    text = trimmed(text);
    std::size_t length = 0;
    if (text.starts_with("''")) {
        length = 2;
    } else if (text.starts_with('\'') || text.starts_with('"')) {
        length = 1;
    }
    while (length < text.size() && std::isalpha(static_cast<unsigned char>(text[length]))) {
        ++length;
    }
    const auto word = text.substr(0, length);
    text.remove_prefix(length);
    if ((word == "ft" || word == "in") && text.starts_with('.')) {
        text.remove_prefix(1);
    }
    return word;
}

/// The marks of feet and inches as phones and word processors turn them.
std::string with_plain_marks(std::string_view text) {
    constexpr std::array feet{"\u2032", "\u2018", "\u2019"};
    constexpr std::array inches{"\u2033", "\u201c", "\u201d"};
    std::string plain(text);
    const auto put = [&](std::string_view special, const char* mark) {
        for (auto at = plain.find(special); at != std::string::npos; at = plain.find(special)) {
            plain.replace(at, special.size(), mark);
        }
    };
    for (const char* special : feet) {
        put(special, "'");
    }
    for (const char* special : inches) {
        put(special, "\"");
    }
    return plain;
}

double take_sign(std::string_view& text) {
    text = trimmed(text);
    if (text.empty() || (text.front() != '-' && text.front() != '+')) {
        return 1;
    }
    const double sign = text.front() == '-' ? -1 : 1;
    text.remove_prefix(1);
    return sign;
}

double unit_factor(std::string_view word, Dimension dimension, std::string_view whole) {
    if (word.empty() && whole.find(',') != std::string_view::npos) {
        refuse(fmt::format("'{}' has a comma in its number; write a decimal point", whole));
    }
    if (word.empty()) {
        refuse(fmt::format("'{}' has no unit; {}", whole, unit_advice(dimension)));
    }
    for (const auto& unit : units) {
        if (unit.name == word) {
            if (unit.dimension != dimension) {
                refuse(fmt::format("'{}' is in {}, which is no {}; {}", whole, word,
                                   dimension == Dimension::length ? "length" : "angle",
                                   unit_advice(dimension)));
            }
            return unit.factor;
        }
    }
    refuse(fmt::format("'{}' has the unknown unit '{}'; {}", whole, word, unit_advice(dimension)));
}

struct Length {
    double value = 0;  ///< mm, or deg
    bool in_inches = false;
};

void check_inches_beside_feet(double feet, double inches, std::string_view whole) {
    if (std::floor(feet) != feet) {
        refuse(
            fmt::format("'{}' has part of a foot beside its inches; write whole feet, such as "
                        "16 ft 4 1/2 in",
                        whole));
    }
    if (inches >= 12) {
        refuse(fmt::format("'{}' has 12 inches or more beside its feet; count each 12 as a foot",
                           whole));
    }
}

/// Reads all of `text` as one signed quantity without limits.
Length parse_plain(std::string_view text, Dimension dimension) {
    const std::string plain = with_plain_marks(trimmed(text));
    const std::string_view whole = plain;
    if (std::any_of(whole.begin(), whole.end(),
                    [](char c) { return static_cast<unsigned char>(c) >= 0x80; })) {
        refuse(
            fmt::format("'{}' holds a special sign (such as a degree sign, a long minus or a "
                        "fixed space); {}",
                        whole, unit_advice(dimension)));
    }
    std::string_view rest = whole;
    const double sign = take_sign(rest);
    Length length;
    double feet = -1;  // that stood before
    bool more_may_follow = true;
    do {
        const auto number = take_mixed(rest);
        if (!number) {
            refuse(
                fmt::format("'{}' is not a number with a unit; {}", whole, unit_advice(dimension)));
        }
        const double factor = unit_factor(take_unit(rest), dimension, whole);
        if (!more_may_follow || (feet >= 0 && factor != mm_per_inch)) {
            refuse(fmt::format("'{}' mixes units; only feet and inches go together", whole));
        }
        if (feet >= 0) {
            check_inches_beside_feet(feet, *number, whole);
        }
        more_may_follow = factor == mm_per_foot;
        feet = more_may_follow ? *number : -1;
        length.in_inches = factor == mm_per_inch || factor == mm_per_foot;
        length.value += *number * factor;
        rest = trimmed(rest);
        if (more_may_follow && rest.starts_with('-')) {  // as drawings have it: 16'-4 1/2"
            rest.remove_prefix(1);
        }
    } while (!rest.empty());
    length.value *= sign;
    return length;
}

}  // namespace

Quantity parse_quantity(std::string_view text, Dimension dimension) {
    for (const std::string_view mark : {"+/-", "\u00b1"}) {
        const auto at = text.find(mark);
        if (at == std::string_view::npos) {
            continue;
        }
        const Length length = parse_plain(text.substr(0, at), dimension);
        const double limit = parse_plain(text.substr(at + mark.size()), dimension).value;
        if (limit < 0) {
            refuse(fmt::format("'{}' has a negative limit; write +/- 3 mm", trimmed(text)));
        }
        return {length.value, limit, length.in_inches};
    }
    const Length length = parse_plain(text, dimension);
    return {length.value, std::nullopt, length.in_inches};
}

double parse_number(std::string_view text) {
    std::string_view rest = text;
    const double sign = take_sign(rest);
    const auto number = take_mixed(rest);
    if (!number || !trimmed(rest).empty()) {
        refuse(fmt::format("'{}' is not a number; write plain digits", trimmed(text)));
    }
    return sign * *number;
}

double parse_turns_clockwise(std::string_view text) {
    const std::string advice = "write turns with their direction, such as 5/8 counter-clockwise";
    std::string_view rest = text;
    const auto number = take_mixed(rest);
    rest = trimmed(rest);
    if (!number) {
        refuse(
            fmt::format("'{}' does not begin with a number of turns; {}", trimmed(text), advice));
    }
    if (rest == "clockwise") {
        return *number;
    }
    if (rest == "counter-clockwise") {
        return -*number;
    }
    if (rest.empty() && *number == 0) {
        return 0;
    }
    refuse(fmt::format("'{}' has no direction; {}", trimmed(text), advice));
}

double standard_from_limit(double limit) { return limit / std::sqrt(3.0); }

namespace {

std::string mixed_fraction(long parts, int per_whole) {
    if (parts < 0) {
        return "-" + mixed_fraction(-parts, per_whole);
    }
    const long whole = parts / per_whole;
    const long numerator = parts % per_whole;
    if (numerator == 0) {
        return std::to_string(whole);
    }
    const long common = std::gcd(numerator, static_cast<long>(per_whole));
    const auto fraction = fmt::format("{}/{}", numerator / common, per_whole / common);
    return whole == 0 ? fraction : fmt::format("{} {}", whole, fraction);
}

}  // namespace

std::string inches_text(double length_mm) {
    return mixed_fraction(std::lround(length_mm / mm_per_inch * 16), 16) + " in";
}

std::string length_text(double length_mm, LengthUnit unit) {
    const double parts = length_mm / mm_per_inch * 64;
    if (unit == LengthUnit::in && std::abs(parts - std::round(parts)) < 1e-6) {
        return mixed_fraction(std::lround(parts), 64) + " in";
    }
    return fmt::format("{:.9g} mm", length_mm);
}

std::string shown_length(double length_mm, LengthUnit unit) {
    if (unit == LengthUnit::in) {
        return feet_inches_text(length_mm);
    }
    return std::abs(length_mm) < 10 ? fmt::format("{:.2g} mm", length_mm)
                                    : fmt::format("{:.0f} mm", length_mm);
}

std::string shown_difference(double length_mm, LengthUnit unit) {
    const double size_mm = std::abs(length_mm);
    if (unit == LengthUnit::mm) {
        return fmt::format("{:.1f} mm", size_mm);
    }
    constexpr int finest = 64;  // parts of an inch
    if (size_mm >= mm_per_inch) {
        return feet_inches_text(size_mm);
    }
    const long parts = std::lround(size_mm / mm_per_inch * finest);
    return parts == 0 ? "under 1/64 in" : mixed_fraction(parts, finest) + " in";
}

std::string feet_inches_text(double length_mm) {
    const long sixteenths = std::lround(length_mm / mm_per_inch * 16);
    const long feet = sixteenths / (12 * 16);
    if (feet == 0) {
        return inches_text(length_mm);
    }
    const std::string rest = mixed_fraction(std::labs(sixteenths % (12 * 16)), 16);
    return fmt::format("{} ft{}", feet, rest == "0" ? "" : " " + rest + " in");
}

std::string eighths_text(int eighths) { return mixed_fraction(eighths, 8); }

int edit_distance(std::string_view a, std::string_view b) {
    std::vector<int> row(b.size() + 1);
    std::iota(row.begin(), row.end(), 0);
    for (std::size_t i = 1; i <= a.size(); ++i) {
        int diagonal = row[0];
        row[0] = static_cast<int>(i);
        for (std::size_t j = 1; j <= b.size(); ++j) {
            const int substituted = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
            diagonal = row[j];
            row[j] = std::min({row[j] + 1, row[j - 1] + 1, substituted});
        }
    }
    return row[b.size()];
}

}  // namespace squaresight

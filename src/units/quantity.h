#pragma once
#include <optional>
#include <string>
#include <string_view>

/// Quantities as people write them: "5000 mm +/- 3 mm", "6 1/16 in", "0.2 deg".
/// Inside the program a length is in millimetres and an angle in degrees, and names say so.
namespace squaresight {

inline constexpr double mm_per_inch =
    25.4;  ///< exact: international yard and pound agreement, 1959
inline constexpr double deg_per_rad = 57.295779513082320876798;
inline constexpr double rad_per_deg = 1 / deg_per_rad;

enum class Dimension { length, angle };

/// A value with, optionally, the limits within which it surely lies.
/// In mm for a length and in deg for an angle.
struct Quantity {
    double value = 0;
    std::optional<double> limit;  ///< what followed "+/-"; never negative
    bool in_inches = false;       ///< a length was written in inches or feet
};

/// Reads one quantity with its unit: mm, cm, m, in, ft for a length; deg, mrad, arcmin for an
/// angle. Whole numbers with a fraction ("7 5/16 in") are accepted, feet with inches below 12 in
/// all usual ways: 16 ft 4 1/2 in, 16' 4 1/2", 16'-4 1/2".
/// "+/-" (or the sign ±) is followed by another quantity with its own unit.
/// Throws std::invalid_argument whose text says what is wrong and what to write instead
/// (missing or wrong unit, not a number, not finite, negative limit).
Quantity parse_quantity(std::string_view text, Dimension dimension);

/// Reads a plain number, "1 1/2" and "5/8" included. Throws std::invalid_argument as above.
double parse_number(std::string_view text);

/// Turns of a screw: "5/8 counter-clockwise", "1 1/2 clockwise". Clockwise is positive, as seen
/// facing the screw's head. Throws std::invalid_argument as above.
double parse_turns_clockwise(std::string_view text);

/// Standard uncertainty of a value known only to lie within +/- `limit`: rectangular distribution,
/// limit / sqrt(3) (JCGM 100:2008, GUM, 4.3.7).
double standard_from_limit(double limit);

/// A length as a shop's tape shows it, to the nearest sixteenth: "7 5/16 in", "-1/2 in", "0 in".
std::string inches_text(double length_mm);

/// The same in feet and inches from a foot on: "16 ft 4 7/8 in", "7 5/16 in".
std::string feet_inches_text(double length_mm);

/// The unit of a shop's tapes, for what is written and printed.
enum class LengthUnit { mm, in };

/// A length in the shop's unit, whole millimetres (from 10 mm) or to the nearest sixteenth:
/// "4998 mm", "16 ft 4 3/4 in".
std::string shown_length(double length_mm, LengthUnit unit);

/// The size of a difference or an error in the shop's unit, to 0.1 mm or, below an inch, to the
/// nearest 1/64: "3.2 mm", "1/8 in", "under 1/64 in". Without a sign.
std::string shown_difference(double length_mm, LengthUnit unit);

/// A length that reads back as the same length: in inches where the shop uses them and it is a
/// whole number of sixty-fourths, else in mm. "196 11/16 in", "4998 mm".
std::string length_text(double length_mm, LengthUnit unit);

/// A number of eighths as a mixed fraction: 13 -> "1 5/8", 4 -> "1/2", 0 -> "0".
std::string eighths_text(int eighths);

/// The name in `known` that is closest to `word` by edit distance; empty if none is near.
template <class Names>
std::string nearest_name(std::string_view word, const Names& known);

/// Levenshtein distance: insertions, deletions and substitutions cost one each.
int edit_distance(std::string_view a, std::string_view b);

template <class Names>
std::string nearest_name(std::string_view word, const Names& known) {
    std::string best;
    int best_distance = static_cast<int>(word.size()) / 2 + 2;
    for (const auto& name : known) {
        const int distance = edit_distance(word, name);
        if (distance < best_distance) {
            best_distance = distance;
            best = std::string(name);
        }
    }
    return best;
}

}  // namespace squaresight

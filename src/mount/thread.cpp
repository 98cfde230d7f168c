#include "mount/thread.h"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <regex>
#include <stdexcept>
#include <string>
#include <utility>

#include "units/quantity.h"

namespace squaresight {
namespace {

/// Nominal diameter and pitch of the coarse series, mm (ISO 261).
constexpr std::array<std::pair<double, double>, 18> coarse_series{{{1.6, 0.35},
                                                                   {2, 0.4},
                                                                   {2.5, 0.45},
                                                                   {3, 0.5},
                                                                   {4, 0.7},
                                                                   {5, 0.8},
                                                                   {6, 1},
                                                                   {8, 1.25},
                                                                   {10, 1.5},
                                                                   {12, 1.75},
                                                                   {14, 2},
                                                                   {16, 2},
                                                                   {20, 2.5},
                                                                   {24, 3},
                                                                   {30, 3.5},
                                                                   {36, 4},
                                                                   {42, 4.5},
                                                                   {48, 5}}};

/// Coarse M1.6 has the steepest pitch for its diameter, 0.22 of it.
constexpr double steepest_pitch_per_diameter = 0.25;

[[noreturn]] void refuse(std::string_view text, const std::string& wrong, const char* next) {
    throw std::invalid_argument(fmt::format("thread '{}' {}; {}", text, wrong, next));
}

double coarse_pitch_mm(std::string_view text, double diameter_mm) {
    for (const auto& [diameter, pitch] : coarse_series) {
        if (diameter == diameter_mm) {
            return pitch;
        }
    }
    refuse(text, "names no pitch and has no coarse one in ISO 261", "write it as M6 x 1.0");
}

/// Diameter in mm of an inch thread's name: "1/4", "1 1/8", or a numbered size ("#10", "10").
double inch_diameter_mm(const std::string& name) {
    if (name.find('/') != std::string::npos) {
        return parse_number(name) * mm_per_inch;
    }
    const double number = parse_number(name[0] == '#' ? name.substr(1) : name);
    // Numbered screw sizes: 0.060 in + 0.013 in a number (ASME B1.1).
    return (0.060 + 0.013 * number) * mm_per_inch;
}

double checked(std::string_view text, double pitch_mm, double diameter_mm) {
    if (!(pitch_mm >= 0.1 && diameter_mm >= 1 && diameter_mm <= 64 &&
          pitch_mm <= steepest_pitch_per_diameter * diameter_mm)) {
        refuse(text, fmt::format("would be {:g} mm a turn on {:g} mm", pitch_mm, diameter_mm),
               "check diameter and pitch, as in M6 x 1.0 or 1/4-20 UNC");
    }
    return pitch_mm;
}

}  // namespace

double thread_pitch_mm(std::string_view text) {
    static const std::regex metric(
        R"(\s*M(\d{1,2}(?:\.\d{1,3})?)(?:\s*[xX]\s*(\d{1,2}(?:\.\d{1,3})?))?\s*)");
    static const std::regex inch(
        R"(\s*(#?\d{1,2}|\d{1,2}/\d{1,2}|\d \d{1,2}/\d{1,2})\s*-\s*(\d{1,3}(?:\.\d)?)(?:\s*UN[CFRS]?|\s*UNEF)?\s*)");
    const std::string whole(text.substr(0, 80));
    std::smatch found;
    if (std::regex_match(whole, found, metric)) {
        const double diameter_mm = parse_number(found[1].str());
        const double pitch_mm =
            found[2].matched ? parse_number(found[2].str()) : coarse_pitch_mm(whole, diameter_mm);
        return checked(whole, pitch_mm, diameter_mm);
    }
    if (std::regex_match(whole, found, inch)) {
        const double threads_per_inch = parse_number(found[2].str());
        return checked(whole, mm_per_inch / threads_per_inch, inch_diameter_mm(found[1].str()));
    }
    refuse(whole, "is not a thread that is known here", "write it as M6 x 1.0 or 1/4-20 UNC");
}

}  // namespace squaresight

#include "adjust/slips.h"

#include <cmath>

#include "units/quantity.h"

namespace squaresight {
namespace {

/// What the rest of the job says that a reading should be.
struct ShouldBe {
    double value = 0;
    double standard_uncertainty = 0;  ///< of the difference to a reading of it
    bool fits(double candidate, double sigmas = test_limit) const {
        return std::abs(candidate - value) <= sigmas * standard_uncertainty;
    }
};

ShouldBe should_be(const ReadingCheck& suspect) {
    const double r = suspect.shown.redundancy;
    const double given = suspect.standard_uncertainty;
    const double reading_u = suspect.shown.set_aside ? given / set_aside_factor : given;
    return {suspect.shown.value + suspect.shown.residual / r,
            std::hypot(given * std::sqrt((1 - r) / r), reading_u)};
}

bool is_tape(const ReadingCheck& check) { return check.shown.name.starts_with("tape "); }

std::string swapped_tapes(const ReadingCheck& aside, const std::vector<ReadingCheck>& checks) {
    for (const auto& other : checks) {
        if (!is_tape(aside) || !is_tape(other) || other.key() == aside.key() ||
            other.setup != aside.setup) {
            continue;
        }
        if (other.shown.set_aside && should_be(aside).fits(other.shown.value) &&
            should_be(other).fits(aside.shown.value)) {
            return "Swapping it with '" + other.shown.name +
                   "' makes both fit: were the two swapped?";
        }
    }
    return "";
}

std::string other_unit(const ReadingCheck& aside, const ShouldBe& own) {
    const double value = aside.shown.value;
    if (own.fits(value * mm_per_inch)) {
        return "It fits as inches: were inches written down as mm?";
    }
    if (own.fits(value / mm_per_inch)) {
        return "It fits as mm: were mm written down as inches?";
    }
    constexpr double inches_per_foot = 12;
    if (own.fits(value * inches_per_foot)) {
        return "It fits as feet: were feet written down as inches?";
    }
    if (own.fits(value / inches_per_foot)) {
        return "It fits as inches: were inches written down as feet?";
    }
    return "";
}

std::string whole_inch(const ReadingCheck& aside, const ShouldBe& own) {
    constexpr double sigmas_95 = 1.96;
    if (sigmas_95 * own.standard_uncertainty > mm_per_inch / 2) {
        return "";  // a whole inch could not be told from half of one
    }
    for (const double inches : {1, 2}) {
        for (const double sign : {1.0, -1.0}) {
            if (own.fits(aside.shown.value + sign * inches * mm_per_inch, sigmas_95)) {
                return std::string(inches == 1 ? "One inch" : "Two inches") + " " +
                       (sign > 0 ? "more" : "less") + " would fit: was it misread?";
            }
        }
    }
    return "";
}

}  // namespace

std::string likely_slip(const ReadingCheck& aside, const std::vector<ReadingCheck>& checks) {
    const ShouldBe own = should_be(aside);
    if (!is_tape(aside) && own.fits(-aside.shown.value)) {
        return aside.shown.unit == "mm"
                   ? "The same on the other side fits: were left and right swapped?"
                   : "The same the other way fits: was its direction swapped (up for down, left "
                     "for "
                     "right)?";
    }
    if (std::string swapped = swapped_tapes(aside, checks); !swapped.empty()) {
        return swapped;
    }
    if (aside.shown.unit != "mm") {
        return "";
    }
    const std::string unit = other_unit(aside, own);
    return unit.empty() ? whole_inch(aside, own) : unit;
}

}  // namespace squaresight

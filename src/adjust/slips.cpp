#include "adjust/slips.h"

#include <cmath>
#include <optional>

#include "units/quantity.h"

namespace squaresight {
namespace {

/// What the rest of the job says that a reading should be.
struct ShouldBe {
    double value = 0;
    double standard_uncertainty = 0;
    bool fits(double candidate) const {
        return std::abs(candidate - value) <= test_limit * standard_uncertainty;
    }
};

ShouldBe should_be(const ReadingCheck& aside) {
    const double u = aside.standard_uncertainty * std::sqrt(1 - aside.shown.redundancy);
    return {aside.shown.value + aside.shown.residual,
            std::hypot(u, aside.standard_uncertainty / set_aside_factor)};
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
    // Beyond this a whole inch cannot be told from half of one.
    if (own.standard_uncertainty > mm_per_inch / (4 * 1.96)) {
        return "";
    }
    for (const double inches : {1, 2}) {
        for (const double sign : {1.0, -1.0}) {
            if (own.fits(aside.shown.value + sign * inches * mm_per_inch)) {
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

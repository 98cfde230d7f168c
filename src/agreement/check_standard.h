#pragma once
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "agreement/control_charts.h"
#include "agreement/en_calibration.h"

namespace squaresight {

/// A check standard: something that does not change, measured again and again, shows whether the
/// measuring does (NIST/SEMATECH e-Handbook of Statistical Methods, 2.2.2 and 2.2.3, from memory;
/// NISTIR 6969:2019, SOP 9). Values in their own unit, in order of time, numbered from 0.

/// So many first measurements are needed before a value is accepted, and so many make it: their
/// mean and standard deviation then stay as they are.
constexpr std::size_t fewest_accepted = 5;
constexpr std::size_t most_accepted = 10;

struct CheckStandard {
    std::size_t accepted_from = 0;  ///< first measurements, 5 to 10
    double accepted = 0;            ///< their mean
    double standard_deviation = 0;  ///< theirs
    /// A new value lies within with 99.73 %, as within 3 sigma of a known one: a prediction
    /// interval of Student's t, which allows for how few the accepted values stand on.
    double lower = 0, upper = 0;
    /// About the accepted value; sigma is a third of the way to a limit. Absent with fewer than
    /// `fewest_chart_points`, or where the accepted values do not scatter.
    std::optional<EwmaChart> ewma;
    /// By point: beyond a limit, or the weighted mean beyond its own. None of those that the value
    /// was accepted from.
    std::vector<RuleBreak> breaks;
    /// All values about their mean against the uncertainties that each states. What all
    /// measurements share (lens, cradle, board) does not scatter: of honest uncertainties it is
    /// then less than as stated. Absent where one states none.
    std::optional<ScatterTest> scatter;

    /// Whether the newest value broke a rule.
    bool left_its_limits(std::size_t values) const;
    /// The newest value before it that broke none: what was measured since then is in doubt. Those
    /// that it was accepted from break none.
    std::size_t last_good(std::size_t values) const;
};

/// `stated_u` one a value, standard uncertainties. Nothing with fewer than `fewest_accepted`, or
/// where a value is not finite.
std::optional<CheckStandard> check_standard(std::span<const double> values,
                                            std::span<const double> stated_u);

}  // namespace squaresight

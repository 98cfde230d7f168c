#include "adjust/decision.h"

#include <cmath>

#include "units/normal.h"

namespace squaresight {
namespace {

/// Two-sided normal quantile for 95 %: the largest u at which the middle of the tolerance is
/// still 95 % likely to hold the value is T / 1.96.
constexpr double two_sided_95 = 1.96;
constexpr double sure = 0.95;

}  // namespace

bool cannot_decide(double standard_uncertainty_deg, double tolerance_deg) {
    // Written so that NaN and a tolerance of zero cannot decide either.
    return !(standard_uncertainty_deg >= 0 &&
             standard_uncertainty_deg <= tolerance_deg / two_sided_95 && tolerance_deg > 0);
}

Verdict decide(const Estimate& angle, double aim_deg, double tolerance_deg) {
    const double u = angle.standard_uncertainty;
    const bool usable = std::isfinite(angle.value) && std::isfinite(u) && u > 0 &&
                        std::isfinite(aim_deg) && std::isfinite(tolerance_deg) && tolerance_deg > 0;
    if (!usable) {
        return {Call::too_close_to_call, 0};
    }
    const double off_aim_deg = std::abs(angle.value - aim_deg);
    const double probability = probability_below((tolerance_deg - off_aim_deg) / u) -
                               probability_below((-tolerance_deg - off_aim_deg) / u);
    if (probability >= sure && !cannot_decide(u, tolerance_deg)) {
        return {Call::in_tolerance, probability};
    }
    // A value inside the limits is never "out", even where a huge u leaves little probability
    // there.
    const bool out = probability <= 1 - sure && off_aim_deg > tolerance_deg;
    return {out ? Call::out_of_tolerance : Call::too_close_to_call, probability};
}

Verdict withheld(Verdict verdict) {
    if (verdict.call == Call::in_tolerance) {
        verdict.call = Call::too_close_to_call;
    }
    return verdict;
}

}  // namespace squaresight

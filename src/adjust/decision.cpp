#include "adjust/decision.h"

#include <cmath>

namespace squaresight {
namespace {

/// Below -8 the tail is under 1e-15: erfc keeps its digits there, 1 - erf would not.
double normal_cdf(double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); }

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
    const double probability = normal_cdf((tolerance_deg - off_aim_deg) / u) -
                               normal_cdf((-tolerance_deg - off_aim_deg) / u);
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

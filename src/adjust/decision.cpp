#include "adjust/decision.h"

#include <algorithm>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <cmath>

#include "units/normal.h"

namespace squaresight {
namespace {

/// Two-sided normal quantile for 95 %: the largest u at which the middle of the tolerance is
/// still 95 % likely to hold the value is T / 1.96.
constexpr double two_sided_95 = 1.96;
constexpr double sure = 0.95;
constexpr double most_correlated = 1 - 1e-9;
constexpr double widest_sigmas = 12;  ///< nothing of the normal distribution lies beyond

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

double joint_probability(const Estimate& yaw, const Estimate& pitch, double correlation,
                         const AxisLimits& yaw_limits, const AxisLimits& pitch_limits) {
    const auto low = [](const Estimate& angle, const AxisLimits& limits) {
        return (limits.aim_deg - limits.tolerance_deg - angle.value) / angle.standard_uncertainty;
    };
    const auto high = [](const Estimate& angle, const AxisLimits& limits) {
        return (limits.aim_deg + limits.tolerance_deg - angle.value) / angle.standard_uncertainty;
    };
    const double from = low(yaw, yaw_limits);
    const double to = high(yaw, yaw_limits);
    const double below = low(pitch, pitch_limits);
    const double above = high(pitch, pitch_limits);
    const double rho = std::clamp(correlation, -most_correlated, most_correlated);
    const double rest = std::sqrt(1 - rho * rho);
    if (!std::isfinite(from + to + below + above + rest)) {
        return 0;
    }
    const auto density = [&](double z) {
        return normal_density(z) * (probability_below((above - rho * z) / rest) -
                                    probability_below((below - rho * z) / rest));
    };
    const double first = std::max(from, -widest_sigmas);
    const double last = std::min(to, widest_sigmas);
    return first >= last ? 0
                         : boost::math::quadrature::gauss_kronrod<double, 31>::integrate(
                               density, first, last, 8, 1e-10);
}

AxisVerdicts decide_both(const Estimate& yaw, const Estimate& pitch, double correlation,
                         const AxisLimits& yaw_limits, const AxisLimits& pitch_limits) {
    AxisVerdicts both{decide(yaw, yaw_limits.aim_deg, yaw_limits.tolerance_deg),
                      decide(pitch, pitch_limits.aim_deg, pitch_limits.tolerance_deg),
                      joint_probability(yaw, pitch, correlation, yaw_limits, pitch_limits)};
    if (both.passed() && both.probability < sure) {
        Verdict& weaker = both.yaw.probability < both.pitch.probability ? both.yaw : both.pitch;
        weaker.call = Call::too_close_to_call;
    }
    return both;
}

Verdict withheld(Verdict verdict) {
    if (verdict.call == Call::in_tolerance) {
        verdict.call = Call::too_close_to_call;
    }
    return verdict;
}

AxisVerdicts withheld(const AxisVerdicts& verdicts) {
    return {withheld(verdicts.yaw), withheld(verdicts.pitch), verdicts.probability};
}

}  // namespace squaresight

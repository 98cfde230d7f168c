#include "plan/power.h"

#include <cmath>
#include <functional>

#include "adjust/decision.h"
#include "units/normal.h"

namespace squaresight {
namespace {

constexpr double often = 0.95;
constexpr double far_sigmas = 12;  ///< beyond this nothing changes any more

/// Where `holds` changes between `from`, where it holds, and `to`, where it does not.
double boundary(double from, double to, const std::function<bool(double)>& holds) {
    for (int i = 0; i < 60; ++i) {
        const double middle = (from + to) / 2;
        (holds(middle) ? from : to) = middle;
    }
    return from;
}

}  // namespace

DecisionPower::DecisionPower(double standard_uncertainty_deg, double tolerance_deg)
    : u_deg_(standard_uncertainty_deg), tolerance_deg_(tolerance_deg) {
    const auto call = [&](double value_deg) {
        return decide({value_deg, u_deg_}, 0, tolerance_deg_).call;
    };
    if (call(0) == Call::in_tolerance) {
        accepted_to_deg_ = boundary(
            0, tolerance_deg_, [&](double value) { return call(value) == Call::in_tolerance; });
    }
    rejected_from_deg_ =
        boundary(tolerance_deg_ + far_sigmas * u_deg_, tolerance_deg_,
                 [&](double value) { return call(value) == Call::out_of_tolerance; });
}

CallChances DecisionPower::at(double true_error_deg) const {
    const auto below = [&](double value_deg) {
        return probability_below((value_deg - true_error_deg) / u_deg_);
    };
    CallChances chances;
    if (accepted_to_deg_) {
        chances.in_tolerance = below(*accepted_to_deg_) - below(-*accepted_to_deg_);
    }
    chances.out_of_tolerance = 1 - (below(rejected_from_deg_) - below(-rejected_from_deg_));
    chances.too_close_to_call = 1 - chances.in_tolerance - chances.out_of_tolerance;
    chances.right = std::abs(true_error_deg) <= tolerance_deg_ ? chances.in_tolerance
                                                               : chances.out_of_tolerance;
    return chances;
}

std::optional<double> DecisionPower::surely_in_to_deg() const {
    const auto often_in = [&](double error) { return at(error).in_tolerance >= often; };
    if (!often_in(0)) {
        return std::nullopt;
    }
    return boundary(0, tolerance_deg_, often_in);
}

double DecisionPower::surely_out_from_deg() const {
    return boundary(rejected_from_deg_ + far_sigmas * u_deg_, tolerance_deg_,
                    [&](double error) { return at(error).out_of_tolerance >= often; });
}

}  // namespace squaresight

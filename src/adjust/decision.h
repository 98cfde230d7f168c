#pragma once

namespace squaresight {

/// A measured angle. `value` is signed as the field's name says, degrees.
struct Estimate {
    double value = 0;
    double standard_uncertainty = 0;
    double expanded_95() const { return 2 * standard_uncertainty; }  ///< "at least 95 %"
};

enum class Call { in_tolerance, out_of_tolerance, too_close_to_call };

/// The decision about one angle (JCGM 106:2012, binary rule by conformance probability, no prior).
struct Verdict {
    Call call = Call::too_close_to_call;
    double probability = 0;  ///< of being in tolerance, whatever the call
};

/// p = Phi((aim + T - y) / u) - Phi((aim - T - y) / u). In tolerance from p >= 0.95, out of
/// tolerance to p <= 0.05. Where u > T / 1.96 (`cannot_decide`), never in tolerance.
Verdict decide(const Estimate& angle, double aim_deg, double tolerance_deg);

/// Whether u is too large for any value to be shown in tolerance: u > T / 1.96.
bool cannot_decide(double standard_uncertainty_deg, double tolerance_deg);

/// A verdict under a finding of level stop: never "in tolerance".
Verdict withheld(Verdict verdict);

}  // namespace squaresight

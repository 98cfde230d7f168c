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

/// The decisions about both angles of a face.
struct AxisVerdicts {
    Verdict yaw;
    Verdict pitch;
    double probability = 0;  ///< that both are in tolerance
    bool passed() const {
        return yaw.call == Call::in_tolerance && pitch.call == Call::in_tolerance;
    }
};

/// Aim and tolerance of one angle.
struct AxisLimits {
    double aim_deg = 0;
    double tolerance_deg = 0;
};

/// Probability that both angles are in tolerance: the bivariate normal distribution over the
/// rectangle of their limits (the conformance probability of a multicomponent object: IUPAC/CITAC
/// Guide, Pure and Applied Chemistry 93 (2021): 113-154; JCGM 106:2012 has the single quantity).
double joint_probability(const Estimate& yaw, const Estimate& pitch, double correlation,
                         const AxisLimits& yaw_limits, const AxisLimits& pitch_limits);

/// Each angle by `decide`. Two angles of 0.95 each only warrant 0.90 for both: where the joint
/// probability is below 0.95, the less probable one is too close to call.
AxisVerdicts decide_both(const Estimate& yaw, const Estimate& pitch, double correlation,
                         const AxisLimits& yaw_limits, const AxisLimits& pitch_limits);

/// Whether u is too large for any value to be shown in tolerance: u > T / 1.96.
bool cannot_decide(double standard_uncertainty_deg, double tolerance_deg);

/// A verdict that may not be "in tolerance": under a stop, a reading that was set aside, or a
/// disagreement of the methods.
Verdict withheld(Verdict verdict);
AxisVerdicts withheld(const AxisVerdicts& verdicts);

}  // namespace squaresight

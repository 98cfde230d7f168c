#pragma once
#include <optional>

namespace squaresight {

/// Chances of the calls for a mount whose true angle is known, over all values that may be measured
/// of it (JCGM 106:2012, 9: decision rule by conformance probability). They sum to one.
struct CallChances {
    double in_tolerance = 0;
    double out_of_tolerance = 0;
    double too_close_to_call = 1;
    /// That the call is the right one.
    double right = 0;
};

/// Where one angle can be decided, for its standard uncertainty and tolerance. Angles count from
/// the aim.
class DecisionPower {
  public:
    DecisionPower(double standard_uncertainty_deg, double tolerance_deg);

    CallChances at(double true_error_deg) const;
    /// Largest measured value that is called in tolerance; nothing if none is.
    std::optional<double> accepted_to_deg() const { return accepted_to_deg_; }
    /// Smallest measured value that is called out of tolerance.
    double rejected_from_deg() const { return rejected_from_deg_; }
    /// Largest true error that is called in tolerance in 95 of 100 measurements, if there is one.
    std::optional<double> surely_in_to_deg() const;
    /// Smallest true error that is called out of tolerance in 95 of 100 measurements.
    double surely_out_from_deg() const;

  private:
    double u_deg_;
    double tolerance_deg_;
    std::optional<double> accepted_to_deg_;
    double rejected_from_deg_ = 0;
};

}  // namespace squaresight

#pragma once
#include <optional>
#include <string>
#include <vector>

#include "adjust/decision.h"

namespace squaresight {

enum class AgreementCall { agree, disagree, cannot_tell };

/// A cause of error that both methods have: how far one standard uncertainty of it moves each.
/// Signed, deg.
struct SharedCause {
    std::string name;
    double vision_deg = 0;
    double tape_deg = 0;
};

/// Two measurements of one angle compared (ISO/IEC 17043:2010, ISO 13528:2015: E_n).
struct Agreement {
    double difference_deg = 0;   ///< vision minus tape-and-level
    double expanded_95_deg = 0;  ///< U(d) = 2 u(d)
    double en = 0;               ///< |d| / U(d)
    AgreementCall call = AgreementCall::cannot_tell;
    /// Smallest error of one method that the comparison would have shown, with power 0.80:
    /// (2 + 0.84) u(d).
    double shows_from_deg = 0;
    std::vector<SharedCause> shared;  ///< errors of these move both alike and never show
};

/// u(d)^2 = u_v^2 + u_t^2 - 2 sum(shared_v * shared_t). Cannot tell when U(d) exceeds the tolerance
/// and E_n <= 1 alike would prove nothing.
Agreement compare_methods(const Estimate& vision, const Estimate& tape,
                          const std::vector<SharedCause>& shared, double tolerance_deg);

}  // namespace squaresight

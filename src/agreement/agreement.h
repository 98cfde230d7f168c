#pragma once
#include <optional>
#include <string>

#include "adjust/decision.h"

namespace squaresight {

enum class AgreementCall { agree, disagree, cannot_tell };

/// Two measurements of one angle compared (ISO/IEC 17043:2010, ISO 13528:2015: E_n).
struct Agreement {
    double difference_deg = 0;   ///< vision minus tape-and-level
    double expanded_95_deg = 0;  ///< U(d) = 2 u(d)
    double en = 0;               ///< |d| / U(d)
    AgreementCall call = AgreementCall::cannot_tell;
};

/// `shared_vision_deg` and `shared_tape_deg` are the signed shares of one common cause in each
/// (the rail zero in pitch): u(d)^2 = u_v^2 + u_t^2 - 2 * shared_v * shared_t.
/// Cannot tell when U(d) exceeds the tolerance and E_n <= 1 alike would prove nothing.
Agreement compare_methods(const Estimate& vision, const Estimate& tape, double shared_vision_deg,
                          double shared_tape_deg, double tolerance_deg);

}  // namespace squaresight

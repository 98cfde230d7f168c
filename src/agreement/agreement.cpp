#include "agreement/agreement.h"

#include <cmath>

namespace squaresight {

Agreement compare_methods(const Estimate& vision, const Estimate& tape, double shared_vision_deg,
                          double shared_tape_deg, double tolerance_deg) {
    Agreement agreement;
    agreement.difference_deg = vision.value - tape.value;
    const double variance = vision.standard_uncertainty * vision.standard_uncertainty +
                            tape.standard_uncertainty * tape.standard_uncertainty -
                            2 * shared_vision_deg * shared_tape_deg;
    const bool usable = variance > 0 && std::isfinite(variance) &&
                        vision.standard_uncertainty > 0 && tape.standard_uncertainty > 0 &&
                        std::isfinite(agreement.difference_deg);
    if (!usable) {
        return agreement;
    }
    agreement.expanded_95_deg = 2 * std::sqrt(variance);
    agreement.en = std::abs(agreement.difference_deg) / agreement.expanded_95_deg;
    if (agreement.en > 1) {
        agreement.call = AgreementCall::disagree;
    } else if (agreement.expanded_95_deg <= tolerance_deg) {
        agreement.call = AgreementCall::agree;
    }
    return agreement;
}

}  // namespace squaresight

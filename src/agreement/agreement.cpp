#include "agreement/agreement.h"

#include <cmath>

namespace squaresight {

namespace {

/// Beyond 2 u(d) the methods disagree; an error so much larger does so with power 0.80.
constexpr double shown_sigmas = 2 + 0.84;

}  // namespace

Agreement compare_methods(const Estimate& vision, const Estimate& tape,
                          const std::vector<SharedCause>& shared, double tolerance_deg) {
    Agreement agreement;
    agreement.shared = shared;
    agreement.difference_deg = vision.value - tape.value;
    double variance = vision.standard_uncertainty * vision.standard_uncertainty +
                      tape.standard_uncertainty * tape.standard_uncertainty;
    for (const auto& cause : shared) {
        variance -= 2 * cause.vision_deg * cause.tape_deg;
    }
    const bool usable = variance > 0 && std::isfinite(variance) &&
                        vision.standard_uncertainty > 0 && tape.standard_uncertainty > 0 &&
                        std::isfinite(agreement.difference_deg);
    if (!usable) {
        return agreement;
    }
    agreement.expanded_95_deg = 2 * std::sqrt(variance);
    agreement.shows_from_deg = shown_sigmas * std::sqrt(variance);
    agreement.en = std::abs(agreement.difference_deg) / agreement.expanded_95_deg;
    if (agreement.en > 1) {
        agreement.call = AgreementCall::disagree;
    } else if (agreement.expanded_95_deg <= tolerance_deg) {
        agreement.call = AgreementCall::agree;
    }
    return agreement;
}

}  // namespace squaresight

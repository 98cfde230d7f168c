#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "mount/mount.h"
#include "units/quantity.h"

namespace squaresight {
namespace {

constexpr double turning_limit_turns = 1.0 / 8;  ///< how well a person makes a number of turns
constexpr double enough_to_tell = 4;             ///< turns against their uncertainty
constexpr double significant = 2;
constexpr double next_to_nothing = 0.2;  ///< of the turns made

Finding reversed(const Screw& screw, double made, double seen) {
    return {Level::warning, "screw-reversed",
            fmt::format("screw '{}' was turned {}, and the face moved as if it had been turned {}: "
                        "do not turn it again; check 'clockwise' in the mount's profile and the "
                        "turns written on the job sheet",
                        screw.name, turns_words(made), turns_words(seen))};
}

Finding not_responding(const Screw& screw, double made, double seen) {
    return {Level::warning, "screw-not-responding",
            fmt::format("screw '{}' was turned {}, and the face hardly moved (as by {}): look "
                        "for a stripped or seized screw, a loose retainer, or another screw that "
                        "was turned in its place",
                        screw.name, turns_words(made), turns_words(seen))};
}

}  // namespace

Response check_response(const Mount& mount, const std::vector<double>& turns_clockwise,
                        const Estimate& yaw_before, const Estimate& pitch_before,
                        const Estimate& yaw_change, const Estimate& pitch_change) {
    const auto seen = exact_turns_clockwise(mount, yaw_before.value, pitch_before.value,
                                            yaw_before.value + yaw_change.value,
                                            pitch_before.value + pitch_change.value);
    const Eigen::Matrix2d jacobian = turns_per_deg(mount, yaw_before.value, pitch_before.value);
    Response response;
    if (turns_clockwise.empty()) {
        return response;
    }
    for (int i = 0; i < 2; ++i) {
        const double u = std::hypot(jacobian(i, 0) * yaw_change.standard_uncertainty,
                                    jacobian(i, 1) * pitch_change.standard_uncertainty,
                                    standard_from_limit(turning_limit_turns));
        const double made = std::abs(turns_clockwise.at(i));
        const double along = turns_clockwise[i] < 0 ? -seen[i] : seen[i];
        if (!(made > enough_to_tell * u) || !std::isfinite(along)) {
            continue;
        }
        if (along < -significant * u) {
            response.findings.push_back(reversed(mount.screws[i], turns_clockwise[i], seen[i]));
            response.withhold_next = true;
        } else if (along < std::max(significant * u, next_to_nothing * made)) {
            response.findings.push_back(
                not_responding(mount.screws[i], turns_clockwise[i], seen[i]));
        }
    }
    return response;
}

}  // namespace squaresight

#pragma once
#include <optional>
#include <string>
#include <vector>

#include "adjust/solution.h"

/// What can go wrong between the photos of a job, held against its solution: a cradle that did not
/// sit, a cradle knocked between stages, a truck or board that moved while the setup counted as
/// the same. Each is a shift of priors that the photos contradict: the generalised test of Baarda
/// and Teunissen with as many degrees of freedom as the shift has parts. Internal to `adjust`.
namespace squaresight {

enum class Mishap { unseated, knocked, setup_moved };

/// One mishap that the photos speak for.
struct MishapCheck {
    Mishap kind = Mishap::unseated;
    int placement = -1;           ///< unseated: index into Model::placements
    int sighting = 0;             ///< knocked, setup moved: the first one after it
    double statistic = 0;         ///< chi-square
    double limit = 0;             ///< of the statistic
    Eigen::Vector2d shift{0, 0};  ///< deg left and up; setup moved: mm ahead, 0
    std::vector<int> alike;       ///< placements that cannot be told from this one
    double ratio() const { return statistic / limit; }
};

/// The mishap whose statistic exceeds its limit the most; nothing where all pass. In one job with
/// nothing wrong in it about one in a thousand fails. `known` mishaps are not tested again.
std::optional<MishapCheck> worst_mishap(const Model& model, const Solution& solution,
                                        const ModelOptions& known);

}  // namespace squaresight

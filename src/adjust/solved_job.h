#pragma once
#include <optional>
#include <string>
#include <vector>

#include "adjust/model.h"
#include "adjust/reliability.h"
#include "adjust/solution.h"
#include "adjust/standing.h"

/// A job solved as a whole: both mirror poses tried, blunders set aside. Internal to `adjust`.
namespace squaresight {

/// One solution of a job with all that is read off it.
struct Solved {
    ModelOptions options;  ///< with the readings that were set aside
    Model model;
    Solution solution;
    std::vector<ReadingCheck> checks;
    GlobalTest test;
    Findings blunders;  ///< with `blunder_setups` beside it
    std::vector<int> blunder_setups;
    std::optional<Solution> other_pose;  ///< the mirror pose, where it fits nearly alike
};

/// Solves, sets the reading that fits worst aside, and solves again until all fit. Nothing where
/// the model has no solution. `before` is another solution of the same photos, whose corners and
/// noise are taken over.
std::optional<Solved> solve_and_test(const MeasuredJob& job, const Standing& standing,
                                     const ModelOptions& options, const Solved* before = nullptr);

}  // namespace squaresight

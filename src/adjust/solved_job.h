#pragma once
#include <optional>
#include <string>
#include <vector>

#include "adjust/alternatives.h"
#include "adjust/model.h"
#include "adjust/reliability.h"
#include "adjust/solution.h"
#include "adjust/standing.h"

/// A job solved as a whole: both mirror poses tried, blunders set aside. Internal to `adjust`.
namespace squaresight {

/// A finding with the stages that it concerns.
struct JobFinding {
    Finding finding;
    int setup = -1;           ///< only stages of this setup; -1: any
    int first_sighting = 0;   ///< and not before this one
    bool only_first = false;  ///< that one alone
    std::string reading;      ///< key of the reading that was set aside, if it is one
    bool concerns(const MeasuredJob& job, int sighting) const;
};

/// Which readings were blamed for what does not fit, and which others may be to blame instead.
struct Doubt {
    std::vector<std::string> blamed;  ///< keys
    std::vector<Suspects> alternatives;
    Solution answer, tested;           ///< before anything was set aside, as in Solved
    std::vector<ReadingCheck> checks;  ///< of `tested`
    /// u of an angle, widened to cover what it would be without any of the alternatives, by all
    /// that is then left, tape-and-level included: the largest hypot(u, how far that lies off).
    double covering_u_deg(const Eigen::VectorXd& gradient, double u_deg) const;
};

/// One solution of a job with all that is read off it.
struct Solved {
    ModelOptions options;  ///< with the readings that were set aside
    Model model;
    Solution solution;  ///< the answer
    Solution tested;    ///< the same with tape-and-level as witness: what readings are tested by
    std::vector<ReadingCheck> checks;
    GlobalTest test;
    std::vector<JobFinding> blunders;
    Doubt doubt;                         ///< empty where no reading was blamed
    std::optional<Solution> other_pose;  ///< the mirror pose, where it fits nearly alike
};

/// Solves, tests each reading with tape-and-level as a witness, sets aside what fits worst (a
/// reading, a placement of the cradle, the cradle's offset after a knock), and solves again until
/// all fit. Nothing where the model has no solution. `before` is another solution of the same
/// photos, whose corners and noise are taken over.
std::optional<Solved> solve_and_test(const MeasuredJob& job, const Standing& standing,
                                     const ModelOptions& options, const Solved* before = nullptr);

}  // namespace squaresight

#pragma once
#include <optional>
#include <string>
#include <vector>

#include "plan/floor.h"
#include "plan/planned_bay.h"
#include "plan/power.h"

namespace squaresight {

/// One of several ways to build the bay, all else as planned.
struct Alternative {
    std::string board;  ///< its sheet
    double distance_mm = 0;
    double line_base_mm = 0;
    int photos = 0;
    bool planned = false;             ///< this is the bay as it is planned
    std::optional<PredictedAim> aim;  ///< nothing where it cannot be measured so
    std::string problem;              ///< then: why
};

/// Something that can be done for a smaller uncertainty.
struct Improvement {
    std::string what;  ///< "the print checked: ..." in words; several steps behind semicolons
    std::vector<std::string> steps = {};  ///< one, or several that belong together
    int effort = 1;  ///< of the largest step; our own order: 1 minutes once, 2 minutes a job, 3 an
                     ///< hour once, 5 a day
    PredictedAim aim;      ///< with it
    bool reaches = false;  ///< both angles can be decided then
    double gain = 0;  ///< share by which both uncertainties, each over its limit, fall together
};

/// A bay before it is built.
struct BayPlan {
    PlannedBay bay;
    AdjustedStage
        stage;  ///< estimates of zero with their uncertainties, readings, budget, findings
    PredictedAim aim;
    PredictedAim change;  ///< of the change between two stages on one setup, each with a full set
    PredictedAim change_upright;  ///< of the change to a stage with upright photos alone
    int corners = 0;              ///< in the first photo
    double pixels_per_square = 0;
    std::vector<Alternative> boards;  ///< boards at distances, board by board
    std::vector<Alternative> lines;
    std::vector<Alternative> photos;
    std::vector<Improvement> improvements;  ///< most worth its effort first
    Floor floor;
    bool reaches() const;  ///< both angles can be decided
    DecisionPower yaw_power() const;
    DecisionPower pitch_power() const;
    /// The improvement to make first, if one is worth it. Where the bay does not serve, it is one
    /// that makes it serve, several steps together if need be; where `reaches` is false, nothing
    /// that was tried does.
    const Improvement* cheapest() const;
};

/// Predicts a bay. InputError where nothing can be predicted: the board is not in the picture, its
/// squares are too small to read, nothing is determined.
BayPlan plan_bay(const PlannedBay& bay);

/// Where things go on the floor of a bay.
Floor floor_of(const PlannedBay& bay);

/// The plan's figures (schema squaresight/plan/1), with the chances of the calls at these true
/// errors of side-to-side aim beside the usual ones; ends in a newline.
std::string plan_json(const BayPlan& plan, const std::vector<double>& true_errors_deg);

}  // namespace squaresight

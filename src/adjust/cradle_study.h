#pragma once
#include <Eigen/Core>
#include <optional>
#include <vector>

#include "adjust/measurement.h"
#include "units/finding.h"

namespace squaresight {

/// How well the cradle sits, from placements of one stage that point apart.
struct SeatingScatter {
    double standard_deg = 0;              ///< of each placement; what is stored
    double standard_uncertainty_deg = 0;  ///< of that
    double degrees_of_freedom = 0;        ///< of the scatter that it was found from
    bool usual_kept = false;  ///< too few placements: the figure of the job's cradle stands
    bool jitter_hides_it =
        false;  ///< smaller than can be told from pointing jitter: an upper limit
};

/// What jobs show of the cradle that they were made with.
struct CradleStudy {
    bool solved = false;  ///< false: a finding of level stop says why
    Cradle cradle;        ///< name, camera, phone_up; offset, lens, covariance, seating; no date
    SeatingScatter seating;
    int placements = 0;                    ///< in use
    Eigen::Vector2d pointing_u_deg{0, 0};  ///< left, up: offset and lens together, at `distance_mm`
    double distance_mm = 0;                ///< of the first setup
    /// Of side-to-side aim, by two upright photos alone in the first setup, with this cradle
    /// stored; absent where that gives none.
    std::optional<double> upright_only_u_deg;
    Findings findings;
};

/// Fewest degrees of freedom from which the scatter of the placements replaces the usual figure.
inline constexpr double fewest_seating_freedom = 6;

/// Offset and lens position of the cradle that all photos of `job` were taken with, its stored ones
/// not used, and how well it sits. `job` may be several jobs joined. The principal point is held
/// as in the camera file, whose error the offset and its covariance therefore hold
/// (`has_stored_offset`).
/// The seating is that variance component for which the squares of the placements' residual tilts
/// sum to their redundancies (Foerstner 1979; what pointing jitter explains is thereby taken out),
/// widened for its few degrees of freedom.
CradleStudy study_cradle(const MeasuredJob& job);

}  // namespace squaresight

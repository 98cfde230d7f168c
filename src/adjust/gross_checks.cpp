#include "adjust/gross_checks.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace squaresight {
namespace {

constexpr double least_roll_apart_deg = 60;
constexpr double distance_limit_share = 0.015;
/// A mount's screws reach a few degrees, and a bracket bent by more is seen (common practice, no
/// source).
constexpr double farthest_pointing_deg = 15;

}  // namespace

bool has_reversal(const Standing& standing, std::size_t sighting) {
    return standing.roll_apart_deg[sighting] >= least_roll_apart_deg;
}

bool has_reversal(const Standing& standing) {
    return std::any_of(standing.roll_apart_deg.begin(), standing.roll_apart_deg.end(),
                       [](double apart_deg) { return apart_deg >= least_roll_apart_deg; });
}

std::optional<Finding> check_as_left(const MeasuredJob& job, const Standing& standing,
                                     std::size_t sighting) {
    if (job.sightings[sighting].stage != "as-left" || !has_reversal(standing) ||
        has_reversal(standing, sighting)) {
        return std::nullopt;
    }
    return Finding{
        Level::warning, "as-left-upright-only",
        "As left was photographed one way up only, so it leans on how the phone pointed in its "
        "cradle at an earlier stage; a knock since then could stay unseen. Take photos with the "
        "phone upright and upside down once more before the result is signed."};
}

Findings check_distances(const MeasuredJob& job, const Standing& standing, const Solved& solved,
                         std::vector<int>& setups) {
    Findings findings;
    ModelOptions options = solved.options;
    options.set_aside.clear();  // by vision alone: no blunder that a wrong print made counts
    options.vision_distance = true;
    Model model = build_model(job, standing.stands, standing.image_turn_deg, options);
    take_corners(model, solved.model);
    const Solution solution = solve_with_known_noise(model, start_at_readings(model));
    if (!solution.solved) {
        return findings;
    }
    for (std::size_t setup = 0; setup < job.setups.size(); ++setup) {
        const bool photographed =
            std::any_of(model.photos.begin(), model.photos.end(), [&](const PhotoTerm& photo) {
                return job.sightings[static_cast<std::size_t>(photo.sighting)].setup ==
                       static_cast<int>(setup);
            });
        if (!photographed) {
            continue;
        }
        const Dependent& distance = model.setups[setup][distance_mm];
        const double seen_mm = distance.at(solution.z);
        const double taped_mm = job.setups[setup].distance_mm.value;
        const double u_mm =
            std::sqrt(solution.variance(gradient_of(distance, solution.z.size())) +
                      std::pow(job.setups[setup].distance_mm.standard_uncertainty, 2));
        const double limit_mm = std::max(distance_limit_share * taped_mm, test_limit * u_mm);
        if (std::abs(seen_mm - taped_mm) > limit_mm) {
            findings.push_back(
                {Level::stop, "distance-mismatch",
                 fmt::format("By the photos the board is {} away, by tape {}: {:.1f} % "
                             "apart, more than {:.1f} % can be explained. Tape the distance again; "
                             "measure both check bars of the print (was it printed at {:.0f} %?); "
                             "make sure that it is this target and that the phone did not zoom or "
                             "change its lens.",
                             shown_length(seen_mm, job.unit), shown_length(taped_mm, job.unit),
                             100 * std::abs(seen_mm / taped_mm - 1), 100 * limit_mm / taped_mm,
                             100 * taped_mm / seen_mm)});
            setups.push_back(static_cast<int>(setup));
        }
    }
    return findings;
}

std::optional<Finding> check_cradle(const MeasuredJob& job, const Solved& without_stored) {
    CradleEstimate stored;
    stored.values << *job.cradle.offset_deg, *job.cradle.lens_mm;
    stored.covariance = *job.cradle.covariance;
    const double at_mm = job.setups.front().distance_mm.value;
    const Pointing before = pointing_of(stored, at_mm);
    const Pointing now =
        pointing_of(cradle_estimate(without_stored.model, without_stored.solution), at_mm);
    const Eigen::Vector2d change = now.deg - before.deg;
    const Eigen::Matrix2d covariance = now.covariance + before.covariance;
    for (int axis = 0; axis < 2; ++axis) {
        const double u = std::sqrt(covariance(axis, axis));
        if (std::abs(change[axis]) > test_limit * u) {
            return Finding{
                Level::warning, "cradle-moved",
                fmt::format(
                    "The cradle '{}' points {:.2f} deg away from what was stored {}: it was "
                    "knocked or the phone sits differently. This job's own upright and "
                    "inverted photos were used instead; store the cradle anew.",
                    job.cradle.name, change.norm(),
                    job.cradle.date.empty() ? "earlier" : "on " + job.cradle.date)};
        }
    }
    return std::nullopt;
}

std::optional<Finding> check_pose(const AdjustedStage& stage) {
    const double farthest_deg =
        std::max(std::abs(stage.yaw_left_deg.value), std::abs(stage.pitch_up_deg.value));
    if (!stage.solved || farthest_deg <= farthest_pointing_deg) {
        return std::nullopt;
    }
    return Finding{
        Level::stop, "pose-implausible",
        fmt::format("By the photos the face would point more than {:.0f} deg away from straight "
                    "ahead, as no mount does; no number is given. Look at each photo: this job's "
                    "board with TOP up, the calibrated phone, no zoom. Then take them again.",
                    farthest_pointing_deg)};
}

Findings reversal_findings(const MeasuredJob& job, const Standing& standing) {
    if (has_reversal(standing)) {
        return {};
    }
    if (has_stored_offset(job.cradle)) {
        return {
            {Level::note, "no-inverted-photo",
             fmt::format("No photo was taken with the phone turned upside down; the stored "
                         "offset of the cradle '{}' ({}) was used.",
                         job.cradle.name, job.cradle.date.empty() ? "no date" : job.cradle.date)}};
    }
    return {{Level::warning, "no-inverted-photo",
             "No photo was taken with the phone turned upside down, and nothing is stored of the "
             "cradle: aim is not determined well enough. Take photos with the phone turned upside "
             "down in its cradle too."}};
}

}  // namespace squaresight

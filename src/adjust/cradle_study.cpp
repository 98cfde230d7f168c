#include "adjust/cradle_study.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "adjust/gross_checks.h"
#include "adjust/prediction.h"
#include "adjust/solved_job.h"
#include "adjust/stage_report.h"

namespace squaresight {
namespace {

constexpr double least_seating_variance = 0.0005 * 0.0005;  ///< one of zero would stay zero
constexpr int most_iterations = 12;
constexpr double settled_share = 0.005;
constexpr int most_rounds = 4;
constexpr int upright_photos = 2;

ModelOptions own_offset() {
    ModelOptions options;
    options.stored_cradle = false;
    options.principal_point_held = true;
    return options;
}

/// An offset of its own for each stage: a knock between stages is no scatter of the seating.
ModelOptions with_stages_apart(ModelOptions options, const MeasuredJob& job) {
    for (std::size_t sighting = 1; sighting < job.sightings.size(); ++sighting) {
        options.knocked_before.insert(static_cast<int>(sighting));
    }
    return options;
}

/// The residual tilts of the placements that count, under one supposed seating.
struct Tilts {
    double squares = 0;         ///< in the supposed variance
    double redundancy = 0;      ///< what they should sum to
    double total_variance = 0;  ///< of a tilt with the jitter of its photos, deg^2; mean
    double freedom = 0;         ///< of tilts with their jitter
    double information = 0;     ///< Fisher's, of the seating's variance
};

Tilts residual_tilts(const Model& model, const Solution& solution, const ModelOptions& options,
                     double seating_deg, double jitter_deg) {
    Tilts tilts;
    const double variance = seating_deg * seating_deg;
    for (const auto& placement : model.placements) {
        if (options.loose_placements.contains(placement.key)) {
            continue;
        }
        const double total =
            variance + jitter_deg * jitter_deg / static_cast<double>(placement.photos.size());
        for (const int unknown : {placement.seating_left, placement.seating_up}) {
            const int row = row_of_unknown(model, unknown);
            const double redundancy = solution.residual_covariance(row, row);
            const double freedom = redundancy * total / variance;
            tilts.squares += solution.residuals[row] * solution.residuals[row];
            tilts.redundancy += redundancy;
            tilts.total_variance += freedom * total;
            tilts.freedom += freedom;
            tilts.information += freedom / (2 * total * total);
        }
    }
    tilts.total_variance /= std::max(tilts.freedom, 1e-9);
    return tilts;
}

/// A variance below its own uncertainty is not told from none: that uncertainty is then its limit.
/// What a scatter of few degrees of freedom lets expect of the next tilt is wider than the scatter:
/// the variance of Student's distribution, f / (f - 2) (JCGM 101:2008, 6.4.9).
SeatingScatter scatter_of(double variance, const Tilts& tilts) {
    const double u_variance = 1 / std::sqrt(tilts.information);
    const double widening = tilts.total_variance * 2 / (tilts.freedom - 2);
    const double standard_deg = std::sqrt(std::max(variance, u_variance) + widening);
    return {standard_deg, u_variance / (2 * standard_deg), tilts.freedom, false,
            variance < u_variance};
}

/// A job under study: its model is built anew for each seating that is supposed.
class SeatingSearch {
  public:
    SeatingSearch(MeasuredJob job, const Standing& standing)
        : job_(std::move(job)), standing_(standing) {}

    /// Nothing where the job cannot be solved.
    std::optional<SeatingScatter> scatter(const ModelOptions& options) {
        const double usual_deg = job_.cradle.seating_deg;
        double seating_deg = std::max(usual_deg, std::sqrt(least_seating_variance));
        SeatingScatter found;
        Solved at;
        for (int i = 0; i < most_iterations; ++i) {
            if (!solve_with(seating_deg, options, at)) {
                return std::nullopt;
            }
            const Tilts tilts = residual_tilts(at.model, at.solution, options, seating_deg,
                                               job_.camera.pointing_jitter_deg);
            if (tilts.freedom < fewest_seating_freedom) {
                return SeatingScatter{usual_deg, 0, tilts.freedom, true, false};
            }
            const double variance = seating_deg * seating_deg +
                                    (tilts.squares / tilts.redundancy - 1) * tilts.total_variance;
            found = scatter_of(variance, tilts);
            const double next_deg = std::sqrt(std::max(variance, least_seating_variance));
            const bool settled = std::abs(next_deg - seating_deg) < settled_share * seating_deg;
            seating_deg = next_deg;
            if (settled) {
                break;
            }
        }
        return found;
    }

  private:
    /// From the solution before it, where there is one.
    bool solve_with(double seating_deg, const ModelOptions& options, Solved& at) {
        job_.cradle.seating_deg = seating_deg;
        Model model = build_model(job_, standing_.stands, standing_.image_turn_deg, options);
        if (at.solution.solved) {
            take_corners(model, at.model);
            at.solution = solve_with_known_noise(model, at.solution.z);
        } else {
            at.solution = solve(model, start_at_readings(model));
        }
        at.model = std::move(model);
        return at.solution.solved;
    }

    MeasuredJob job_;
    const Standing& standing_;
};

/// The whole solved with its tests, and how well the cradle sits.
struct Fitted {
    Solved solved;
    SeatingScatter seating;
    Findings findings;  ///< placements that did not sit
};

void keep_unseated(const Solved& solved, Findings& findings) {
    for (const auto& blunder : solved.blunders) {
        if (blunder.finding.code == "cradle-unseated") {
            findings.push_back(blunder.finding);
        }
    }
}

/// Seating first, for what does not sit is told by how well the cradle usually sits; then the whole
/// with its tests; and both again without the placements that were found not to sit.
std::optional<Fitted> fit(MeasuredJob& job, const Standing& standing) {
    ModelOptions options = own_offset();
    const MeasuredJob usual = job;
    Fitted fitted;
    for (int round = 0; round < most_rounds; ++round) {
        const auto seating =
            SeatingSearch(usual, standing).scatter(with_stages_apart(options, usual));
        if (!seating) {
            return std::nullopt;
        }
        fitted.seating = *seating;
        job.cradle.seating_deg = seating->standard_deg;
        auto solved = solve_and_test(job, standing, options);
        if (!solved) {
            return std::nullopt;
        }
        fitted.solved = std::move(*solved);
        keep_unseated(fitted.solved, fitted.findings);
        const auto& loose = fitted.solved.options.loose_placements;
        if (loose.size() == options.loose_placements.size()) {
            break;
        }
        options.loose_placements = loose;
    }
    return fitted;
}

Finding stop(const std::string& code, const std::string& text) { return {Level::stop, code, text}; }

/// Why these photos tell nothing of the cradle; nothing where they do.
std::optional<Finding> reason_to_refuse(const Standing& standing) {
    if (has_stop(standing.findings)) {
        return *std::find_if(standing.findings.begin(), standing.findings.end(),
                             [](const Finding& one) { return one.level == Level::stop; });
    }
    if (standing.usable_photos == 0) {
        return stop("target-not-found", "The target was not found in any photo.");
    }
    if (!has_reversal(standing)) {
        return stop("no-inverted-photo",
                    "No stage has photos with the phone upright and upside down, so nothing can "
                    "be learned of the cradle. Take both in one stage.");
    }
    return std::nullopt;
}

/// Why the solution is no cradle's that stayed as it was; nothing where it may be stored.
std::optional<Finding> reason_to_refuse(const MeasuredJob& job, const Solved& solved) {
    for (const auto& blunder : solved.blunders) {
        if (blunder.finding.code == "cradle-moved") {
            const auto from = static_cast<std::size_t>(blunder.first_sighting);
            return stop("cradle-moved",
                        fmt::format("From '{}' on the phone points differently: the cradle was "
                                    "knocked or the phone slipped in it. Name only jobs from "
                                    "before, or only jobs from after.",
                                    job.sightings[from].stage));
        }
    }
    if (!solved.test.passed) {
        return stop("inconsistent",
                    "The readings of these jobs do not fit together. Measure each job by itself "
                    "and leave out the one with warnings.");
    }
    return std::nullopt;
}

double typical_noise_px(const MeasuredJob& job, const Solved& solved) {
    double sum = 0;
    int count = 0;
    for (const auto& stage : report_stages(job, solved)) {
        for (const auto& photo : stage.photos) {
            sum += photo.corner_noise_px;
            ++count;
        }
    }
    return sum / count;
}

/// What a job with upright photos alone would state about side-to-side aim.
std::optional<double> upright_only_u_deg(MeasuredJob job, const Cradle& cradle, double noise_px) {
    job.cradle = cradle;
    job.setups.resize(1);
    job.sightings = {{"as-found", 0, {}}};
    for (int i = 0; i < upright_photos; ++i) {
        job.sightings[0].photos.push_back({"", {}, CradleLabel::upright, -1, std::nullopt});
    }
    const Prediction prediction = predict(job, noise_px);
    return prediction.solved ? std::optional(prediction.stages[0].yaw_left_deg.standard_uncertainty)
                             : std::nullopt;
}

double rounded(double value, double steps) { return std::round(value * steps) / steps; }

Cradle cradle_to_store(const MeasuredJob& job, const Standing& standing,
                       const CradleEstimate& estimate) {
    Cradle cradle = job.cradle;
    cradle.camera = job.camera.name;
    const int turn_deg = static_cast<int>(std::lround(standing.image_turn_deg + 360)) % 360;
    cradle.phone_up = static_cast<PhoneUp>(turn_deg);
    const auto value = [&](int i, double steps) { return rounded(estimate.values[i], steps); };
    cradle.offset_deg = {value(0, 1e5), value(1, 1e5)};
    cradle.lens_mm = {value(2, 1e3), value(3, 1e3), value(4, 1e3)};
    cradle.covariance = (estimate.covariance + estimate.covariance.transpose()) / 2;
    cradle.seating_deg = rounded(job.cradle.seating_deg, 1e5);
    cradle.date.clear();
    return cradle;
}

}  // namespace

CradleStudy study_cradle(const MeasuredJob& as_measured) {
    CradleStudy study;
    MeasuredJob job = as_measured;
    job.cradle.offset_deg.reset();
    job.cradle.covariance.reset();
    const Standing standing = read_standing(job);
    if (const auto reason = reason_to_refuse(standing)) {
        study.findings.push_back(*reason);
        return study;
    }
    auto fitted = fit(job, standing);
    if (!fitted) {
        study.findings.push_back(
            stop("not-solved", "The photos and readings of these jobs have no common answer."));
        return study;
    }
    study.findings = std::move(fitted->findings);
    const Solved& solved = fitted->solved;
    if (const auto reason = reason_to_refuse(job, solved)) {
        study.findings.push_back(*reason);
        return study;
    }
    const CradleEstimate estimate = cradle_estimate(solved.model, solved.solution);
    study.solved = true;
    study.cradle = cradle_to_store(job, standing, estimate);
    study.seating = fitted->seating;
    study.placements = static_cast<int>(solved.model.placements.size());
    study.distance_mm = job.setups.front().distance_mm.value;
    study.pointing_u_deg =
        pointing_of(estimate, study.distance_mm).covariance.diagonal().cwiseSqrt();
    study.upright_only_u_deg = upright_only_u_deg(job, study.cradle, typical_noise_px(job, solved));
    return study;
}

}  // namespace squaresight

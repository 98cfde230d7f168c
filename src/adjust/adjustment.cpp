#include "adjust/adjustment.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "adjust/costs.h"
#include "adjust/reliability.h"
#include "adjust/solution.h"
#include "adjust/standing.h"

namespace squaresight {
namespace {

constexpr double least_roll_apart_deg = 60;
constexpr double ambiguity_limit = 9;  ///< difference in chi-square of the two mirror poses
constexpr double distance_limit_share = 0.015;
constexpr int most_set_aside = 6;
constexpr double matters_share = 0.25;  ///< of u squared, for a reading that was not taken

/// One solution of a job with all that is read off it.
struct Solved {
    Model model;
    Solution solution;
    std::set<std::string> set_aside;
    std::vector<ReadingCheck> checks;
    GlobalTest test;
    Findings blunders;  ///< with `blunder_setups` beside it
    std::vector<int> blunder_setups;
    std::optional<Solution> other_pose;  ///< the mirror pose, where it fits nearly alike
};

Eigen::VectorXd zeros(const Model& model) {
    return Eigen::VectorXd::Zero(static_cast<Eigen::Index>(model.unknowns.size()));
}

/// The start for the mirror pose of a setup's board: its normal reflected about the line of sight.
/// Nothing where the board's orientation is held fixed.
std::optional<Eigen::VectorXd> mirrored_start(const Model& model, const Eigen::VectorXd& z,
                                              std::size_t setup) {
    const auto& pose = model.setups[setup];
    std::array<double, pose_input_count> q{};
    for (int i = 0; i < pose_input_count; ++i) {
        q[i] = pose[i].at(z);
    }
    const auto target = vehicle_from_target(q.data());
    const Eigen::Vector3d sight =
        (target.translation_mm - Eigen::Vector3d(0, 0, q[mount_height_mm])).normalized();
    const Eigen::Vector3d normal = target.rotation.col(2);
    const Eigen::Vector3d mirrored = 2 * sight.dot(normal) * sight - normal;
    const double turned_deg =
        std::atan2(mirrored.y(), mirrored.x()) * deg_per_rad - q[line_left_deg];
    const double lean_deg =
        -std::asin(std::clamp(mirrored.z(), -1.0, 1.0)) * deg_per_rad + q[rail_zero_deg];
    const auto& [turned_at, turned_u] = pose[target_turned_left_deg].parts.front();
    const auto& [lean_at, lean_u] = pose[target_lean_back_deg].parts.front();
    if (turned_u <= 0 || lean_u <= 0) {
        return std::nullopt;
    }
    Eigen::VectorXd start = z;
    start[turned_at] = (turned_deg - pose[target_turned_left_deg].mean) / turned_u;
    start[lean_at] = (lean_deg - pose[target_lean_back_deg].mean) / lean_u;
    return start;
}

/// Solves from the readings and from the mirror pose of each setup, and keeps the better. The
/// other one stays beside it where it fits nearly as well and is not the same solution.
void solve_both_poses(Solved& solved) {
    solved.solution = solve(solved.model, zeros(solved.model));
    solved.other_pose.reset();
    if (!solved.solution.solved) {
        return;
    }
    for (std::size_t setup = 0; setup < solved.model.setups.size(); ++setup) {
        const auto start = mirrored_start(solved.model, solved.solution.z, setup);
        if (!start) {
            continue;
        }
        bool converged = false;
        const Eigen::VectorXd z = minimise(terms_of(solved.model, false), *start, converged);
        if (!converged || (z - solved.solution.z).norm() < 1e-2) {
            continue;
        }
        Solution other = linearise(terms_of(solved.model, false), z);
        if (!other.solved) {
            continue;
        }
        if (other.chi_square() < solved.solution.chi_square()) {
            std::swap(other, solved.solution);
        }
        if (other.chi_square() - solved.solution.chi_square() < ambiguity_limit) {
            solved.other_pose = std::move(other);
        }
    }
}

std::string length_or_angle(double value, const std::string& unit) {
    return unit == "mm" ? fmt::format("{:.1f} mm", value) : fmt::format("{:.2f} deg", value);
}

Finding blunder_finding(const ReadingCheck& suspect, const std::vector<std::string>& alike,
                        bool set_aside) {
    const auto& shown = suspect.shown;
    std::string text = fmt::format(
        "Take the reading '{}' again: {} does not fit the rest, by about {} (test value {:.1f}, "
        "limit {:.2f}). ",
        shown.name, length_or_angle(shown.value, shown.unit),
        length_or_angle(std::abs(shown.residual) / std::max(shown.redundancy, least_redundancy),
                        shown.unit),
        std::abs(shown.w), test_limit);
    if (!alike.empty()) {
        text += fmt::format("The photos cannot tell it from: {}; check these too. ",
                            fmt::join(alike, ", "));
    }
    text += set_aside ? "It was left out of the answer." : "";
    return {Level::warning, "blunder", text};
}

/// Solves, sets the reading that fits worst aside, and solves again until all fit.
std::optional<Solved> solve_and_test(const MeasuredJob& job, const Standing& standing,
                                     ModelOptions options) {
    Solved solved;
    std::map<std::string, double> found_w;  // of a reading set aside: the test that found it
    for (;;) {
        solved.model = build_model(job, standing.stands, standing.image_turn_deg, options);
        solve_both_poses(solved);
        if (!solved.solution.solved) {
            return std::nullopt;
        }
        solved.checks = check_readings(solved.model, solved.solution, options.set_aside);
        const ReadingCheck* worst = worst_blunder(solved.checks);
        if (worst == nullptr || options.set_aside.size() >= most_set_aside) {
            break;
        }
        solved.blunders.push_back(
            blunder_finding(*worst, confused_with(solved.solution, solved.checks, *worst), true));
        solved.blunder_setups.push_back(worst->setup);
        options.set_aside.insert(worst->key());
        found_w[worst->key()] = worst->shown.w;
    }
    for (auto& check : solved.checks) {
        if (const auto found = found_w.find(check.key()); found != found_w.end()) {
            check.shown.w = found->second;
        }
    }
    solved.set_aside = options.set_aside;
    solved.test = global_test(solved.checks);
    return solved;
}

/// Distance of each setup by vision alone: the tape left out, the print taken at its stated scale.
Findings check_distances(const MeasuredJob& job, const Standing& standing,
                         std::vector<int>& setups) {
    Findings findings;
    ModelOptions options;
    options.vision_distance = true;
    Model model = build_model(job, standing.stands, standing.image_turn_deg, options);
    const Solution solution = solve(model, zeros(model));
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
                 fmt::format(
                     "By the photos the board is {:.0f} mm away, by tape {:.0f} mm: {:.1f} % "
                     "apart, more than {:.1f} % can be explained. Tape the distance again; "
                     "measure both check bars of the print (was it printed at {:.0f} %?); "
                     "make sure that it is this target and that the phone did not zoom or "
                     "change its lens.",
                     seen_mm, taped_mm, 100 * std::abs(seen_mm / taped_mm - 1),
                     100 * limit_mm / taped_mm, 100 * taped_mm / seen_mm)});
            setups.push_back(static_cast<int>(setup));
        }
    }
    return findings;
}

/// The pointing of the cradle at the target's distance, offset and lens position together: degrees
/// left and up, with covariance.
struct Pointing {
    Eigen::Vector2d deg;
    Eigen::Matrix2d covariance;
};

Pointing pointing_of(const Eigen::Matrix<double, 5, 1>& offset_and_lens,
                     const Eigen::Matrix<double, 5, 5>& covariance, double target_at_mm) {
    const double deg_per_mm = deg_per_rad / target_at_mm;
    Eigen::Matrix<double, 2, 5> map;
    map << 1, 0, 0, deg_per_mm, 0, 0, 1, 0, 0, deg_per_mm;
    return {map * offset_and_lens, map * covariance * map.transpose()};
}

Pointing pointing_of(const Solved& solved, double target_at_mm) {
    Eigen::Matrix<double, 5, 1> values;
    Eigen::MatrixXd gradients(solved.solution.z.size(), 5);
    for (int i = 0; i < 5; ++i) {
        const Dependent& part = solved.model.cradle[offset_left_deg + i];
        values[i] = part.at(solved.solution.z);
        gradients.col(i) = gradient_of(part, solved.solution.z.size());
    }
    return pointing_of(values, gradients.transpose() * solved.solution.covariance * gradients,
                       target_at_mm);
}

/// Compares the cradle as this job sees it with what is stored. A finding where it was knocked.
std::optional<Finding> check_cradle(const MeasuredJob& job, const Solved& without_stored) {
    Eigen::Matrix<double, 5, 1> stored;
    stored << *job.cradle.offset_deg, *job.cradle.lens_mm;
    const double at_mm = job.setups.front().distance_mm.value;
    const Pointing before = pointing_of(stored, *job.cradle.covariance, at_mm);
    const Pointing now = pointing_of(without_stored, at_mm);
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

Findings reversal_findings(const MeasuredJob& job, const Standing& standing) {
    if (standing.widest_roll_apart_deg >= least_roll_apart_deg) {
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

/// Fills the stages' results from a solved job.
class Reporter {
  public:
    Reporter(const MeasuredJob& job, const Solved& solved) : job_(job), solved_(solved) {
        count_ = solved.solution.z.size();
    }

    std::vector<AdjustedStage> stages() const {
        std::vector<AdjustedStage> stages;
        std::optional<std::size_t> before;
        for (std::size_t i = 0; i < job_.sightings.size(); ++i) {
            stages.push_back(stage(i));
            if (!stages.back().solved) {
                continue;
            }
            if (before) {
                add_change(stages.back(), *before, i);
            }
            before = i;
        }
        return stages;
    }

  private:
    Eigen::VectorXd unit(int index) const { return Eigen::VectorXd::Unit(count_, index); }

    double other_pose_gap(int index) const {
        return solved_.other_pose
                   ? std::abs(solved_.other_pose->z[index] - solved_.solution.z[index])
                   : 0;
    }

    Estimate estimate(double value, const Eigen::VectorXd& gradient, double gap_deg) const {
        const double u = std::sqrt(solved_.solution.variance(gradient)) * solved_.test.inflation();
        return {value, std::hypot(u, gap_deg)};
    }

    AdjustedStage stage(std::size_t index) const {
        AdjustedStage stage;
        stage.stage = job_.sightings[index].stage;
        const StageUnknowns at = solved_.model.stages[index];
        if (at.yaw < 0) {
            return stage;
        }
        stage.solved = true;
        const auto& z = solved_.solution.z;
        const Eigen::VectorXd yaw = unit(at.yaw);
        const Eigen::VectorXd pitch = unit(at.pitch);
        stage.yaw_left_deg = estimate(z[at.yaw], yaw, other_pose_gap(at.yaw));
        stage.pitch_up_deg = estimate(z[at.pitch], pitch, other_pose_gap(at.pitch));
        const double inflation = solved_.test.inflation();
        stage.correlation =
            yaw.dot(solved_.solution.covariance * pitch) * inflation * inflation /
            (stage.yaw_left_deg.standard_uncertainty * stage.pitch_up_deg.standard_uncertainty);
        stage.budget = budget_of(solved_.solution, yaw, pitch, inflation);
        if (solved_.other_pose) {
            stage.budget.push_back(
                {"mirror pose", other_pose_gap(at.yaw), other_pose_gap(at.pitch)});
        }
        add_photos(stage, index);
        add_readings(stage, index);
        add_rail_zero(stage, index, pitch);
        add_findings(stage, index, yaw);
        return stage;
    }

    void add_photos(AdjustedStage& stage, std::size_t index) const {
        for (const auto& photo : solved_.model.photos) {
            if (photo.sighting != static_cast<int>(index)) {
                continue;
            }
            double sum = 0;
            const auto residuals = corner_residuals_px(solved_.model, photo, solved_.solution.z);
            double stated = 0;
            for (std::size_t c = 0; c < residuals.size(); ++c) {
                sum += residuals[c].squaredNorm();
                stated += photo.corners[c].covariance_px2.trace() / 2;
            }
            const double count = static_cast<double>(photo.corners.size());
            stage.photos.push_back(
                {job_.sightings[index].photos[static_cast<std::size_t>(photo.photo)].file,
                 static_cast<int>(photo.corners.size()), std::sqrt(sum / (2 * count)),
                 wrapped_deg(photo.pose[cradle_roll_deg].at(solved_.solution.z)),
                 photo.noise_factor * std::sqrt(stated / count)});
        }
    }

    void add_readings(AdjustedStage& stage, std::size_t index) const {
        const int setup = job_.sightings[index].setup;
        for (const auto& one : solved_.checks) {
            if (one.setup != setup) {
                continue;
            }
            stage.readings.push_back(one.shown);
        }
    }

    /// Vision's share of the rail zero, read or not: what tape-and-level has too.
    void add_rail_zero(AdjustedStage& stage, std::size_t index,
                       const Eigen::VectorXd& pitch) const {
        const auto& unknowns = solved_.model.unknowns;
        for (std::size_t k = 0; k < unknowns.size(); ++k) {
            if (unknowns[k].name == "rail_zero" &&
                unknowns[k].setup == job_.sightings[index].setup) {
                stage.pitch_from_rail_zero_deg = solved_.solution.pull(
                    pitch, row_of_unknown(solved_.model, static_cast<int>(k)));
            }
        }
    }

    void add_findings(AdjustedStage& stage, std::size_t index, const Eigen::VectorXd& yaw) const {
        const int setup = job_.sightings[index].setup;
        for (std::size_t i = 0; i < solved_.blunders.size(); ++i) {
            if (solved_.blunder_setups[i] == setup) {
                stage.findings.push_back(solved_.blunders[i]);
            }
        }
        if (!solved_.test.passed) {
            stage.findings.push_back(inconsistent());
        }
        if (solved_.other_pose) {
            stage.findings.push_back(
                {Level::warning, "pose-ambiguous",
                 "The board could stand in two mirrored ways that fit the photos nearly alike; the "
                 "give-or-take covers both. Turn the board a few degrees, read how far, or use a "
                 "larger board or a shorter distance."});
        }
        add_unchecked(stage, setup, yaw);
        add_not_measured(stage, setup);
        add_cannot_decide(stage);
    }

    Finding inconsistent() const {
        return {
            Level::stop, "inconsistent",
            fmt::format("The readings do not fit together (chi-square {:.1f} for {:.2f} degrees "
                        "of freedom), and no single one stands out. Give-or-take was widened; "
                        "take the setup's readings again.",
                        solved_.test.chi_square, solved_.test.degrees_of_freedom)};
    }

    void add_unchecked(AdjustedStage& stage, int setup, const Eigen::VectorXd& yaw) const {
        std::vector<std::string> names;
        for (const auto& one : solved_.checks) {
            if (one.setup != setup || one.shown.set_aside) {
                continue;
            }
            const double pull = std::abs(solved_.solution.pull(yaw, one.row));
            const double hidden_deg = pull * one.shown.findable / one.standard_uncertainty;
            // A pull of a ten-thousandth of a degree a standard uncertainty is no influence at all.
            if (pull > 1e-4 && hidden_deg > job_.tolerance_yaw_deg) {
                names.push_back(one.shown.name);
            }
        }
        if (!names.empty()) {
            stage.findings.push_back(
                {Level::note, "unchecked-reading",
                 fmt::format(
                     "Nothing else in this job would show a misreading of: {}. Each could "
                     "move side-to-side aim by more than its limit. Check them with crossed "
                     "tapes from points far apart on the bumper, a second place for the "
                     "board, or tape-and-level that agrees.",
                     fmt::join(names, ", "))});
        }
    }

    void add_not_measured(AdjustedStage& stage, int setup) const {
        std::vector<std::string> names;
        for (const auto& unknown : solved_.model.unknowns) {
            if (unknown.setup != setup || unknown.measured) {
                continue;
            }
            const auto line =
                std::find_if(stage.budget.begin(), stage.budget.end(),
                             [&](const BudgetLine& one) { return one.source == unknown.source; });
            const double yaw_u = stage.yaw_left_deg.standard_uncertainty;
            const double pitch_u = stage.pitch_up_deg.standard_uncertainty;
            if (line != stage.budget.end() &&
                (std::pow(line->yaw_deg / yaw_u, 2) > matters_share ||
                 std::pow(line->pitch_deg / pitch_u, 2) > matters_share)) {
                names.push_back(unknown.name);
            }
        }
        if (!names.empty()) {
            stage.findings.push_back(
                {Level::warning, "not-measured",
                 fmt::format("Not measured, and it matters here: {}. Wide limits stand in for it; "
                             "measure it and add it to the job sheet.",
                             fmt::join(names, ", "))});
        }
    }

    void add_cannot_decide(AdjustedStage& stage) const {
        const auto tell = [&](const char* axis, double u, double tolerance,
                              double BudgetLine::*share) {
            if (!cannot_decide(u, tolerance)) {
                return;
            }
            const auto largest = std::max_element(
                stage.budget.begin(), stage.budget.end(),
                [&](const BudgetLine& a, const BudgetLine& b) { return a.*share < b.*share; });
            stage.findings.push_back(
                {Level::warning, "cannot-decide",
                 fmt::format("{} cannot be shown to be within its limit: give or take {:.2f} deg "
                             "against a limit of {:.2f} deg. Improve this first: {}.",
                             axis, 2 * u, tolerance, advice_for(largest->source))});
        };
        tell("Side-to-side aim", stage.yaw_left_deg.standard_uncertainty, job_.tolerance_yaw_deg,
             &BudgetLine::yaw_deg);
        tell("Up-down aim", stage.pitch_up_deg.standard_uncertainty, job_.tolerance_pitch_deg,
             &BudgetLine::pitch_deg);
    }

    static std::string advice_for(const std::string& source) {
        if (source == "cradle offset" || source == "lens place in the cradle" ||
            source == "stored cradle offset") {
            return source + " (take photos with the phone turned upside down too)";
        }
        if (source == "line") {
            return "line (plumb marks farther apart on the rails, or a longer string)";
        }
        if (source == "cradle seating" || source == "pointing jitter") {
            return source + " (take more photos, lifting the phone and setting it down each time)";
        }
        return source + " (measure it again, closer)";
    }

    void add_change(AdjustedStage& stage, std::size_t before, std::size_t now) const {
        const auto change = [&](int from, int to) {
            const double gap = std::abs(other_pose_gap(to) - other_pose_gap(from));
            return estimate(solved_.solution.z[to] - solved_.solution.z[from],
                            unit(to) - unit(from), gap);
        };
        const StageUnknowns a = solved_.model.stages[before];
        const StageUnknowns b = solved_.model.stages[now];
        stage.yaw_change_left_deg = change(a.yaw, b.yaw);
        stage.pitch_change_up_deg = change(a.pitch, b.pitch);
    }

    const MeasuredJob& job_;
    const Solved& solved_;
    Eigen::Index count_ = 0;
};

void add_to_stages(const MeasuredJob& job, const Findings& findings, const std::vector<int>& setups,
                   std::vector<AdjustedStage>& stages) {
    for (std::size_t i = 0; i < stages.size(); ++i) {
        for (std::size_t f = 0; f < findings.size(); ++f) {
            if (stages[i].solved && job.sightings[i].setup == setups[f]) {
                stages[i].findings.push_back(findings[f]);
            }
        }
    }
}

bool shares_a_setup(const MeasuredJob& job) { return job.sightings.size() > job.setups.size(); }

/// The job with one sighting only.
MeasuredJob only(const MeasuredJob& job, std::size_t sighting) {
    MeasuredJob part = job;
    part.sightings = {job.sightings[sighting]};
    part.setups = {job.setups[static_cast<std::size_t>(job.sightings[sighting].setup)]};
    part.sightings.front().setup = 0;
    return part;
}

Adjustment solve_together(const MeasuredJob& job, const Standing& standing) {
    Adjustment adjustment;
    ModelOptions options;
    options.stored_cradle = false;
    std::optional<Solved> solved;
    if (has_stored_offset(job.cradle)) {
        bool moved = false;
        if (standing.widest_roll_apart_deg >= least_roll_apart_deg) {
            solved = solve_and_test(job, standing, options);
            if (const auto finding = solved ? check_cradle(job, *solved) : std::nullopt) {
                adjustment.findings.push_back(*finding);
                moved = true;
            }
        }
        options.stored_cradle = !moved;
    }
    if (!solved || options.stored_cradle) {
        solved = solve_and_test(job, standing, options);
    }
    if (!solved) {
        adjustment.findings.push_back(
            {Level::stop, "not-solved",
             "The photos and readings could not be brought to one answer. Check distance and "
             "heights "
             "on the job sheet, and that each photo shows this job's target."});
        return adjustment;
    }
    adjustment.solved = true;
    adjustment.stages = Reporter(job, *solved).stages();
    adjustment.cradle_offset_deg = {solved->model.cradle[offset_left_deg].at(solved->solution.z),
                                    solved->model.cradle[offset_up_deg].at(solved->solution.z)};
    adjustment.chi_square = solved->test.chi_square;
    adjustment.degrees_of_freedom = solved->test.degrees_of_freedom;
    std::vector<int> setups;
    const Findings distances = check_distances(job, standing, setups);
    add_to_stages(job, distances, setups, adjustment.stages);
    return adjustment;
}

bool fails_global_test(const Adjustment& adjustment) {
    return std::any_of(
        adjustment.stages.begin(), adjustment.stages.end(), [](const AdjustedStage& stage) {
            return std::any_of(
                stage.findings.begin(), stage.findings.end(),
                [](const Finding& finding) { return finding.code == "inconsistent"; });
        });
}

/// Each stage by itself, for a job whose stages do not fit together.
Adjustment solve_apart(const MeasuredJob& job, const Adjustment& together) {
    Adjustment apart = together;
    for (std::size_t i = 0; i < job.sightings.size(); ++i) {
        if (!together.stages[i].solved) {
            continue;
        }
        const MeasuredJob part = only(job, i);
        Adjustment one = solve_together(part, read_standing(part));
        if (!one.solved || !one.stages.front().solved || fails_global_test(one)) {
            return together;
        }
        apart.stages[i] = std::move(one.stages.front());
        apart.stages[i].findings.push_back(
            {Level::warning, "inconsistent",
             "The stages do not fit together: board, truck or cradle moved between them. Each "
             "stage "
             "was solved by itself; measure the setup again before relying on the change."});
    }
    return apart;
}

}  // namespace

Adjustment adjust(const MeasuredJob& job) {
    const Standing standing = read_standing(job);
    if (standing.usable_photos == 0) {
        Adjustment adjustment;
        adjustment.stages.resize(job.sightings.size());
        adjustment.findings.push_back({Level::stop, "target-not-found",
                                       "The target was not found in any photo, so vision gives no "
                                       "aim. Take the photos again: "
                                       "whole board in view, in focus, evenly lit."});
        return adjustment;
    }
    Adjustment adjustment = solve_together(job, standing);
    if (adjustment.solved && shares_a_setup(job) && fails_global_test(adjustment)) {
        adjustment = solve_apart(job, adjustment);
    }
    for (const auto& findings : {standing.findings, reversal_findings(job, standing)}) {
        adjustment.findings.insert(adjustment.findings.end(), findings.begin(), findings.end());
    }
    return adjustment;
}

}  // namespace squaresight

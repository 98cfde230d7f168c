#include "adjust/stage_report.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "adjust/costs.h"
#include "frames/rotations.h"

namespace squaresight {
namespace {

constexpr double matters_share = 0.25;  ///< of u squared, for a reading that was not taken

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
        for (const auto& blunder : solved_.blunders) {
            if (blunder.concerns(job_, static_cast<int>(index))) {
                stage.findings.push_back(blunder.finding);
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
                             axis, 2 * u, tolerance, what_improves(largest->source))});
        };
        tell("Side-to-side aim", stage.yaw_left_deg.standard_uncertainty, job_.tolerance_yaw_deg,
             &BudgetLine::yaw_deg);
        tell("Up-down aim", stage.pitch_up_deg.standard_uncertainty, job_.tolerance_pitch_deg,
             &BudgetLine::pitch_deg);
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
        const double inflation = solved_.test.inflation();
        const double covariance =
            (unit(b.yaw) - unit(a.yaw))
                .dot(solved_.solution.covariance * (unit(b.pitch) - unit(a.pitch)));
        stage.change_correlation = covariance * inflation * inflation /
                                   (stage.yaw_change_left_deg->standard_uncertainty *
                                    stage.pitch_change_up_deg->standard_uncertainty);
    }

    const MeasuredJob& job_;
    const Solved& solved_;
    Eigen::Index count_ = 0;
};

}  // namespace

std::string what_improves(const std::string& source) {
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

std::vector<AdjustedStage> report_stages(const MeasuredJob& job, const Solved& solved) {
    return Reporter(job, solved).stages();
}

}  // namespace squaresight

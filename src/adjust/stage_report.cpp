#include "adjust/stage_report.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "adjust/costs.h"
#include "frames/rotations.h"

namespace squaresight {
namespace {

constexpr double no_pull_deg = 1e-4;    ///< a standard uncertainty; less is no influence at all
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
        return {value, std::hypot(solved_.doubt.covering_u_deg(gradient, u), gap_deg)};
    }

    /// What not knowing which reading is wrong adds to u.
    double doubt_deg(const Eigen::VectorXd& gradient) const {
        const double u = std::sqrt(solved_.solution.variance(gradient)) * solved_.test.inflation();
        const double wide = solved_.doubt.covering_u_deg(gradient, u);
        return std::sqrt(std::max(0.0, wide * wide - u * u));
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
            solved_.solution.covariance_of(yaw, pitch) * inflation * inflation /
            (stage.yaw_left_deg.standard_uncertainty * stage.pitch_up_deg.standard_uncertainty);
        stage.budget = budget_of(solved_.solution, yaw, pitch, inflation);
        add_shared_corner_error(stage.budget, yaw, pitch);
        if (!solved_.doubt.alternatives.empty()) {
            stage.budget.push_back({"which reading is wrong", doubt_deg(yaw), doubt_deg(pitch)});
        }
        if (solved_.other_pose) {
            stage.budget.push_back(
                {"mirror pose", other_pose_gap(at.yaw), other_pose_gap(at.pitch)});
        }
        add_photos(stage, index);
        add_readings(stage, index);
        add_shared(stage, index, yaw, pitch);
        add_suspects(stage, index);
        add_findings(stage, index, yaw);
        return stage;
    }

    /// The corners' share by what it comes from: noise of their own, and the error that neighbours
    /// share in place of what the weights allow for it.
    void add_shared_corner_error(std::vector<BudgetLine>& budget, const Eigen::VectorXd& yaw,
                                 const Eigen::VectorXd& pitch) const {
        const auto line = std::find_if(budget.begin(), budget.end(), [](const BudgetLine& one) {
            return one.source == "corner noise";
        });
        if (line == budget.end() || solved_.solution.shared_errors == nullptr) {
            return;
        }
        BudgetLine shared{"error that corners share"};
        const auto split = [&](const Eigen::VectorXd& gradient, double BudgetLine::*axis) {
            const auto variance = solved_.solution.shared_variance(gradient, gradient);
            const double inflation2 = std::pow(solved_.test.inflation(), 2);
            const double own = std::pow((*line).*axis, 2) - inflation2 * variance.allowed;
            (*line).*axis = std::sqrt(std::max(0.0, own));
            shared.*axis = std::sqrt(inflation2 * std::max(0.0, variance.real));
        };
        split(yaw, &BudgetLine::yaw_deg);
        split(pitch, &BudgetLine::pitch_deg);
        budget.push_back(shared);
        by_yaw(budget);
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

    /// What tape-and-level may have too: the rail zero and the rails' line, read or not. Of line
    /// and bow it is the part along what they do together to a bumper squared with them.
    void add_shared(AdjustedStage& stage, std::size_t index, const Eigen::VectorXd& yaw,
                    const Eigen::VectorXd& pitch) const {
        const auto& unknowns = solved_.model.unknowns;
        double product = 0;
        double square = 0;
        for (std::size_t k = 0; k < unknowns.size(); ++k) {
            const Unknown& unknown = unknowns[k];
            const auto pull = [&](const Eigen::VectorXd& gradient) {
                return solved_.solution.pull(gradient,
                                             row_of_unknown(solved_.model, static_cast<int>(k)));
            };
            if (unknown.setup != job_.sightings[index].setup) {
                continue;
            }
            if (unknown.name == "rail_zero") {
                stage.pitch_from_rail_zero_deg = pull(pitch);
            } else if (unknown.name == "line" || unknown.name == "rail bow") {
                product += pull(yaw) * unknown.standard_uncertainty;
                square += unknown.standard_uncertainty * unknown.standard_uncertainty;
            }
        }
        stage.yaw_from_line_deg = square > 0 ? product / std::sqrt(square) : 0;
    }

    void add_suspects(AdjustedStage& stage, std::size_t index) const {
        const Doubt& doubt = solved_.doubt;
        const bool concerned = std::any_of(
            solved_.blunders.begin(), solved_.blunders.end(), [&](const JobFinding& one) {
                return !one.reading.empty() && one.concerns(job_, static_cast<int>(index));
            });
        if (!concerned) {
            return;
        }
        const auto add = [&](const std::vector<std::string>& keys) {
            stage.suspects.emplace_back();
            for (const auto& key : keys) {
                stage.suspects.back().push_back(reading_name(key));
            }
        };
        add(doubt.blamed);
        for (const auto& one : doubt.alternatives) {
            add(one.keys);
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

    /// How far yaw would move, at most, by an error of a reading that no test would find; and by
    /// one inch of it, where that would not be found.
    struct Hidden {
        double most_deg = 0;
        double inch_deg = 0;
    };

    Hidden hidden_by(const ReadingCheck& reading, const Eigen::VectorXd& yaw) const {
        const bool counts = reading.row < solved_.solution.residuals.size();
        const double pull = counts ? std::abs(solved_.solution.pull(yaw, reading.row)) : 0;
        if (pull <= no_pull_deg) {
            return {};
        }
        const double deg_per_unit = pull / reading.standard_uncertainty;
        const bool inch_hides = reading.shown.unit == "mm" && reading.shown.findable > mm_per_inch;
        return {deg_per_unit * reading.shown.findable, inch_hides ? deg_per_unit * mm_per_inch : 0};
    }

    void add_unchecked(AdjustedStage& stage, int setup, const Eigen::VectorXd& yaw) const {
        std::vector<std::string> names;
        const auto& twice = job_.setups[static_cast<std::size_t>(setup)].taken_twice;
        for (const auto& one : solved_.checks) {
            if (one.setup != setup || one.shown.set_aside || twice.contains(one.shown.name)) {
                continue;
            }
            const Hidden hidden = hidden_by(one, yaw);
            if (hidden.inch_deg > job_.tolerance_yaw_deg) {
                stage.inch_unchecked.push_back(one.shown.name);
            } else if (hidden.most_deg > job_.tolerance_yaw_deg) {
                names.push_back(one.shown.name);
            }
        }
        if (!stage.inch_unchecked.empty()) {
            stage.findings.push_back(
                {Level::warning, "inch-unchecked",
                 fmt::format("Nothing checks {}: one inch misread would move side-to-side aim "
                             "beyond its limit. Tape it again.",
                             fmt::join(stage.inch_unchecked, ", "))});
        }
        if (!names.empty()) {
            stage.findings.push_back(
                {Level::note, "unchecked-reading",
                 fmt::format(
                     "Nothing else in this job would show a misreading of: {}. Each could "
                     "move side-to-side aim by more than its limit. Check them with crossed "
                     "tapes from points far apart on the bumper, a second place for the "
                     "board, or tape-and-level.",
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
        const double covariance = solved_.solution.covariance_of(unit(b.yaw) - unit(a.yaw),
                                                                 unit(b.pitch) - unit(a.pitch));
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
    if (source == "rail bow") {
        return "rail bow (a string along each rail shows it; measure it, or plumb from a longer "
               "part)";
    }
    if (source == "face form") {
        return "face form (clean the face, use pads on three points, four rolls of the cradle)";
    }
    if (source == "seating of one way up") {
        return "seating of one way up (photos at four rolls, a quarter turn apart)";
    }
    if (source == "which reading is wrong") {
        return "which reading is wrong (take the named readings again)";
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

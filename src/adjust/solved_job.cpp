#include "adjust/solved_job.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>

#include "adjust/placement_checks.h"
#include "adjust/slips.h"

namespace squaresight {
namespace {

constexpr double ambiguity_limit = 9;  ///< difference in chi-square of the two mirror poses
constexpr std::size_t most_set_aside = 6;

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
void solve_both_poses(Solved& solved, const Solved* before) {
    const Eigen::VectorXd at_readings = start_at_readings(solved.model);
    if (before != nullptr) {
        take_corners(solved.model, before->model);
        solved.solution = solve_with_known_noise(solved.model, at_readings);
    } else {
        solved.solution = solve(solved.model, at_readings);
    }
    solved.other_pose.reset();
    if (!solved.solution.solved) {
        return;
    }
    for (std::size_t setup = 0; setup < solved.model.setups.size(); ++setup) {
        const auto start = mirrored_start(solved.model, solved.solution.z, setup);
        if (!start) {
            continue;
        }
        Solution other = solve_with_known_noise(solved.model, *start);
        if (!other.solved || (other.z - solved.solution.z).norm() < 1e-2) {
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

/// What a reading's sign means, behind its size; empty where it has none.
std::string side_of(const CheckedReading& reading) {
    struct Sides {
        std::string_view name, plus, minus;
    };
    static constexpr std::array<Sides, 8> all{{
        {"line", "to the left", "to the right"},
        {"target_left", "to the left", "to the right"},
        {"mount_left", "to the left", "to the right"},
        {"floor_rise", "rising ahead", "falling ahead"},
        {"target_lean_back", "top away from the truck", "top toward the truck"},
        {"target_turned_left", "to the left", "to the right"},
        {"target_roll_clockwise", "clockwise", "counter-clockwise"},
        {"rail_zero", "nose up", "nose down"},
    }};
    for (const auto& sides : all) {
        if (sides.name == reading.name && reading.value != 0) {
            return fmt::format(" {}", reading.value > 0 ? sides.plus : sides.minus);
        }
    }
    return "";
}

/// A reading's value without its sign, or an error of it.
std::string size_words(double value, const std::string& unit, LengthUnit shown,
                       std::string (*length_words)(double, LengthUnit)) {
    return unit == "mm" ? length_words(std::abs(value), shown)
                        : fmt::format("{:.2f} deg", std::abs(value));
}

/// "line", "target_left and tape ...", ...
std::string set_words(const Suspects& suspects) {
    std::vector<std::string> names;
    for (const auto& key : suspects.keys) {
        names.push_back("'" + reading_name(key) + "'");
    }
    return fmt::format("{}", fmt::join(names, " and "));
}

std::string alternatives_words(const std::vector<Suspects>& alternatives) {
    constexpr std::size_t most_named = 6;
    std::vector<std::string> sets;
    for (const auto& one : alternatives) {
        if (sets.size() < most_named) {
            sets.push_back(set_words(one));
        }
    }
    std::string text = fmt::format("{}", fmt::join(sets, "; "));
    if (alternatives.size() > most_named) {
        text += fmt::format("; {} more", alternatives.size() - most_named);
    }
    return text;
}

/// Readings that may be wrong instead of `suspect` alone, with the slip that each would be.
std::string slips_of(const Doubt& doubt) {
    std::string text;
    for (const auto& one : doubt.alternatives) {
        for (const auto& other : doubt.checks) {
            if (one.keys.size() == 1 && other.key() == one.keys.front()) {
                const std::string question = likely_slip(other, doubt.checks);
                text +=
                    question.empty() ? "" : fmt::format("Of '{}': {} ", other.shown.name, question);
            }
        }
    }
    return text;
}

/// `suspect` as it was when it was set aside.
Finding blunder_finding(const ReadingCheck& suspect, const Doubt& doubt, LengthUnit unit) {
    const auto& shown = suspect.shown;
    std::string text = fmt::format(
        "Take the reading '{}' again: {} does not fit the rest, by about {} (test value {:.1f}, "
        "limit {:.2f}). ",
        shown.name, size_words(shown.value, shown.unit, unit, shown_length) + side_of(shown),
        size_words(shown.residual / std::max(shown.redundancy, least_redundancy), shown.unit, unit,
                   shown_difference),
        std::abs(shown.w), test_limit);
    if (suspect.key() == doubt.blamed.front() && !doubt.alternatives.empty()) {
        text += fmt::format("It may be another instead: {}. Take these again too. ",
                            alternatives_words(doubt.alternatives)) +
                slips_of(doubt);
    }
    text += doubt.alternatives.empty()
                ? "It was left out of the answer."
                : "It was left out of the answer; give-or-take covers the others.";
    return {Level::warning, "blunder", text};
}

std::string photo_names(const MeasuredJob& job, const Placement& placement) {
    std::vector<std::string> names;
    for (const int photo : placement.photos) {
        names.push_back(job.sightings[static_cast<std::size_t>(placement.sighting)]
                            .photos[static_cast<std::size_t>(photo)]
                            .file);
    }
    return fmt::format("{}", fmt::join(names, ", "));
}

JobFinding unseated_finding(const MeasuredJob& job, const Model& model, const MishapCheck& found) {
    const Placement& placement = model.placements[static_cast<std::size_t>(found.placement)];
    std::string text = fmt::format(
        "In {} the phone points {:.2f} deg away from how it pointed in the others: the cradle did "
        "not sit flat on the face, or the phone slipped. Wipe face and cradle, seat it, and take "
        "the photo again. ",
        photo_names(job, placement), found.shift.norm());
    for (const int other : found.alike) {
        text += fmt::format("It may be {} instead. ",
                            photo_names(job, model.placements[static_cast<std::size_t>(other)]));
    }
    text += "Give-or-take was widened for it.";
    return {{Level::warning, "cradle-unseated", text}, -1, placement.sighting, true, ""};
}

JobFinding knocked_finding(const MeasuredJob& job, const MishapCheck& found) {
    return {{Level::warning, "cradle-moved",
             fmt::format("The phone points {:.2f} deg differently from the stage '{}' on: the "
                         "cradle was knocked or the phone slipped in it. The change was "
                         "taken as unknown; a stage needs upright and inverted photos of its own "
                         "after it.",
                         found.shift.norm(),
                         job.sightings[static_cast<std::size_t>(found.sighting)].stage)},
            -1,
            found.sighting,
            false,
            ""};
}

JobFinding setup_moved_finding(const MeasuredJob& job, const MishapCheck& found) {
    const Sighting& sighting = job.sightings[static_cast<std::size_t>(found.sighting)];
    return {{Level::stop, "setup-moved",
             fmt::format("By the photos the face stands about {} {} the board since the "
                         "stage '{}' than before, more than turning the screws can do: truck or "
                         "board moved, and 'setup: same' is not true. Measure the setup again and "
                         "write it at that stage.",
                         shown_difference(found.shift.x(), job.unit),
                         found.shift.x() > 0 ? "nearer to" : "farther from", sighting.stage)},
            sighting.setup,
            found.sighting,
            false,
            ""};
}

JobFinding mishap_finding(const MeasuredJob& job, const Model& model, const MishapCheck& found) {
    switch (found.kind) {
        case Mishap::unseated:
            return unseated_finding(job, model, found);
        case Mishap::knocked:
            return knocked_finding(job, found);
        case Mishap::setup_moved:
            break;
    }
    return setup_moved_finding(job, found);
}

/// Adds to each reading that was set aside the slip under which it would fit, as a question.
void ask_for_slips(Solved& solved) {
    for (auto& blunder : solved.blunders) {
        for (const auto& check : solved.checks) {
            if (check.key() == blunder.reading) {
                const std::string question = likely_slip(check, solved.checks);
                blunder.finding.text += question.empty() ? "" : " " + question;
            }
        }
    }
}

/// Gives a mishap a place of its own in the model, so that the next solution is free of it.
void allow_for(const MishapCheck& found, const Model& model, ModelOptions& options) {
    if (found.kind == Mishap::knocked) {
        options.knocked_before.insert(found.sighting);
        return;
    }
    std::vector<int> placements = found.alike;
    placements.push_back(found.placement);
    for (const int placement : placements) {
        options.loose_placements[model.placements[static_cast<std::size_t>(placement)].key] =
            found.shift.norm();
    }
}

}  // namespace

bool JobFinding::concerns(const MeasuredJob& job, int sighting) const {
    const bool in_time = only_first ? sighting == first_sighting : sighting >= first_sighting;
    return in_time &&
           (setup < 0 || job.sightings[static_cast<std::size_t>(sighting)].setup == setup);
}

double Doubt::covering_u_deg(const Eigen::VectorXd& gradient, double u_deg) const {
    if (alternatives.empty()) {
        return u_deg;
    }
    const auto angle_deg = [&](const Solution& solution, const std::vector<std::string>& keys) {
        return gradient.dot(solution.z) + without(solution, checks, keys, gradient).change_deg;
    };
    const double stated_deg = angle_deg(answer, blamed);
    double widest = u_deg;
    for (const auto& one : alternatives) {
        const double other_u_deg =
            without(tested, checks, one.keys, gradient).standard_uncertainty_deg;
        widest =
            std::max(widest, std::hypot(other_u_deg, angle_deg(tested, one.keys) - stated_deg));
    }
    return widest;
}

namespace {

/// Solves and tests until all fits.
class Solver {
  public:
    Solver(const MeasuredJob& job, const Standing& standing, const ModelOptions& options)
        : job_(job), standing_(standing) {
        solved_.options = options;
    }

    std::optional<Solved> solved(const Solved* before) {
        for (int round = 0; round < most_rounds; ++round) {
            if (!solve_once(round == 0 ? before : nullptr)) {
                return std::nullopt;
            }
            if (!take_out_worst()) {
                break;
            }
        }
        add_shared_corner_errors(solved_.model, solved_.solution);
        tell_blunders();
        solved_.test = global_test(own_checks());
        return std::move(solved_);
    }

  private:
    static constexpr int most_rounds = 12;

    bool solve_once(const Solved* before) {
        solved_.model =
            build_model(job_, standing_.stands, standing_.image_turn_deg, solved_.options);
        solve_both_poses(solved_, before);
        if (!solved_.solution.solved) {
            return false;
        }
        solved_.tested = with_witnesses(solved_.model, solved_.solution);
        if (job_.witness_answers) {
            solved_.solution = solved_.tested;
        }
        solved_.checks = check_readings(solved_.model, solved_.tested, solved_.options.set_aside);
        return true;
    }

    std::vector<ReadingCheck> own_checks() const {
        return check_readings(solved_.model, solved_.solution, solved_.options.set_aside);
    }

    /// A reading is only blamed if the photos themselves contradict it; which one, tape-and-level
    /// helps to say. What it alone contradicts is a disagreement of the methods.
    const ReadingCheck* worst_reading() const {
        const auto own = own_checks();
        return worst_blunder(own) == nullptr ? nullptr : worst_blunder(solved_.checks);
    }

    /// False where all fits.
    bool take_out_worst() {
        const ReadingCheck* worst = worst_reading();
        const auto mishap = setup_moved_
                                ? std::nullopt
                                : worst_mishap(solved_.model, solved_.solution, solved_.options);
        if (mishap &&
            (worst == nullptr || mishap->ratio() > std::pow(worst->shown.w / test_limit, 2))) {
            take_out(*mishap);
            return true;
        }
        if (worst == nullptr || solved_.options.set_aside.size() >= most_set_aside) {
            return false;
        }
        if (solved_.doubt.blamed.empty()) {
            solved_.doubt.answer = solved_.solution;
            solved_.doubt.tested = solved_.tested;
            solved_.doubt.checks = solved_.checks;
        }
        solved_.doubt.blamed.push_back(worst->key());
        solved_.options.set_aside.insert(worst->key());
        set_aside_.push_back(*worst);
        return true;
    }

    /// Readings are blamed anew once a mishap is allowed for: it may have been the cause.
    void take_out(const MishapCheck& mishap) {
        solved_.blunders.push_back(mishap_finding(job_, solved_.model, mishap));
        if (mishap.kind == Mishap::setup_moved) {
            setup_moved_ = true;  // its readings are void: nothing to solve again
            return;
        }
        allow_for(mishap, solved_.model, solved_.options);
        solved_.options.set_aside.clear();
        solved_.doubt = {};
        set_aside_.clear();
    }

    void tell_blunders() {
        if (set_aside_.empty()) {
            return;
        }
        Doubt& doubt = solved_.doubt;
        doubt.alternatives = alternatives_to(doubt.tested, doubt.checks, doubt.blamed);
        for (const auto& suspect : set_aside_) {
            solved_.blunders.push_back({blunder_finding(suspect, doubt, job_.unit), suspect.setup,
                                        std::max(0, suspect.sighting), suspect.sighting >= 0,
                                        suspect.key()});
            for (auto& check : solved_.checks) {
                if (check.key() == suspect.key()) {
                    check.shown.w = suspect.shown.w;
                }
            }
        }
        ask_for_slips(solved_);
    }

    const MeasuredJob& job_;
    const Standing& standing_;
    Solved solved_;
    std::vector<ReadingCheck> set_aside_;  ///< as they were then
    bool setup_moved_ = false;
};

}  // namespace

std::optional<Solved> solve_and_test(const MeasuredJob& job, const Standing& standing,
                                     const ModelOptions& options, const Solved* before) {
    return Solver(job, standing, options).solved(before);
}

}  // namespace squaresight

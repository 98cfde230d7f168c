#include "adjust/solved_job.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <string_view>

#include "adjust/placement_checks.h"
#include "adjust/slips.h"

namespace squaresight {
namespace {

constexpr double ambiguity_limit = 9;  ///< difference in chi-square of the two mirror poses
constexpr int most_set_aside = 6;

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

Finding blunder_finding(const ReadingCheck& suspect, const std::vector<ReadingCheck>& checks,
                        const std::vector<std::string>& alike, LengthUnit unit) {
    const auto& shown = suspect.shown;
    std::string text = fmt::format(
        "Take the reading '{}' again: {} does not fit the rest, by about {} (test value {:.1f}, "
        "limit {:.2f}). ",
        shown.name, size_words(shown.value, shown.unit, unit, shown_length) + side_of(shown),
        size_words(shown.residual / std::max(shown.redundancy, least_redundancy), shown.unit, unit,
                   shown_difference),
        std::abs(shown.w), test_limit);
    if (!alike.empty()) {
        text += fmt::format("The photos cannot tell it from: {}; check these too. ",
                            fmt::join(alike, ", "));
    }
    for (const auto& other : checks) {
        const bool is_alike =
            other.setup == suspect.setup &&
            std::find(alike.begin(), alike.end(), other.shown.name) != alike.end();
        const std::string question = is_alike ? likely_slip(other, checks) : "";
        text += question.empty() ? "" : fmt::format("Of '{}': {} ", other.shown.name, question);
    }
    text += "It was left out of the answer.";
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

std::optional<Solved> solve_and_test(const MeasuredJob& job, const Standing& standing,
                                     const ModelOptions& options, const Solved* before) {
    Solved solved;
    solved.options = options;
    auto& set_aside = solved.options.set_aside;
    std::map<std::string, double> found_w;  // of a reading set aside: the test that found it
    bool setup_moved = false;
    for (int round = 0;; ++round) {
        solved.model = build_model(job, standing.stands, standing.image_turn_deg, solved.options);
        solve_both_poses(solved, round == 0 ? before : nullptr);
        if (!solved.solution.solved) {
            return std::nullopt;
        }
        solved.checks = check_readings(solved.model, solved.solution, set_aside);
        const ReadingCheck* worst = worst_blunder(solved.checks);
        const auto mishap = setup_moved
                                ? std::nullopt
                                : worst_mishap(solved.model, solved.solution, solved.options);
        if (round >= most_set_aside || (worst == nullptr && !mishap)) {
            break;
        }
        if (mishap &&
            (worst == nullptr || mishap->ratio() > std::pow(worst->shown.w / test_limit, 2))) {
            solved.blunders.push_back(mishap_finding(job, solved.model, *mishap));
            if (mishap->kind == Mishap::setup_moved) {
                setup_moved = true;  // its readings are void: nothing to solve again
            } else {
                allow_for(*mishap, solved.model, solved.options);
            }
            continue;
        }
        if (worst == nullptr) {
            break;
        }
        solved.blunders.push_back(
            {blunder_finding(*worst, solved.checks,
                             confused_with(solved.solution, solved.checks, *worst), job.unit),
             worst->setup, 0, false, worst->key()});
        set_aside.insert(worst->key());
        found_w[worst->key()] = worst->shown.w;
    }
    ask_for_slips(solved);
    for (auto& check : solved.checks) {
        if (const auto found = found_w.find(check.key()); found != found_w.end()) {
            check.shown.w = found->second;
        }
    }
    solved.test = global_test(solved.checks);
    return solved;
}

}  // namespace squaresight

#include "adjust/solved_job.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <map>

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

std::string length_or_angle(double value, const std::string& unit) {
    return unit == "mm" ? fmt::format("{:.1f} mm", value) : fmt::format("{:.2f} deg", value);
}

Finding blunder_finding(const ReadingCheck& suspect, const std::vector<std::string>& alike) {
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
    text += "It was left out of the answer.";
    return {Level::warning, "blunder", text};
}

}  // namespace

std::optional<Solved> solve_and_test(const MeasuredJob& job, const Standing& standing,
                                     const ModelOptions& options, const Solved* before) {
    Solved solved;
    solved.options = options;
    auto& set_aside = solved.options.set_aside;
    std::map<std::string, double> found_w;  // of a reading set aside: the test that found it
    for (;;) {
        solved.model = build_model(job, standing.stands, standing.image_turn_deg, solved.options);
        solve_both_poses(solved, set_aside.empty() ? before : nullptr);
        if (!solved.solution.solved) {
            return std::nullopt;
        }
        solved.checks = check_readings(solved.model, solved.solution, set_aside);
        const ReadingCheck* worst = worst_blunder(solved.checks);
        if (worst == nullptr || set_aside.size() >= most_set_aside) {
            break;
        }
        solved.blunders.push_back(
            blunder_finding(*worst, confused_with(solved.solution, solved.checks, *worst)));
        solved.blunder_setups.push_back(worst->setup);
        set_aside.insert(worst->key());
        found_w[worst->key()] = worst->shown.w;
    }
    for (auto& check : solved.checks) {
        if (const auto found = found_w.find(check.key()); found != found_w.end()) {
            check.shown.w = found->second;
        }
    }
    solved.test = global_test(solved.checks);
    return solved;
}

}  // namespace squaresight

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "mount/mount.h"
#include "mount/response.h"
#include "units/normal.h"
#include "units/quantity.h"

namespace squaresight {
namespace {

constexpr double largest_angle_deg = 45;
constexpr double eighths_per_turn = 8;
/// A table's own rounding to 1/8 turn.
constexpr double table_rounding_turns = 1.0 / 16;
constexpr double table_difference = 0.1;

bool is_face_angle(double deg) { return std::abs(deg) <= largest_angle_deg; }

double geometry_turns_clockwise(const Mount& mount, int screw, double reading_deg) {
    const Axis axis = mount.screws[screw].turns;
    const double angle_deg = angle_from_reading_deg(mount, axis, reading_deg);
    return exact_turns_clockwise(mount, axis == Axis::yaw ? angle_deg : mount.aim_yaw_left_deg,
                                 axis == Axis::pitch ? angle_deg : mount.aim_pitch_up_deg,
                                 mount.aim_yaw_left_deg, mount.aim_pitch_up_deg)[screw];
}

std::string reading_words(const Mount& mount, const TableRow& row) {
    const bool positive = angle_from_reading_deg(mount, row.axis, row.reading_deg) >
                          angle_from_reading_deg(mount, row.axis, 0);
    const double size_deg = std::abs(row.reading_deg);
    return row.axis == Axis::yaw
               ? fmt::format("{:g} deg to the {}", size_deg, positive ? "left" : "right")
               : fmt::format("nose {:g} deg {}", size_deg, positive ? "up" : "down");
}

/// The row of one screw's table that is furthest from the geometry, if any is too far.
Findings table_findings(const Mount& mount, int screw) {
    const TableRow* worst = nullptr;
    double worst_gap = 0;
    double worst_geometry = 0;
    for (const auto& row : mount.table) {
        if (row.screw != mount.screws[screw].name) {
            continue;
        }
        const double geometry = geometry_turns_clockwise(mount, screw, row.reading_deg);
        const double gap = std::abs(row.turns_clockwise - geometry);
        if (gap > worst_gap && gap > table_rounding_turns &&
            gap > table_difference * std::abs(geometry)) {
            worst = &row;
            worst_gap = gap;
            worst_geometry = geometry;
        }
    }
    if (worst == nullptr) {
        return {};
    }
    return {{Level::warning, "table-differs",
             fmt::format("screw '{}' at a sensor reading of {}: the service table says {}, "
                         "the points and the thread of the profile make it {}; check both against "
                         "the service information (the turns given here follow the geometry)",
                         worst->screw, reading_words(mount, *worst),
                         turns_words(worst->turns_clockwise), turns_words(worst_geometry))}};
}

Findings travel_findings(const Screw& screw, double net_turns_clockwise) {
    if (std::abs(net_turns_clockwise) <= screw.travel_turns) {
        return {};
    }
    return {{Level::stop, "beyond-travel",
             fmt::format("screw '{}' would end {} from where it was found, its travel is {:g} "
                         "turns either way: do not force it; read the angle again, count the "
                         "thread that is left, and look for a bent bracket, which is replaced, not "
                         "screwed straight",
                         screw.name, turns_words(net_turns_clockwise), screw.travel_turns)}};
}

/// Where less than half a step is wanted nothing is turned, and no play has to be taken up.
Correction correct(const Screw& screw, double needed_clockwise, double play_clockwise,
                   double uncertainty_turns) {
    const auto steps = [](double turns) { return std::round(std::abs(turns) * eighths_per_turn); };
    Correction correction;
    correction.screw = screw.name;
    correction.clockwise = needed_clockwise >= 0;
    correction.play_turns = steps(needed_clockwise) > 0 ? std::abs(play_clockwise) : 0;
    correction.exact_turns = std::abs(needed_clockwise) + correction.play_turns;
    correction.turns =
        steps(needed_clockwise) > 0 ? steps(correction.exact_turns) / eighths_per_turn : 0;
    correction.uncertainty_turns = uncertainty_turns;
    return correction;
}

/// Where the turns needed are so few that they may be needed the other way, it is also uncertain
/// whether the play that lies on one side of zero alone has to be taken up.
double with_doubt_of_side(double needed_turns, double uncertainty_turns, double backlash_turns) {
    const double other_side = probability_below(-std::abs(needed_turns) / uncertainty_turns);
    return std::hypot(uncertainty_turns, std::sqrt(other_side * (1 - other_side)) * backlash_turns);
}

Eigen::Matrix2d covariance_of(const Estimate& a, const Estimate& b, double correlation) {
    const double ua = a.standard_uncertainty;
    const double ub = b.standard_uncertainty;
    Eigen::Matrix2d covariance;
    covariance << ua * ua, correlation * ua * ub, correlation * ua * ub, ub * ub;
    return covariance;
}

double signed_turns(const Correction& correction) {
    return correction.clockwise ? correction.turns : -correction.turns;
}

/// What stands before the turns, deg (yaw left, pitch up).
struct Attitude {
    Eigen::Vector2d angles_deg;
    Eigen::Matrix2d covariance_deg2;
};

/// Off the aim after the turns (clockwise, profile order).
Pair remaining_after(const Response& response, const Attitude& from,
                     const Eigen::Vector2d& turns_clockwise) {
    const Mount& mount = response.mount();
    Pair remaining = response.expected_change_deg(from.angles_deg, turns_clockwise);
    remaining.covariance += from.covariance_deg2;
    remaining.value = from.angles_deg + remaining.value -
                      Eigen::Vector2d(mount.aim_yaw_left_deg, mount.aim_pitch_up_deg);
    return remaining;
}

/// Says of each screw whether it has to be turned at all.
void tell_needless_turns(const Response& response, const Attitude& from,
                         const Eigen::Vector2d& rounded, CorrectionPlan& plan) {
    const Mount& mount = response.mount();
    const auto in_tolerance = [&](Axis axis, Estimate off_aim_deg) {
        return decide(off_aim_deg, 0, mount.tolerance_deg(axis)).call == Call::in_tolerance;
    };
    const Pair now = remaining_after(response, from, Eigen::Vector2d::Zero());
    for (int i = 0; i < 2; ++i) {
        const Axis axis = mount.screws[i].turns;
        Eigen::Vector2d without = rounded;
        without[i] = 0;
        const Pair then = remaining_after(response, from, without);
        auto& correction = plan.corrections[i];
        correction.aim_in_tolerance = in_tolerance(axis, now.at(axis == Axis::yaw ? 0 : 1));
        const Axis other = axis == Axis::yaw ? Axis::pitch : Axis::yaw;
        correction.may_be_left =
            correction.aim_in_tolerance && rounded[i] != 0 &&
            in_tolerance(axis, then.at(axis == Axis::yaw ? 0 : 1)) &&
            std::abs(then.at(other == Axis::yaw ? 0 : 1).value) <= mount.tolerance_deg(other);
    }
}

}  // namespace

Findings mount_findings(const Mount& mount) {
    Findings findings;
    if (mount.source.empty()) {
        findings.push_back({Level::note, "mount-unsourced",
                            fmt::format("mount '{}' names no source, so its tolerance and its "
                                        "screws are unproven; add 'source' with document and date",
                                        mount.name)});
    }
    if (!mount.tolerance_stated) {
        findings.push_back(
            {Level::note, "limit-assumed",
             fmt::format("mount '{}' states no tolerance; {:g} deg side to side and {:g} deg "
                         "up-down are common practice, no source; enter the vehicle maker's",
                         mount.name, mount.tolerance_yaw_deg, mount.tolerance_pitch_deg)});
    }
    return findings;
}

CorrectionPlan plan_correction(const Mount& mount, const Estimate& yaw_left_deg,
                               const Estimate& pitch_up_deg, double correlation,
                               const std::vector<double>& turned_clockwise) {
    return plan_correction(Response::exact(mount), yaw_left_deg, pitch_up_deg, correlation,
                           turned_clockwise);
}

CorrectionPlan plan_correction(const Response& response, const Estimate& yaw_left_deg,
                               const Estimate& pitch_up_deg, double correlation,
                               const std::vector<double>& turned_clockwise) {
    CorrectionPlan plan;
    const Mount& mount = response.mount();
    if (!is_face_angle(yaw_left_deg.value) || !is_face_angle(pitch_up_deg.value)) {
        plan.findings.push_back({Level::stop, "cannot-correct",
                                 "the measured angle is none that a mount's face can have, so no "
                                 "turns are given; measure again"});
        return plan;
    }
    const Eigen::Vector2d from(yaw_left_deg.value, pitch_up_deg.value);
    const Eigen::Vector2d aim(mount.aim_yaw_left_deg, mount.aim_pitch_up_deg);
    const Eigen::Matrix2d covariance = covariance_of(yaw_left_deg, pitch_up_deg, correlation);
    const NeededTurns needed = response.needed_turns(from, aim);
    const Eigen::Matrix2d turns_per = needed.per_effective * turns_per_deg(mount, from[0], from[1]);
    const Eigen::Matrix2d turns_covariance =
        turns_per * covariance * turns_per.transpose() + needed.turns.covariance;

    Eigen::Vector2d rounded;
    for (int i = 0; i < 2; ++i) {
        const Screw& screw = mount.screws[i];
        double uncertainty_turns = std::sqrt(std::max(0.0, turns_covariance(i, i)));
        if (response.rounds_learned() > 0 && uncertainty_turns > 0) {
            uncertainty_turns = with_doubt_of_side(needed.turns.value[i], uncertainty_turns,
                                                   response.backlash_turns(i).value);
        }
        Correction correction =
            correct(screw, needed.turns.value[i], needed.play[i], uncertainty_turns);
        correction.table_turns_clockwise = table_turns_clockwise(
            mount, screw.turns,
            reading_from_angle_deg(mount, screw.turns, from[screw.turns == Axis::yaw ? 0 : 1]));
        rounded[i] = signed_turns(correction);
        const double turned = turned_clockwise.empty() ? 0 : turned_clockwise.at(i);
        for (const auto& findings :
             {travel_findings(screw, turned + rounded[i]), table_findings(mount, i)}) {
            plan.findings.insert(plan.findings.end(), findings.begin(), findings.end());
        }
        plan.corrections.push_back(correction);
    }
    const Attitude attitude{from, covariance};
    const Pair remaining = remaining_after(response, attitude, rounded);
    plan.remaining_yaw_left_deg = remaining.value[0];
    plan.remaining_pitch_up_deg = remaining.value[1];
    plan.remaining_yaw_uncertainty_deg = remaining.at(0).standard_uncertainty;
    plan.remaining_pitch_uncertainty_deg = remaining.at(1).standard_uncertainty;
    tell_needless_turns(response, attitude, rounded, plan);
    return plan;
}

std::string turns_words(double turns_clockwise) {
    if (!std::isfinite(turns_clockwise)) {
        return "turns unknown";
    }
    const int eighths =
        static_cast<int>(std::lround(std::min(std::abs(turns_clockwise), 1e6) * eighths_per_turn));
    if (eighths == 0) {
        return "no turn";
    }
    return fmt::format("{} {} {}", eighths_text(eighths), eighths > 8 ? "turns" : "turn",
                       turns_clockwise > 0 ? "clockwise" : "counter-clockwise");
}

std::string turns_words(const Correction& correction) {
    return turns_words(signed_turns(correction));
}

}  // namespace squaresight

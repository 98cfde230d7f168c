#include "mount/response.h"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>

#include "units/normal.h"
#include "units/quantity.h"

namespace squaresight {
namespace {

constexpr int common = 0, own = 4, backlash = 8, play = 10;  // where the state's parts begin

int direction_of(double turns_clockwise) {
    return turns_clockwise > 0 ? 1 : turns_clockwise < 0 ? -1 : 0;
}

/// Variances of E by rows. A part of what a screw does goes the other screw's way, so it counts in
/// turns of that other screw.
Eigen::Vector4d prior_variances(const Mount& mount, const ResponsePrior& prior) {
    const Eigen::Vector2d sizes = turn_sizes(mount);
    const Eigen::Vector4d u(prior.lever, prior.cross * sizes[1] / sizes[0],
                            prior.cross * sizes[0] / sizes[1], prior.lever);
    return u.cwiseAbs2();
}

std::vector<double> list_of(const Eigen::Vector2d& turns) { return {turns[0], turns[1]}; }

}  // namespace

Estimate Pair::at(int index) const {
    return {value[index], std::sqrt(std::max(0.0, covariance(index, index)))};
}

Response::Response(const Mount& mount) : mount_(mount) {
    const double part = std::pow(prior_.between_mounts / prior_.lever, 2);
    set_independent(common, (1 - part) * prior_variances(mount_, prior_));
    start_vehicle();
}

Response Response::exact(const Mount& mount) {
    Response response(mount);
    response.prior_ = {0, 0, 0, 0, 0};
    response.mean_.setZero();
    response.covariance_.setZero();
    return response;
}

void Response::set_independent(int first, const Eigen::Vector4d& variances) {
    covariance_.middleRows<4>(first).setZero();
    covariance_.middleCols<4>(first).setZero();
    covariance_.block<4, 4>(first, first) = variances.asDiagonal();
    mean_.segment<4>(first).setZero();
}

void Response::start_vehicle() {
    const double part = std::pow(prior_.between_mounts / prior_.lever, 2);
    set_independent(own, part * prior_variances(mount_, prior_));
    const double half = prior_.largest_backlash_turns / 2;
    set_independent(backlash, Eigen::Vector4d(1, 1, 0, 0) * std::pow(standard_from_limit(half), 2));
    mean_.segment<2>(backlash).setConstant(half);
    lose_play();
}

void Response::lose_play() {
    forget_play(0);
    forget_play(1);
}

/// The play stands anywhere in the backlash.
void Response::forget_play(int screw) {
    const int b = backlash + screw, g = play + screw;
    mean_[g] = mean_[b] / 2;
    covariance_.row(g) = covariance_.row(b) / 2;
    covariance_.col(g) = covariance_.row(g).transpose();
    covariance_(g, g) = covariance_(b, b) / 4 + (mean_[b] * mean_[b] + covariance_(b, b)) / 12;
    last_direction_[static_cast<std::size_t>(screw)] = 0;
}

/// A turn that is surely longer than the play leaves it at one end of the backlash.
void Response::take_up_play(int screw, double turns_clockwise) {
    const int direction = direction_of(turns_clockwise);
    if (direction == 0) {
        return;
    }
    const Freed free = freed(screw, turns_clockwise);
    const double surely =
        std::min(free.mean + 2 * std::sqrt(free.variance), prior_.largest_backlash_turns);
    if (std::abs(turns_clockwise) < surely) {
        forget_play(screw);
        return;
    }
    const int b = backlash + screw, g = play + screw;
    const double share = direction > 0 ? 0 : 1;  // of the backlash
    mean_[g] = share * mean_[b];
    covariance_.row(g) = share * covariance_.row(b);
    covariance_.col(g) = covariance_.row(g).transpose();
    covariance_(g, g) = share * covariance_(b, b);
    last_direction_[static_cast<std::size_t>(screw)] = direction;
}

Eigen::Matrix2d Response::effect() const {
    Eigen::Matrix2d effect;
    effect << 1 + mean_[0] + mean_[4], mean_[1] + mean_[5], mean_[2] + mean_[6],
        1 + mean_[3] + mean_[7];
    return effect;
}

Estimate Response::lever(int screw) const {
    const int a = common + 3 * screw, b = own + 3 * screw;
    return {mean_[a] + mean_[b],
            std::sqrt(covariance_(a, a) + covariance_(b, b) + 2 * covariance_(a, b))};
}

Estimate Response::backlash_turns(int screw) const {
    const int b = backlash + screw;
    return {std::max(0.0, mean_[b]), std::sqrt(covariance_(b, b))};
}

/// What the play takes of a turn, as a normal variable, and what is left: max(0, turn - play).
Response::Freed Response::freed(int screw, double turns_clockwise) const {
    const int b = backlash + screw, g = play + screw;
    Freed free;
    if (turns_clockwise > 0) {
        free.mean = std::max(0.0, mean_[g]);
        free.variance = covariance_(g, g);
    } else {
        free.mean = std::max(0.0, mean_[b] - mean_[g]);
        free.variance = covariance_(b, b) + covariance_(g, g) - 2 * covariance_(b, g);
    }
    const double left = std::abs(turns_clockwise) - free.mean;
    const double s = std::sqrt(std::max(0.0, free.variance));
    if (s < 1e-9) {
        free.moved = std::max(0.0, left);
        free.moved_per_freed = left > 0 ? -1 : 0;
        return free;
    }
    const double p = probability_below(left / s);
    const double d = normal_density(left / s);
    free.moved = left * p + s * d;
    free.moved_per_freed = -p;
    const double square = (left * left + s * s) * p + left * s * d;
    free.rest = std::max(0.0, square - free.moved * free.moved - p * p * s * s);
    return free;
}

Response::Effect Response::effect_of(const Eigen::Vector2d& turns_clockwise) const {
    const Eigen::Matrix2d matrix = effect();
    const double u_turning = standard_from_limit(prior_.turning_limit_turns);
    Effect effect;
    for (int i = 0; i < 2; ++i) {
        const int sign = direction_of(turns_clockwise[i]);
        if (sign == 0) {
            continue;
        }
        const Freed free = freed(i, turns_clockwise[i]);
        effect.turns += matrix.col(i) * (sign * free.moved);
        for (int row = 0; row < 2; ++row) {
            effect.jacobian(row, common + 2 * row + i) = sign * free.moved;
            effect.jacobian(row, own + 2 * row + i) = sign * free.moved;
        }
        const Eigen::Vector2d per_freed = matrix.col(i) * (sign * free.moved_per_freed);
        effect.jacobian.col(play + i) += sign > 0 ? per_freed : Eigen::Vector2d(-per_freed);
        if (sign < 0) {
            effect.jacobian.col(backlash + i) += per_freed;
        }
        effect.noise +=
            matrix.col(i) * (u_turning * u_turning + free.rest) * matrix.col(i).transpose();
    }
    return effect;
}

Pair Response::effective_turns(const Eigen::Vector2d& turns_clockwise) const {
    const Effect effect = effect_of(turns_clockwise);
    return {effect.turns,
            effect.jacobian * covariance_ * effect.jacobian.transpose() + effect.noise};
}

Pair Response::expected_change_deg(const Eigen::Vector2d& before_deg,
                                   const Eigen::Vector2d& turns_clockwise) const {
    const Pair turns = effective_turns(turns_clockwise);
    const Eigen::Vector2d after =
        attitude_after(mount_, before_deg[0], before_deg[1], list_of(turns.value));
    const Eigen::Matrix2d deg_per_turn = turns_per_deg(mount_, after[0], after[1]).inverse();
    return {after - before_deg, deg_per_turn * turns.covariance * deg_per_turn.transpose()};
}

NeededTurns Response::needed_turns(const Eigen::Vector2d& from_deg,
                                   const Eigen::Vector2d& to_deg) const {
    const auto seen = exact_turns_clockwise(mount_, from_deg[0], from_deg[1], to_deg[0], to_deg[1]);
    NeededTurns needed;
    needed.per_effective = effect().inverse();
    needed.turns.value = needed.per_effective * Eigen::Vector2d(seen[0], seen[1]);
    for (int i = 0; i < 2; ++i) {
        const int direction = direction_of(needed.turns.value[i]);
        if (direction * last_direction_[static_cast<std::size_t>(i)] < 0) {
            needed.play[i] = direction * backlash_turns(i).value;
        }
    }
    if (rounds_ > 0) {
        const Effect effect = effect_of(needed.turns.value + needed.play);
        const Eigen::Matrix<double, 2, size> jacobian = needed.per_effective * effect.jacobian;
        needed.turns.covariance = jacobian * covariance_ * jacobian.transpose();
    }
    return needed;
}

void Response::learn(const Round& round) {
    const Eigen::Vector2d told(round.turns_clockwise.at(0), round.turns_clockwise.at(1));
    const Pair seen = seen_turns(mount_, round);
    const Effect effect = effect_of(told);
    const Eigen::Matrix2d noise = effect.noise + seen.covariance;
    const Eigen::Matrix2d innovation =
        effect.jacobian * covariance_ * effect.jacobian.transpose() + noise;
    const Eigen::Matrix<double, size, 2> gain =
        covariance_ * effect.jacobian.transpose() * innovation.inverse();
    mean_ += gain * (seen.value - effect.turns);
    const Covariance left = Covariance::Identity() - gain * effect.jacobian;
    covariance_ = left * covariance_ * left.transpose() + gain * noise * gain.transpose();
    take_up_play(0, told[0]);
    take_up_play(1, told[1]);
    ++rounds_;
}

Pair seen_turns(const Mount& mount, const Round& round) {
    const Eigen::Vector2d after = round.before_deg + round.change_deg;
    const auto turns =
        exact_turns_clockwise(mount, round.before_deg[0], round.before_deg[1], after[0], after[1]);
    const Eigen::Matrix2d per_deg = turns_per_deg(mount, after[0], after[1]);
    return {{turns[0], turns[1]}, per_deg * round.covariance_deg2 * per_deg.transpose()};
}

}  // namespace squaresight

#include "job/turning.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "job/tapes.h"
#include "units/files.h"

namespace squaresight {
namespace {

/// A face that moved by this many standard uncertainties while it was locked is told.
constexpr double locking_limit = 3.29;

/// The angles that corrections start from: vision where it was solved, else tape-and-level.
struct Aim {
    Estimate yaw_left_deg, pitch_up_deg;
    double correlation = 0;
};

std::optional<Aim> aim_of(const SightingResult& sighting) {
    const auto yaw_left_deg = measured_angle(sighting, Axis::yaw);
    const auto pitch_up_deg = measured_angle(sighting, Axis::pitch);
    if (!yaw_left_deg || !pitch_up_deg) {
        return std::nullopt;
    }
    const bool photos = answered_by_photos(sighting);
    return Aim{*yaw_left_deg, *pitch_up_deg, photos ? sighting.vision->stage.correlation : 0};
}

bool any_turned(const std::vector<double>& turns) {
    return std::any_of(turns.begin(), turns.end(), [](double one) { return one != 0; });
}

/// The round between two stages, where photos measured the change from the one to the other.
std::optional<Round> round_between(const SightingResult& before, const SightingResult& after,
                                   const std::vector<double>& turns_clockwise) {
    if (!answered_by_photos(before) || !answered_by_photos(after) ||
        !after.vision->stage.yaw_change_left_deg || !any_turned(turns_clockwise)) {
        return std::nullopt;
    }
    const auto& from = before.vision->stage;
    const auto& to = after.vision->stage;
    const Estimate yaw = *to.yaw_change_left_deg;
    const Estimate pitch = *to.pitch_change_up_deg;
    Round round;
    round.turns_clockwise = turns_clockwise;
    round.before_deg = {from.yaw_left_deg.value, from.pitch_up_deg.value};
    round.change_deg = {yaw.value, pitch.value};
    const double covariance =
        to.change_correlation * yaw.standard_uncertainty * pitch.standard_uncertainty;
    round.covariance_deg2 << std::pow(yaw.standard_uncertainty, 2), covariance, covariance,
        std::pow(pitch.standard_uncertainty, 2);
    return round;
}

/// Whether a round shows the screws alone: no stop, and nothing was locked after it.
bool shows_screws_alone(const JobResult& result, std::size_t after) {
    return !has_stop(result.findings) &&
           !has_stop(result.sightings[after - 1].vision->stage.findings) &&
           !has_stop(result.sightings[after].vision->stage.findings) &&
           !result.sheet.sightings[after].locked.value_or(false);
}

/// What is known of the mount at the start of the job and now.
struct Learning {
    Response at_start;
    Response now;
};

bool is_unexplained(const RoundCheck& check) {
    return !check.findings.empty() && check.findings.front().code == "turns-unexplained";
}

/// A round that does not fit what this job's earlier rounds taught, but fits what was known before
/// them, shows that it was those that were not made as told: what they taught is dropped.
RoundCheck check_against(JobResult& result, const Round& round, Learning& learning) {
    const RoundCheck check = check_round(learning.now, round);
    if (!is_unexplained(check)) {
        return check;
    }
    const RoundCheck fresh = check_round(learning.at_start, round);
    if (fresh.call != RoundCall::as_told) {
        return check;
    }
    for (auto& sighting : result.sightings) {
        if (sighting.response && sighting.response->learned) {
            sighting.response->learned = false;
            sighting.response->check.call = RoundCall::not_as_told;
            sighting.findings.push_back(
                {Level::warning, "turns-not-made",
                 "These turns do not fit what later ones did to the face: it looks as if they were "
                 "not made as written. Write on the job sheet what was turned; nothing is learned "
                 "from them."});
        }
    }
    learning.now = learning.at_start;
    return fresh;
}

/// Compares the round before a stage with what it should have done, and learns from it.
void take_round(JobResult& result, std::size_t after, Learning& learning) {
    SightingResult& sighting = result.sightings[after];
    const auto turned = turns_after(result.sheet, result.sheet.sightings[after - 1], result.mount);
    const auto round = round_between(result.sightings[after - 1], sighting, turned);
    if (!round) {
        if (any_turned(turned)) {
            learning.now.lose_play();
        }
        return;
    }
    const RoundCheck check = check_against(result, *round, learning);
    const bool learned = check.findings.empty() && shows_screws_alone(result, after);
    if (learned) {
        learning.now.learn(*round);
    } else {
        learning.now.lose_play();
    }
    sighting.findings.insert(sighting.findings.end(), check.findings.begin(), check.findings.end());
    sighting.response = RoundResult{*round, check, learned};
}

/// Net turns since as-found: as written, or as the face shows where they were not made as told.
std::vector<double> net_turns(const JobResult& result, std::size_t stage) {
    std::vector<double> net(result.mount.screws.size(), 0.0);
    for (std::size_t i = 1; i <= stage; ++i) {
        auto turned = turns_after(result.sheet, result.sheet.sightings[i - 1], result.mount);
        const auto& response = result.sightings[i].response;
        if (response && response->check.call == RoundCall::not_as_told) {
            const Eigen::Vector2d seen = seen_turns(result.mount, response->round).value;
            turned = {seen[0], seen[1]};
        }
        std::transform(net.begin(), net.end(), turned.begin(), net.begin(), std::plus<>());
    }
    return net;
}

/// The rounds of the job that were learned from.
MountHistory clean_rounds(const JobResult& result) {
    MountHistory rounds;
    int adjusted = 0;
    for (const auto& sighting : result.sightings) {
        adjusted += sighting.stage == "adjusted" ? 1 : 0;
        if (sighting.response && sighting.response->learned) {
            const std::string stage = sighting.stage == "adjusted"
                                          ? fmt::format("adjusted {}", adjusted)
                                          : sighting.stage;
            rounds.push_back(
                {result.sheet.job, stage, result.sheet.vehicle, sighting.response->round});
        }
    }
    return rounds;
}

}  // namespace

void plan_corrections(JobResult& result, const MountHistory& history) {
    const Response start =
        response_from(result.mount, history, result.sheet.job, result.sheet.vehicle);
    Learning learning{start, start};
    result.rounds_from_history = start.rounds_learned();
    bool withhold = false;
    for (std::size_t i = 0; i < result.sightings.size(); ++i) {
        SightingResult& sighting = result.sightings[i];
        if (i > 0) {
            take_round(result, i, learning);
            withhold = withhold || (sighting.response && sighting.response->check.withhold_next);
        }
        const auto aim = aim_of(sighting);
        if (aim && !withhold) {
            sighting.corrections =
                plan_correction(learning.now, aim->yaw_left_deg, aim->pitch_up_deg,
                                aim->correlation, net_turns(result, i));
        }
    }
}

void check_locking(JobResult& result) {
    for (std::size_t i = 0; i < result.sightings.size(); ++i) {
        const SheetSighting& sheet = result.sheet.sightings[i];
        SightingResult& sighting = result.sightings[i];
        if (sheet.stage != "as-left") {
            continue;
        }
        if (!sheet.locked.value_or(false)) {
            sighting.findings.push_back(
                {Level::warning, "not-locked",
                 "The screws were not locked when the as-left measurement was taken. Lock them, "
                 "measure again, and write 'locked: yes'."});
        }
        const bool turned_before = i > 0 && !result.sheet.sightings[i - 1].turned_clockwise.empty();
        if (turned_before || !sighting.vision || !sighting.vision->stage.yaw_change_left_deg) {
            continue;
        }
        const auto& stage = sighting.vision->stage;
        const auto moved = [](const Estimate& change) {
            return std::abs(change.value) > locking_limit * change.standard_uncertainty;
        };
        if (moved(*stage.yaw_change_left_deg) || moved(*stage.pitch_change_up_deg)) {
            sighting.findings.push_back(
                {Level::warning, "locking-moved",
                 "The face moved since the stage before although nothing was turned: locking the "
                 "screws has likely moved it. Only this as-left measurement counts."});
        }
    }
}

int keep_rounds(const JobResult& result) {
    const auto file = history_file(result.sheet.mount_file);
    const MountHistory rounds = clean_rounds(result);
    const MountHistory before = load_history(file, result.mount);
    const std::string bytes =
        history_yaml(result.mount, with_job(before, result.sheet.job, rounds));
    if (bytes != history_yaml(result.mount, before)) {
        write_file(file, bytes);
    }
    return static_cast<int>(rounds.size());
}

}  // namespace squaresight

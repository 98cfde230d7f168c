#include "mount/history.h"

#include <fmt/format.h>

#include <algorithm>

#include "units/covariance.h"
#include "units/entry.h"
#include "units/error.h"

namespace squaresight {
namespace {

constexpr std::size_t most_rounds = 1000;
constexpr double largest_angle_deg = 45;
constexpr double largest_turns = 100;

std::vector<double> turns_of(const Entry& entry, const Mount& mount) {
    entry.expect_keys({mount.screws[0].name, mount.screws[1].name});
    std::vector<double> turns;
    for (const auto& screw : mount.screws) {
        turns.push_back(entry.at(screw.name).number(-largest_turns, largest_turns));
    }
    return turns;
}

Eigen::Vector2d angles_of(const Entry& entry) {
    entry.expect_keys({"yaw_left", "pitch_up"});
    const auto angle = [&](const char* key) {
        return entry.at(key).angle_deg(-largest_angle_deg, largest_angle_deg);
    };
    return {angle("yaw_left"), angle("pitch_up")};
}

HistoryRound round_of(const Entry& entry, const Mount& mount) {
    entry.expect_keys(
        {"job", "stage", "vehicle", "turns_clockwise", "before", "change", "covariance"});
    HistoryRound one;
    one.job = entry.at("job").text();
    one.stage = entry.at("stage").text();
    one.vehicle = entry.has("vehicle") ? entry.at("vehicle").text() : "";
    one.round.turns_clockwise = turns_of(entry.at("turns_clockwise"), mount);
    one.round.before_deg = angles_of(entry.at("before"));
    one.round.change_deg = angles_of(entry.at("change"));
    one.round.covariance_deg2 = covariance_of(entry.at("covariance"), 2);
    return one;
}

std::string angles_yaml(const Eigen::Vector2d& deg) {
    return fmt::format("{{yaw_left: {} deg, pitch_up: {} deg}}", yaml_number(deg[0]),
                       yaml_number(deg[1]));
}

std::string round_yaml(const Mount& mount, const HistoryRound& one) {
    const auto& round = one.round;
    const auto& c = round.covariance_deg2;
    std::string text =
        fmt::format("  - job: {}\n    stage: {}\n", yaml_text(one.job), yaml_text(one.stage));
    if (!one.vehicle.empty()) {
        text += fmt::format("    vehicle: {}\n", yaml_text(one.vehicle));
    }
    text += fmt::format("    turns_clockwise: {{{}: {}, {}: {}}}\n",
                        yaml_text(mount.screws[0].name), yaml_number(round.turns_clockwise[0]),
                        yaml_text(mount.screws[1].name), yaml_number(round.turns_clockwise[1]));
    text += fmt::format("    before: {}\n    change: {}\n", angles_yaml(round.before_deg),
                        angles_yaml(round.change_deg));
    return text + fmt::format("    covariance: [[{}, {}], [{}, {}]]\n", yaml_number(c(0, 0)),
                              yaml_number(c(0, 1)), yaml_number(c(1, 0)), yaml_number(c(1, 1)));
}

/// Rounds that belong together, each group in the order of the history.
template <class Same>
std::vector<MountHistory> groups(const MountHistory& history, Same same) {
    std::vector<MountHistory> all;
    for (const auto& one : history) {
        const auto group = std::find_if(all.begin(), all.end(), [&](const MountHistory& other) {
            return same(other.front(), one);
        });
        if (group == all.end()) {
            all.push_back({one});
        } else {
            group->push_back(one);
        }
    }
    return all;
}

bool same_job(const HistoryRound& a, const HistoryRound& b) { return a.job == b.job; }

/// Trucks whose name was not written are told apart by their jobs.
bool same_vehicle(const HistoryRound& a, const HistoryRound& b) {
    return a.vehicle == b.vehicle && (!a.vehicle.empty() || same_job(a, b));
}

void learn_jobs(Response& response, const MountHistory& rounds) {
    for (const auto& job : groups(rounds, same_job)) {
        response.lose_play();
        for (const auto& one : job) {
            response.learn(one.round);
        }
    }
}

}  // namespace

std::filesystem::path history_file(const std::filesystem::path& mount_file) {
    return mount_file.parent_path() / (mount_file.stem().string() + ".history.yaml");
}

MountHistory load_history(const std::filesystem::path& file, const Mount& mount) {
    std::error_code ignored;
    if (!std::filesystem::exists(file, ignored)) {
        return {};
    }
    const Entry root = Entry::load(file, "squaresight/mount-history/1");
    root.expect_keys({"schema", "mount", "rounds"});
    if (root.at("mount").text() != mount.name) {
        root.at("mount").fail(
            fmt::format("is '{}', and the profile beside it is '{}'", root.at("mount").text(),
                        mount.name),
            "move this file away: another mount's rounds say nothing of this one");
    }
    MountHistory history;
    if (const auto rounds = root.find("rounds")) {
        for (const auto& entry : rounds->list()) {
            history.push_back(round_of(entry, mount));
        }
    }
    return history;
}

MountHistory with_job(MountHistory history, const std::string& job, const MountHistory& rounds) {
    std::erase_if(history, [&](const HistoryRound& one) { return one.job == job; });
    history.insert(history.end(), rounds.begin(), rounds.end());
    if (history.size() > most_rounds) {
        history.erase(history.begin(), history.end() - static_cast<std::ptrdiff_t>(most_rounds));
    }
    return history;
}

std::string history_yaml(const Mount& mount, const MountHistory& history) {
    std::string text = fmt::format("schema: squaresight/mount-history/1\nmount: {}\n{}",
                                   yaml_text(mount.name), history.empty() ? "" : "rounds:\n");
    for (const auto& one : history) {
        text += round_yaml(mount, one);
    }
    return text;
}

Response response_from(const Mount& mount, const MountHistory& history, const std::string& job,
                       const std::string& vehicle) {
    const HistoryRound now{job, "", vehicle, {}};
    MountHistory others, own;
    for (const auto& one : history) {
        if (!same_job(one, now)) {
            (same_vehicle(one, now) ? own : others).push_back(one);
        }
    }
    Response response(mount);
    for (const auto& truck : groups(others, same_vehicle)) {
        response.start_vehicle();
        learn_jobs(response, truck);
    }
    response.start_vehicle();
    learn_jobs(response, own);
    response.lose_play();
    return response;
}

}  // namespace squaresight

#pragma once
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <string>
#include <vector>

#include "mount/mount.h"
#include "simulate/draw.h"
#include "study/jobs.h"

/// Does the stated uncertainty hold? Errors of many practice jobs against what each job stated.
namespace squaresight::study {

/// One quantity over many jobs: error and stated standard uncertainty of each.
struct Ratios {
    std::vector<double> error_over_u;
    void add(double error, double u) { error_over_u.push_back(error / u); }
    double rms() const {
        double sum = 0;
        for (const double ratio : error_over_u) {
            sum += ratio * ratio;
        }
        return std::sqrt(sum / static_cast<double>(error_over_u.size()));
    }
    /// Share of jobs whose error lies within the stated 2 u.
    double covered() const {
        const auto within = std::count_if(error_over_u.begin(), error_over_u.end(),
                                          [](double ratio) { return std::abs(ratio) <= 2; });
        return static_cast<double>(within) / static_cast<double>(error_over_u.size());
    }
    /// Standard uncertainty of the rms by counting statistics.
    double rms_uncertainty() const {
        return 1 / std::sqrt(2 * static_cast<double>(error_over_u.size()));
    }
};

struct Coverage {
    int jobs = 0;
    std::map<std::string, Ratios> of;                ///< "yaw as-found", ...
    std::map<std::string, int> jobs_with;            ///< finding codes but notes, by job
    int in_tolerance = 0, falsely_in_tolerance = 0;  ///< calls of one angle of one stage
    int agreements = 0, beyond_one = 0;              ///< E_n of one angle of one stage; E_n > 1
    /// Of errors of yaw (pitch) at the first two stages, each over its u: obtained and stated.
    double stage_correlation[2] = {0, 0}, stated_stage_correlation[2] = {0, 0};
    double yaw_pitch_correlation = 0, stated_yaw_pitch_correlation = 0;
    int in_tolerance_after_two_rounds = 0, runs = 0;  ///< by the truth
};

/// Turns, clockwise, that bring a mount from where it stands to its aim: by trying, on copies.
inline Eigen::Vector2d needed_turns(const SimulatedMount& mount, const Mount& profile) {
    Eigen::Vector2d turns(0, 0);
    for (int step = 0; step < 50; ++step) {
        SimulatedMount tried = mount;
        tried.turn({turns[0], turns[1]});
        const auto rest = exact_turns_clockwise(profile, tried.yaw_left_deg(), tried.pitch_up_deg(),
                                                profile.aim_yaw_left_deg, profile.aim_pitch_up_deg);
        turns += 0.7 * Eigen::Vector2d(rest[0], rest[1]);
    }
    return turns;
}

class CoverageStudy {
  public:
    Coverage coverage;

    void add(const StudyJob& job) {
        ++coverage.jobs;
        if (!job.result) {
            ++coverage.jobs_with["refused"];
            return;
        }
        count_findings(job);
        for (std::size_t i = 0; i < job.result->sightings.size(); ++i) {
            add_stage(job, i);
        }
        add_turns(job);
        add_correlations(job);
        add_rounds(job);
    }

    /// Sums become means.
    Coverage finished() const {
        Coverage done = coverage;
        for (double* sum : {&done.stage_correlation[0], &done.stage_correlation[1],
                            &done.stated_stage_correlation[0], &done.stated_stage_correlation[1],
                            &done.yaw_pitch_correlation, &done.stated_yaw_pitch_correlation}) {
            *sum /= std::max(1, pairs_);
        }
        return done;
    }

  private:
    /// Whether squaring this mount takes more turns than its screws have: a stop that is right.
    static bool is_beyond_travel(const StudyJob& job) {
        const auto& pose = job.true_stage(0).pose;
        const Mount& profile = job.truth.mount;
        const Eigen::Vector2d needed = needed_turns(
            SimulatedMount(profile, job.truth.mount_errors, pose[yaw_left_deg], pose[pitch_up_deg]),
            profile);
        constexpr double step = 1.0 / 8;
        return std::abs(needed[0]) > profile.screws[0].travel_turns - step ||
               std::abs(needed[1]) > profile.screws[1].travel_turns - step;
    }

    void count_findings(const StudyJob& job) {
        const JobResult& result = *job.result;
        std::map<std::string, bool> codes;
        const auto take = [&](const Findings& findings) {
            for (const auto& finding : findings) {
                if (finding.level != Level::note) {
                    const bool stop = finding.level == Level::stop;
                    codes[stop ? "stop: " + finding.code : finding.code] = true;
                }
            }
        };
        take(result.findings);
        for (const auto& sighting : result.sightings) {
            take(sighting.all_findings());
        }
        for (const auto& [code, there] : codes) {
            const bool right = code == "stop: beyond-travel" && is_beyond_travel(job);
            ++coverage.jobs_with[right ? code + ", rightly" : code];
        }
    }

    void add_stage(const StudyJob& job, std::size_t index) {
        const AdjustedStage* stage = job.vision(index);
        if (stage == nullptr) {
            return;
        }
        coverage.of["yaw " + stage->stage].add(job.yaw_error_deg(index),
                                               stage->yaw_left_deg.standard_uncertainty);
        coverage.of["pitch " + stage->stage].add(job.pitch_error_deg(index),
                                                 stage->pitch_up_deg.standard_uncertainty);
        if (stage->yaw_change_left_deg) {
            const auto& now = job.true_stage(index).pose;
            const auto& before = job.true_stage(index - 1).pose;
            coverage.of["change of yaw"].add(
                stage->yaw_change_left_deg->value - (now[yaw_left_deg] - before[yaw_left_deg]),
                stage->yaw_change_left_deg->standard_uncertainty);
            coverage.of["change of pitch"].add(
                stage->pitch_change_up_deg->value - (now[pitch_up_deg] - before[pitch_up_deg]),
                stage->pitch_change_up_deg->standard_uncertainty);
        }
        add_calls(job, index);
        add_agreement(job.result->sightings[index]);
    }

    void add_calls(const StudyJob& job, std::size_t index) {
        const Mount& mount = job.result->mount;
        const auto& verdict = job.result->sightings[index].vision->verdict;
        const auto& pose = job.true_stage(index).pose;
        const auto count = [&](const Verdict& one, double off_aim_deg, double tolerance_deg) {
            if (one.call == Call::in_tolerance) {
                ++coverage.in_tolerance;
                coverage.falsely_in_tolerance += std::abs(off_aim_deg) > tolerance_deg;
            }
        };
        count(verdict.yaw, pose[yaw_left_deg] - mount.aim_yaw_left_deg, mount.tolerance_yaw_deg);
        count(verdict.pitch, pose[pitch_up_deg] - mount.aim_pitch_up_deg,
              mount.tolerance_pitch_deg);
    }

    void add_agreement(const SightingResult& sighting) {
        if (!sighting.agreement) {
            return;
        }
        const auto add = [&](const char* name, const std::optional<Agreement>& one) {
            if (one) {
                ++coverage.agreements;
                coverage.beyond_one += one->en > 1;
                coverage.of[name].add(one->difference_deg, one->expanded_95_deg / 2);
            }
        };
        add("vision minus tape, yaw", sighting.agreement->yaw);
        add("vision minus level, pitch", sighting.agreement->pitch);
    }

    /// Turns told against turns needed: as found by the profile's own geometry, whose word is taken
    /// until a round was made; after a round against what would really square this mount.
    void add_turns(const StudyJob& job) {
        const auto& first = job.true_stage(0).pose;
        const Mount& profile = job.truth.mount;
        SimulatedMount mount(profile, job.truth.mount_errors, first[yaw_left_deg],
                             first[pitch_up_deg]);
        const auto by_profile =
            exact_turns_clockwise(profile, first[yaw_left_deg], first[pitch_up_deg],
                                  profile.aim_yaw_left_deg, profile.aim_pitch_up_deg);
        add_plan("turns as-found", job.result->sightings[0],
                 Eigen::Vector2d(by_profile[0], by_profile[1]));
        for (std::size_t i = 1; i < job.result->sightings.size(); ++i) {
            const auto made = made_turns(job.true_stage(i - 1), profile);
            mount.turn(made);
            const SightingResult& sighting = job.result->sightings[i];
            if (sighting.stage == "adjusted" && sighting.response && sighting.response->learned) {
                add_plan("turns after a round", sighting, needed_turns(mount, profile), made);
            }
        }
    }

    static std::vector<double> made_turns(const PracticeStage& stage, const Mount& profile) {
        std::vector<double> turns(profile.screws.size(), 0.0);
        for (const auto& [screw, made] : stage.made_turns) {
            for (std::size_t i = 0; i < turns.size(); ++i) {
                turns[i] += profile.screws[i].name == screw ? made : 0;
            }
        }
        return turns;
    }

    /// `made`: only screws that were turned, whose play is therefore known to be on one side.
    void add_plan(const std::string& name, const SightingResult& sighting,
                  const Eigen::Vector2d& needed, const std::vector<double>& made = {}) {
        if (!sighting.corrections) {
            return;
        }
        for (std::size_t i = 0; i < sighting.corrections->corrections.size(); ++i) {
            const Correction& told = sighting.corrections->corrections[i];
            if (told.turns == 0 || (!made.empty() && made[i] == 0)) {
                continue;  // nothing is to be turned, and no play to be taken up
            }
            const double turns = told.clockwise ? told.exact_turns : -told.exact_turns;
            coverage.of[name].add(turns - needed[static_cast<Eigen::Index>(i)],
                                  told.uncertainty_turns);
        }
    }

    /// Between the first two stages, and between yaw and pitch of the first.
    void add_correlations(const StudyJob& job) {
        const AdjustedStage* first = job.vision(0);
        const AdjustedStage* second = job.vision(1);
        if (first == nullptr || second == nullptr || !second->yaw_change_left_deg) {
            return;
        }
        ++pairs_;
        const auto over_u = [](double error, const Estimate& one) {
            return error / one.standard_uncertainty;
        };
        /// What u of both and u of their difference say: (u1^2 + u2^2 - u12^2) / (2 u1 u2).
        const auto stated = [](const Estimate& a, const Estimate& b, const Estimate& change) {
            const double u[3] = {a.standard_uncertainty, b.standard_uncertainty,
                                 change.standard_uncertainty};
            return (u[0] * u[0] + u[1] * u[1] - u[2] * u[2]) / (2 * u[0] * u[1]);
        };
        const double yaw = over_u(job.yaw_error_deg(0), first->yaw_left_deg);
        const double pitch = over_u(job.pitch_error_deg(0), first->pitch_up_deg);
        coverage.stage_correlation[0] += yaw * over_u(job.yaw_error_deg(1), second->yaw_left_deg);
        coverage.stage_correlation[1] +=
            pitch * over_u(job.pitch_error_deg(1), second->pitch_up_deg);
        coverage.stated_stage_correlation[0] +=
            stated(first->yaw_left_deg, second->yaw_left_deg, *second->yaw_change_left_deg);
        coverage.stated_stage_correlation[1] +=
            stated(first->pitch_up_deg, second->pitch_up_deg, *second->pitch_change_up_deg);
        coverage.yaw_pitch_correlation += yaw * pitch;
        coverage.stated_yaw_pitch_correlation += first->correlation;
    }

    void add_rounds(const StudyJob& job) {
        if (job.truth.stages.size() < 2) {
            return;
        }
        ++coverage.runs;
        const auto& pose =
            job.truth.stages[std::min<std::size_t>(2, job.truth.stages.size() - 1)].pose;
        const Mount& mount = job.result->mount;
        coverage.in_tolerance_after_two_rounds +=
            std::abs(pose[yaw_left_deg] - mount.aim_yaw_left_deg) <= mount.tolerance_yaw_deg &&
            std::abs(pose[pitch_up_deg] - mount.aim_pitch_up_deg) <= mount.tolerance_pitch_deg;
    }

    int pairs_ = 0;
};

}  // namespace squaresight::study

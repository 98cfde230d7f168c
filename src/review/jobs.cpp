#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <span>

#include "records/rebuild.h"
#include "review/review_parts.h"

namespace squaresight {
namespace {

constexpr std::size_t most_jobs_named = 5;  // in one sentence

bool same_angle(double a, double b) {
    return std::isfinite(a) ? std::abs(a - b) <= rounding : !std::isfinite(b);
}

/// Whether two measurements of a job are one, stored again: alike but for rounding.
bool same_measurement(const Measurement& a, const Measurement& b) {
    return a.stage == b.stage && same_angle(a.yaw.vision_deg, b.yaw.vision_deg) &&
           same_angle(a.pitch.vision_deg, b.pitch.vision_deg) &&
           same_angle(a.yaw.tape_deg, b.yaw.tape_deg) &&
           same_angle(a.pitch.tape_deg, b.pitch.tape_deg);
}

using Stages = std::vector<const Measurement*>;

/// Every measurement of a job that was ever stored.
struct Attempts {
    int as_left = 0;  ///< measurements as left, each once
    int dropped = 0;  ///< others that its newest revision no longer has
    int count() const { return std::max(1, as_left) + dropped; }
};

Attempts attempts_of(const Stages& ever) {
    Attempts attempts;
    const int newest = ever.back()->revision;
    Stages seen;
    for (const auto* stage : ever) {
        const bool again = std::any_of(seen.begin(), seen.end(), [&](const Measurement* before) {
            return before->revision != stage->revision && same_measurement(*before, *stage);
        });
        if (!again) {
            seen.push_back(stage);
        }
    }
    for (const auto* stage : seen) {
        const bool kept = std::any_of(ever.begin(), ever.end(), [&](const Measurement* last) {
            return last->revision == newest && same_measurement(*last, *stage);
        });
        attempts.as_left += stage->stage == Stage::as_left ? 1 : 0;
        attempts.dropped += stage->stage != Stage::as_left && !kept ? 1 : 0;
    }
    return attempts;
}

/// One job: the rows of it that count, and every one that was ever stored.
struct JobStages {
    Rows counting;
    Stages ever;
};

class Jobs {
  public:
    Jobs(const Rows& rows, Review& review) : review_(review), all_(review.of) {
        std::vector<JobStages> of(all_.names.count());
        for (const auto& one : all_.list) {
            of[static_cast<std::size_t>(one.job)].ever.push_back(&one);
        }
        for (const auto row : rows) {
            of[static_cast<std::size_t>(all_.list[row].job)].counting.push_back(row);
        }
        for (auto& stages : of) {
            if (!stages.counting.empty()) {
                std::sort(stages.counting.begin(), stages.counting.end());
                take(stages);
            }
        }
        std::sort(review.jobs.begin(), review.jobs.end(), [&](const auto& a, const auto& b) {
            const Measurement& last_a = all_.list[a.last];
            const Measurement& last_b = all_.list[b.last];
            return last_a.day != last_b.day ? last_a.day > last_b.day : a.last > b.last;
        });
        flag_vehicles();
        rate_first_time();
        for (const auto& [code, jobs] : finding_jobs_) {
            review.finding_jobs[code] = jobs;
        }
        rank_readings();
        std::stable_sort(review.flags.begin(), review.flags.end(),
                         [](const auto& a, const auto& b) { return a.today && !b.today; });
    }

  private:
    const std::string& name(const ReviewedJob& job) const {
        return all_.names[all_.list[job.last].job];
    }

    void flag(const ReviewedJob& job, bool today, std::string text) {
        review_.flags.push_back({name(job), std::move(text), today});
    }

    void take(const JobStages& stages) {
        const Attempts attempts = attempts_of(stages.ever);
        const ReviewedJob job = job_of(stages.counting, attempts);
        count_findings(stages.counting);
        count_outcome(job);
        flag_decision(job, stages.ever);
        flag_conduct(job, stages, attempts);
        review_.jobs.push_back(job);
    }

    ReviewedJob job_of(const Rows& stages, const Attempts& attempts) const {
        ReviewedJob job;
        job.last = stages.back();
        const Measurement& last = all_.list[job.last];
        job.revisions = last.revision;
        job.stages = static_cast<int>(stages.size());
        job.attempts = attempts.count();
        job.finished = last.stage == Stage::as_left;
        job.in_tolerance = last.in_tolerance();
        for (const auto row : stages) {
            const Measurement& stage = all_.list[row];
            job.rounds += stage.stage == Stage::adjusted ? 1 : 0;
            job.stops = std::max(job.stops, stage.stops);
            job.yaw_agreement = stage.yaw.agreement ? stage.yaw.agreement : job.yaw_agreement;
            job.pitch_agreement =
                stage.pitch.agreement ? stage.pitch.agreement : job.pitch_agreement;
        }
        return job;
    }

    void count_findings(const Rows& stages) {
        std::set<std::string> codes;
        for (const auto row : stages) {
            const std::string& found = all_.names[all_.list[row].findings];
            for (std::size_t begin = 0; begin < found.size();) {
                const std::size_t end = std::min(found.find(' ', begin), found.size());
                codes.insert(found.substr(begin, end - begin));
                begin = end + 1;
            }
        }
        for (const auto& code : codes) {
            ++finding_jobs_[code];
        }
    }

    void count_outcome(const ReviewedJob& job) {
        JobOutcomes& outcomes = review_.outcomes;
        if (!job.finished) {
            ++outcomes.abandoned;
        } else if (!job.in_tolerance) {
            ++outcomes.failed;
        } else {
            ++outcomes.passed;
            ++outcomes.passed_after_rounds[job.rounds];
            outcomes.first_time += job.rounds <= 1 && job.attempts == 1 ? 1 : 0;
        }
    }

    /// What waits for the reviewer, or was not the reviewer's to decide.
    void flag_decision(const ReviewedJob& job, const Stages& ever) {
        const ReviewState& state =
            review_.of.states[static_cast<std::size_t>(all_.list[job.last].state)];
        const bool waiting = state.decision == "waiting";
        if (waiting && job.stops > 0) {
            flag(job, true,
                 fmt::format("Job {} has {} and waits for a decision.", name(job),
                             job.stops == 1 ? "a stop" : fmt::format("{} stops", job.stops)));
        } else if (waiting && (job.yaw_agreement == AgreementCall::disagree ||
                               job.pitch_agreement == AgreementCall::disagree)) {
            flag(job, true,
                 fmt::format("Job {}: photos and tape disagree, and nobody has decided.",
                             name(job)));
        } else if (waiting && all_.list[job.last].headline == Headline::stop) {
            flag(job, true,
                 fmt::format("Job {}: STOP stands on top of it, and nobody has decided.",
                             name(job)));
        }
        if (state.decision == "returned") {
            flag(job, true,
                 fmt::format("Job {} was returned by {}: {}", name(job), state.reviewer,
                             state.reason));
        }
        const bool own = !state.reviewer.empty() &&
                         std::any_of(ever.begin(), ever.end(), [&](const Measurement* stage) {
                             return same_person(all_.names[stage->technician], state.reviewer);
                         });
        if (own) {
            flag(job, true,
                 fmt::format("Job {} was reviewed by {}, who measured it.", name(job),
                             state.reviewer));
        }
    }

    /// How the job was measured.
    void flag_conduct(const ReviewedJob& job, const JobStages& stages, const Attempts& attempts) {
        if (job.finished && !all_.list[job.last].locked) {
            flag(job, false,
                 fmt::format("Job {} was measured as left before its screws were locked.",
                             name(job)));
        }
        if (job.revisions >= many_revisions) {
            flag(job, false, fmt::format("Job {} was stored {} times.", name(job), job.revisions));
        }
        if (job.passed() && attempts.count() > 1) {
            flag(job, false,
                 fmt::format(
                     "Job {} was measured as left {} until it passed{}.", name(job),
                     attempts.as_left == 1 ? "once" : fmt::format("{} times", attempts.as_left),
                     attempts.dropped == 0
                         ? ""
                         : fmt::format("; {} of other stages dropped from its sheet since",
                                       attempts.dropped == 1 ? "1 measurement was"
                                                             : fmt::format("{} measurements were",
                                                                           attempts.dropped))));
        }
        take_readings(job, stages.counting);
    }

    void take_readings(const ReviewedJob& job, const Rows& stages) {
        int repeated = 0, alike = 0;
        for (const auto row : stages) {
            repeated += all_.list[row].repeated_readings;
            alike += all_.list[row].readings_alike;
        }
        if (repeated == 0) {
            return;
        }
        RepeatedReadings& of = readings_[all_.list[job.last].technician];
        of.readings += repeated;
        of.alike += alike;
        if (repeated >= fewest_alike && alike == repeated) {
            flag(job, false,
                 fmt::format("Job {}: all {} repeated readings by tape and level are exactly those "
                             "of the pass before.",
                             name(job), repeated));
        }
    }

    /// Jobs of one vehicle in the order of time: attempts at one repair, and comebacks.
    void flag_vehicles() {
        std::map<int, std::vector<const ReviewedJob*>> of_vehicle;
        for (auto job = review_.jobs.rbegin(); job != review_.jobs.rend(); ++job) {
            if (const int vehicle = all_.list[job->last].vehicle; vehicle != 0) {
                of_vehicle[vehicle].push_back(&*job);
            }
        }
        for (const auto& [vehicle, jobs] : of_vehicle) {
            flag_vehicle(all_.names[vehicle], jobs);
        }
    }

    void flag_vehicle(const std::string& vehicle, std::span<const ReviewedJob* const> jobs) {
        std::vector<const ReviewedJob*> failed;  // since the last that passed
        for (std::size_t i = 0; i < jobs.size(); ++i) {
            const ReviewedJob& job = *jobs[i];
            if (i > 0) {
                const ReviewedJob& before = *jobs[i - 1];
                const int days = all_.list[job.last].day - all_.list[before.last].day;
                const bool same_repair = !failed.empty() && days <= same_repair_days;
                if (!same_repair) {
                    failed.clear();
                }
                if (!same_repair && before.finished && days <= comeback_days) {
                    flag(job, false,
                         fmt::format("Vehicle {} came back {} days after job {}.", vehicle, days,
                                     name(before)));
                }
            }
            if (job.passed() && !failed.empty()) {
                flag(job, false, repair_words(vehicle, job, failed));
            }
            if (job.passed()) {
                failed.clear();
            } else {
                failed.push_back(&job);
            }
        }
    }

    std::string repair_words(const std::string& vehicle, const ReviewedJob& passed,
                             const std::vector<const ReviewedJob*>& failed) const {
        int attempts = passed.attempts;
        std::string before;
        for (std::size_t i = 0; i < failed.size(); ++i) {
            attempts += failed[i]->attempts;
            if (i < most_jobs_named) {
                before += fmt::format("{}{} ({})", i == 0 ? "" : ", ", name(*failed[i]),
                                      failed[i]->finished ? "not in tolerance" : "abandoned");
            }
        }
        if (failed.size() > most_jobs_named) {
            before += fmt::format(" and {} more", failed.size() - most_jobs_named);
        }
        return fmt::format(
            "Vehicle {} was measured in {} jobs, {} attempts, until job {} passed: "
            "before it {}.",
            vehicle, failed.size() + 1, attempts, name(passed), before);
    }

    void rate_first_time() {
        JobOutcomes& outcomes = review_.outcomes;
        outcomes.first_time_share_95 =
            share_interval_95(static_cast<std::size_t>(outcomes.first_time), review_.jobs.size());
    }

    void rank_readings() {
        for (auto& [technician, of] : readings_) {
            of.technician = all_.names[technician];
            review_.readings.push_back(of);
        }
        std::stable_sort(review_.readings.begin(), review_.readings.end(),
                         [](const RepeatedReadings& a, const RepeatedReadings& b) {
                             return static_cast<double>(a.alike) * b.readings >
                                    static_cast<double>(b.alike) * a.readings;
                         });
    }

    Review& review_;
    const Measurements& all_;
    std::map<std::string, int> finding_jobs_;
    std::map<int, RepeatedReadings> readings_;
};

}  // namespace

void add_jobs_and_flags(const Rows& rows, Review& review) { Jobs(rows, review); }

}  // namespace squaresight

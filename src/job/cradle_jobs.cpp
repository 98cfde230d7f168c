#include "job/cradle_jobs.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "job/closing_days.h"
#include "units/error.h"

namespace squaresight {
namespace {

/// Joins jobs one by one; every one is held against the first.
class Joiner {
  public:
    void add(const std::filesystem::path& sheet, const JobResult& result) {
        require_usable(sheet, result);
        require_own_photos(sheet, result);
        const MeasuredJob job = measured_job(result);
        if (joined_.jobs == 0) {
            joined_.together = job;
            joined_.together.setups.clear();
            joined_.together.sightings.clear();
        } else {
            require_same(sheet, job);
        }
        append(job, result.sheet.job);
        ++joined_.jobs;
    }

    JoinedJobs joined() { return std::move(joined_); }

  private:
    [[noreturn]] static void fail(const std::filesystem::path& sheet, const std::string& wrong,
                                  const std::string& next) {
        throw InputError(sheet.string(), wrong, next);
    }

    static std::string cradle_words(const Cradle& cradle) {
        return cradle.name.empty() ? "no cradle" : "the cradle '" + cradle.name + "'";
    }

    static void require_usable(const std::filesystem::path& sheet, const JobResult& result) {
        if (!result.camera || !result.target) {
            fail(sheet, "has no photos", "leave it out");
        }
        Findings findings = result.findings;
        for (const auto& sighting : result.sightings) {
            const Findings more = sighting.all_findings();
            findings.insert(findings.end(), more.begin(), more.end());
        }
        for (const auto& finding : findings) {
            if (finding.level == Level::stop) {
                fail(sheet, "the job is stopped (" + finding.text + ")",
                     "put it right or leave it out");
            }
        }
    }

    void require_own_photos(const std::filesystem::path& sheet, const JobResult& result) {
        for (const auto& sighting : result.sightings) {
            for (const auto& photo : sighting.photos) {
                if (photo.digest.empty()) {
                    continue;
                }
                const auto [first, is_new] = photos_.try_emplace(photo.digest, sheet);
                if (!is_new) {
                    fail(sheet,
                         fmt::format("{} was counted already with {}", photo.file,
                                     first->second.string()),
                         "name each job once, with photos of its own");
                }
                joined_.last_photo = std::max(joined_.last_photo, taken_day(photo.facts));
            }
        }
    }

    void require_same(const std::filesystem::path& sheet, const MeasuredJob& job) const {
        const MeasuredJob& first = joined_.together;
        if (camera_yaml(job.camera) != camera_yaml(first.camera)) {
            fail(sheet,
                 fmt::format("was made with the camera file '{}', which is not that of the first "
                             "job ('{}')",
                             job.camera.name, first.camera.name),
                 "name only jobs with one camera file");
        }
        if (target_yaml(job.target) != target_yaml(first.target)) {
            fail(sheet,
                 fmt::format("was made with the board '{}', which is not that of the first job "
                             "('{}')",
                             job.target.name, first.target.name),
                 "name only jobs with one board");
        }
        if (job.cradle.name != first.cradle.name || job.cradle.phone_up != first.cradle.phone_up) {
            fail(sheet,
                 fmt::format("names {}, the first job {}", cradle_words(job.cradle),
                             cradle_words(first.cradle)),
                 "name only jobs with one cradle");
        }
    }

    void append(const MeasuredJob& job, const std::string& name) {
        MeasuredJob& all = joined_.together;
        const int before = static_cast<int>(all.setups.size());
        all.setups.insert(all.setups.end(), job.setups.begin(), job.setups.end());
        for (Sighting sighting : job.sightings) {
            if (sighting.photos.empty()) {
                continue;
            }
            sighting.setup += before;
            sighting.stage = fmt::format("job {}, {}", name, sighting.stage);
            for (auto& photo : sighting.photos) {
                photo.file = fmt::format("{} (job {})", photo.file, name);
            }
            all.sightings.push_back(std::move(sighting));
        }
    }

    JoinedJobs joined_;
    std::map<std::string, std::filesystem::path> photos_;  ///< by digest: the sheet that has it
};

}  // namespace

JoinedJobs join_jobs(const std::vector<std::filesystem::path>& sheets, const Progress& progress) {
    Joiner joiner;
    for (const auto& sheet : sheets) {
        joiner.add(sheet, measure_job(sheet, progress));
    }
    return joiner.joined();
}

}  // namespace squaresight

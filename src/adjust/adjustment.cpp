#include "adjust/adjustment.h"

#include <algorithm>

#include "adjust/gross_checks.h"
#include "adjust/solved_job.h"
#include "adjust/stage_report.h"

namespace squaresight {
namespace {

void add_to_stages(const MeasuredJob& job, const Findings& findings, const std::vector<int>& setups,
                   std::vector<AdjustedStage>& stages) {
    for (std::size_t i = 0; i < stages.size(); ++i) {
        for (std::size_t f = 0; f < findings.size(); ++f) {
            if (stages[i].solved && job.sightings[i].setup == setups[f]) {
                stages[i].findings.push_back(findings[f]);
            }
        }
    }
}

bool shares_a_setup(const MeasuredJob& job) { return job.sightings.size() > job.setups.size(); }

/// The job with one sighting only.
MeasuredJob only(const MeasuredJob& job, std::size_t sighting) {
    MeasuredJob part = job;
    part.sightings = {job.sightings[sighting]};
    part.setups = {job.setups[static_cast<std::size_t>(job.sightings[sighting].setup)]};
    part.sightings.front().setup = 0;
    return part;
}

/// The job's own solution, or the one with what is stored of the cradle where that may be used; a
/// cradle that was knocked since is told in `findings`.
std::optional<Solved> solve_with_cradle(const MeasuredJob& job, const Standing& standing,
                                        Findings& findings) {
    ModelOptions without_stored;
    without_stored.stored_cradle = false;
    if (!has_stored_offset(job.cradle)) {
        return solve_and_test(job, standing, without_stored);
    }
    if (!has_reversal(standing)) {
        return solve_and_test(job, standing, {});
    }
    ModelOptions as_stored = without_stored;
    as_stored.principal_point_held = true;
    const auto own = solve_and_test(job, standing, as_stored);
    if (!own) {
        return std::nullopt;
    }
    if (const auto finding = check_cradle(job, *own)) {
        findings.push_back(*finding);
        return solve_and_test(job, standing, without_stored, &*own);
    }
    return solve_and_test(job, standing, {}, &*own);
}

Adjustment solve_together(const MeasuredJob& job, const Standing& standing) {
    Adjustment adjustment;
    const auto solved = solve_with_cradle(job, standing, adjustment.findings);
    if (!solved) {
        adjustment.findings.push_back(
            {Level::stop, "not-solved",
             "The photos and readings could not be brought to one answer. Check distance and "
             "heights on the job sheet, and that each photo shows this job's target."});
        return adjustment;
    }
    adjustment.solved = true;
    adjustment.stages = report_stages(job, *solved);
    adjustment.cradle_offset_deg = {solved->model.cradle[offset_left_deg].at(solved->solution.z),
                                    solved->model.cradle[offset_up_deg].at(solved->solution.z)};
    adjustment.chi_square = solved->test.chi_square;
    adjustment.degrees_of_freedom = solved->test.degrees_of_freedom;
    std::vector<int> setups;
    const Findings distances = check_distances(job, standing, *solved, setups);
    add_to_stages(job, distances, setups, adjustment.stages);
    return adjustment;
}

bool fails_global_test(const Adjustment& adjustment) {
    return std::any_of(
        adjustment.stages.begin(), adjustment.stages.end(), [](const AdjustedStage& stage) {
            return std::any_of(
                stage.findings.begin(), stage.findings.end(),
                [](const Finding& finding) { return finding.code == "inconsistent"; });
        });
}

/// Each stage by itself, for a job whose stages do not fit together.
Adjustment solve_apart(const MeasuredJob& job, const Adjustment& together) {
    Adjustment apart = together;
    for (std::size_t i = 0; i < job.sightings.size(); ++i) {
        if (!together.stages[i].solved) {
            continue;
        }
        const MeasuredJob part = only(job, i);
        Adjustment one = solve_together(part, read_standing(part));
        if (!one.solved || !one.stages.front().solved || fails_global_test(one)) {
            return together;
        }
        apart.stages[i] = std::move(one.stages.front());
        apart.stages[i].findings.push_back(
            {Level::warning, "inconsistent",
             "The stages do not fit together: board, truck or cradle moved between them. Each "
             "stage was solved by itself; measure the setup again before relying on the change."});
    }
    return apart;
}

}  // namespace

Adjustment adjust(const MeasuredJob& job) {
    const Standing standing = read_standing(job);
    if (standing.usable_photos == 0) {
        Adjustment adjustment;
        adjustment.stages.resize(job.sightings.size());
        adjustment.findings.push_back({Level::stop, "target-not-found",
                                       "The target was not found in any photo, so vision gives no "
                                       "aim. Take the photos again: whole board in view, in focus, "
                                       "evenly lit."});
        return adjustment;
    }
    Adjustment adjustment = solve_together(job, standing);
    if (adjustment.solved && shares_a_setup(job) && fails_global_test(adjustment)) {
        adjustment = solve_apart(job, adjustment);
    }
    for (std::size_t i = 0; i < adjustment.stages.size(); ++i) {
        if (const auto finding = check_as_left(job, standing, i)) {
            adjustment.stages[i].findings.push_back(*finding);
        }
    }
    for (auto& stage : adjustment.stages) {
        if (const auto finding = check_pose(stage)) {
            stage.solved = false;
            stage.findings.push_back(*finding);
        }
    }
    for (const auto& findings : {standing.findings, reversal_findings(job, standing)}) {
        adjustment.findings.insert(adjustment.findings.end(), findings.begin(), findings.end());
    }
    return adjustment;
}

}  // namespace squaresight

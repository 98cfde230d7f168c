#include "job/measure.h"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <ctime>

#include "adjust/cradle_file.h"
#include "agreement/culprit.h"
#include "job/closing_days.h"
#include "job/getting_ready.h"
#include "job/inputs.h"
#include "job/other_jobs.h"
#include "job/photo_times.h"
#include "job/photos.h"
#include "job/tapes.h"
#include "job/turning.h"
#include "units/error.h"

namespace squaresight {
namespace {

std::vector<PhotoSight> photo_sights(const SheetSighting& sheet,
                                     const std::vector<PhotoResult>& photos) {
    std::vector<PhotoSight> sights;
    for (std::size_t i = 0; i < photos.size(); ++i) {
        sights.push_back(
            {photos[i].file, photos[i].serves ? photos[i].sight.corners : std::vector<Corner>(),
             sheet.photos[i].label, sheet.photos[i].placement, photos[i].facts.orientation});
    }
    return sights;
}

void read_named_files(JobResult& result) {
    const JobSheet& sheet = result.sheet;
    result.mount = load_mount(sheet.mount_file);
    if (sheet.camera_file) {
        result.camera = load_camera(*sheet.camera_file);
    }
    if (sheet.target_file) {
        result.target = load_target(*sheet.target_file);
        if (!result.target->has_markers()) {
            throw InputError(
                sheet.target_file->string(), "is a plain checkerboard without markers",
                "name the file of a bay target; a checkerboard only serves to calibrate");
        }
    }
    if (sheet.cradle_file) {
        result.cradle = load_cradle(*sheet.cradle_file);
    }
}

void check_named_files(JobResult& result) {
    if (result.cradle && result.camera && !result.cradle->camera.empty() &&
        result.cradle->camera != result.camera->name) {
        result.findings.push_back(
            {Level::warning, "cradle-mismatch",
             fmt::format(
                 "The cradle '{}' was measured with the camera '{}', this job uses '{}'; what "
                 "is stored of it was not used.",
                 result.cradle->name, result.cradle->camera, result.camera->name)});
        result.cradle->offset_deg.reset();
        result.cradle->lens_mm.reset();
        result.cradle->covariance.reset();
        result.cradle->phone_up.reset();
    }
    if (result.target && !result.target->print_checked) {
        result.findings.push_back(
            {Level::warning, "target-unchecked",
             fmt::format(
                 "The print of the board '{}' was never measured. Measure both check bars and "
                 "record them: squaresight target --help.",
                 result.target->name)});
    }
    const Findings before = preliminary_findings(result.sheet, result.mount);
    result.findings.insert(result.findings.end(), before.begin(), before.end());
}

/// Refuses a turned screw that the mount does not have before any photo is opened.
void check_screw_names(const JobResult& result) {
    for (const auto& sighting : result.sheet.sightings) {
        turns_after(result.sheet, sighting, result.mount);
    }
}

void look_at_all_photos(JobResult& result, const Progress& progress, const PhotoReader& reader) {
    std::size_t count = 0;
    for (const auto& sheet : result.sheet.sightings) {
        count += sheet.photos.size();
    }
    std::size_t done = 0;
    for (const auto& sheet : result.sheet.sightings) {
        SightingResult sighting;
        sighting.stage = sheet.stage;
        if (!sheet.photos.empty()) {
            sighting.photos = look_at_photos(
                sheet, result.sheet.originals_only, *result.camera, *result.target, reader,
                sighting.findings, [&](const std::string& file) {
                    if (progress) {
                        progress("looking at " + file,
                                 static_cast<double>(done) / static_cast<double>(count));
                    }
                    ++done;
                });
        }
        result.sightings.push_back(std::move(sighting));
    }
    check_photos_together(result.sheet, result.sightings);
    check_photos_of_job(result.sheet, result.sightings);
    check_other_jobs(result.sheet, result.sightings);
    if (result.camera) {
        const Findings dates = check_photo_dates(
            *result.camera, result.sightings,
            std::chrono::floor<std::chrono::seconds>(std::chrono::system_clock::now()));
        result.findings.insert(result.findings.end(), dates.begin(), dates.end());
    }
}

bool has_tape(const JobSheet& sheet) {
    return std::any_of(sheet.sightings.begin(), sheet.sightings.end(),
                       [](const SheetSighting& one) { return one.tape_and_level.has_value(); });
}

/// Nothing can be computed where no photo could be read and there is no tape-and-level either.
void require_something(const JobResult& result) {
    if (has_tape(result.sheet)) {
        return;
    }
    const Findings* first = nullptr;
    for (const auto& sighting : result.sightings) {
        for (const auto& photo : sighting.photos) {
            if (!photo.digest.empty()) {
                return;
            }
        }
        first = first == nullptr ? &sighting.findings : first;
    }
    throw InputError(first->front().text);
}

/// Where photos were set aside, that the board was not found in the others says nothing new.
void drop_not_found_of_set_aside(const JobResult& result, Findings& findings) {
    const bool any = std::any_of(
        result.sightings.begin(), result.sightings.end(), [](const SightingResult& sighting) {
            return std::any_of(sighting.photos.begin(), sighting.photos.end(),
                               [](const PhotoResult& photo) { return !photo.serves; });
        });
    std::erase_if(findings, [&](const Finding& finding) {
        return any && finding.code == "target-not-found";
    });
}

/// Whether all of a job's photos and readings fit without a word.
bool is_smooth(const Adjustment& adjustment) {
    const auto is_note = [](const Finding& finding) { return finding.level == Level::note; };
    return std::all_of(adjustment.findings.begin(), adjustment.findings.end(), is_note) &&
           std::all_of(
               adjustment.stages.begin(), adjustment.stages.end(), [&](const AdjustedStage& stage) {
                   return std::all_of(stage.findings.begin(), stage.findings.end(), is_note);
               });
}

/// Whether a photo by itself, without the crossed tapes, cannot be true.
bool stops_alone(const MeasuredJob& job, const Sighting& sighting, const PhotoSight& photo) {
    MeasuredJob one = job;
    one.setups = {job.setups[static_cast<std::size_t>(sighting.setup)]};
    one.setups.front().tapes.clear();
    one.sightings = {{sighting.stage, 0, {photo}}};
    const Adjustment alone = adjust(one);
    return !alone.solved || !alone.stages.front().solved || has_stop(alone.stages.front().findings);
}

/// Sets aside photos that cannot be true by themselves while others of their stage can. Where none
/// can, it is not the photos: a reading or the print is wrong, and they tell so together.
bool set_aside_alone(const MeasuredJob& job, JobResult& result) {
    bool any = false;
    for (std::size_t i = 0; i < job.sightings.size(); ++i) {
        std::vector<std::size_t> good, bad;
        for (std::size_t k = 0; k < job.sightings[i].photos.size(); ++k) {
            const PhotoSight& photo = job.sightings[i].photos[k];
            if (!photo.corners.empty()) {
                (stops_alone(job, job.sightings[i], photo) ? bad : good).push_back(k);
            }
        }
        for (const std::size_t k : good.empty() ? std::vector<std::size_t>() : bad) {
            PhotoResult& photo = result.sightings[i].photos[k];
            photo.serves = false;
            any = true;
            result.sightings[i].findings.push_back(
                {Level::warning, "distance-mismatch",
                 photo.file + ": by this photo alone the board is not where the tape has it, by "
                              "others it is. Is it this job's board, the calibrated phone and "
                              "lens, no zoom? Take it again."});
        }
    }
    return any;
}

/// The adjustment of the photos that serve.
Adjustment adjusted(JobResult& result) {
    const MeasuredJob job = measured_job(result);
    Adjustment adjustment = adjust(job);
    if (!is_smooth(adjustment) && set_aside_alone(job, result)) {
        adjustment = adjust(measured_job(result));
    }
    drop_not_found_of_set_aside(result, adjustment.findings);
    for (auto& sighting : result.sightings) {
        tell_set_aside(sighting);
    }
    return adjustment;
}

void adjust_photos(JobResult& result) {
    const bool any = std::any_of(result.sightings.begin(), result.sightings.end(),
                                 [](const auto& sighting) { return !sighting.photos.empty(); });
    if (!any) {
        return;
    }
    Adjustment adjustment = adjusted(result);
    if (!adjustment.solved && has_tape(result.sheet)) {
        for (auto& finding : adjustment.findings) {
            finding.level = Level::warning;  // tape-and-level still answers
        }
    }
    result.findings.insert(result.findings.end(), adjustment.findings.begin(),
                           adjustment.findings.end());
    result.chi_square = adjustment.chi_square;
    result.degrees_of_freedom = adjustment.degrees_of_freedom;
    for (std::size_t i = 0; i < result.sightings.size(); ++i) {
        if (result.sightings[i].photos.empty()) {
            continue;
        }
        VisionResult vision;
        if (i < adjustment.stages.size()) {
            vision.stage = adjustment.stages[i];
        }
        vision.solved = vision.stage.solved;
        vision.cradle_offset_deg = adjustment.cradle_offset_deg;
        result.sightings[i].vision = std::move(vision);
    }
}

void reduce_tapes(JobResult& result) {
    const auto readings = tape_readings(result.sheet);
    for (std::size_t i = 0; i < readings.size(); ++i) {
        if (readings[i]) {
            result.sightings[i].tape_and_level = reduce_tape(*readings[i], result.mount);
        }
    }
}

/// What moves both methods alike. A frame that is twisted between the place of the rail zero and
/// the mount does so too, and nobody states how much.
std::vector<SharedCause> shared_in_pitch(const AdjustedStage& vision, const TapeOutcome& tape) {
    return {{"rail zero", vision.pitch_from_rail_zero_deg, tape.pitch_from_rail_zero_deg},
            {"twisted frame", 0, 0}};
}

std::vector<SharedCause> shared_in_yaw(const AdjustedStage& vision, const TapeOutcome& tape) {
    if (tape.yaw_from_line_deg <= 0) {
        return {};
    }
    return {{"rails' line", vision.yaw_from_line_deg, tape.yaw_from_line_deg}};
}

void compare_both(JobResult& result, SightingResult& sighting) {
    if (!sighting.vision || !sighting.vision->solved || !sighting.tape_and_level) {
        return;
    }
    const AdjustedStage& vision = sighting.vision->stage;
    const TapeOutcome& tape = sighting.tape_and_level->outcome;
    MethodsResult methods;
    const VisionAngle yaw{vision.yaw_left_deg, shared_in_yaw(vision, tape)};
    const VisionAngle pitch{vision.pitch_up_deg, shared_in_pitch(vision, tape)};
    if (tape.has_yaw) {
        methods.yaw = compare_methods(yaw.angle, tape.yaw_left_deg, yaw.shared,
                                      result.mount.tolerance_yaw_deg);
    }
    if (tape.has_pitch) {
        methods.pitch = compare_methods(pitch.angle, tape.pitch_up_deg, pitch.shared,
                                        result.mount.tolerance_pitch_deg);
    }
    const auto disagrees = [](const std::optional<Agreement>& one) {
        return one && one->call == AgreementCall::disagree;
    };
    if (disagrees(methods.yaw) || disagrees(methods.pitch)) {
        methods.culprit = likely_culprit(yaw, pitch, sighting.tape_and_level->readings);
        sighting.findings.push_back(
            {Level::warning, "methods-disagree",
             fmt::format("Photos and tape-and-level disagree about {}. {}",
                         disagrees(methods.yaw)
                             ? (disagrees(methods.pitch) ? "both aims" : "side-to-side aim")
                             : "up-down aim",
                         methods.culprit.empty() ? "Take both again before turning anything."
                                                 : methods.culprit)});
    }
    sighting.agreement = methods;
}

const Finding* disagreement_of(const SightingResult& sighting) {
    for (const auto& finding : sighting.findings) {
        if (finding.code == "methods-disagree") {
            return &finding;
        }
    }
    return nullptr;
}

/// A disagreement stands for later stages on the same setup until the methods are compared again.
void carry_disagreements(JobResult& result) {
    std::string open;
    for (std::size_t i = 0; i < result.sightings.size(); ++i) {
        SightingResult& sighting = result.sightings[i];
        if (!result.sheet.sightings[i].same_setup) {
            open.clear();
        }
        if (sighting.agreement) {
            const Finding* found = disagreement_of(sighting);
            open = found != nullptr ? found->text : "";
        } else if (!open.empty()) {
            sighting.findings.push_back(
                {Level::warning, "methods-disagree",
                 "Not compared again since an earlier stage on this setup: " + open});
        }
    }
}

bool agrees_about_yaw(const SightingResult& sighting) {
    return sighting.agreement && sighting.agreement->yaw &&
           sighting.agreement->yaw->call == AgreementCall::agree;
}

/// That truck and board did not move sideways under `setup: same` is a reading too: photos cannot
/// tell such a move from a turn of the mount, only tape-and-level taken after it can.
void tell_unchecked_setups(JobResult& result) {
    const auto& sheets = result.sheet.sightings;
    bool checked_later = false;
    for (std::size_t i = sheets.size(); i-- > 0;) {
        SightingResult& sighting = result.sightings[i];
        checked_later = checked_later || agrees_about_yaw(sighting);
        if (sheets[i].same_setup && !checked_later && sighting.vision && sighting.vision->solved) {
            sighting.vision->stage.findings.push_back(
                {Level::note, "unchecked-reading",
                 "Nothing else in this job would show that truck or board moved sideways or turned "
                 "since the stage before: it is taken as said that they did not. Tape-and-level at "
                 "this stage checks it; after moving anything measure the setup again."});
        }
        checked_later = checked_later && sheets[i].same_setup;
    }
}

void check_sensors(JobResult& result) {
    for (std::size_t i = 0; i < result.sightings.size(); ++i) {
        SightingResult& sighting = result.sightings[i];
        sighting.sensor = check_sensor(result, i);
        const Findings differ = sensor_findings(sighting.sensor);
        sighting.findings.insert(sighting.findings.end(), differ.begin(), differ.end());
    }
}

/// Whether a stage may not be called in tolerance whatever its numbers: a stop, methods that
/// disagree, or a reading that was set aside and not taken again.
bool is_in_doubt(const SightingResult& sighting) {
    return sighting.stopped() || disagreement_of(sighting) != nullptr ||
           (sighting.vision && !sighting.vision->stage.suspects.empty());
}

void decide_all(JobResult& result) {
    const Mount& mount = result.mount;
    const bool job_stopped = has_stop(result.findings);
    for (auto& sighting : result.sightings) {
        const bool doubtful = job_stopped || is_in_doubt(sighting);
        if (sighting.vision && sighting.vision->solved) {
            auto& vision = *sighting.vision;
            const AdjustedStage& stage = vision.stage;
            vision.verdict = decide_both(stage.yaw_left_deg, stage.pitch_up_deg, stage.correlation,
                                         mount.limits(Axis::yaw), mount.limits(Axis::pitch));
            if (doubtful) {
                vision.verdict = withheld(vision.verdict);
            }
        }
        if (sighting.tape_and_level && doubtful) {
            auto& tape = *sighting.tape_and_level;
            tape.verdict = withheld(tape.verdict);
        }
    }
}

}  // namespace

MeasuredJob measured_job(const JobResult& result) {
    MeasuredJob job;
    job.camera = *result.camera;
    job.target = *result.target;
    job.cradle = result.cradle.value_or(Cradle{});
    job.unit = result.sheet.unit;
    job.face_form_deg = result.mount.face_form_deg;
    job.witness_answers = result.sheet.tape_counts;
    job.tolerance_yaw_deg = result.mount.tolerance_yaw_deg;
    job.tolerance_pitch_deg = result.mount.tolerance_pitch_deg;
    for (std::size_t i = 0; i < result.sightings.size(); ++i) {
        const SheetSighting& sheet = result.sheet.sightings[i];
        if (sheet.setup && sheet.setup->has_distance) {  // without a distance it has no photos
            job.setups.push_back(measured_setup(*sheet.setup, *result.target));
        }
        const auto& tape = result.sightings[i].tape_and_level;
        job.sightings.push_back({sheet.stage, static_cast<int>(job.setups.size()) - 1,
                                 photo_sights(sheet, result.sightings[i].photos),
                                 tape ? witness_of(*tape) : Witness{}});
    }
    return job;
}

JobResult measure_job(const std::filesystem::path& sheet_file, const Progress& progress) {
    return measure_sheet(load_job_sheet(sheet_file), progress);
}

JobResult measure_sheet(const JobSheet& sheet, const Progress& progress,
                        const PhotoReader& reader) {
    JobResult result;
    result.sheet = sheet;
    read_named_files(result);
    check_screw_names(result);
    check_named_files(result);
    look_at_all_photos(result, progress, reader);
    require_something(result);
    check_closing_days(result, fmt::format("{:%Y-%m-%d}", fmt::gmtime(std::time(nullptr))));
    if (progress) {
        progress("adjusting", 1);
    }
    reduce_tapes(result);
    adjust_photos(result);
    for (auto& sighting : result.sightings) {
        compare_both(result, sighting);
    }
    carry_disagreements(result);
    tell_unchecked_setups(result);
    plan_corrections(result, load_history(history_file(result.sheet.mount_file), result.mount));
    check_locking(result);
    check_sensors(result);
    decide_all(result);
    result.inputs = input_files(result.sheet);
    return result;
}

}  // namespace squaresight

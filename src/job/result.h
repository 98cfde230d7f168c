#pragma once
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "adjust/adjustment.h"
#include "agreement/agreement.h"
#include "job/inputs.h"
#include "job/sensor_check.h"
#include "job/sheet.h"
#include "mount/mount.h"
#include "mount/round_check.h"
#include "photo/photo.h"
#include "tape/tape.h"

namespace squaresight {

/// A photo of the job and what became of it.
struct PhotoResult {
    std::string file;            ///< as the job sheet names it
    std::filesystem::path path;  ///< where it is
    PhotoFacts facts;
    std::string digest;
    int width_px = 0;
    int height_px = 0;
    Sight sight;
    bool serves = true;  ///< false: set aside for a stop of its own; the answer does not use it
};

struct VisionResult {
    AdjustedStage stage;  ///< estimates, readings, budget, findings
    bool solved = false;  ///< false: nothing could be solved, a finding says why
    AxisVerdicts verdict;
    Eigen::Vector2d cradle_offset_deg{0, 0};  ///< left, up
};

struct TapeResult {
    TapeAndLevel readings;  ///< the rail zero of the setup filled in
    TapeOutcome outcome;
    AxisVerdicts verdict;
};

/// Whether the two methods agree; an axis is absent where one method lacks it.
struct MethodsResult {
    std::optional<Agreement> yaw;
    std::optional<Agreement> pitch;
    std::string culprit;  ///< likely cause in words; empty when they agree or nothing fits
};

/// The turns before a stage, and what they did.
struct RoundResult {
    Round round;
    RoundCheck check;
    bool learned = false;  ///< made as told, and nothing else moved the face: learned from
};

struct SightingResult {
    std::string stage;
    Findings findings;  ///< of the sighting that belong to no method
    std::vector<PhotoResult> photos;
    std::optional<VisionResult> vision;
    std::optional<TapeResult> tape_and_level;
    std::optional<MethodsResult> agreement;
    std::optional<RoundResult> response;  ///< absent where photos did not measure a round of turns
    std::optional<CorrectionPlan> corrections;  ///< absent where the next instruction is withheld
    std::vector<SensorCheck> sensor;            ///< its own readings against the answer

    /// Every finding of the sighting, of the methods and of the corrections.
    Findings all_findings() const;
    bool stopped() const { return has_stop(all_findings()); }
};

/// Everything that `measure` found (schema squaresight/result/1) with the inputs it came from.
struct JobResult {
    JobSheet sheet;
    Mount mount;
    std::optional<Camera> camera;   ///< absent where the job has no photos
    std::optional<Target> target;   ///< absent where the job has no photos
    std::optional<Cradle> cradle;   ///< absent where no cradle file was given
    double chi_square = 0;          ///< of the adjustment's readings
    double degrees_of_freedom = 0;  ///< sum of their redundancies; 0 where nothing was adjusted
    int rounds_from_history = 0;    ///< of other jobs, that corrections learned from
    Findings findings;              ///< of the whole job
    std::vector<InputFile> inputs;  ///< what was read for it
    std::vector<SightingResult> sightings;
};

/// The first finding with one of these codes.
std::optional<Finding> first_with_code(const Findings& findings,
                                       const std::vector<std::string>& codes);

/// Whether the answers of a stage come from the photos (else from tape and level).
bool answered_by_photos(const SightingResult& sighting);

/// The angle that answers for a stage: the photos' where they were solved, else that of tape and
/// level; nothing if neither.
std::optional<Estimate> measured_angle(const SightingResult& sighting, Axis axis);

/// The verdicts of the same; null where not both angles have an answer.
const AxisVerdicts* answering_verdicts(const SightingResult& sighting);

/// Whether the job may be called done by its numbers: the last stage in tolerance in both angles,
/// no finding of level stop anywhere in the job, and no disagreement of the methods in its last
/// stage or, not compared since, earlier on the same setup. Without any stage it may not.
bool answer_is_yes(const JobResult& result);

/// The result file's bytes (JSON), ending in a newline. The same inputs give the same bytes.
std::string result_json(const JobResult& result);

/// Short words for JSON and screens.
const char* call_text(Call call);
const char* call_text(AgreementCall call);
const char* level_text(Level level);

}  // namespace squaresight

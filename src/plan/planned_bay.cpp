#include "plan/planned_bay.h"

#include <fmt/format.h>

#include <array>
#include <cmath>

#include "adjust/cradle_file.h"
#include "adjust/model.h"
#include "adjust/pose_chain.h"
#include "adjust/priors.h"
#include "job/tapes.h"
#include "target/layout.h"
#include "target/sheets.h"
#include "units/error.h"

namespace squaresight {
namespace {

constexpr double usual_distance_mm = 5000;
constexpr double usual_base_mm = 4000;
constexpr const char* usual_sheet = "A1";
/// What the finder needs of a photo (sight/judgement.cpp, tests/sight_test.cpp).
constexpr double smallest_square_px = 12;
constexpr int finder_needs_corners = 12;
/// Points of the bumper that crossed tapes can start from, and how well; usual figures of a sheet.
constexpr double hook_ahead_mm = -60;
constexpr double hook_aside_mm = 900;
constexpr double hook_up_mm = 600;
constexpr double hook_limit_mm = 2;
constexpr double tape_limit_mm = 3;

/// A phone of 12 megapixels, focal length known to 0.1 %, principal point to 3 px: figures of
/// docs/how-it-measures.md.
Camera usual_camera() {
    Camera camera;
    camera.name = "calibrated phone of 12 megapixels";
    camera.width_px = 4000;
    camera.height_px = 3000;
    camera.lens = {3000, 3000, 1999.5, 1499.5, 0, 0, 0, 0, 0};
    camera.covariance.topLeftCorner<2, 2>().setConstant(9);
    camera.covariance(2, 2) = camera.covariance(3, 3) = 9;
    camera.covariance_given = true;
    return camera;
}

Eigen::Vector3d in_vehicle_mm(const Setup& setup, const Target& target,
                              const Eigen::Vector2d& on_sheet_mm) {
    std::array<double, pose_input_count> q{};
    for (const auto& entry : setup_reading_names) {
        q[entry.input] = (setup.*entry.reading).value;
    }
    const Pose<double> board = vehicle_from_target(q.data());
    return board.rotation * Eigen::Vector3d(on_sheet_mm.x() * target.printed_across,
                                            on_sheet_mm.y() * target.printed_down, 0) +
           board.translation_mm;
}

/// What tape-and-level of a square mount will say there.
Witness witness_there(const PlannedBay& bay) {
    const Setup& setup = bay.setup.readings;
    TapeAndLevel readings = usual_readings(*bay.tape_and_level);
    readings.rail_zero_limit_deg =
        setup.rail_zero_deg.standard_uncertainty / standard_from_limit(1);
    readings.line_deg = std::hypot(setup.line_left_deg.standard_uncertainty, setup.rail_bow_deg);
    readings.face_level_deg.assign(static_cast<std::size_t>(bay.tape_and_level->face_readings), 0);
    for (int laying = 1; laying <= bay.tape_and_level->layings; ++laying) {
        const bool reversed = bay.tape_and_level->reversed && laying % 2 == 0;
        readings.passes.insert(
            readings.passes.end(), static_cast<std::size_t>(bay.tape_and_level->passes),
            {bay.tape_and_level->beam_at_mm, bay.tape_and_level->beam_at_mm, laying, reversed});
    }
    return witness_of(reduce_tape(readings, bay.mount));
}

Sighting sighting_of(const std::string& stage, int upright_photos, int inverted_photos,
                     int quarter_photos) {
    Sighting sighting;
    sighting.stage = stage;
    for (const CradleLabel label : ways_up_of(upright_photos, inverted_photos, quarter_photos)) {
        PhotoSight photo;
        photo.label = label;
        sighting.photos.push_back(photo);
    }
    return sighting;
}

}  // namespace

PlannedBay load_planned_bay(const std::filesystem::path& bay_file) {
    const Bay file = load_bay(bay_file);
    PlannedBay bay;
    bay.name = file.name;
    bay.unit = file.unit;
    bay.mount = load_mount(file.mount_file);
    bay.camera = load_camera(file.camera_file);
    bay.target = load_target(file.target_file);
    if (file.cradle_file) {
        bay.cradle = load_cradle(*file.cradle_file);
    }
    bay.setup = file.setup;
    bay.upright_photos = file.upright_photos;
    bay.inverted_photos = file.inverted_photos;
    bay.quarter_photos = file.quarter_photos;
    bay.tape_and_level = file.tape_and_level;
    bay.tape_counts = file.tape_counts;
    return bay;
}

PlannedBay usual_bay() {
    PlannedBay bay;
    bay.mount.name = "any mount";
    bay.camera = usual_camera();
    bay.target.print_checked = true;
    bay.target = board_of(usual_sheet, bay.target);
    bay.setup = usual_setup(usual_distance_mm, usual_base_mm);
    return bay;
}

Target board_of(const std::string& sheet, const Target& before) {
    const SheetSize size = sheet_size(sheet, "--paper");
    TargetWish wish;
    wish.name = size.name + " board";
    wish.sheet_width_mm = size.long_mm;
    wish.sheet_height_mm = size.short_mm;
    Target target = design_target(wish);
    target.print_checked = before.print_checked;
    target.flatness_mm = before.flatness_mm;
    return target;
}

MeasuredJob job_in(const PlannedBay& bay) {
    MeasuredJob job;
    job.camera = bay.camera;
    job.target = bay.target;
    job.cradle = bay.cradle;
    job.unit = bay.unit;
    job.face_form_deg = bay.mount.face_form_deg;
    job.witness_answers = bay.tape_counts;
    job.tolerance_yaw_deg = bay.mount.tolerance_yaw_deg;
    job.tolerance_pitch_deg = bay.mount.tolerance_pitch_deg;
    Setup setup = measured_setup(bay.setup, bay.target);
    for (auto& tape : setup.tapes) {
        tape.length_mm.value = (in_vehicle_mm(setup, bay.target, tape.to_in_target_mm) -
                                tape.from.position_in_vehicle_mm)
                                   .norm();
    }
    job.setups.push_back(setup);
    job.sightings.push_back(
        sighting_of("as-found", bay.upright_photos, bay.inverted_photos, bay.quarter_photos));
    if (bay.tape_and_level) {
        job.sightings.back().witness = witness_there(bay);
    }
    return job;
}

Sighting later_stage(const PlannedBay& bay, int inverted_photos) {
    return sighting_of("adjusted", bay.upright_photos, inverted_photos,
                       inverted_photos > 0 ? bay.quarter_photos : 0);
}

BayPrediction predict_in(const PlannedBay& bay) {
    BayPrediction found{predict(job_in(bay), bay.corner_noise_px), {}, ""};
    if (!found.prediction.solved || found.prediction.fewest_corners < finder_needs_corners) {
        found.problem = "too little of the board in the picture";
    } else if (found.prediction.pixels_per_square < smallest_square_px) {
        found.problem = "squares too small to read";
    } else {
        const AdjustedStage& stage = found.prediction.stages.front();
        found.aim = {stage.yaw_left_deg.standard_uncertainty,
                     stage.pitch_up_deg.standard_uncertainty};
    }
    return found;
}

bool reaches_limits(const PredictedAim& aim, const Mount& mount) {
    return !cannot_decide(aim.yaw_deg, mount.tolerance_yaw_deg) &&
           !cannot_decide(aim.pitch_deg, mount.tolerance_pitch_deg);
}

std::optional<Cradle> cradle_stored_there(const PlannedBay& bay) {
    PlannedBay full = bay;
    full.inverted_photos = std::max(full.inverted_photos, 1);
    MeasuredJob job = job_in(full);
    // A stored offset holds the principal point's error, so here it counts as known.
    job.camera.covariance.middleRows<2>(2).setZero();
    job.camera.covariance.middleCols<2>(2).setZero();
    const Prediction prediction = predict(job, bay.corner_noise_px);
    if (!prediction.solved) {
        return std::nullopt;
    }
    Cradle cradle = bay.cradle;
    cradle.offset_deg = Eigen::Vector2d(0, 0);
    cradle.lens_mm = cradle.lens_mm.value_or(Eigen::Vector3d(lens_ahead_prior_mm, 0, 0));
    cradle.covariance = prediction.cradle_covariance;
    return cradle;
}

std::vector<SheetTape> crossed_tapes() {
    std::vector<SheetTape> tapes;
    for (const double side : {1.0, -1.0}) {
        SheetTape tape;
        tape.from = {side > 0 ? "left hook" : "right hook",
                     {hook_ahead_mm, side * hook_aside_mm, hook_up_mm},
                     standard_from_limit(hook_limit_mm)};
        tape.to = {side > 0 ? "right edge" : "left edge", {}};
        tape.length_mm = {0, standard_from_limit(tape_limit_mm), true};
        tapes.push_back(tape);
    }
    return tapes;
}

const std::vector<std::string>& common_sheets(LengthUnit unit) {
    static const std::vector<std::string> metric{"A3", "A2", "A1", "A0"};
    static const std::vector<std::string> inches{"ARCH B", "ARCH C", "ARCH D", "ARCH E"};
    return unit == LengthUnit::mm ? metric : inches;
}

std::string sheet_words(const Target& target) {
    const std::string name = sheet_name(target.sheet_width_mm, target.sheet_height_mm);
    return name.empty()
               ? fmt::format("{:.0f} x {:.0f} mm", target.sheet_width_mm, target.sheet_height_mm)
               : name;
}

}  // namespace squaresight

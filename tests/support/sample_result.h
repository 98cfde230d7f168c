#pragma once
#include <filesystem>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <string>
#include <vector>

#include "job/result.h"

/// A made-up result for tests of what is said about results: nothing here was measured.
namespace squaresight::sample {

inline constexpr int corners_across = 11;
inline constexpr int corners_down = 7;

inline Target target() {
    Target target;
    target.name = "bay A1 board";
    target.sheet_width_mm = 841;
    target.sheet_height_mm = 594;
    target.pattern = {corners_across + 1, corners_down + 1, 65, 47, "DICT_4X4_100", 0,
                      SquareColour::black};
    target.print_checked = true;
    target.checked_on = "2026-02-20";
    return target;
}

/// A drawn photo of a checkerboard, with its corners where they were drawn.
inline PhotoResult photo(const std::filesystem::path& folder, const std::string& name,
                         double roll_deg) {
    PhotoResult photo;
    photo.file = "photos/" + name;
    photo.path = folder / name;
    photo.width_px = 1600;
    photo.height_px = 1200;
    photo.facts.taken_at = "2026:03:05 09:12:40";
    cv::Mat picture(photo.height_px, photo.width_px, CV_8UC3, cv::Scalar(120, 128, 132));
    cv::Mat board(900, 1300, CV_8UC3, cv::Scalar(235, 240, 240));
    const int square = 80;
    for (int row = 0; row <= corners_down; ++row) {
        for (int column = 0; column <= corners_across; ++column) {
            if ((row + column) % 2 == 0) {
                cv::rectangle(board,
                              cv::Rect(170 + square * column, 130 + square * row, square, square),
                              cv::Scalar(30, 30, 30), cv::FILLED);
            }
        }
    }
    cv::Mat turn = cv::getRotationMatrix2D(cv::Point2f(650, 450), roll_deg + 2.5, 0.8);
    turn.at<double>(0, 2) += 150;
    turn.at<double>(1, 2) += 150;
    cv::warpAffine(board, picture, turn, picture.size(), cv::INTER_AREA, cv::BORDER_TRANSPARENT);
    for (int row = 0; row < corners_down; ++row) {
        for (int column = 0; column < corners_across; ++column) {
            const double x = 170 + square * (column + 1) - 0.5;
            const double y = 130 + square * (row + 1) - 0.5;
            Corner corner;
            corner.index = row * corners_across + column;
            corner.pixel = {
                turn.at<double>(0, 0) * x + turn.at<double>(0, 1) * y + turn.at<double>(0, 2),
                turn.at<double>(1, 0) * x + turn.at<double>(1, 1) * y + turn.at<double>(1, 2)};
            photo.sight.corners.push_back(corner);
        }
    }
    photo.sight.problem = SightProblem::none;
    cv::imwrite(photo.path.string(), picture);
    return photo;
}

inline Mount mount() {
    Mount mount;
    mount.name = "practice mount";
    mount.source = "practice data, no service document";
    mount.tolerance_stated = true;
    mount.pivot_left_mm = 55;
    mount.pivot_up_mm = -45;
    mount.screws = {{"upper", Axis::pitch, 55, 60, "M6 x 1.0", 1, true, 6},
                    {"side", Axis::yaw, -65, -45, "M6 x 1.0", 1, false, 6}};
    return mount;
}

inline VisionResult vision(double yaw_left_deg, double pitch_up_deg, const Mount& mount) {
    VisionResult vision;
    vision.solved = true;
    auto& stage = vision.stage;
    stage.yaw_left_deg = {yaw_left_deg, 0.052};
    stage.pitch_up_deg = {pitch_up_deg, 0.068};
    stage.correlation = 0.04;
    stage.budget = {{"line", 0.031, 0},
                    {"target_left", 0.029, 0},
                    {"mount_left", 0.023, 0},
                    {"cradle seating", 0.015, 0.02},
                    {"pointing jitter", 0.014, 0.014},
                    {"target_height", 0, 0.033},
                    {"mount_height", 0, 0.033},
                    {"lens sag", 0, 0.03},
                    {"rail_zero", 0, 0.029},
                    {"lens", 0.006, 0.006},
                    {"corners", 0.002, 0.002}};
    stage.readings = {{"line", 0, "deg", 0.002, 0.1, 0.02, 0.5, false},
                      {"distance", 5000, "mm", 3.1, 1.2, 0.61, 15.3, false},
                      {"target_left", 0, "mm", 0.4, 0.8, 0.02, 84, false},
                      {"target_turned_left", 0, "deg", 2.1, 0.4, 0.98, 24, false},
                      {"tape left hook to left edge", 5090, "mm", -38, -15, 0.55, 9.6, true}};
    stage.photos = {{"photos/upright.jpg", 77, 0.18, 1.4, 0.17},
                    {"photos/inverted.jpg", 77, 0.19, -178.2, 0.18}};
    vision.verdict = {
        decide(stage.yaw_left_deg, mount.aim_yaw_left_deg, mount.tolerance_yaw_deg),
        decide(stage.pitch_up_deg, mount.aim_pitch_up_deg, mount.tolerance_pitch_deg)};
    vision.cradle_offset_deg = {0.84, -1.21};
    return vision;
}

inline TapeResult tape(double yaw_left_deg, double pitch_up_deg, const Mount& mount) {
    TapeResult tape;
    auto& outcome = tape.outcome;
    const double point_mm = 20 * mm_per_inch, left_mm = 7 * mm_per_inch;
    tape.readings.left_point_mm = tape.readings.right_point_mm = point_mm;
    tape.readings.passes = {
        {left_mm, left_mm + 2 * point_mm * std::tan(yaw_left_deg * rad_per_deg)}};
    outcome.has_yaw = outcome.has_pitch = true;
    outcome.yaw_left_deg = {yaw_left_deg, 0.19};
    outcome.pitch_up_deg = {pitch_up_deg, 0.08};
    outcome.budget = {{"bumper_square", 0.17, 0}, {"passes", 0.05, 0}, {"face_level", 0, 0.06}};
    outcome.service_limit = {std::abs(yaw_left_deg) < 0.18, std::abs(pitch_up_deg) < 1.5, 0.179};
    tape.verdict = {
        decide(outcome.yaw_left_deg, mount.aim_yaw_left_deg, mount.tolerance_yaw_deg),
        decide(outcome.pitch_up_deg, mount.aim_pitch_up_deg, mount.tolerance_pitch_deg)};
    return tape;
}

inline SightingResult sighting(const std::string& stage, double yaw_left_deg, double pitch_up_deg,
                               const JobResult& job, const std::filesystem::path& folder) {
    SightingResult sighting;
    sighting.stage = stage;
    sighting.photos = {photo(folder, "upright.jpg", 0), photo(folder, "inverted.jpg", 180)};
    sighting.vision = vision(yaw_left_deg, pitch_up_deg, job.mount);
    sighting.vision->stage.stage = stage;
    sighting.tape_and_level = tape(yaw_left_deg + 0.06, pitch_up_deg - 0.1, job.mount);
    sighting.agreement =
        MethodsResult{Agreement{-0.06, 0.39, 0.15, AgreementCall::agree, 0.55, {}},
                      Agreement{0.1, 0.18, 0.56, AgreementCall::agree, 0.26, {}}, ""};
    CorrectionPlan plan;
    plan.corrections = {{"upper", 0.25, false, 0.21, 0.02, std::nullopt},
                        {"side", 1.5, true, 1.46, 0.11, std::nullopt}};
    plan.remaining_yaw_left_deg = 0.01;
    plan.remaining_pitch_up_deg = -0.02;
    sighting.corrections = plan;
    return sighting;
}

/// As found, pointing 0.71 deg to the left and 0.62 deg nose down: turns are wanted.
/// Photos are drawn into `folder`.
inline JobResult as_found(const std::filesystem::path& folder) {
    JobResult job;
    job.sheet.job = "1042";
    job.sheet.vehicle = "unit 17";
    job.sheet.technician = "T3";
    job.sheet.ready = {{"level_ground", "yes"},  {"tyres", "yes"},      {"ride_height", "yes"},
                       {"bracket_sound", "yes"}, {"face_clean", "yes"}, {"codes_saved", "yes"}};
    job.mount = mount();
    job.camera = Camera{};
    job.camera->name = "bay phone";
    job.camera->date = "2026-02-18";
    job.camera->covariance_given = true;
    job.target = target();
    job.chi_square = 3.4;
    job.degrees_of_freedom = 4.13;
    job.sightings = {sighting("as-found", 0.71, -0.62, job, folder)};
    job.sheet.sightings.resize(1);
    job.sheet.sightings[0].stage = "as-found";
    return job;
}

/// Adds a stage to a job that was turned before it.
inline void add_stage(JobResult& job, const std::string& stage, double yaw_left_deg,
                      double pitch_up_deg, const std::filesystem::path& folder) {
    job.sheet.sightings.back().turned_clockwise = {{"upper", -0.25}, {"side", 1.5}};
    const auto& before = job.sightings.back().vision->stage;
    auto next = sighting(stage, yaw_left_deg, pitch_up_deg, job, folder);
    next.vision->stage.yaw_change_left_deg =
        Estimate{yaw_left_deg - before.yaw_left_deg.value, 0.021};
    next.vision->stage.pitch_change_up_deg =
        Estimate{pitch_up_deg - before.pitch_up_deg.value, 0.024};
    job.sightings.push_back(next);
    job.sheet.sightings.emplace_back();
    job.sheet.sightings.back().stage = stage;
}

/// Turned twice, locked, and in tolerance as left; nothing of the closing is recorded.
inline JobResult as_left(const std::filesystem::path& folder) {
    auto job = as_found(folder);
    add_stage(job, "adjusted", 0.24, 0.02, folder);
    add_stage(job, "as-left", 0.03, 0.05, folder);
    job.sheet.sightings.back().locked = true;
    return job;
}

}  // namespace squaresight::sample

#include "simulate/practice_job.h"

#include <fmt/format.h>

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <fstream>
#include <optional>

#include "adjust/priors.h"
#include "job/measure.h"
#include "job/sheet_text.h"
#include "mount/response.h"
#include "simulate/mistakes.h"
#include "simulate/practice_photo.h"
#include "simulate/practice_readings.h"
#include "simulate/practice_scene.h"
#include "simulate/quiz.h"
#include "units/error.h"

namespace squaresight {
namespace {

constexpr double roll_scatter_deg = 1;  ///< how closely a cradle is set upright; assumption

/// Study folders are made by the thousand and can be made again: no syncing.
void write_plain(const std::filesystem::path& file, const std::string& bytes) {
    std::ofstream stream(file, std::ios::binary);
    if (!stream.write(bytes.data(), static_cast<std::streamsize>(bytes.size())).flush()) {
        throw InputError(file.string(), "cannot be written",
                         "check the folder, its permissions and free space");
    }
}

/// What is true of phone, cradle, sheet and mount, before where they stand.
class TruthDrawer {
  public:
    TruthDrawer(const PracticeBay& practice, const PracticeOptions& options, Draw& draw)
        : practice_(practice), options_(options), draw_(draw) {}

    PracticeTruth drawn() {
        truth_.seed = options_.seed;
        truth_.errors = options_.errors;
        draw_lens();
        draw_cradle();
        draw_sheet();
        draw_mount();
        if (const auto& tape = practice_.bay.tape_and_level) {
            truth_.bumper_square_mm = draw_.rectangular(tape->bumper_square_limit_mm);
            truth_.laser_angle_deg = draw_.rectangular(tape->laser_angle_limit_deg);
            truth_.inclinometer_off_deg = draw_.rectangular(tape->face_limit_deg);
        }
        if (options_.pictures) {
            leave_out_what_no_scene_has();
        }
        return std::move(truth_);
    }

  private:
    void draw_lens() {
        auto parameters = practice_.camera.lens.parameters();
        const Eigen::VectorXd error = draw_.jointly(practice_.camera.covariance);
        for (std::size_t i = 0; i < parameters.size(); ++i) {
            parameters[i] += error[static_cast<Eigen::Index>(i)];
        }
        truth_.lens = practice_.camera.lens.with_parameters(parameters);
        truth_.pose[lens_sag_deg] = draw_.normal(practice_.camera.lens_sag_deg);
    }

    Eigen::Vector2d draw_left_up(double standard_deg) {
        const double left_deg = draw_.normal(standard_deg);
        return {left_deg, draw_.normal(standard_deg)};
    }

    /// What all placements of the cradle share.
    void draw_seat(const Cradle& cradle) {
        truth_.cradle_sag_deg = draw_.normal(cradle.sag_deg);
        truth_.pose[lens_sag_deg] += truth_.cradle_sag_deg;
        truth_.pose[place_left_mm] = draw_.rectangular(cradle.place_limit_mm);
        truth_.pose[place_up_mm] = draw_.rectangular(cradle.place_limit_mm);
        truth_.face_form_deg = draw_left_up(practice_.mount.face_form_deg);
        for (const CradleLabel label : all_cradle_labels) {
            truth_.way_up_deg[label] = draw_left_up(cradle.way_up_deg);
        }
    }

    void draw_cradle() {
        const Cradle cradle = practice_.cradle.value_or(Cradle{});
        truth_.phone_up_deg = static_cast<int>(cradle.phone_up.value_or(PhoneUp::native));
        draw_seat(cradle);
        PoseValues& pose = truth_.pose;
        if (cradle.offset_deg && cradle.lens_mm && cradle.covariance) {
            Eigen::VectorXd drawn = draw_.jointly(*cradle.covariance);
            drawn.head<2>() += *cradle.offset_deg - principal_point_shift_deg();
            drawn.tail<3>() += *cradle.lens_mm;
            std::copy(drawn.begin(), drawn.end(), pose.begin() + offset_left_deg);
            return;
        }
        const Eigen::Vector3d lens_mm =
            cradle.lens_mm.value_or(Eigen::Vector3d(lens_ahead_prior_mm, 0, 0));
        pose[offset_left_deg] = draw_.normal(cradle_offset_prior_deg);
        pose[offset_up_deg] = draw_.normal(cradle_offset_prior_deg);
        pose[lens_ahead_mm] = lens_mm.x() + draw_.rectangular(lens_ahead_limit_mm);
        pose[lens_left_mm] = lens_mm.y() + draw_.rectangular(lens_side_limit_mm);
        pose[lens_up_mm] = lens_mm.z() + draw_.rectangular(lens_side_limit_mm);
    }

    /// How far to the left and up the phone seems to look because the camera file's principal point
    /// is not the lens's. What is stored of a cradle was found with that file and holds this.
    Eigen::Vector2d principal_point_shift_deg() const {
        const Lens& filed = practice_.camera.lens;
        const Eigen::Vector2d seen((truth_.lens.cx - filed.cx) / filed.fx * deg_per_rad,
                                   (truth_.lens.cy - filed.cy) / filed.fy * deg_per_rad);
        return Eigen::Rotation2Dd(truth_.phone_up_deg * rad_per_deg) * seen;
    }

    void draw_sheet() {
        const Target& target = practice_.target;
        const double scale_u = target.print_checked ? print_scale_checked : print_scale_unchecked;
        truth_.sheet.scale_across = target.printed_across + draw_.normal(scale_u);
        truth_.sheet.scale_down = target.printed_down + draw_.normal(scale_u);
        truth_.sheet.bow_across_mm = draw_.rectangular(target.flatness_mm);
        truth_.sheet.bow_down_mm = draw_.rectangular(target.flatness_mm);
        truth_.sheet.twist_mm = draw_.rectangular(target.flatness_mm);
        truth_.sheet.s_bend_across_mm = draw_.rectangular(target.flatness_mm);
        truth_.sheet.s_bend_down_mm = draw_.rectangular(target.flatness_mm);
        const double skew_u = target.skew_checked ? print_skew_checked : print_skew_unchecked;
        truth_.sheet.skew = target.printed_skew + draw_.normal(skew_u);
    }

    /// A scene to render has no words for these: they are zero in photos from it.
    void leave_out_what_no_scene_has() {
        truth_.face_form_deg.setZero();
        truth_.pose[place_left_mm] = truth_.pose[place_up_mm] = 0;
        truth_.sheet.skew = truth_.sheet.s_bend_across_mm = truth_.sheet.s_bend_down_mm = 0;
    }

    void draw_mount() {
        truth_.mount = practice_.mount;
        truth_.mount_errors = draw_mount_errors(draw_);
        truth_.mount_errors.locking_yaw_left_deg = draw_.normal(options_.locking_deg);
        truth_.mount_errors.locking_pitch_up_deg = draw_.normal(options_.locking_deg);
        truth_.pose[yaw_left_deg] =
            practice_.mount.aim_yaw_left_deg + draw_.rectangular(options_.found_within_deg);
        truth_.pose[pitch_up_deg] =
            practice_.mount.aim_pitch_up_deg + draw_.rectangular(options_.found_within_deg);
    }

    const PracticeBay& practice_;
    const PracticeOptions& options_;
    Draw& draw_;
    PracticeTruth truth_;
};

/// What the program says to do next.
struct Instruction {
    bool stopped = false;                 ///< nothing is to be turned until something is put right
    bool in_tolerance = false;            ///< nothing more is to be turned
    std::vector<double> turns_clockwise;  ///< profile order
    bool turns_something() const {
        return std::any_of(turns_clockwise.begin(), turns_clockwise.end(),
                           [](double turns) { return turns != 0; });
    }
};

Instruction instruction_of(const JobResult& result) {
    const SightingResult& last = result.sightings.back();
    Instruction told;
    const auto says = [&](const Findings& findings, const char* code) {
        return std::any_of(findings.begin(), findings.end(),
                           [&](const Finding& finding) { return finding.code == code; });
    };
    const Findings findings = last.all_findings();
    told.stopped = has_stop(result.findings) || has_stop(findings) ||
                   says(findings, "methods-disagree") || !last.corrections;
    told.in_tolerance = last.vision && last.vision->solved && last.vision->verdict.passed();
    if (last.corrections) {
        for (const auto& correction : last.corrections->corrections) {
            told.turns_clockwise.push_back(correction.clockwise ? correction.turns
                                                                : -correction.turns);
        }
    }
    told.turns_clockwise.resize(result.mount.screws.size(), 0.0);
    return told;
}

/// Makes one job: what is true, what the technician does and writes down, stage by stage.
class JobMaker {
  public:
    JobMaker(const PracticeBay& practice, const PracticeOptions& options, std::uint64_t number,
             const std::filesystem::path& folder)
        : practice_(practice),
          options_(options),
          folder_(folder),
          draw_(options.seed, number),
          truth_(TruthDrawer(practice, options, draw_).drawn()),
          shared_corner_error_(practice.target.pattern, practice.camera.corner_field_px) {
        truth_.job = fmt::format("P{:04}", number);
        written_ = draw_setup(practice_, truth_, draw_);
        for (const auto& error : options_.errors) {
            spoil_truth(error, practice_.camera, truth_);
        }
        draw_points(written_, truth_, draw_);
        for (const auto& error : options_.errors) {
            spoil_points(error, written_, truth_);
        }
        read_tapes(practice_, truth_, written_, draw_);
        if (const auto& tape = practice_.bay.tape_and_level) {
            square_bumper(*tape, truth_);
        }
        mount_.emplace(truth_.mount, truth_.mount_errors, truth_.pose[yaw_left_deg],
                       truth_.pose[pitch_up_deg]);
        pose_ = truth_.pose;
        start_sheet(number);
    }

    PracticeJob make() {
        std::filesystem::create_directories(folder_ / "photos");
        for (const auto& file : practice_.files) {
            write_plain(folder_ / file.name, file.bytes);
        }
        measure_stage("as-found", true);
        if (options_.run == PracticeRun::full && turn_until_right()) {
            mount_->lock();
            measure_stage("as-left", true);
            sheet_.sightings.back().locked = true;
        }
        if (options_.pictures) {
            make_way_for_pictures();
        }
        write_sheet();
        write_truth();
        return {sheet_.file, std::move(truth_)};
    }

  private:
    void start_sheet(std::uint64_t number) {
        sheet_.file = folder_ / "job.yaml";
        sheet_.job = truth_.job;
        sheet_.vehicle = fmt::format("practice unit {}", number);
        sheet_.tape_counts = practice_.bay.tape_counts;
        sheet_.mount_file = folder_ / "mount.yaml";
        sheet_.camera_file = folder_ / "camera.yaml";
        sheet_.target_file = folder_ / "target.yaml";
        if (practice_.cradle) {
            sheet_.cradle_file = folder_ / "cradle.yaml";
        }
    }

    void write_sheet() const {
        write_plain(sheet_.file, job_sheet_yaml(sheet_, practice_.bay.unit));
    }

    /// Names photos in place of the corners, which have served to tell what to turn.
    void make_way_for_pictures() {
        for (std::size_t i = 0; i < truth_.stages.size(); ++i) {
            for (std::size_t k = 0; k < truth_.stages[i].photos.size(); ++k) {
                std::string& file = truth_.stages[i].photos[k].file;
                std::filesystem::remove(folder_ / file);
                file.replace(file.rfind(".corners.yaml"), std::string::npos, ".jpg");
                sheet_.sightings[i].photos[k].file = file;
            }
        }
        write_plain(folder_ / "scene.yaml", scene_yaml(practice_scene(truth_, practice_, folder_)));
    }

    void write_truth() const {
        if (options_.hide_truth) {
            write_plain(folder_ / "truth.hidden", hidden_truth(truth_yaml(truth_)));
        } else {
            write_plain(folder_ / "truth.yaml", truth_yaml(truth_));
        }
    }

    /// False where the program stops the job: as-left is then never taken.
    bool turn_until_right() {
        for (int round = 0;; ++round) {
            const auto told = next_instruction();
            if (!told || (told->stopped && !told->in_tolerance)) {
                return false;
            }
            if (told->in_tolerance || !told->turns_something() || round == options_.most_rounds) {
                return true;
            }
            turn(told->turns_clockwise);
            measure_stage("adjusted", false);
        }
    }

    /// Nothing where the program cannot use the sheet.
    std::optional<Instruction> next_instruction() const {
        write_sheet();
        try {
            return instruction_of(measure_job(sheet_.file));
        } catch (const InputError&) {
            return std::nullopt;
        }
    }

    void turn(const std::vector<double>& told) {
        const auto& screws = practice_.mount.screws;
        std::vector<double> made = told;
        PracticeStage& stage = truth_.stages.back();
        for (const auto& error : options_.errors) {
            if (hits_stage(error, stage.stage, truth_.stages.size() - 1)) {
                spoil_turns(error, practice_.mount, made);
            }
        }
        const double hand_limit = ResponsePrior{}.turning_limit_turns;
        for (std::size_t i = 0; i < screws.size(); ++i) {
            const double by_hand = draw_.rectangular(hand_limit);
            made[i] += made[i] != 0 ? by_hand : 0;
            if (told[i] != 0) {
                sheet_.sightings.back().turned_clockwise.emplace_back(screws[i].name, told[i]);
            }
            if (made[i] != 0) {
                stage.made_turns.emplace_back(screws[i].name, made[i]);
            }
        }
        mount_->turn(made);
    }

    void measure_stage(const std::string& name, bool full_set) {
        const std::size_t index = truth_.stages.size();
        SheetSighting sighting;
        sighting.stage = name;
        sighting.same_setup = index > 0;
        if (index == 0) {
            sighting.setup = written_;
        }
        PracticeStage stage;
        stage.stage = name;
        pose_[yaw_left_deg] = mount_->yaw_left_deg();
        pose_[pitch_up_deg] = mount_->pitch_up_deg();
        pose_[face_ahead_mm] = mount_->centre_ahead_mm();
        if (practice_.bay.tape_and_level) {
            stage.beam_level_deg =
                draw_.rectangular(practice_.bay.tape_and_level->beam_level_limit_deg);
        }
        std::vector<HumanError> errors;
        for (const auto& error : options_.errors) {
            if (hits_stage(error, name, index)) {
                errors.push_back(error);
                spoil_stage(error, pose_);
            }
        }
        stage.pose = pose_;
        stage.warming_deg = {draw_.normal(practice_.camera.warming_deg),
                             draw_.normal(practice_.camera.warming_deg)};
        take_photos(errors, full_set, stage, sighting);
        if (full_set && practice_.bay.tape_and_level) {
            sighting.tape_and_level = read_tape_and_level(*practice_.bay.tape_and_level,
                                                          practice_.bay.unit, truth_, stage, draw_);
        }
        for (const auto& error : errors) {
            spoil_readings(error, sighting);
            spoil_labels(error, sighting);
        }
        sheet_.sightings.push_back(std::move(sighting));
        truth_.stages.push_back(std::move(stage));
    }

    void take_photos(const std::vector<HumanError>& errors, bool full_set, PracticeStage& stage,
                     SheetSighting& sighting) {
        const std::size_t index = truth_.stages.size();
        const auto labels =
            ways_up_of(practice_.bay.upright_photos, full_set ? practice_.bay.inverted_photos : 0,
                       full_set ? practice_.bay.quarter_photos : 0);
        for (std::size_t photo = 0; photo < labels.size(); ++photo) {
            const std::string name =
                fmt::format("photos/{}-{}-{}-{}.corners.yaml", index + 1, stage.stage, photo + 1,
                            cradle_label_text(labels[photo]));
            const double time = time_in_stage(photo, labels.size());
            PracticePhoto taken = place_cradle(errors, stage, labels[photo], photo, time);
            taken.file = name;
            sighting.photos.push_back({name, folder_ / name, labels[photo], -1});
            write_photo(errors, taken, photo);
            stage.photos.push_back(std::move(taken));
        }
    }

    /// When a photo of a stage is taken: -1/2 the first, 1/2 the last, evenly.
    static double time_in_stage(std::size_t photo, std::size_t count) {
        const double intervals = static_cast<double>(std::max<std::size_t>(count, 2) - 1);
        return count < 2 ? 0 : static_cast<double>(photo) / intervals - 0.5;
    }

    PracticePhoto place_cradle(const std::vector<HumanError>& errors, const PracticeStage& stage,
                               CradleLabel label, std::size_t photo, double time) {
        PracticePhoto placed{"", stage.pose};
        PoseValues& pose = placed.pose;
        const double seating_deg = practice_.cradle.value_or(Cradle{}).seating_deg;
        const double jitter_deg = practice_.camera.pointing_jitter_deg;
        const Eigen::Vector2d way_up_deg = truth_.way_up_deg.at(label);
        pose[cradle_roll_deg] =
            (label == CradleLabel::inverted ? 180 : 0) + draw_.normal(roll_scatter_deg);
        pose[seating_left_deg] = way_up_deg.x() + draw_.normal(seating_deg);
        pose[seating_up_deg] = way_up_deg.y() + draw_.normal(seating_deg);
        pose[jitter_left_deg] = time * stage.warming_deg.x() + draw_.normal(jitter_deg);
        pose[jitter_up_deg] = time * stage.warming_deg.y() + draw_.normal(jitter_deg);
        for (const auto& error : errors) {
            spoil_placement(error, photo, pose);
        }
        return placed;
    }

    void write_photo(const std::vector<HumanError>& errors, const PracticePhoto& taken,
                     std::size_t photo) {
        const PhotoFacts facts = facts_of(taken, truth_.stages.size(), photo);
        std::string bytes = photo_bytes(taken, facts);
        for (const auto& error : errors) {
            if (error.mistake == Mistake::wrong_photo && static_cast<double>(photo) < error.size) {
                bytes = bytes_of_earlier(error, taken, photo);
            }
        }
        write_plain(folder_ / taken.file, bytes);
    }

    PhotoFacts facts_of(const PracticePhoto& taken, std::size_t stage, std::size_t photo) const {
        const int seconds = static_cast<int>(stage) * seconds_between_stages +
                            static_cast<int>(photo) * seconds_between_photos;
        PhotoFacts facts = practice_facts(
            practice_.camera, truth_.phone_up_deg + taken.pose[cradle_roll_deg], seconds);
        for (const auto& error : options_.errors) {
            spoil_facts(error, facts);
        }
        return facts;
    }

    std::string photo_bytes(const PracticePhoto& taken, const PhotoFacts& facts) {
        ReducedPhoto reduced{practice_.camera.width_px, practice_.camera.height_px, facts, "", {}};
        reduced.corners = practice_corners(truth_, taken.pose, practice_.camera, practice_.target,
                                           options_.corner_noise_px, shared_corner_error_, draw_);
        return corners_yaml(reduced);
    }

    /// A photo of this stage that shows the phone the same way up, or any if none does; of several
    /// the one in place `wanted`, or the last.
    static std::size_t same_way_up(const PracticeStage& stage, const PracticePhoto& taken,
                                   std::size_t wanted) {
        std::vector<std::size_t> alike;
        for (std::size_t i = 0; i < stage.photos.size(); ++i) {
            const double apart_deg =
                stage.photos[i].pose[cradle_roll_deg] - taken.pose[cradle_roll_deg];
            if (std::abs(apart_deg) < 90) {
                alike.push_back(i);
            }
        }
        return alike.empty() ? std::min(wanted, stage.photos.size() - 1)
                             : alike[std::min(wanted, alike.size() - 1)];
    }

    /// The file of a photo of the stage before, or another photo that was taken then.
    std::string bytes_of_earlier(const HumanError& error, const PracticePhoto& taken,
                                 std::size_t photo) {
        const std::size_t stage = truth_.stages.size() - 1;
        const std::size_t like = same_way_up(truth_.stages[stage], taken, photo);
        const PracticePhoto& before = truth_.stages[stage].photos[like];
        PhotoFacts facts = facts_of(before, stage, like);
        if (error.place == "untimed") {
            facts.taken_at.clear();
        }
        return error.place.empty() || error.place == "copy" ? written_bytes(before.file)
                                                            : photo_bytes(before, facts);
    }

    std::string written_bytes(const std::string& file) const {
        std::ifstream stream(folder_ / file, std::ios::binary);
        return {std::istreambuf_iterator<char>(stream), {}};
    }

    const PracticeBay& practice_;
    const PracticeOptions& options_;
    std::filesystem::path folder_;
    Draw draw_;
    PracticeTruth truth_;
    SharedCornerError shared_corner_error_;
    SheetSetup written_;
    PoseValues pose_{};  ///< of the stage
    std::optional<SimulatedMount> mount_;
    JobSheet sheet_;
};

}  // namespace

PracticeJob make_practice_job(const PracticeBay& practice, const PracticeOptions& options,
                              std::uint64_t number, const std::filesystem::path& folder) {
    check_errors(options.errors, practice.bay, options.run == PracticeRun::full, options.pictures);
    return JobMaker(practice, options, number, folder).make();
}

}  // namespace squaresight

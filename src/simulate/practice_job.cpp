#include "simulate/practice_job.h"

#include <fmt/format.h>

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

    void draw_cradle() {
        const Cradle cradle = practice_.cradle.value_or(Cradle{});
        truth_.phone_up_deg = static_cast<int>(cradle.phone_up.value_or(PhoneUp::native));
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
        const Eigen::Vector3d seen(0, (truth_.lens.cx - filed.cx) / filed.fx * deg_per_rad,
                                   (truth_.lens.cy - filed.cy) / filed.fy * deg_per_rad);
        return (rotation_x<double>(truth_.phone_up_deg * rad_per_deg) * seen).tail<2>();
    }

    void draw_sheet() {
        const Target& target = practice_.target;
        const double scale_u = target.print_checked ? print_scale_checked : print_scale_unchecked;
        truth_.sheet.scale_across = target.printed_across + draw_.normal(scale_u);
        truth_.sheet.scale_down = target.printed_down + draw_.normal(scale_u);
        truth_.sheet.bow_across_mm = draw_.rectangular(target.flatness_mm);
        truth_.sheet.bow_down_mm = draw_.rectangular(target.flatness_mm);
        truth_.sheet.twist_mm = draw_.rectangular(target.flatness_mm);
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
          truth_(TruthDrawer(practice, options, draw_).drawn()) {
        truth_.job = fmt::format("P{:04}", number);
        written_ = draw_setup(practice_, truth_, draw_);
        for (const auto& error : options_.errors) {
            spoil_truth(error, practice_.camera, truth_);
        }
        read_tapes(practice_, truth_, written_, draw_);
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

    /// Upright and inverted by turns, as long as there are both.
    std::vector<CradleLabel> labels(bool full_set) const {
        std::vector<CradleLabel> labels;
        const int inverted = full_set ? practice_.bay.inverted_photos : 0;
        for (int i = 0; i < std::max(practice_.bay.upright_photos, inverted); ++i) {
            if (i < practice_.bay.upright_photos) {
                labels.push_back(CradleLabel::upright);
            }
            if (i < inverted) {
                labels.push_back(CradleLabel::inverted);
            }
        }
        return labels;
    }

    void take_photos(const std::vector<HumanError>& errors, bool full_set, PracticeStage& stage,
                     SheetSighting& sighting) {
        const std::size_t index = truth_.stages.size();
        for (const CradleLabel label : labels(full_set)) {
            const std::size_t photo = sighting.photos.size();
            const std::string name =
                fmt::format("photos/{}-{}-{}-{}.corners.yaml", index + 1, stage.stage, photo + 1,
                            label == CradleLabel::upright ? "upright" : "inverted");
            PracticePhoto taken = place_cradle(errors, stage.pose, label, photo);
            taken.file = name;
            sighting.photos.push_back({name, folder_ / name, label, -1});
            write_photo(errors, taken, photo);
            stage.photos.push_back(std::move(taken));
        }
    }

    PracticePhoto place_cradle(const std::vector<HumanError>& errors, const PoseValues& stage,
                               CradleLabel label, std::size_t photo) {
        PracticePhoto placed{"", stage};
        PoseValues& pose = placed.pose;
        const double seating_deg = practice_.cradle.value_or(Cradle{}).seating_deg;
        const double jitter_deg = practice_.camera.pointing_jitter_deg;
        pose[cradle_roll_deg] =
            (label == CradleLabel::upright ? 0 : 180) + draw_.normal(roll_scatter_deg);
        pose[seating_left_deg] = draw_.normal(seating_deg);
        pose[seating_up_deg] = draw_.normal(seating_deg);
        pose[jitter_left_deg] = draw_.normal(jitter_deg);
        pose[jitter_up_deg] = draw_.normal(jitter_deg);
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
                bytes = bytes_of_earlier(error, photo);
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
                                           options_.corner_noise_px, draw_);
        return corners_yaml(reduced);
    }

    /// The file of a photo of the stage before, or another photo that was taken then.
    std::string bytes_of_earlier(const HumanError& error, std::size_t photo) {
        const std::size_t stage = truth_.stages.size() - 1;
        const auto& photos = truth_.stages[stage].photos;
        const std::size_t like = std::min(2 * photo, photos.size() - 1);
        const PracticePhoto& before = photos[like];
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

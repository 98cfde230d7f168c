#include "job/turning.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "report/report.h"
#include "report/summary.h"
#include "simulate/simulated_mount.h"
#include "support/practice_mount.h"
#include "support/scratch.h"
#include "units/error.h"
#include "units/files.h"

namespace squaresight {
namespace {

using ::testing::AllOf;
using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

/// A job on the practice mount whose photos see the truth, known to 0.03 deg within the setup.
class TurnedJob {
  public:
    explicit TurnedJob(const MountErrors& errors = {}, double yaw_left_deg = 2,
                       double pitch_up_deg = -1.5)
        : simulated(load_mount(scratch.write("mount.yaml", practice_mount)), errors, yaw_left_deg,
                    pitch_up_deg) {
        result.mount = load_mount(scratch.folder() / "mount.yaml");
        result.sheet.mount_file = scratch.folder() / "mount.yaml";
        result.sheet.job = "1042";
        result.sheet.vehicle = "unit 17";
        look("as-found");
    }

    void look(const std::string& stage, bool locked = false) {
        SightingResult sighting;
        sighting.stage = stage;
        VisionResult vision;
        vision.solved = vision.stage.solved = true;
        vision.stage.stage = stage;
        vision.stage.yaw_left_deg = {simulated.yaw_left_deg(), 0.05};
        vision.stage.pitch_up_deg = {simulated.pitch_up_deg(), 0.08};
        if (!result.sightings.empty()) {
            const auto& before = result.sightings.back().vision->stage;
            vision.stage.yaw_change_left_deg =
                Estimate{simulated.yaw_left_deg() - before.yaw_left_deg.value, 0.03};
            vision.stage.pitch_change_up_deg =
                Estimate{simulated.pitch_up_deg() - before.pitch_up_deg.value, 0.03};
        }
        vision.verdict = {decide(vision.stage.yaw_left_deg, 0, 0.3),
                          decide(vision.stage.pitch_up_deg, 0, 1.5)};
        sighting.vision = vision;
        result.sightings.push_back(sighting);
        result.sheet.sightings.emplace_back();
        result.sheet.sightings.back().stage = stage;
        result.sheet.sightings.back().locked = locked;
    }

    /// Turns as told, and writes it on the sheet.
    void turn(double upper, double side) {
        simulated.turn({upper, side});
        result.sheet.sightings.back().turned_clockwise = {{"upper", upper}, {"side", side}};
    }
    /// Follows the corrections of the last stage.
    void turn_as_planned() {
        plan();
        const auto& turns = result.sightings.back().corrections->corrections;
        turn(turns[0].clockwise ? turns[0].turns : -turns[0].turns,
             turns[1].clockwise ? turns[1].turns : -turns[1].turns);
    }
    void plan(const MountHistory& history = {}) {
        for (auto& sighting : result.sightings) {
            sighting.findings.clear();
            sighting.corrections.reset();
            sighting.response.reset();
        }
        plan_corrections(result, history);
        check_locking(result);
    }
    std::vector<std::string> codes() const {
        std::vector<std::string> codes;
        for (const auto& finding : result.sightings.back().all_findings()) {
            codes.push_back(finding.code);
        }
        return codes;
    }
    const SightingResult& last() const { return result.sightings.back(); }

    Scratch scratch;
    JobResult result;
    SimulatedMount simulated;
};

MountErrors long_levers() {
    MountErrors errors;
    errors.screws[0].lever = errors.screws[1].lever = -0.2;
    return errors;
}

TEST(TurnedJobs, ShowWhatTheTurnsShouldHaveDoneAndWhatTheyDid) {
    TurnedJob job(long_levers());
    job.turn_as_planned();
    job.look("adjusted");
    job.plan();
    const auto& response = job.last().response;
    ASSERT_TRUE(response);
    EXPECT_EQ(response->check.call, RoundCall::as_told);
    EXPECT_TRUE(response->learned);
    const auto json = nlohmann::json::parse(result_json(job.result))["sightings"];
    EXPECT_TRUE(json[0]["response"].is_null());
    EXPECT_EQ(json[1]["response"]["call"], "as told");
    EXPECT_EQ(json[1]["response"]["actual"]["yaw_left_deg"]["value"],
              job.last().vision->stage.yaw_change_left_deg->value);
    EXPECT_GT(json[1]["response"]["expected"]["yaw_left_deg"]["standard_uncertainty"], 0.25);
    EXPECT_THAT(report_text(job.result), HasSubstr("After turn 1: the turns should have moved it"));
    EXPECT_THAT(report_html(job.result), HasSubstr("they moved it 1."));
}

TEST(TurnedJobs, PlanTheNextTurnsWithTheLearnedLever) {
    TurnedJob job(long_levers());
    job.turn(2, -3);
    job.look("adjusted");
    job.plan();
    const auto& at = job.last().vision->stage;
    const auto by_profile =
        plan_correction(job.result.mount, at.yaw_left_deg, at.pitch_up_deg, 0, {2, -3});
    for (std::size_t i = 0; i < 2; ++i) {
        const auto& learned = job.last().corrections->corrections[i];
        const double truth = by_profile.corrections[i].exact_turns / 0.8;
        EXPECT_NEAR(learned.exact_turns, truth, 2 * learned.uncertainty_turns);
        EXPECT_LT(std::abs(learned.exact_turns - truth),
                  std::abs(by_profile.corrections[i].exact_turns - truth) / 2);
        EXPECT_GT(learned.uncertainty_turns, by_profile.corrections[i].uncertainty_turns);
    }
    EXPECT_GT(job.last().corrections->remaining_yaw_uncertainty_deg, 0.05);
}

TEST(TurnedJobs, AddTheThreadsPlayWhereAScrewIsToReverse) {
    TurnedJob job;
    job.turn(1.5, -5);  // the side screw went too far
    job.look("adjusted");
    job.plan();
    const auto& side = job.last().corrections->corrections[1];
    EXPECT_TRUE(side.clockwise);
    EXPECT_GT(side.play_turns, 0.05);
    EXPECT_LT(side.play_turns, 0.5);
    EXPECT_THAT(report_text(job.result), HasSubstr("The side screw goes the other way"));
    EXPECT_EQ(job.last().corrections->corrections[0].play_turns, 0);
}

TEST(TurnedJobs, LearnNothingFromAReversedScrewUntilItsProfileIsCorrected) {
    MountErrors errors;
    errors.screws[1].fault = ScrewFault::reversed;
    TurnedJob job(errors);
    job.turn_as_planned();
    job.look("adjusted");
    job.plan();
    EXPECT_THAT(job.codes(), Contains("screw-reversed"));
    EXPECT_FALSE(job.last().corrections);
    EXPECT_FALSE(job.last().response->learned);
    EXPECT_EQ(keep_rounds(job.result), 0);
    EXPECT_THAT(first_line(job.result).text,
                AllOf(HasSubstr("Do not turn anything"), HasSubstr("'clockwise' of this screw")));
    // Withheld at later stages too; the job as it is goes on once the profile is corrected.
    job.look("adjusted");
    job.plan();
    EXPECT_FALSE(job.last().corrections);
    EXPECT_THAT(first_line(job.result).text, HasSubstr("'side'"));
    job.result.mount.screws[1].clockwise_moves_in = !job.result.mount.screws[1].clockwise_moves_in;
    job.plan();
    EXPECT_THAT(job.codes(), Not(Contains("screw-reversed")));
    EXPECT_TRUE(job.last().corrections);
    EXPECT_TRUE(job.result.sightings[1].response->learned);
}

TEST(TurnedJobs, HoldADeadScrewAndGoOnAfterSwappedOnes) {
    MountErrors errors;
    errors.screws[1].fault = ScrewFault::dead;
    TurnedJob dead(errors);
    dead.turn_as_planned();
    dead.look("adjusted");
    dead.plan();
    EXPECT_THAT(first_line(dead.result).text, AllOf(HasSubstr("Do not turn"), HasSubstr("seized")));
    EXPECT_FALSE(turns_wanted(dead.result));

    MountErrors swap;
    swap.swapped = true;
    TurnedJob swapped(swap, 2, 0);
    swapped.turn_as_planned();
    swapped.look("adjusted");
    swapped.plan();
    EXPECT_THAT(swapped.codes(), Contains("screws-swapped"));
    EXPECT_TRUE(turns_wanted(swapped.result));
    EXPECT_THAT(turning_advice(swapped.result, swapped.last()).at(0),
                HasSubstr("'upper' was turned in place of screw 'side'"));
    EXPECT_THAT(report_text(swapped.result), HasSubstr("nothing was learned"));
}

TEST(TurnedJobs, DropWhatAHalfMadeRoundTaughtOnceALaterRoundShowsIt) {
    TurnedJob job({}, 2.5, 0);
    job.turn(0, -5);  // one screw alone: its lever could be half as good as its profile says
    job.simulated.turn({0, 2.5});
    job.look("adjusted");
    job.plan();
    EXPECT_TRUE(job.last().response->learned);
    job.turn(0, -2.5);
    job.look("adjusted");
    job.plan();
    EXPECT_FALSE(job.result.sightings[1].response->learned);
    EXPECT_EQ(job.result.sightings[1].findings.at(0).code, "turns-not-made");
    EXPECT_TRUE(job.last().response->learned);
    EXPECT_THAT(job.codes(), IsEmpty());
    EXPECT_EQ(keep_rounds(job.result), 1);
}

TEST(TurnedJobs, CountOnlyAsLeftWhereLockingMovedTheFace) {
    MountErrors errors;
    errors.locking_yaw_left_deg = 0.5;
    TurnedJob job(errors);
    job.turn(1.5, -4.125);
    job.look("adjusted");
    EXPECT_TRUE(answer_is_yes(job.result));
    job.simulated.lock();
    job.look("as-left", true);
    job.plan();
    EXPECT_THAT(job.codes(), Contains("locking-moved"));
    EXPECT_TRUE(job.result.sightings[1].vision->verdict.passed());
    EXPECT_FALSE(answer_is_yes(job.result));
    EXPECT_THAT(first_line(job.result).text, HasSubstr("Loosen the locking and turn"));
    EXPECT_THAT(report_text(job.result), HasSubstr("Only this as-left measurement counts"));
}

TEST(TurnedJobs, AreNotAccusedOfLockingThatMovedNothing) {
    TurnedJob job;
    job.turn(1.5, -4.125);
    job.look("adjusted");
    job.simulated.lock();
    job.look("as-left", true);
    job.plan();
    EXPECT_THAT(job.codes(), IsEmpty());
    EXPECT_TRUE(answer_is_yes(job.result));
}

TEST(TurnedJobs, DoNotLearnFromARoundThatWasLockedAfterwards) {
    TurnedJob job;
    job.turn_as_planned();
    job.look("as-left", true);
    job.plan();
    EXPECT_EQ(job.last().response->check.call, RoundCall::as_told);
    EXPECT_FALSE(job.last().response->learned);
}

// ---- history

TEST(History, IsKeptBesideTheProfileOnceForEachJob) {
    TurnedJob job(long_levers());
    const auto file = history_file(job.result.sheet.mount_file);
    EXPECT_EQ(file.filename(), "mount.history.yaml");
    job.turn(1.5, -3);
    job.look("adjusted");
    job.plan();
    EXPECT_EQ(keep_rounds(job.result), 1);
    const std::string bytes = read_file(file, 1 << 20);
    EXPECT_EQ(keep_rounds(job.result), 1);
    EXPECT_EQ(read_file(file, 1 << 20), bytes);
    const auto history = load_history(file, job.result.mount);
    ASSERT_EQ(history.size(), 1u);
    EXPECT_EQ(history[0].job, "1042");
    EXPECT_EQ(history[0].stage, "adjusted 1");
    EXPECT_EQ(history[0].vehicle, "unit 17");
    EXPECT_EQ(history[0].round.turns_clockwise, (std::vector<double>{1.5, -3}));
    EXPECT_EQ(history[0].round.change_deg, job.last().response->round.change_deg);
    EXPECT_EQ(history[0].round.covariance_deg2, job.last().response->round.covariance_deg2);
    // The same job measured again is not told by itself.
    const std::string before = result_json(job.result);
    job.plan(history);
    EXPECT_EQ(result_json(job.result), before);
    EXPECT_EQ(job.result.rounds_from_history, 0);
}

TEST(History, TeachesLaterJobsOfTheSameTruckMoreThanThoseOfAnother) {
    TurnedJob job(long_levers());
    job.turn(1.5, -3);
    job.look("adjusted");
    job.plan();
    keep_rounds(job.result);
    const auto history = load_history(history_file(job.result.sheet.mount_file), job.result.mount);
    const auto lever = [&](const std::string& vehicle) {
        return response_from(job.result.mount, history, "1050", vehicle).lever(1);
    };
    const Estimate same = lever("unit 17");
    const Estimate other = lever("unit 18");
    EXPECT_LT(same.standard_uncertainty, 0.15);
    EXPECT_LT(other.standard_uncertainty, 0.25);
    EXPECT_GT(other.standard_uncertainty, same.standard_uncertainty);
    EXPECT_GT(other.standard_uncertainty, 0.1);  // each truck's own part stays unknown
    EXPECT_NEAR(same.value, -0.2, 2 * same.standard_uncertainty);
    EXPECT_NEAR(other.value, -0.2, 2 * other.standard_uncertainty);
    // A vehicle that was not named is not taken for another one without a name.
    EXPECT_EQ(lever("").standard_uncertainty, other.standard_uncertainty);

    TurnedJob later(long_levers());
    later.result.sheet.job = "1050";
    later.plan(history);
    EXPECT_EQ(later.result.rounds_from_history, 1);
    EXPECT_THAT(report_text(later.result), HasSubstr("1 round of other jobs"));
    EXPECT_GT(later.last().corrections->corrections[1].exact_turns,
              1.1 * TurnedJob().simulated.yaw_left_deg() / 0.4775);  // 0.4775 deg a turn
}

/// Levers and cross-coupling as `prior` has them, the larger part shared by all trucks.
MountErrors truck_of(const MountErrors& common, Draw& draw) {
    const ResponsePrior prior;
    const double part = prior.between_mounts / prior.lever;
    MountErrors errors = draw_mount_errors(draw);
    for (std::size_t i = 0; i < 2; ++i) {
        const double rest = std::sqrt(1 - part * part);
        errors.screws[i].lever = rest * common.screws[i].lever + part * errors.screws[i].lever;
        errors.screws[i].cross = rest * common.screws[i].cross + part * errors.screws[i].cross;
    }
    return errors;
}

Round measured_round(const Mount& mount, const MountErrors& errors, Draw& draw) {
    SimulatedMount simulated(mount, errors, 1, 1);
    simulated.turn({2 + draw.rectangular(0.125), -3 + draw.rectangular(0.125)});
    return {{2, -3},
            {1, 1},
            {simulated.yaw_left_deg() - 1 + draw.normal(0.025),
             simulated.pitch_up_deg() - 1 + draw.normal(0.025)},
            0.025 * 0.025 * Eigen::Matrix2d::Identity()};
}

TEST(History, OfTrucksThatDifferByWhatIsSaidKnowsHowWellItKnowsTheNext) {
    const Mount mount = TurnedJob().result.mount;
    double squares = 0;
    const int profiles = 300;
    for (int i = 0; i < profiles; ++i) {
        Draw draw(2201, static_cast<std::uint64_t>(i));
        const MountErrors common = draw_mount_errors(draw);
        MountHistory history;
        for (const char* truck : {"1", "2", "3", "4"}) {
            history.push_back(
                {truck, "adjusted 1", truck, measured_round(mount, truck_of(common, draw), draw)});
        }
        const double truth = truck_of(common, draw).screws[1].lever;
        const Estimate learned = response_from(mount, history, "now", "now").lever(1);
        squares += std::pow((learned.value - truth) / learned.standard_uncertainty, 2);
    }
    SCOPED_TRACE("seed 2201");
    // Three of the rms's own standard deviations.
    EXPECT_NEAR(std::sqrt(squares / profiles), 1, 3 / std::sqrt(2.0 * profiles));
}

TEST(History, ForgetsARoundThatIsNoLongerClean) {
    TurnedJob job;
    job.turn(1.5, -3);
    job.look("adjusted");
    job.plan();
    ASSERT_EQ(keep_rounds(job.result), 1);
    job.result.sheet.sightings[0].turned_clockwise = {{"upper", 1.5}, {"side", 3}};
    job.plan();
    EXPECT_EQ(keep_rounds(job.result), 0);
    EXPECT_THAT(load_history(history_file(job.result.sheet.mount_file), job.result.mount),
                IsEmpty());
}

TEST(History, KeepsTheNewestThousandRounds) {
    MountHistory history;
    for (int i = 0; i < 1000; ++i) {
        history.push_back({std::to_string(i), "adjusted 1", "", {{1, 1}}});
    }
    history = with_job(history, "new", {{"new", "adjusted 1", "", {{2, 2}}}});
    EXPECT_EQ(history.size(), 1000u);
    EXPECT_EQ(history.front().job, "1");
    EXPECT_EQ(history.back().job, "new");
}

TEST(History, IsRefusedWhereItIsNotThisMounts) {
    const Scratch scratch;
    const Mount mount = load_mount(scratch.write("mount.yaml", practice_mount));
    const std::string good =
        history_yaml(mount, {{"1042",
                              "adjusted 1",
                              "unit: 17",
                              {{1, -2}, {2, 1}, {-1, 0.5}, 0.001 * Eigen::Matrix2d::Identity()}}});
    const auto file = scratch.write("mount.history.yaml", good);
    EXPECT_EQ(load_history(file, mount).at(0).vehicle, "unit: 17");
    EXPECT_THAT(load_history(scratch.folder() / "none.yaml", mount), IsEmpty());
    const std::pair<const char*, const char*> cases[] = {{"practice mount", "other mount"},
                                                         {"upper: 1", "uper: 1"},
                                                         {"upper: 1", "upper: nan"},
                                                         {"upper: 1", "upper: 1e9"},
                                                         {"[[0.001, 0]", "[[-0.001, 0]"},
                                                         {"2 deg", "2"},
                                                         {"2 deg", "200 deg"},
                                                         {"job: ", "jobb: "},
                                                         {"mount-history/1", "history/1"},
                                                         {"stage: adjusted 1", "stage: ''"},
                                                         {"rounds:\n", "rounds: []\nx:\n"}};
    for (const auto& [from, to] : cases) {
        std::string bad = good;
        const auto at = bad.find(from);
        ASSERT_NE(at, std::string::npos) << from << " in " << good;
        scratch.write("mount.history.yaml", bad.replace(at, std::string(from).size(), to));
        EXPECT_THROW(load_history(file, mount), InputError) << to;
    }
}

}  // namespace
}  // namespace squaresight

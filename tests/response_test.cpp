#include "mount/response.h"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <limits>

#include "mount/round_check.h"
#include "simulate/simulated_mount.h"
#include "support/practice_mount.h"
#include "support/scratch.h"

namespace squaresight {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;

constexpr double nan_value = std::numeric_limits<double>::quiet_NaN();
constexpr double u_change_deg = 0.025;  ///< of each angle's change between two measurements

const Mount& practice() {
    static const Scratch scratch;
    static const Mount mount = load_mount(scratch.write("mount.yaml", practice_mount));
    return mount;
}

std::vector<std::string> codes_of(const Findings& findings) {
    std::vector<std::string> codes;
    for (const auto& finding : findings) {
        codes.push_back(finding.code);
    }
    return codes;
}

std::vector<double> signed_turns(const CorrectionPlan& plan) {
    std::vector<double> turns;
    for (const auto& one : plan.corrections) {
        turns.push_back(one.clockwise ? one.turns : -one.turns);
    }
    return turns;
}

/// Measures a simulated mount as photos do, and turns it as a person does.
class Technician {
  public:
    Technician(SimulatedMount& mount, Draw& draw) : mount_(mount), draw_(draw) {
        shared_ = {draw_.normal(0.045), draw_.normal(0.078)};
        look();
    }
    /// What photos say now: a setup error that all stages share, and one of this stage alone.
    void look() {
        const double u_stage = u_change_deg / std::sqrt(2.0);
        seen_deg = Eigen::Vector2d(mount_.yaw_left_deg(), mount_.pitch_up_deg()) + shared_ +
                   Eigen::Vector2d(draw_.normal(u_stage), draw_.normal(u_stage));
    }
    CorrectionPlan plan(const Response& response) const {
        return plan_correction(response, {seen_deg[0], 0.05}, {seen_deg[1], 0.08}, 0, {});
    }
    Round turn(const std::vector<double>& told, double closeness = 0.125) {
        std::vector<double> made = told;
        for (double& turns : made) {
            turns += turns == 0 ? 0 : draw_.rectangular(closeness);
        }
        mount_.turn(made);
        Round round;
        round.turns_clockwise = told;
        round.before_deg = seen_deg;
        look();
        round.change_deg = seen_deg - round.before_deg;
        round.covariance_deg2 = u_change_deg * u_change_deg * Eigen::Matrix2d::Identity();
        return round;
    }

    Eigen::Vector2d seen_deg{0, 0};

  private:
    SimulatedMount& mount_;
    Draw& draw_;
    Eigen::Vector2d shared_{0, 0};
};

/// Each lever a fifth too long or too short, backlash of a quarter turn.
MountErrors fifth_wrong(Draw& draw) {
    MountErrors errors = draw_mount_errors(draw);
    for (auto& screw : errors.screws) {
        screw.lever = draw.chance(0.5) ? 0.2 : -0.2;
        screw.backlash_turns = 0.25;
    }
    return errors;
}

// ---- one round

/// A round on the practice mount whose screws did `done` in place of what they were told.
RoundCheck check_of(const std::vector<double>& told, const std::vector<double>& done, double u_deg,
                    const Mount& mount = practice()) {
    const auto after = attitude_after(mount, 1.0, -0.5, done);
    Round round;
    round.turns_clockwise = told;
    round.before_deg = {1.0, -0.5};
    round.change_deg = after - round.before_deg;
    round.covariance_deg2 = u_deg * u_deg * Eigen::Matrix2d::Identity();
    return check_round(Response(mount), round);
}

TEST(Round, ThatDoesWhatItShouldAccusesNoScrew) {
    for (const double factor : {1.0, 0.8, 1.3}) {
        const auto check = check_of({1, -2}, {1, -2 * factor}, 0.02);
        EXPECT_TRUE(check.findings.empty()) << factor;
        EXPECT_EQ(check.call, RoundCall::as_told);
        EXPECT_FALSE(check.withhold_next);
    }
}

TEST(Round, WithAReversedScrewWithholdsTheNextInstruction) {
    const auto check = check_of({1, -2}, {1, 2}, 0.02);
    ASSERT_EQ(codes_of(check.findings), std::vector<std::string>{"screw-reversed"});
    EXPECT_THAT(check.findings[0].text,
                AllOf(HasSubstr("'side'"), HasSubstr("2 turns counter-clockwise"),
                      HasSubstr("2 turns clockwise"), HasSubstr("profile"),
                      HasSubstr("or it was turned the wrong way")));
    EXPECT_TRUE(check.withhold_next);
    EXPECT_EQ(check.call, RoundCall::not_as_told);
}

TEST(Round, WithAScrewThatDoesNothingNamesIt) {
    for (const double factor : {0.0, 0.1, -0.02}) {
        const auto check = check_of({1, -2}, {1, -2 * factor}, 0.02);
        ASSERT_EQ(codes_of(check.findings), std::vector<std::string>{"screw-not-responding"});
        EXPECT_THAT(check.findings[0].text, HasSubstr("'side'"));
        EXPECT_FALSE(check.withhold_next);
    }
}

TEST(Round, OfOneScrewWithoutEffectNamesBothWhatItCanBe) {
    const auto check = check_of({0, -2}, {0, 0}, 0.02);
    EXPECT_EQ(codes_of(check.findings),
              (std::vector<std::string>{"screw-not-responding", "turns-not-made"}));
    EXPECT_THAT(check.findings[0].text, HasSubstr("cannot tell this from: the turns were not"));
}

TEST(Round, OfSwappedScrewsSaysWhichForWhich) {
    const auto check = check_of({0.5, -4}, {-4, 0.5}, 0.02);
    ASSERT_EQ(codes_of(check.findings), std::vector<std::string>{"screws-swapped"});
    EXPECT_THAT(check.findings[0].text, HasSubstr("'upper' was turned in place of screw 'side'"));
    // Equal turns the other way look like both screws reversed: both are named.
    EXPECT_THAT(codes_of(check_of({3, -3}, {-3, 3}, 0.02).findings),
                ::testing::ElementsAre("screw-reversed", "screws-swapped"));
    // Equal turns alike: nothing went wrong.
    EXPECT_TRUE(check_of({3, 3}, {3, 3}, 0.02).findings.empty());
}

TEST(Round, OfTurnsThatWereNotMadeSaysSo) {
    for (const double share : {0.0, 0.5}) {
        const auto check = check_of({3, -4}, {3 * share, -4 * share}, 0.02);
        ASSERT_EQ(codes_of(check.findings), std::vector<std::string>{"turns-not-made"}) << share;
        EXPECT_THAT(check.findings[0].text, HasSubstr(share > 0 ? "half" : "none"));
        EXPECT_FALSE(check.withhold_next);
    }
}

TEST(Round, ThatNoOneMistakeExplainsIsNotBelieved) {
    const auto check = check_of({1, -1}, {6, 5}, 0.02);
    EXPECT_EQ(codes_of(check.findings), std::vector<std::string>{"turns-unexplained"});
}

TEST(Round, OfFewTurnsOrUnsurePhotosClaimsNothing) {
    EXPECT_EQ(check_of({0, -0.25}, {0, 0.25}, 0.02).call, RoundCall::too_few_turns);
    EXPECT_TRUE(check_of({0, -0.25}, {0, 0.25}, 0.02).findings.empty());
    EXPECT_TRUE(check_of({0, -2}, {0, 2}, 2).findings.empty());
    EXPECT_TRUE(check_of({0, -2}, {0, 2}, nan_value).findings.empty());
    EXPECT_TRUE(check_of({0, 0}, {0, 0}, 0.02).findings.empty());
}

TEST(Round, SeesThroughCrossCoupling) {
    // Each screw of this mount moves both aims: the pivot's arms are not square to each other.
    Mount mount = practice();
    mount.screws[0].left_mm = 10;
    mount.screws[1].up_mm = 0;
    const auto check = check_of({3, 0}, {-3, 0}, 0.005, mount);
    ASSERT_EQ(codes_of(check.findings), std::vector<std::string>{"screw-reversed"});
    EXPECT_THAT(check.findings[0].text, HasSubstr("'upper'"));
}

TEST(Round, OfAScrewThatWorkedBeforeBlamesThePersonFirst) {
    Draw draw(2101);
    SimulatedMount simulated(practice(), {}, 2, 2);
    Technician technician(simulated, draw);
    Response response(practice());
    response.learn(technician.turn({2, -3}));
    Round wrong = technician.turn({1, 2});
    wrong.turns_clockwise = {1, -2};
    const auto check = check_round(response, wrong);
    ASSERT_EQ(codes_of(check.findings), std::vector<std::string>{"screw-reversed"});
    EXPECT_THAT(check.findings[0].text, HasSubstr("likely turned the wrong way this time"));
}

// ---- naming faults, over many mounts

struct Named {
    double rightly = 0, alone = 0, otherwise = 0;  ///< shares of all rounds
};

/// Rounds that bring a mount home from (yaw, pitch), with a fault put in. An empty code: none.
Named named(const std::string& code, double yaw_deg, double pitch_deg,
            const std::function<MountErrors(Draw&)>& mount,
            const std::function<void(MountErrors&)>& fault) {
    const int rounds = 1000;
    Named share;
    for (int i = 0; i < rounds; ++i) {
        Draw draw(2102, static_cast<std::uint64_t>(i));
        MountErrors errors = mount(draw);
        fault(errors);
        SimulatedMount simulated(practice(), errors, yaw_deg, pitch_deg);
        Technician technician(simulated, draw);
        const Response response(practice());
        const bool nothing_made = errors.screws[0].share_made == 0;
        const Round round =
            technician.turn(signed_turns(technician.plan(response)), nothing_made ? 0 : 0.125);
        const auto codes = codes_of(check_round(response, round).findings);
        const bool right = std::count(codes.begin(), codes.end(), code) > 0;
        share.rightly += right ? 1.0 / rounds : 0;
        share.alone += right && codes.size() == 1 ? 1.0 / rounds : 0;
        share.otherwise += !right && !codes.empty() ? 1.0 / rounds : 0;
    }
    return share;
}

struct FaultCase {
    const char* name;
    const char* code;
    double yaw_deg, pitch_deg;
    std::function<void(MountErrors&)> put_in;
};

std::vector<FaultCase> fault_cases() {
    const auto both = [](double share) {
        return [share](MountErrors& e) { e.screws[0].share_made = e.screws[1].share_made = share; };
    };
    const auto one = [](std::size_t screw, ScrewFault fault) {
        return [screw, fault](MountErrors& e) { e.screws[screw].fault = fault; };
    };
    const auto swap = [](MountErrors& e) { e.swapped = true; };
    return {{"upper dead", "screw-not-responding", 2, 2, one(0, ScrewFault::dead)},
            {"side dead", "screw-not-responding", 2, 2, one(1, ScrewFault::dead)},
            {"upper reversed", "screw-reversed", 2, 2, one(0, ScrewFault::reversed)},
            {"side reversed", "screw-reversed", 2, 2, one(1, ScrewFault::reversed)},
            {"swapped, yaw alone", "screws-swapped", 2, 0, swap},
            {"swapped, opposite turns", "screws-swapped", 2, -2, swap},
            {"swapped, a quarter the pitch", "screws-swapped", 2, 0.5, swap},
            {"no turns made", "turns-not-made", 2, 2, both(0)},
            {"half of the turns made", "turns-not-made", 2, 2, both(0.5)}};
}

TEST(Naming, OfFaultsIsRightInNineteenOfTwentyRounds) {
    fmt::print("seed 2102; named rightly (alone), otherwise: levers 20 % wrong | as the prior\n");
    const auto none = [](MountErrors&) {};
    const auto clean = named("", 2, 2, fifth_wrong, none);
    const auto clean_prior = named("", 2, 2, draw_mount_errors, none);
    fmt::print("{:<30} falsely {:5.1f} % | {:5.1f} %\n", "no fault", 100 * clean.otherwise,
               100 * clean_prior.otherwise);
    EXPECT_LE(clean.otherwise, 0.01);
    for (const auto& one : fault_cases()) {
        const auto fifth = named(one.code, one.yaw_deg, one.pitch_deg, fifth_wrong, one.put_in);
        const auto prior =
            named(one.code, one.yaw_deg, one.pitch_deg, draw_mount_errors, one.put_in);
        fmt::print("{:<30} {:5.1f} % ({:5.1f} %), {:4.1f} % | {:5.1f} % ({:5.1f} %), {:4.1f} %\n",
                   one.name, 100 * fifth.rightly, 100 * fifth.alone, 100 * fifth.otherwise,
                   100 * prior.rightly, 100 * prior.alone, 100 * prior.otherwise);
        EXPECT_GE(fifth.rightly, 0.95) << one.name;
    }
}

// ---- learning

/// What became of many jobs.
struct JobShares {
    double in_tolerance = 0;
    double falsely_named = 0;  ///< of the rounds
};

/// A job of up to `rounds` rounds, which ends early where nothing is to be turned. Returns how many
/// rounds were made, and how many of them were called faulty.
std::pair<int, int> do_job(SimulatedMount& simulated, Draw& draw, int rounds, bool learns) {
    Technician technician(simulated, draw);
    Response response(practice());
    int named = 0;
    for (int i = 0; i < rounds; ++i) {
        const auto turns = signed_turns(technician.plan(response));
        if (turns[0] == 0 && turns[1] == 0) {
            return {i, named};
        }
        const Round round = technician.turn(turns);
        if (!check_round(response, round).findings.empty()) {
            ++named;
            response.lose_play();
        } else if (learns) {
            response.learn(round);
        }
    }
    return {rounds, named};
}

JobShares shares_of_jobs(int rounds, bool learns,
                         const std::function<Eigen::Vector2d(Draw&)>& start_deg) {
    const int jobs = 1000;
    int in_tolerance = 0, made = 0, named = 0;
    for (int i = 0; i < jobs; ++i) {
        Draw draw(2103, static_cast<std::uint64_t>(i));
        const Eigen::Vector2d start = start_deg(draw);
        SimulatedMount simulated(practice(), fifth_wrong(draw), start[0], start[1]);
        const auto [job_made, job_named] = do_job(simulated, draw, rounds, learns);
        made += job_made;
        named += job_named;
        in_tolerance += std::abs(simulated.yaw_left_deg()) <= practice().tolerance_yaw_deg &&
                        std::abs(simulated.pitch_up_deg()) <= practice().tolerance_pitch_deg;
    }
    return {static_cast<double>(in_tolerance) / jobs, static_cast<double>(named) / made};
}

TEST(Learning, BringsJobsIntoToleranceInTwoRounds) {
    const auto two_deg = [](Draw& draw) {
        return Eigen::Vector2d(draw.chance(0.5) ? 2 : -2, draw.chance(0.5) ? 2 : -2);
    };
    const JobShares learned = shares_of_jobs(2, true, two_deg);
    fmt::print(
        "seed 2103; in tolerance after one round {:.3f}, after two {:.3f} (without learning "
        "{:.3f}); rounds falsely named {:.4f}\n",
        shares_of_jobs(1, true, two_deg).in_tolerance, learned.in_tolerance,
        shares_of_jobs(2, false, two_deg).in_tolerance, learned.falsely_named);
    EXPECT_GE(learned.in_tolerance, 0.95);
    EXPECT_LE(learned.falsely_named, 0.01);
}

TEST(Naming, OfHalfMadeTurnsIsSureOnceARoundHasShownTheLevers) {
    int found = 0;
    const int mounts = 1000;
    for (int i = 0; i < mounts; ++i) {
        Draw draw(2105, static_cast<std::uint64_t>(i));
        SimulatedMount simulated(practice(), draw_mount_errors(draw), 2, 2);
        Technician technician(simulated, draw);
        Response response(practice());
        response.learn(technician.turn({3.5, -4}));
        const bool one_alone = i % 2 == 0;
        Round round = technician.turn({one_alone ? 2.0 : 1.0, -1.25});
        round.turns_clockwise = {2, -2.5};
        const auto codes = codes_of(check_round(response, round).findings);
        found += codes == std::vector<std::string>{"turns-not-made"} ? 1 : 0;
    }
    fmt::print("seed 2105; half of the second round's turns: found in {} of {}\n", found, mounts);
    EXPECT_GE(found, 0.95 * mounts);
}

TEST(Naming, OfNothingIsRareWhateverTheCorrection) {
    const auto anywhere = [](Draw& draw) {
        return Eigen::Vector2d(draw.uniform(-2.5, 2.5), draw.uniform(-2.5, 2.5));
    };
    const JobShares shares = shares_of_jobs(3, true, anywhere);
    fmt::print("seed 2103; up to three rounds from anywhere: falsely named {:.4f}\n",
               shares.falsely_named);
    EXPECT_LE(shares.falsely_named, 0.01);
}

TEST(Learning, KnowsHowWellItKnowsTheMount) {
    const int mounts = 1000;
    Eigen::Vector2d lever_squares(0, 0), backlash_squares(0, 0);
    double after_rounds_u = 0;
    for (int i = 0; i < mounts; ++i) {
        Draw draw(2104, static_cast<std::uint64_t>(i));
        const MountErrors errors = draw_mount_errors(draw);
        SimulatedMount simulated(practice(), errors, draw.uniform(-2, 2), draw.uniform(-2, 2));
        Technician technician(simulated, draw);
        Response response(practice());
        for (int round = 0; round < 4; ++round) {
            response.learn(technician.turn({draw.uniform(-3, 3), draw.uniform(-3, 3)}));
        }
        for (int k = 0; k < 2; ++k) {
            const auto& truth = errors.screws[static_cast<std::size_t>(k)];
            const Estimate lever = response.lever(k);
            const Estimate backlash = response.backlash_turns(k);
            lever_squares[k] +=
                std::pow((lever.value - truth.lever) / lever.standard_uncertainty, 2);
            backlash_squares[k] += std::pow(
                (backlash.value - truth.backlash_turns) / backlash.standard_uncertainty, 2);
            after_rounds_u += lever.standard_uncertainty / (2 * mounts);
        }
    }
    for (int k = 0; k < 2; ++k) {
        const double lever_rms = std::sqrt(lever_squares[k] / mounts);
        const double backlash_rms = std::sqrt(backlash_squares[k] / mounts);
        fmt::print(
            "seed 2104; rms(err/u) of screw {}: lever {:.3f}, backlash {:.3f}; u(lever) {:.3f}\n",
            k, lever_rms, backlash_rms, after_rounds_u);
        // 1000 mounts know an rms to 2.2 %; the response is not linear, and the play not normal.
        EXPECT_NEAR(lever_rms, 1, 0.1);
        EXPECT_NEAR(backlash_rms, 1, 0.1);
    }
}

}  // namespace
}  // namespace squaresight

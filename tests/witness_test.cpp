#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "adjust/adjustment.h"
#include "adjust/solution.h"
#include "adjust/standing.h"
#include "support/linear_term.h"
#include "support/simulated_job.h"

/// Tape-and-level as an observation of the adjustment.
namespace squaresight {
namespace {

using JobSetup = squaresight::Setup;  // inside a test, Setup is a trap of googletest

/// Two crossed tapes check the offsets, as in the main bay; the mount is square.
MeasuredJob bay_job() {
    std::mt19937 random(20261202);
    JobSetup setup = test::table_setup(5000);
    setup.line_left_deg.standard_uncertainty = 0.016;
    setup.target_left_mm.standard_uncertainty = standard_from_limit(3);
    setup.mount_left_mm.standard_uncertainty = standard_from_limit(3);
    for (const double side : {1.0, -1.0}) {
        TapeReading tape;
        tape.from = {
            side > 0 ? "left hook" : "right hook", {-60, side * 900, 600}, standard_from_limit(2)};
        tape.to_name = side > 0 ? "right edge" : "left edge";
        tape.to_in_target_mm = {side * 420.5, 0};
        const Eigen::Vector3d edge(5000, -side * 420.5, 900);
        tape.length_mm = {(edge - tape.from.position_in_vehicle_mm).norm(), standard_from_limit(3)};
        setup.tapes.push_back(tape);
    }
    return test::one_stage(setup, test::stated_truth(setup), {0, 180, 180, 0}, 0.05, random);
}

WitnessAngle yaw_by_tape(double value_deg) { return {value_deg, 0.03, 0.1, false, false}; }

double findable(const AdjustedStage& stage, const std::string& name) {
    for (const auto& reading : stage.readings) {
        if (reading.name == name) {
            return reading.findable;
        }
    }
    ADD_FAILURE() << "no reading " << name;
    return 0;
}

TEST(Witness, TheLinearUpdateIsTheSolutionThatHadItFromTheStart) {
    MeasuredJob job = bay_job();
    job.sightings[0].witness.yaw_left = yaw_by_tape(0.2);
    job.sightings[0].witness.yaw_left->from_line = true;
    const Standing standing = read_standing(job);
    Model model = build_model(job, standing.stands, standing.image_turn_deg, {});
    const Solution plain = solve(model, start_at_readings(model));
    const Solution updated = with_witnesses(model, plain);
    std::vector<Term> terms = terms_of(model, false);
    const WitnessTerm& witness = model.witnesses.front();
    std::vector<int> unknowns;
    std::vector<double> coefficients;
    for (const auto& [unknown, coefficient] : witness.predicted_deg.parts) {
        unknowns.push_back(unknown);
        coefficients.push_back(coefficient);
    }
    terms.push_back(linear(unknowns, coefficients, witness.value_deg - witness.predicted_deg.mean,
                           witness.own_deg));
    bool converged = false;
    const Solution whole = linearise(terms, minimise(terms, plain.z, converged));
    ASSERT_TRUE(whole.solved);
    // In standard uncertainties; what is left is the curvature of the photos.
    EXPECT_LT((updated.z - whole.z).norm(), 5e-3);
    EXPECT_LT((updated.covariance - whole.covariance).norm() / whole.covariance.norm(), 1e-3);
    EXPECT_NEAR(updated.residuals[row_of_witness(model, updated, 0)],
                whole.residuals[whole.residuals.size() - 1], 1e-3);
}

TEST(Witness, ItLowersWhatAReadingCanHide) {
    MeasuredJob job = bay_job();
    const AdjustedStage alone = adjust(job).stages.front();
    job.sightings[0].witness.yaw_left = yaw_by_tape(0);
    const AdjustedStage witnessed = adjust(job).stages.front();
    for (const char* name : {"target_left", "mount_left", "line"}) {
        EXPECT_LT(findable(witnessed, name), 0.9 * findable(alone, name)) << name;
    }
    // A witness of the tests alone leaves the answer as it is.
    EXPECT_NEAR(witnessed.yaw_left_deg.value, alone.yaw_left_deg.value, 1e-9);
    EXPECT_NEAR(witnessed.yaw_left_deg.standard_uncertainty,
                alone.yaw_left_deg.standard_uncertainty, 1e-9);
}

TEST(Witness, WhereTheShopSaysSoItCountsForTheAnswer) {
    MeasuredJob job = bay_job();
    const AdjustedStage alone = adjust(job).stages.front();
    job.sightings[0].witness.yaw_left = yaw_by_tape(alone.yaw_left_deg.value + 0.1);
    job.witness_answers = true;
    const AdjustedStage both = adjust(job).stages.front();
    // The weighted mean of two independent measurements, and its uncertainty.
    const double u = alone.yaw_left_deg.standard_uncertainty;
    const double tape_u = std::hypot(0.03, 0.1);
    const double weight = u * u / (u * u + tape_u * tape_u);
    EXPECT_NEAR(both.yaw_left_deg.value, alone.yaw_left_deg.value + 0.1 * weight, 1e-6);
    EXPECT_NEAR(both.yaw_left_deg.standard_uncertainty, u * tape_u / std::hypot(u, tape_u), 1e-6);
}

TEST(Witness, AloneItBlamesNoReading) {
    MeasuredJob job = bay_job();
    job.sightings[0].witness.yaw_left = yaw_by_tape(1.5);
    const AdjustedStage stage = adjust(job).stages.front();
    EXPECT_TRUE(stage.suspects.empty());
    EXPECT_TRUE(std::none_of(stage.readings.begin(), stage.readings.end(),
                             [](const CheckedReading& one) { return one.set_aside; }));
}

TEST(Witness, OfABumperSquaredWithTheLineItSaysNothingOfTheLine) {
    MeasuredJob job = bay_job();
    job.setups[0].line_left_deg.standard_uncertainty = 0.2;
    job.sightings[0].witness.yaw_left = yaw_by_tape(0);
    const double by_diagonals = findable(adjust(job).stages.front(), "line");
    job.sightings[0].witness.yaw_left->from_line = true;
    const AdjustedStage shared = adjust(job).stages.front();
    EXPECT_GT(findable(shared, "line"), by_diagonals);
    // The crossed tapes leave a part of the line's error in the photos' answer.
    EXPECT_GT(std::abs(shared.yaw_from_line_deg), 0.01);
}

TEST(Blame, EveryReadingThatMayBeWrongIsNamedAndCovered) {
    for (const double off_mm : {50.8, -50.8}) {
        MeasuredJob job = bay_job();
        job.setups[0].target_left_mm.value += off_mm;
        const AdjustedStage stage = adjust(job).stages.front();
        ASSERT_FALSE(stage.suspects.empty());
        EXPECT_THAT(stage.suspects, ::testing::Contains(::testing::Contains("target_left")));
        EXPECT_THAT(stage.suspects, ::testing::Contains(::testing::Contains("mount_left")));
        EXPECT_LT(std::abs(stage.yaw_left_deg.value), 2 * stage.yaw_left_deg.standard_uncertainty);
        EXPECT_GT(stage.yaw_left_deg.standard_uncertainty, 0.1);
    }
}

TEST(Blame, ALengthThatNothingChecksByAnInchIsNamedUntilItIsTakenTwice) {
    MeasuredJob job = bay_job();
    job.setups[0].tapes.clear();
    job.tolerance_yaw_deg = 0.25;  // an inch at 5 m is 0.29 deg
    const AdjustedStage stage = adjust(job).stages.front();
    EXPECT_THAT(stage.inch_unchecked, ::testing::UnorderedElementsAre("target_left", "mount_left"));
    job.setups[0].taken_twice = {"target_left", "mount_left"};
    EXPECT_TRUE(adjust(job).stages.front().inch_unchecked.empty());
}

}  // namespace
}  // namespace squaresight

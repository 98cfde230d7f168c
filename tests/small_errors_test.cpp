#include <gtest/gtest.h>

#include <cmath>

#include "adjust/adjustment.h"
#include "support/simulated_job.h"

/// Small errors that no reading shows, one at a time: what each adds to u.
namespace squaresight {
namespace {

using JobSetup = squaresight::Setup;  // inside a test, Setup is a trap of googletest

MeasuredJob pair_of_photos(const std::vector<double>& rolls_deg = {0, 180}) {
    std::mt19937 random(20261201);
    JobSetup setup = test::table_setup(5000);
    setup.target_turned_left_deg.standard_uncertainty = standard_from_limit(1);
    return test::one_stage(setup, test::stated_truth(setup), rolls_deg, 0.05, random);
}

struct Added {
    double yaw_deg = 0;
    double pitch_deg = 0;
};

/// What a change of the job adds to u, as a standard uncertainty of its own.
template <class Change>
Added added_by(Change change, const std::vector<double>& rolls_deg = {0, 180}) {
    MeasuredJob job = pair_of_photos(rolls_deg);
    const AdjustedStage before = adjust(job).stages.front();
    change(job);
    const AdjustedStage after = adjust(job).stages.front();
    const auto added = [](const Estimate& from, const Estimate& to) {
        return std::sqrt(std::max(
            0.0, std::pow(to.standard_uncertainty, 2) - std::pow(from.standard_uncertainty, 2)));
    };
    return {added(before.yaw_left_deg, after.yaw_left_deg),
            added(before.pitch_up_deg, after.pitch_up_deg)};
}

TEST(SmallErrors, FormOfTheFaceEntersOneToOne) {
    const Added added = added_by([](MeasuredJob& job) { job.face_form_deg = 0.10; });
    EXPECT_NEAR(added.yaw_deg, 0.10, 0.001);
    EXPECT_NEAR(added.pitch_deg, 0.10, 0.001);
}

TEST(SmallErrors, SeatingOfOneWayUpEntersByHalf) {
    // Each of two ways up by half: together 0.10 / sqrt(2).
    const auto change = [](MeasuredJob& job) { job.cradle.way_up_deg = 0.10; };
    EXPECT_NEAR(added_by(change).yaw_deg, 0.10 / std::sqrt(2.0), 0.002);
    EXPECT_NEAR(added_by(change).pitch_deg, 0.10 / std::sqrt(2.0), 0.002);
    // More photos of the same ways up do not help; a quarter turn to either side does.
    EXPECT_NEAR(added_by(change, {0, 180, 180, 0}).yaw_deg, 0.10 / std::sqrt(2.0), 0.002);
    EXPECT_NEAR(added_by(change, {0, 180, 90, 270}).yaw_deg, 0.05, 0.004);
}

TEST(SmallErrors, TheCradlesSagIsPitchAlone) {
    const Added added = added_by([](MeasuredJob& job) { job.cradle.sag_deg = 0.10; });
    EXPECT_NEAR(added.yaw_deg, 0, 0.01);
    EXPECT_NEAR(added.pitch_deg, 0.10, 0.001);
}

TEST(SmallErrors, TheCradlesPlaceOnTheFaceMovesTheSightLine) {
    // 5 mm at 5 m: 0.057 deg.
    const Added added = added_by([](MeasuredJob& job) { job.cradle.place_limit_mm = 5; });
    const double expected_deg = standard_from_limit(5) / 5000 * deg_per_rad;
    EXPECT_NEAR(added.yaw_deg, expected_deg, 0.03 * expected_deg);
    EXPECT_NEAR(added.pitch_deg, expected_deg, 0.1 * expected_deg);
}

TEST(SmallErrors, ABowOfTheRailsEntersYawAsTheLineDoes) {
    const Added added = added_by([](MeasuredJob& job) { job.setups[0].rail_bow_deg = 0.115; });
    EXPECT_NEAR(added.yaw_deg, 0.115, 0.001);
    EXPECT_NEAR(added.pitch_deg, 0, 0.001);
}

TEST(SmallErrors, AnEvenDriftLeavesTheAnswerInTheOrderThatIsAskedFor) {
    const auto change = [](MeasuredJob& job) { job.camera.warming_deg = 0.10; };
    EXPECT_LT(added_by(change, {0, 180, 180, 0}).yaw_deg, 0.002);
    // Photos of one way up show a part of the drift, so that less than all of it is left.
    EXPECT_GT(added_by(change, {0, 180, 0, 180}).yaw_deg, 0.005);
    EXPECT_GT(added_by(change, {0, 0, 180, 180}).yaw_deg, 0.015);
    const auto asked_for = ways_up_of(4, 4, 0);
    double first_moment = 0;
    for (std::size_t i = 0; i < asked_for.size(); ++i) {
        first_moment += (asked_for[i] == CradleLabel::upright ? 1 : -1) * static_cast<double>(i);
    }
    EXPECT_EQ(first_moment, 0);
}

TEST(SmallErrors, ErrorsThatCornersShareDoNotAverageOut) {
    const auto added = [](double field_px) {
        return added_by([&](MeasuredJob& job) { job.camera.corner_field_px = field_px; }).pitch_deg;
    };
    EXPECT_GT(added(0.05), 0.0005);
    EXPECT_GT(added(0.10), 1.5 * added(0.05));
}

TEST(SmallErrors, SkewAndBendsCountOnABoardThatIsTurned) {
    const auto added = [](double turned_left_deg, auto change) {
        std::mt19937 random(20261201);
        JobSetup setup = test::table_setup(5000);
        setup.target_turned_left_deg = {turned_left_deg, standard_from_limit(10)};
        setup.target_roll_clockwise_deg.standard_uncertainty = standard_from_limit(2);
        MeasuredJob job = test::one_stage(setup, test::stated_truth(setup), {0, 180}, 0, random);
        const double before = adjust(job).stages.front().pitch_up_deg.standard_uncertainty;
        change(job);
        const double after = adjust(job).stages.front().pitch_up_deg.standard_uncertainty;
        return std::sqrt(std::max(0.0, after * after - before * before));
    };
    const auto skew = [](MeasuredJob& job) { job.target.skew_checked = false; };
    const auto bends = [](MeasuredJob& job) { job.target.flatness_mm = 2; };
    EXPECT_GT(added(20, skew), added(0, skew));
    EXPECT_GT(added(0, bends), 0.0002);
}

TEST(SmallErrors, EachIsALineOfTheBudget) {
    MeasuredJob job = pair_of_photos({0, 180, 180, 0});
    job.camera = test::plain_camera();
    job.cradle = Cradle{};
    job.face_form_deg = usual_face_form_deg;
    job.setups[0].rail_bow_deg = 0.02;
    job.target.flatness_mm = 2;
    const AdjustedStage stage = adjust(job).stages.front();
    double yaw = 0;
    double pitch = 0;
    for (const char* source : {"face form", "seating of one way up", "cradle sag",
                               "cradle's place on the face", "rail bow", "phone warming",
                               "print skew", "board flatness", "error that corners share"}) {
        const bool there =
            std::any_of(stage.budget.begin(), stage.budget.end(),
                        [&](const BudgetLine& line) { return line.source == source; });
        EXPECT_TRUE(there) << source;
    }
    for (const auto& line : stage.budget) {
        yaw += line.yaw_deg * line.yaw_deg;
        pitch += line.pitch_deg * line.pitch_deg;
    }
    EXPECT_NEAR(std::sqrt(yaw), stage.yaw_left_deg.standard_uncertainty, 1e-9);
    EXPECT_NEAR(std::sqrt(pitch), stage.pitch_up_deg.standard_uncertainty, 1e-9);
}

}  // namespace
}  // namespace squaresight

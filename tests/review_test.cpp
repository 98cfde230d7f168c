#include "review/review.h"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <random>

#include "report/gauge_report.h"
#include "report/review_report.h"
#include "review/repeated_measurements.h"
#include "support/scratch.h"
#include "support/small_record.h"
#include "units/entry.h"
#include "units/error.h"

namespace squaresight {
namespace {

using testing::Contains;
using testing::HasSubstr;
using testing::Not;
using Json = nlohmann::json;

/// One measurement with where the review of its job stands.
struct ReviewedSighting {
    SightingFigures figures;
    ReviewState state;
};

Measurements measurements(const std::vector<ReviewedSighting>& rows) {
    Measurements all;
    for (const auto& row : rows) {
        all.add(row.figures, row.state);
    }
    return all;
}

Review reviewed(const std::vector<ReviewedSighting>& rows, const ReviewSelection& selection = {}) {
    return review(measurements(rows), selection);
}

/// Measurements of an invented shop: photos with u 0.05 deg, tape with u 0.2 deg, unless told.
class Shop {
  public:
    double bias_deg = 0;
    double stated_over_true = 1;  ///< of both uncertainties

    ReviewedSighting measured(int day, const std::string& job, const std::string& stage) {
        ReviewedSighting row;
        SightingFigures& f = row.figures;
        f.job = job;
        f.revision = 1;
        f.stage = stage;
        f.taken_at = fmt::format("2026:{:02}:{:02} 09:12:00", 1 + day / 28 % 12, 1 + day % 28);
        f.recorded_at = "2026-12-01T10:00:00Z";
        f.technician = day % 2 == 0 ? "T3" : "T4";
        f.vehicle = fmt::format("unit {}", day);
        f.camera = "bay phone";
        f.cradle = "cradle A";
        f.bay = "main bay";
        f.mount = "practice mount";
        f.locked = stage == "as-left" ? "yes" : "no";
        const double true_yaw_deg = normal_(random_) * 0.6;
        take(true_yaw_deg + bias_deg, 0.05, f.vision_yaw_left_deg,
             f.vision_yaw_standard_uncertainty_deg);
        take(true_yaw_deg, 0.2, f.tape_yaw_left_deg, f.tape_yaw_standard_uncertainty_deg);
        const double true_pitch_deg = normal_(random_) * 0.6;
        take(true_pitch_deg, 0.05, f.vision_pitch_up_deg, f.vision_pitch_standard_uncertainty_deg);
        take(true_pitch_deg, 0.1, f.tape_pitch_up_deg, f.tape_pitch_standard_uncertainty_deg);
        f.difference_yaw_expanded_95_deg = 2 * stated_over_true * std::hypot(0.05, 0.2);
        f.difference_pitch_expanded_95_deg = 2 * stated_over_true * std::hypot(0.05, 0.1);
        f.vision_yaw_call = f.vision_pitch_call = "in tolerance";
        f.tape_yaw_call = f.tape_pitch_call = "too close to call";
        f.yaw_agreement = f.pitch_agreement = "agree";
        f.cradle_offset_left_deg = 0.7 + 0.02 * normal_(random_);
        f.cradle_offset_up_deg = -0.4 + 0.02 * normal_(random_);
        return row;
    }

    std::vector<ReviewedSighting> months(int jobs) {
        std::vector<ReviewedSighting> all;
        for (int day = 0; day < jobs; ++day) {
            all.push_back(measured(day, fmt::format("{}", 1000 + day), "as-found"));
            all.push_back(measured(day, fmt::format("{}", 1000 + day), "as-left"));
        }
        return all;
    }

  private:
    void take(double truth, double u, std::optional<double>& value, std::optional<double>& stated) {
        value = truth + u * normal_(random_);
        stated = stated_over_true * u;
    }
    std::mt19937 random_{5};
    std::normal_distribution<double> normal_;
};

std::vector<std::string> flags_of(const Review& made) {
    std::vector<std::string> texts;
    for (const auto& flag : made.flags) {
        texts.push_back((flag.today ? "TODAY " : "") + flag.text);
    }
    return texts;
}

TEST(Review, OfMethodsThatAgreeFindsNoBiasAndScatterAsPromised) {
    Shop shop;
    const Review made = reviewed(shop.months(100));
    EXPECT_EQ(made.jobs.size(), 100U);
    EXPECT_EQ(made.measurements, 200U);
    ASSERT_TRUE(made.yaw.limits && made.yaw.stated && made.yaw.deming);
    EXPECT_LT(made.yaw.limits->bias.interval_95.low, 0);
    EXPECT_GT(made.yaw.limits->bias.interval_95.high, 0);
    EXPECT_NEAR(made.yaw.limits->standard_deviation, std::hypot(0.05, 0.2), 0.03);
    EXPECT_NEAR(made.yaw.variance_ratio, 16, 1e-9);
    EXPECT_NEAR(made.yaw.deming->slope.value, 1, 0.15);
    EXPECT_NEAR(made.yaw.stated->about_zero.factor.value, 1, 0.15);
    EXPECT_EQ(made.yaw.stated->about_zero.call, StatedUncertainty::as_stated);
    EXPECT_EQ(made.yaw.stated->count, 100U) << "stages of one job share errors";
    EXPECT_EQ(made.yaw.agree, 200);
    EXPECT_EQ(made.yaw.calls.count(Call::in_tolerance, Call::too_close_to_call), 200U);
    EXPECT_EQ(made.yaw.calls.contradicting(), 0U);
    EXPECT_THAT(flags_of(made), testing::IsEmpty());
    EXPECT_EQ(made.outcomes.passed_after_rounds.at(0), 100);
}

TEST(Review, FindsABiasAndUncertaintiesThatAreStatedTooSmall) {
    Shop shop;
    shop.bias_deg = 0.15;
    shop.stated_over_true = 0.5;
    const Review made = reviewed(shop.months(100));
    EXPECT_GT(made.yaw.limits->bias.interval_95.low, 0.05);
    EXPECT_EQ(made.yaw.stated->about_mean.call, StatedUncertainty::too_small);
    EXPECT_GT(made.yaw.stated->about_zero.factor.value, 1.7);
    const std::string page = review_html(made);
    EXPECT_THAT(page, HasSubstr("the uncertainties are stated too small"));
    EXPECT_THAT(page, HasSubstr("more than chance explains"));
}

TEST(Review, AKnockedCradleBreaksARuleOnItsChart) {
    Shop shop;
    auto all = shop.months(40);
    for (std::size_t i = 60; i < all.size(); ++i) {
        all[i].figures.cradle_offset_left_deg.value() += 0.3;
    }
    const Review made = reviewed(all);
    bool found = false;
    for (const auto& chart : made.charts) {
        if (chart.kind == "cradle" && chart.quantity == "offset to the left") {
            for (const auto& broken : chart.individuals.breaks) {
                found |= broken.point == 60 && broken.rule == ChartRule::moving_range;
            }
        }
    }
    EXPECT_TRUE(found);
    EXPECT_THAT(review_html(made), HasSubstr("cradle cradle A: offset to the left"));
}

TEST(Review, StagesOfOneJobAreNoPointsOfTheirOwn) {
    // What photos and tape share of a job's errors stays through its stages, and so does the offset
    // of the cradle, which is solved once a job.
    Shop shop;
    auto all = shop.months(100);
    for (std::size_t i = 1; i < all.size(); i += 2) {
        auto& found = all[i - 1].figures;
        auto& left = all[i].figures;
        left.vision_yaw_left_deg =
            *left.tape_yaw_left_deg + *found.vision_yaw_left_deg - *found.tape_yaw_left_deg + 0.001;
        left.cradle_offset_left_deg = found.cradle_offset_left_deg;
    }
    all[41].figures.cradle_offset_left_deg.value() += 0.01;  // knocked before as-left
    const Review made = reviewed(all);
    std::size_t broken = 0;
    for (const auto& chart : made.charts) {
        if (chart.kind == "phone" && chart.quantity == "photos minus tape, side to side") {
            EXPECT_EQ(chart.values_deg.size(), 100U);
            broken = chart.individuals.breaks.size();
            EXPECT_NEAR(chart.individuals.sigma, std::hypot(0.05, 0.2), 0.04);
        }
        if (chart.kind == "cradle" && chart.quantity == "offset to the left") {
            EXPECT_EQ(chart.values_deg.size(), 101U);
        }
    }
    EXPECT_LT(broken, 8U) << "of 100 steady points about two";
    ASSERT_TRUE(made.yaw.repeated);
    EXPECT_EQ(&made.yaw.best_limits(), &made.yaw.repeated->limits);
    // Each of 100 vehicles says once what it says twice.
    EXPECT_NEAR(made.yaw.best_limits().bias.standard_error,
                made.yaw.limits->bias.standard_error * std::sqrt(2.0), 1e-3);
    EXPECT_THAT(review_html(made), HasSubstr("200 pairs of 100 vehicles"));
}

TEST(Review, NeedsTenPointsForAChart) {
    Shop shop;
    const Review made = reviewed(shop.months(4));
    EXPECT_TRUE(made.charts.empty());
    EXPECT_EQ(made.too_few.at("cradle cradle A, offset up"), 8);
    EXPECT_THAT(review_html(made), HasSubstr("Fewer than 10 points: no chart"));
}

TEST(Review, FlagsWhatAPersonShouldLookAt) {
    Shop shop;
    auto all = shop.months(6);
    all[1].figures.stops = 1;
    all[1].figures.findings = "distance-mismatch not-locked";
    all[3].figures.locked = "no";
    all[5].state = {"returned", "R1", "tape it again"};
    all[7].state = {"accepted", "T4", ""};
    all[9].figures.vehicle = all[8].figures.vehicle = "unit 1";
    all.push_back(shop.measured(5, "1005", "as-left"));
    auto abandoned = shop.measured(9, "1100", "adjusted");
    abandoned.figures.yaw_agreement = "disagree";
    all.push_back(abandoned);
    const Review made = reviewed(all);
    const auto flags = flags_of(made);
    EXPECT_THAT(flags, Contains("TODAY Job 1000 has a stop and waits for a decision."));
    EXPECT_THAT(flags, Contains("Job 1001 was measured as left before its screws were locked."));
    EXPECT_THAT(flags, Contains("TODAY Job 1002 was returned by R1: tape it again"));
    EXPECT_THAT(flags, Contains("TODAY Job 1003 was reviewed by T4, who measured it."));
    EXPECT_THAT(flags, Contains("Vehicle unit 1 came back 3 days after job 1001."));
    EXPECT_THAT(flags, Contains("Job 1005 was measured as left 2 times until it passed."));
    EXPECT_THAT(flags,
                Contains("TODAY Job 1100: photos and tape disagree, and nobody has decided."));
    EXPECT_THAT(flags.front(), testing::StartsWith("TODAY"));
    EXPECT_EQ(made.outcomes.abandoned, 1);
    EXPECT_EQ(made.finding_jobs.at("distance-mismatch"), 1);
}

TEST(Review, AJobWithAStopOnTopIsForTodayUntilSomebodyDecides) {
    Shop shop;
    auto waiting = shop.measured(1, "7", "as-left");
    waiting.figures.headline = "stop";
    EXPECT_THAT(flags_of(reviewed({waiting})),
                Contains("TODAY Job 7: STOP stands on top of it, and nobody has decided."));
    auto decided = waiting;
    decided.state = {"accepted", "R1", "seen"};
    EXPECT_THAT(flags_of(reviewed({decided})), testing::IsEmpty());
    waiting.figures.headline = "not ready";
    EXPECT_THAT(flags_of(reviewed({waiting})), testing::IsEmpty());
}

TEST(Review, AJobsNumberLeadsToItsRowAndLinksSayWhereTheyLead) {
    Shop shop;
    auto row = shop.measured(1, "7/b", "as-left");
    row.figures.headline = "stop";
    const std::string page = review_html(reviewed({row}));
    EXPECT_THAT(page, HasSubstr("Job <a href=\"#job-7-2fb\">7/b</a>: STOP"));
    EXPECT_THAT(page, HasSubstr("<tr id=\"job-7-2fb\">"));
    EXPECT_THAT(page, HasSubstr("<a href=\"#today\">What to look at</a>"));
    EXPECT_THAT(page, Not(HasSubstr("shown here")));
}

TEST(Review, OfThreePairsItIsTooEarlyForLimits) {
    Shop shop;
    const auto page = [&](int jobs) { return review_html(reviewed(shop.months(jobs))); };
    EXPECT_THAT(page(2), testing::AllOf(HasSubstr("Too early to say more"),
                                        Not(HasSubstr("of differences lie from"))));
    EXPECT_THAT(page(30), testing::AllOf(Not(HasSubstr("Too early to say more")),
                                         HasSubstr("of differences lie from")));
}

TEST(Review, OnlyTheNewestRevisionCountsAndEarlierOnesAreAttempts) {
    Shop shop;
    auto all = shop.months(2);
    for (int revision = 2; revision <= 3; ++revision) {
        auto again = all[1];
        again.figures.revision = revision;
        again.figures.stage = "as-left";
        again.figures.job = "1000";
        all.push_back(again);
    }
    const Review made = reviewed(all);
    EXPECT_EQ(made.measurements, 3U);
    EXPECT_THAT(flags_of(made), Contains("Job 1000 was stored 3 times."));
}

TEST(Review, CountsEveryAttemptUntilAJobPassed) {
    Shop shop;
    std::vector<ReviewedSighting> all;
    const auto store = [&](ReviewedSighting row, int revision, const char* call) {
        row.figures.revision = revision;
        row.figures.vision_yaw_call = call;
        all.push_back(row);
        return row;
    };
    const auto found = store(shop.measured(1, "7", "as-found"), 1, "out of tolerance");
    const auto turned = store(shop.measured(1, "7", "adjusted"), 1, "in tolerance");
    const auto left = store(shop.measured(1, "7", "as-left"), 1, "out of tolerance");
    store(found, 2, "out of tolerance");
    store(shop.measured(1, "7", "adjusted"), 2, "in tolerance");
    store(left, 2, "out of tolerance");
    store(shop.measured(1, "7", "as-left"), 2, "in tolerance");
    const Review made = reviewed(all);
    ASSERT_EQ(made.jobs.size(), 1U);
    EXPECT_EQ(made.jobs[0].attempts, 3) << "two as left, one other stage measured anew";
    EXPECT_THAT(flags_of(made),
                Contains("Job 7 was measured as left 2 times until it passed; 1 measurement was of "
                         "other stages dropped from its sheet since."));
    EXPECT_EQ(made.outcomes.first_time, 0);
}

TEST(Review, ARevisionThatOnlyAddsAnswersIsNoAttempt) {
    Shop shop;
    auto all = shop.months(1);
    for (std::size_t i = 0; i < 2; ++i) {
        auto again = all[i];
        again.figures.revision = 2;
        again.figures.vision_yaw_left_deg.value() += 1e-6;  // another program's rounding
        all.push_back(again);
    }
    const Review made = reviewed(all);
    EXPECT_EQ(made.jobs.at(0).attempts, 1);
    EXPECT_THAT(flags_of(made), testing::IsEmpty());
    EXPECT_EQ(made.outcomes.first_time, 1);
}

TEST(Review, JobsOfOneVehicleUntilItPassedAreAttemptsAtOneRepair) {
    Shop shop;
    std::vector<ReviewedSighting> all{shop.measured(0, "20", "as-found"),
                                      shop.measured(2, "21", "as-left"),
                                      shop.measured(3, "22", "as-left")};
    for (auto& row : all) {
        row.figures.vehicle = "unit 7";
    }
    all[1].figures.vision_yaw_call = "too close to call";
    EXPECT_THAT(flags_of(reviewed(all)),
                testing::ElementsAre(
                    "Vehicle unit 7 was measured in 3 jobs, 3 attempts, until job 22 passed: "
                    "before it 20 (abandoned), 21 (not in tolerance)."));
    all[2].figures.taken_at = "2026:02:20 09:12:00";
    EXPECT_THAT(flags_of(reviewed(all)),
                testing::ElementsAre("Vehicle unit 7 came back 48 days after job 21."));
}

TEST(Review, RepeatedReadingsThatAreAllAlikeAreFlaggedAndCountedByTechnician) {
    Shop shop;
    auto all = shop.months(4);  // T3 and T4 by turns
    for (auto& row : all) {
        row.figures.repeated_readings = 4;
        row.figures.readings_alike = row.figures.technician == "T4" ? 4 : 1;
    }
    all[2].figures.readings_alike = 3;
    const Review made = reviewed(all);
    ASSERT_EQ(made.readings.size(), 2U);
    EXPECT_EQ(made.readings[0].technician, "T4");
    EXPECT_EQ(made.readings[0].alike, 15);
    EXPECT_EQ(made.readings[1].readings, 16);
    EXPECT_EQ(made.readings[1].alike, 4);
    EXPECT_THAT(flags_of(made),
                testing::ElementsAre("Job 1003: all 8 repeated readings by tape and level are "
                                     "exactly those of the pass before."));
}

TEST(Review, TellsWhatIsPastItsDate) {
    Shop shop;
    auto all = shop.months(20);
    for (std::size_t i = 0; i < all.size(); ++i) {
        all[i].figures.target = "board A";
        all[i].figures.camera_date = i < 30 ? "2025-01-10" : "2026-01-10";  // checked anew
        all[i].figures.target_checked_on = "2025-01-10";
    }
    const Review made = reviewed(all);
    ASSERT_EQ(made.equipment.size(), 3U);
    EXPECT_EQ(made.equipment[0].kind, "board");
    EXPECT_EQ(made.equipment[0].age_days(), 375);
    EXPECT_EQ(made.equipment[0].past_date, 20) << "from the 11th on";
    EXPECT_FALSE(made.equipment[1].is_past_date()) << "the phone was checked anew";
    EXPECT_EQ(made.equipment[1].past_date, 10);
    EXPECT_EQ(made.equipment[2].dated, 0) << "the cradle's file does not tell";
    EXPECT_THAT(
        flags_of(made),
        testing::ElementsAre("The board board A was past its date when last used: 375 days old."));
    const std::string page = review_html(made);
    EXPECT_THAT(page, HasSubstr("375 PAST ITS DATE"));
    EXPECT_THAT(page, HasSubstr("not told"));
}

TEST(Review, RatesFirstTimeRightWithItsInterval) {
    Shop shop;
    std::vector<ReviewedSighting> all;
    for (int job = 0; job < 10; ++job) {
        const std::string name = fmt::format("{}", 100 + job);
        all.push_back(shop.measured(job, name, "as-found"));
        for (int round = 0; round < (job < 7 ? 1 : 2); ++round) {
            all.push_back(shop.measured(job, name, "adjusted"));
        }
        if (job < 9) {
            all.push_back(shop.measured(job, name, "as-left"));
        }
    }
    const JobOutcomes outcomes = reviewed(all).outcomes;
    EXPECT_EQ(outcomes.passed, 9);
    EXPECT_EQ(outcomes.abandoned, 1);
    EXPECT_EQ(outcomes.passed_after_rounds.at(1), 7);
    EXPECT_EQ(outcomes.passed_after_rounds.at(2), 2);
    EXPECT_EQ(outcomes.first_time, 7);
    // 7 of 10: Clopper & Pearson's interval, as R's binom.test(7, 10) prints it (from memory).
    EXPECT_NEAR(outcomes.first_time_share_95.low, 0.3475471, 1e-6);
    EXPECT_NEAR(outcomes.first_time_share_95.high, 0.9332605, 1e-6);
}

/// Three vehicles, measured as found three times by each of two technicians.
std::vector<ReviewedSighting> repeated_jobs(Shop& shop) {
    std::vector<ReviewedSighting> all;
    int job = 0;
    for (const double truth : {-0.4, 0.1, 0.5}) {
        for (const char* technician : {"T3", "T4"}) {
            for (int trial = 0; trial < 3; ++trial) {
                auto row = shop.measured(1, fmt::format("g{}", ++job), "as-found");
                row.figures.vehicle = fmt::format("setting at {}", truth);
                row.figures.technician = technician;
                row.figures.vision_yaw_left_deg = truth + 0.01 * trial;
                row.figures.tolerance_yaw_deg = 0.3;
                all.push_back(row);
            }
        }
    }
    return all;
}

TEST(RepeatedMeasurements, OfStoredJobsMakeAGaugeStudy) {
    Shop shop;
    auto all = repeated_jobs(shop);
    all.push_back(all.back());  // a fourth by one of both
    all.back().figures.job = "g0";
    all.push_back(shop.measured(2, "other", "as-found"));  // measured once
    const auto file = repeated_measurements(measurements(all), {}, "photos-yaw");
    EXPECT_EQ(file.readings.size(), 18U);
    EXPECT_DOUBLE_EQ(file.tolerance_width_deg.value(), 0.6);
    EXPECT_THAT(file.left_out, testing::Contains(HasSubstr("1 vehicle ")));
    EXPECT_THAT(file.left_out, testing::Contains(HasSubstr("1 later measurement,")));
    const GaugeStudy study = gauge_study(file.readings, file.tolerance_width_deg);
    EXPECT_EQ(study.anova.parts, 3);
    EXPECT_EQ(study.anova.trials, 3);
    // Every cell holds 0, 0.01 and 0.02 deg about the part: a variance of 1e-4 within.
    EXPECT_NEAR(study.by_anova.repeatability.standard_deviation.value, 0.01, 0.001);
    EXPECT_THAT(gauge_html(file, study), HasSubstr("nothing was turned between them"));
}

TEST(RepeatedMeasurements, ThatAreNotCrossedAreRefused) {
    Shop shop;
    const auto refused = [&](const std::vector<ReviewedSighting>& rows) -> std::string {
        try {
            repeated_measurements(measurements(rows), {}, "photos-yaw");
        } catch (const InputError& error) {
            return error.what();
        }
        return "accepted";
    };
    EXPECT_THAT(refused(shop.months(10)), HasSubstr("no two vehicles"));
    auto mixed = repeated_jobs(shop);
    mixed[4].figures.tolerance_yaw_deg = 0.5;
    EXPECT_THAT(refused(mixed), HasSubstr("different tolerances"));
    EXPECT_THAT(refused({}), HasSubstr("no two vehicles"));
}

TEST(Review, SelectsByDayAndByName) {
    Shop shop;
    const auto all = shop.months(20);
    EXPECT_EQ(reviewed(all, {.from = "2026-01-03", .to = "2026-01-05"}).jobs.size(), 3U);
    ReviewSelection by_technician;
    by_technician.technician = "T3";
    const Review made = reviewed(all, by_technician);
    EXPECT_EQ(made.jobs.size(), 10U);
    EXPECT_THAT(review_html(made), HasSubstr("Only: technician T3."));
    by_technician.technician = "T9";
    try {
        reviewed(all, by_technician);
        ADD_FAILURE() << "an empty page would say that nothing needs a person";
    } catch (const InputError& error) {
        EXPECT_THAT(error.what(), HasSubstr("give one of: T3, T4"));
    }
    EXPECT_THROW(check_selection({.from = "2026-02-30"}), InputError);
    EXPECT_THROW(check_selection({.from = "2026-02-03", .to = "2026-02-01"}), InputError);
    EXPECT_NO_THROW(check_selection({}));
}

TEST(Review, ReadsFromAStoreAllThatItLooksAt) {
    Shop shop;
    const Scratch scratch;
    const auto address = parse_store_address((scratch.folder() / "s.sqlite").string());
    Store store(address, usual_shop, Access::write);
    for (int day = 0; day < 12; ++day) {
        JobRecord record = test::small_record(fmt::format("{}", 1000 + day));
        record.figures = {shop.measured(day, record.job, "as-left").figures};
        SightingFigures& f = record.figures.front();
        f.sighting = 1;
        f.target = "board";
        f.target_checked_on = f.camera_date = f.cradle_date = "2025-02-03";
        f.tolerance_yaw_deg = f.tolerance_pitch_deg = day % 3 == 0 ? 0.1 : 1.5;
        f.stops = day % 4 == 0 ? 1 : 0;
        f.findings = "blunder";
        f.repeated_readings = f.readings_alike = 6;
        f.check_standard = day < 6 ? "wall plate" : "";
        f.reading_scatter = "distance 1 0 1.5 1.25 5 5000";
        test::add_one(store, record);
    }
    const auto read = [&](const FigureColumns& columns) {
        Measurements all;
        store.each_sighting(
            false, [&](const SightingFigures& figures) { all.add(figures, {}); }, columns);
        return review_json(review(std::move(all), {}), {});
    };
    EXPECT_LT(measurement_columns().size(), figure_columns().size());
    EXPECT_EQ(read(measurement_columns()), read(figure_columns()));
}

TEST(Review, OfNothingIsAPageThatSaysSo) {
    const Review made = review({}, {});
    EXPECT_THAT(review_html(made), HasSubstr("no measurements"));
    EXPECT_EQ(Json::parse(review_json(made, {})).at("jobs_count"), 0);
}

TEST(Review, ThePageStaysSmallAndNeedsNoNetwork) {
    Shop shop;
    auto all = shop.months(20000);
    for (std::size_t i = 0; i < all.size(); ++i) {  // as many charts as there can be, all drifting
        SightingFigures& f = all[i].figures;
        f.camera = fmt::format("phone {}", i % 5);
        f.cradle = fmt::format("cradle {}", i % 5);
        f.bay = fmt::format("bay {}", i % 5);
        f.technician = fmt::format("T{}", i % 5);
        f.target = fmt::format("board {}", i);
        const double drift_deg = 1e-4 * static_cast<double>(i);
        for (auto* value : {&f.vision_yaw_left_deg, &f.vision_pitch_up_deg,
                            &f.cradle_offset_left_deg, &f.cradle_offset_up_deg}) {
            **value += drift_deg;
        }
    }
    const Review made = reviewed(all);
    EXPECT_EQ(made.charts.size(), 40U);
    const std::string page = review_html(made);
    EXPECT_LT(page.size(), 3U * 1024 * 1024);
    EXPECT_THAT(page, Not(HasSubstr("<script")));
    EXPECT_THAT(page, Not(HasSubstr("src=")));
    EXPECT_THAT(page, Not(HasSubstr("nan")));
}

TEST(Review, EscapesWhatComesFromASheet) {
    Shop shop;
    auto all = shop.months(3);
    for (auto& row : all) {
        row.figures.technician = "<i>T</i>";
        row.state = {"returned", "R<1", "a & b"};
    }
    const std::string page = review_html(reviewed(all));
    EXPECT_THAT(page, Not(HasSubstr("<i>T")));
    EXPECT_THAT(page, HasSubstr("R&lt;1: a &amp; b"));
}

TEST(Review, JsonHoldsTheNumbersOfThePage) {
    Shop shop;
    const Review made = reviewed(shop.months(30));
    const Json json = Json::parse(review_json(made, review_tables(made)));
    EXPECT_EQ(json.at("schema"), "squaresight/review/1");
    EXPECT_EQ(json.at("yaw").at("limits").at("pairs"), 60);
    EXPECT_DOUBLE_EQ(json.at("yaw").at("limits").at("bias_deg").at("value"),
                     made.yaw.limits->bias.value);
    EXPECT_EQ(json.at("jobs").size(), 30U);
    EXPECT_FALSE(json.at("charts").empty());
    const std::string page = review_html(made);
    std::size_t tables = 0;
    for (auto at = page.find("<table"); at != std::string::npos; at = page.find("<table", at + 1)) {
        ++tables;
    }
    EXPECT_EQ(json.at("tables").size(), tables);
    for (const auto& table : json.at("tables")) {
        EXPECT_THAT(page, HasSubstr("<td>" + table.at("rows").at(0).at(0).get<std::string>()));
    }
}

/// Jobs whose tapes scatter twice what their sheets state, and whose distance scatters as stated.
std::vector<ReviewedSighting> jobs_with_wide_tapes(Shop& shop) {
    auto all = shop.months(40);
    for (std::size_t i = 0; i < all.size(); i += 2) {  // with the first stage alone
        all[i].figures.reading_scatter = fmt::format(
            "tapes 2 {} 4 1 3 2500; distance 1 0 0.5 0.5 {} 5000; "
            "floor_rise 1 0 0.01 0.05 0.5 0.4; plumb 1 0 1.9 0.5 2 6000",
            i == 0 ? 1 : 0, i < 40 ? 8 : 5);
    }
    return all;
}

const KindLimits& kind_of(const Review& made, const std::string& kind) {
    const auto& kinds = made.limits.at(0).kinds;
    return *std::find_if(kinds.begin(), kinds.end(),
                         [&](const KindLimits& one) { return one.kind == kind; });
}

TEST(ReviewLimits, OfReadingsAreCalledAndNewOnesOffered) {
    Shop shop;
    const Review made = reviewed(jobs_with_wide_tapes(shop));
    ASSERT_EQ(made.limits.size(), 1U);
    EXPECT_EQ(made.limits[0].bay, "main bay");
    const KindLimits& tapes = kind_of(made, "tapes");
    EXPECT_EQ(&tapes, &made.limits[0].kinds.front()) << "the largest factor first";
    EXPECT_EQ(tapes.sums.readings, 80U);
    EXPECT_EQ(tapes.set_aside, 1);
    EXPECT_NEAR(tapes.test->factor.value, 2, 1e-6);
    EXPECT_EQ(tapes.test->call, StatedUncertainty::too_small);
    EXPECT_NEAR(tapes.offered().value(), 6, 1e-9);
    EXPECT_EQ(kind_of(made, "distance").test->call, StatedUncertainty::as_stated);
    EXPECT_EQ(kind_of(made, "distance").limit, 5) << "as the newest job states it";
    EXPECT_FALSE(kind_of(made, "distance").offered());
    EXPECT_FALSE(kind_of(made, "floor_rise").test) << "2 degrees of freedom";
    EXPECT_THAT(tapes.shares_with, testing::ElementsAre("distance"));
    EXPECT_THAT(kind_of(made, "plumb").shares_with, testing::IsEmpty());
}

TEST(ReviewLimits, AreOfferedAsLinesThatABayFileTakes) {
    Shop shop;
    const Review made = reviewed(jobs_with_wide_tapes(shop));
    const KindLimits& plumb = kind_of(made, "plumb");
    KindLimits distance = kind_of(made, "distance");
    const std::string lines =
        "  " + plumb.bay_line(*plumb.offered()) + "\n  " + distance.bay_line(12.5) + "\n";
    EXPECT_STREQ(plumb.bay_map(), "setup");
    SheetSetup setup = unmeasured_setup();
    read_setup(Entry::parse("schema: x/1\nsetup:\n" + lines, "bay.yaml", "x/1").at("setup"), setup);
    EXPECT_DOUBLE_EQ(setup.line_marks.value().base_mm, 6000);
    EXPECT_DOUBLE_EQ(setup.line_marks->plumb_limit_mm, 3.9);
    EXPECT_DOUBLE_EQ(setup.readings.distance_mm.value, 5000);
    EXPECT_NEAR(setup.readings.distance_mm.standard_uncertainty, 12.5 / std::sqrt(3.0), 1e-9);
}

TEST(ReviewLimits, AreRoundedUpAndTighterOnesOfferedOnlyWhereTheyAreTighter) {
    KindLimits kind;
    kind.kind = "face_level";
    kind.limit = 0.1;
    kind.test = scatter_test(4 * 40, 40);
    kind.test->factor.value = 1.513;
    EXPECT_NEAR(kind.offered().value(), 0.16, 1e-12);
    EXPECT_EQ(kind.bay_line(0.16), "face: 0.16 deg");
    kind.test->call = StatedUncertainty::too_large;
    kind.test->factor.value = 0.995;
    EXPECT_FALSE(kind.offered()) << "0.0995 deg is 0.1 deg in two digits";
    kind.test->factor.value = 0.5;
    EXPECT_NEAR(kind.offered().value(), 0.05, 1e-12);
}

TEST(ReviewLimits, StandOnThePageAndInJsonByTheirCodes) {
    Shop shop;
    const Review made = reviewed(jobs_with_wide_tapes(shop));
    const std::string page = review_html(made);
    EXPECT_THAT(page, HasSubstr("<section id=\"limits\">"));
    EXPECT_THAT(page, HasSubstr("length: 2500 mm +/- 6 mm"));
    EXPECT_THAT(review_text(made),
                HasSubstr("Tapes (or distance to the board) scatter 2.0 times what you state."));
    const Json json = Json::parse(review_json(made, review_tables(made)));
    const Json& tapes = json.at("limits").at(0).at("kinds").at(0);
    EXPECT_EQ(json.at("limits").at(0).at("bay"), "main bay");
    EXPECT_EQ(tapes.at("kind"), "tapes");
    EXPECT_EQ(tapes.at("call"), "stated too small");
    EXPECT_EQ(tapes.at("unit"), "mm");
    EXPECT_EQ(tapes.at("shares_with"), Json::array({"distance"}));
    EXPECT_EQ(tapes.at("stated_limit"), 3);
    EXPECT_DOUBLE_EQ(tapes.at("offered_limit"), 6);
    EXPECT_EQ(tapes.at("bay_map"), "setup: each of tapes");
    EXPECT_LT(tapes.at("scatter").at("factor").at("interval_95").at(0), 2);
    const Json& early = json.at("limits").at(0).at("kinds").back();
    EXPECT_EQ(early.at("kind"), "floor_rise");
    EXPECT_EQ(early.at("call"), "too early");
    EXPECT_TRUE(early.at("scatter").is_null() && early.at("offered_limit").is_null());
}

TEST(ReviewLimits, AreThoseOfEachBayAndOfNewestRevisionsAlone) {
    Shop shop;
    auto all = jobs_with_wide_tapes(shop);
    auto other = all[0];
    other.figures.job = "2000";
    other.figures.bay = "";
    all.push_back(other);
    auto again = all[2];
    again.figures.revision = 2;
    again.figures.reading_scatter = "";
    all.push_back(again);
    const Review made = reviewed(all);
    ASSERT_EQ(made.limits.size(), 2U);
    EXPECT_EQ(made.limits[0].bay, "main bay") << "most readings first";
    EXPECT_EQ(kind_of(made, "tapes").sums.readings, 78U);
    EXPECT_EQ(made.limits[1].kinds.at(0).sums.readings, 1U);
    EXPECT_THAT(review_html(made), HasSubstr("no bay named"));
}

/// A fixed face that was measured each week, and a shop's jobs beside it.
std::vector<ReviewedSighting> weeks(Shop& shop, int count, double last_off_deg) {
    auto all = shop.months(3);
    for (int week = 0; week < count; ++week) {
        auto row = shop.measured(7 * week, fmt::format("check {}", week), "as-found");
        row.figures.vehicle = "";
        row.figures.check_standard = "wall plate";
        row.figures.vision_yaw_left_deg = 0.4 + 0.05 * std::sin(2.1 * week);
        row.figures.vision_pitch_up_deg = -0.2 + 0.05 * std::cos(2.1 * week);
        all.push_back(row);
    }
    all.back().figures.vision_yaw_left_deg.value() += last_off_deg;
    return all;
}

TEST(ReviewChecks, AreHeldAgainstTheirFirstMeasurementsAndAreNoVehicles) {
    Shop shop;
    const auto all = weeks(shop, 20, 0);
    const Review made = reviewed(all);
    EXPECT_EQ(made.jobs.size(), 3U);
    EXPECT_EQ(made.measurements, 6U);
    EXPECT_EQ(made.yaw.difference_deg.size(), 6U);
    ASSERT_EQ(made.checks.size(), 2U);
    EXPECT_EQ(made.checks[0].name, "wall plate");
    EXPECT_EQ(made.checks[0].values_deg.size(), 20U);
    EXPECT_FALSE(made.checks[0].left_its_limits());
    EXPECT_NEAR(made.checks[0].check->accepted, 0.4, 0.02);
    EXPECT_NEAR(made.checks[1].check->accepted, -0.2, 0.02);
    const Review later = reviewed(all, {.from = "2026-04-01"});
    EXPECT_EQ(later.checks.at(0).check->accepted, made.checks[0].check->accepted)
        << "what it is held against does not move with the days that are selected";
    EXPECT_THAT(flags_of(made), testing::IsEmpty());
}

TEST(ReviewChecks, ThatLeftTheirLimitsAreForTodayAndNameTheLastGoodOne) {
    Shop shop;
    const Review made = reviewed(weeks(shop, 20, 1));
    EXPECT_THAT(flags_of(made),
                Contains("TODAY Check standard wall plate left its limits, side to side, in job "
                         "check 19: sign no job since 2026-05-15."));
    const Json json = Json::parse(review_json(made, review_tables(made)));
    const Json& yaw = json.at("check_standards").at(0);
    EXPECT_EQ(yaw.at("name"), "wall plate");
    EXPECT_EQ(yaw.at("call"), "left its limits");
    EXPECT_EQ(yaw.at("sign_no_job_since"), "2026-05-15");
    EXPECT_EQ(yaw.at("accepted_from"), 10);
    EXPECT_EQ(yaw.at("rules_broken").at(0).at("rule"), "beyond three standard deviations");
    EXPECT_EQ(json.at("check_standards").at(1).at("call"), "within its limits");
    const std::string page = review_html(made);
    EXPECT_THAT(page, HasSubstr("<section id=\"checks\">"));
    EXPECT_THAT(page, HasSubstr("check standard wall plate, side to side: weighted mean"));
    EXPECT_THAT(page, Not(HasSubstr("nan")));
}

TEST(ReviewChecks, UnderAStopDoNotCountAndFourAreTooEarly) {
    Shop shop;
    auto all = weeks(shop, 5, 0);
    all.back().figures.stops = 1;
    const Review made = reviewed(all);
    EXPECT_EQ(made.checks.at(0).left_out, 1);
    EXPECT_FALSE(made.checks[0].check);
    const Json json = Json::parse(review_json(made, {}));
    EXPECT_EQ(json.at("check_standards").at(0).at("call"), "too early");
    EXPECT_THAT(review_html(made), HasSubstr("4 of the 5 measurements"));
}

const char* const small_study = R"(schema: squaresight/gauge-study/1
name: spring study
quantity: side-to-side aim
tolerance: 0.3 deg
readings:
  - {part: unit 1, appraiser: T1, values: [0.10 deg, 0.11 deg]}
  - {part: unit 1, appraiser: T2, values: [0.12 deg, 0.10 deg]}
  - {part: unit 2, appraiser: T1, values: [0.52 deg, 0.55 deg]}
  - {part: unit 2, appraiser: T2, values: [0.50 deg, 0.54 deg]}
  - {part: unit 3, appraiser: T1, values: [-0.31 deg, -0.30 deg]}
  - {part: unit 3, appraiser: T2, values: [-0.28 deg, -0.33 deg]}
)";

TEST(GaugeFile, IsReadSolvedAndTold) {
    const Scratch scratch;
    const auto file = load_gauge_study(scratch.write("study.yaml", small_study));
    ASSERT_EQ(file.readings.size(), 12U);
    EXPECT_DOUBLE_EQ(file.tolerance_width_deg.value(), 0.6);
    const GaugeStudy study = gauge_study(file.readings, file.tolerance_width_deg);
    EXPECT_EQ(Json::parse(gauge_json(file, study, {})).at("appraisers"), 2);
    const std::string page = gauge_html(file, study);
    EXPECT_THAT(page, HasSubstr("3 parts, 2 appraisers, 2 trials each"));
    EXPECT_THAT(page, HasSubstr("% of the tolerance"));
    EXPECT_THAT(page, testing::ContainsRegex("Of the tolerance: .*acceptable.*chapter II D"));
    EXPECT_THAT(page, HasSubstr("by average and range."));
    EXPECT_THAT(gauge_text(file, study),
                testing::ContainsRegex("[0-9]+ categories of parts apart .95 %: [0-9]+ to [0-9]+"));
}

TEST(GaugeFile, WrongOnesAreRefused) {
    const Scratch scratch;
    const auto refused = [&](const std::string& from, const std::string& to) {
        std::string text = small_study;
        text.replace(text.find(from), from.size(), to);
        try {
            const auto file = load_gauge_study(scratch.write("bad.yaml", text));
            gauge_study(file.readings, file.tolerance_width_deg);
        } catch (const InputError& error) {
            return std::string(error.what());
        }
        return std::string("accepted");
    };
    EXPECT_THAT(refused("0.10 deg,", "0.10 mm,"), HasSubstr("bad.yaml"));
    EXPECT_THAT(refused("appraiser: T1", "person: T1"), HasSubstr("person"));
    EXPECT_THAT(refused("[0.10 deg, 0.11 deg]", "[0.10 deg]"), Not(HasSubstr("accepted")));
    EXPECT_THAT(refused("[0.10 deg, 0.11 deg]", "[]"), Not(HasSubstr("accepted")));
    EXPECT_THAT(refused("tolerance: 0.3 deg", "tolerance: -1 deg"), Not(HasSubstr("accepted")));
}

}  // namespace
}  // namespace squaresight

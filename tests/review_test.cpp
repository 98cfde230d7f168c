#include "review/review.h"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <random>

#include "report/review_report.h"
#include "support/scratch.h"
#include "units/error.h"

namespace squaresight {
namespace {

using testing::Contains;
using testing::HasSubstr;
using testing::Not;
using Json = nlohmann::json;

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
    const Review made = review(shop.months(100), {});
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
    EXPECT_EQ(made.yaw.agree, 200);
    EXPECT_EQ(made.yaw.calls.count(Call::in_tolerance, Call::too_close_to_call), 200U);
    EXPECT_EQ(made.yaw.calls.contradicting(), 0U);
    EXPECT_THAT(flags_of(made), testing::IsEmpty());
    EXPECT_EQ(made.right_after_rounds.at(0), 100);
}

TEST(Review, FindsABiasAndUncertaintiesThatAreStatedTooSmall) {
    Shop shop;
    shop.bias_deg = 0.15;
    shop.stated_over_true = 0.5;
    const Review made = review(shop.months(100), {});
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
    const Review made = review(all, {});
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

TEST(Review, NeedsTenPointsForAChart) {
    Shop shop;
    const Review made = review(shop.months(4), {});
    EXPECT_TRUE(made.charts.empty());
    EXPECT_EQ(made.too_few.at("cradle cradle A"), 8);
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
    all[9].figures.vehicle = all[8].figures.vehicle = "unit 0";
    all.push_back(shop.measured(5, "1005", "as-left"));
    auto abandoned = shop.measured(9, "1100", "adjusted");
    abandoned.figures.yaw_agreement = "disagree";
    all.push_back(abandoned);
    const Review made = review(all, {});
    const auto flags = flags_of(made);
    EXPECT_THAT(flags, Contains("TODAY Job 1000 has a stop and waits for a decision."));
    EXPECT_THAT(flags, Contains("Job 1001 was measured as left before its screws were locked."));
    EXPECT_THAT(flags, Contains("TODAY Job 1002 was returned by R1: tape it again"));
    EXPECT_THAT(flags, Contains("TODAY Job 1003 was reviewed by T4, who measured it."));
    EXPECT_THAT(flags, Contains("Vehicle unit 0 came back 4 days after job 1000."));
    EXPECT_THAT(flags, Contains("Job 1005 was measured as left 2 times until it passed."));
    EXPECT_THAT(flags,
                Contains("TODAY Job 1100: photos and tape disagree, and nobody has decided."));
    EXPECT_THAT(flags.front(), testing::StartsWith("TODAY"));
    EXPECT_EQ(made.abandoned, 1);
    EXPECT_EQ(made.finding_jobs.at("distance-mismatch"), 1);
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
    const Review made = review(all, {});
    EXPECT_EQ(made.measurements, 3U);
    EXPECT_THAT(flags_of(made), Contains("Job 1000 was stored 3 times."));
}

TEST(Review, SelectsByDayAndByName) {
    Shop shop;
    const auto all = shop.months(20);
    EXPECT_EQ(review(all, {.from = "2026-01-03", .to = "2026-01-05"}).jobs.size(), 3U);
    ReviewSelection by_technician;
    by_technician.technician = "T3";
    const Review made = review(all, by_technician);
    EXPECT_EQ(made.jobs.size(), 10U);
    EXPECT_THAT(review_html(made), HasSubstr("Only: technician T3."));
    EXPECT_THROW(check_selection({.from = "2026-02-30"}), InputError);
    EXPECT_THROW(check_selection({.from = "2026-02-03", .to = "2026-02-01"}), InputError);
    EXPECT_NO_THROW(check_selection({}));
}

TEST(Review, OfNothingIsAPageThatSaysSo) {
    const Review made = review({}, {});
    EXPECT_THAT(review_html(made), HasSubstr("no measurements"));
    EXPECT_EQ(Json::parse(review_json(made)).at("jobs_count"), 0);
}

TEST(Review, ThePageStaysSmallAndNeedsNoNetwork) {
    Shop shop;
    const Review made = review(shop.months(20000), {});
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
    const std::string page = review_html(review(all, {}));
    EXPECT_THAT(page, Not(HasSubstr("<i>T")));
    EXPECT_THAT(page, HasSubstr("R&lt;1: a &amp; b"));
}

TEST(Review, JsonHoldsTheNumbersOfThePage) {
    Shop shop;
    const Review made = review(shop.months(30), {});
    const Json json = Json::parse(review_json(made));
    EXPECT_EQ(json.at("schema"), "squaresight/review/1");
    EXPECT_EQ(json.at("yaw").at("limits").at("pairs"), 60);
    EXPECT_DOUBLE_EQ(json.at("yaw").at("limits").at("bias_deg").at("value"),
                     made.yaw.limits->bias.value);
    EXPECT_EQ(json.at("jobs").size(), 30U);
    EXPECT_FALSE(json.at("charts").empty());
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
    EXPECT_EQ(Json::parse(gauge_json(file, study)).at("appraisers"), 2);
    const std::string page = gauge_html(file, study);
    EXPECT_THAT(page, HasSubstr("3 parts, 2 appraisers, 2 trials each"));
    EXPECT_THAT(page, HasSubstr("% of the tolerance"));
    EXPECT_THAT(gauge_text(file, study), HasSubstr("categories of parts"));
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

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "agreement/gauge_study.h"
#include "support/drawn_gauge_study.h"

namespace squaresight {
namespace {

bool holds(const WithInterval& figure, double truth) {
    return figure.interval_95.low <= truth && truth <= figure.interval_95.high;
}

// 200 studies: three standard errors of a count of 95 % are 4.6 %.
TEST(GaugeStudy, IntervalsHoldTheTruthAsOftenAsTheySay) {
    constexpr int studies = 200;
    std::mt19937_64 engine(31);
    const double repeatability = 0.2, appraiser = 0.2, interaction = 0.25;
    const double reproducibility = std::hypot(appraiser, interaction);
    const double gauge = std::hypot(repeatability, reproducibility);
    int of_repeatability = 0, of_gauge = 0, of_part = 0, of_share = 0, of_categories = 0;
    for (int k = 0; k < studies; ++k) {
        const GaugeResult result =
            gauge_study(test::drawn_gauge_study(repeatability, appraiser, interaction, engine), {})
                .by_anova;
        of_repeatability += holds(result.repeatability.standard_deviation, repeatability);
        of_gauge += holds(result.gauge.standard_deviation, gauge);
        of_part += holds(result.part.standard_deviation, 1);
        of_share += holds(result.gauge.percent_of_variation, 100 * gauge / std::hypot(gauge, 1));
        of_categories += holds(result.distinct_categories_unrounded, 1.41 / gauge);
    }
    for (const int held : {of_repeatability, of_gauge, of_part, of_share, of_categories}) {
        EXPECT_GE(held / static_cast<double>(studies), 0.904);
    }
    // Of one mean square as often as it says, and no more.
    EXPECT_LE(of_repeatability / static_cast<double>(studies), 0.99);
}

}  // namespace
}  // namespace squaresight

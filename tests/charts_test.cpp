#include "report/charts.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace squaresight {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::Not;

constexpr std::size_t kibibyte = 1024;

TEST(PointChart, GroupsPointsInItsTable) {
    PointChart chart{"difference over mean", "mean, deg", "difference, deg", {}, {}, {}};
    for (int i = 0; i < 20; ++i) {
        chart.points.push_back({0.1 * i, i % 2 == 0 ? 0.5 : -0.5});
    }
    chart.levels = {{0.0, "bias 0.000", false}, {1.2, "limit 1.200", true}};
    const Chart drawn = point_chart(chart);
    ASSERT_EQ(drawn.table.rows.size(), 10U);
    EXPECT_THAT(drawn.table.rows.front(),
                ElementsAre("0.000", "0.100", "2", "0.000", "-0.500", "0.500"));
    EXPECT_THAT(drawn.svg, HasSubstr("bias 0.000"));
    EXPECT_THAT(drawn.svg, HasSubstr(R"(aria-label="difference over mean")"));
    EXPECT_THAT(drawn.svg, Not(HasSubstr("nan")));
}

TEST(PointChart, LeavesOutWhatIsNoNumberAndStandsWithoutPoints) {
    PointChart chart{"t", "x", "y", {{std::nan(""), 1}, {1, INFINITY}, {2, 3}}, {}, {}};
    EXPECT_EQ(point_chart(chart).table.rows.size(), 1U);
    chart.points.clear();
    const Chart empty = point_chart(chart);
    EXPECT_TRUE(empty.table.rows.empty());
    EXPECT_THAT(empty.svg, Not(HasSubstr("nan")));
    EXPECT_THAT(empty.svg, Not(HasSubstr("inf")));
}

TEST(PointChart, DrawsOfALineWhatLiesWithinTheFrame) {
    // The frame is 0 to 10 across with margins of 0.6, -1 to 1 up with margins of 0.12.
    PointChart chart{"t", "x", "y", {{0, -1}, {10, 1}}, {}, {{-5, 1, "equal", true}}};
    const std::string crossing = point_chart(chart).svg;
    // y = x - 5 enters at x = 3.88 and leaves at x = 6.12; the frame is 414 px wide, from 66 on.
    EXPECT_THAT(crossing, HasSubstr("M231.6 330.0L314.4 16.0"));
    chart.slopes = {{-5, 1e-3, "beside", true}};
    EXPECT_THAT(point_chart(chart).svg, Not(HasSubstr(R"(stroke-dasharray="7 5")")));
    chart.slopes = {{0, 0, "level", true}};
    EXPECT_THAT(point_chart(chart).svg, HasSubstr("M66.0 173.0L480.0 173.0"));
}

TEST(PointChart, EscapesWords) {
    const Chart drawn =
        point_chart({"<t>", "a & b", "\"y\"", {{1, 2}}, {{2, "<level>", false}}, {}});
    EXPECT_THAT(drawn.svg, HasSubstr("&lt;level&gt;"));
    EXPECT_THAT(drawn.svg, Not(HasSubstr("<level>")));
    EXPECT_THAT(drawn.svg, HasSubstr("&lt;t&gt;"));
}

TEST(Charts, StaySmallWhateverTheNumber) {
    PointChart points{"t", "x", "y", {}, {}, {}};
    OrderChart order;
    order.title = "t";
    for (int i = 0; i < 300000; ++i) {
        const double value = std::sin(12.9898 * i) + std::sin(78.233 * i);
        points.points.push_back({value, std::cos(4.1 * i)});
        order.values.push_back(value);
        if (i % 7 == 0) {
            order.broken.push_back({static_cast<std::size_t>(i), "beyond a limit"});
        }
    }
    order.name_of = [](std::size_t) { return std::string("2026-01-01"); };
    order.lower = {-2};
    order.upper = {2};
    EXPECT_LT(point_chart(points).svg.size(), 160 * kibibyte);
    const Chart drawn = order_chart(order);
    EXPECT_LT(drawn.svg.size(), 20 * kibibyte);
    ASSERT_EQ(drawn.table.rows.size(), 12U);
    EXPECT_EQ(drawn.table.rows.front()[2], "25000");
    EXPECT_THAT(drawn.table.rows.front()[6], HasSubstr("more"));
}

TEST(OrderChart, NamesThePointsThatBrokeARule) {
    OrderChart chart;
    chart.title = "offset of the cradle";
    chart.y_words = "deg";
    for (int i = 0; i < 8; ++i) {
        chart.values.push_back(i == 5 ? 4.0 : 0.1 * i);
    }
    chart.name_of = [](std::size_t point) { return "job " + std::to_string(point + 1); };
    chart.centre = 0.2;
    chart.upper = {1, 1, 1, 1.1, 1.1, 1.1, 1.1, 1.1};
    chart.broken = {{5, "beyond a limit"}};
    const Chart drawn = order_chart(chart);
    ASSERT_EQ(drawn.table.rows.size(), 8U);
    EXPECT_EQ(drawn.table.rows[5].back(), "job 6: beyond a limit");
    EXPECT_EQ(drawn.table.rows[4].back(), "");
    EXPECT_THAT(drawn.svg, HasSubstr("limit 1.10"));
}

TEST(CountChart, SetsTheExpectedBesideTheCounted) {
    const Chart drawn = count_chart({"E_n", "E_n", {0, 0.5, 1}, {7, 2, 1}, {6.8, 2.7, 0.5}});
    ASSERT_EQ(drawn.table.rows.size(), 3U);
    EXPECT_THAT(drawn.table.head, ElementsAre("E_n from", "to", "number", "to be expected"));
    EXPECT_THAT(drawn.table.rows[0], ElementsAre("0.000", "0.500", "7", "6.8"));
    EXPECT_THAT(drawn.table.rows[2], ElementsAre("1.00", "and beyond", "1", "0.5"));
}

TEST(BarChart, MarksTheLimitAndTheIntervals) {
    BarChart chart{
        "ages",
        "days",
        {{"phone <A>", 400, "400 PAST ITS DATE", {}}, {"board", 90, "90", std::array{80.0, 100.0}}},
        ChartLevel{365, "a year", true},
        {{"name"}, {{"phone <A>"}, {"board"}}}};
    const Chart drawn = bar_chart(chart);
    EXPECT_THAT(drawn.svg, HasSubstr("phone &lt;A&gt;"));
    EXPECT_THAT(drawn.svg, HasSubstr("a year"));
    EXPECT_THAT(drawn.svg, HasSubstr("400 PAST ITS DATE"));
    EXPECT_EQ(drawn.table.rows.size(), 2U);
    chart.bars.clear();
    chart.limit.reset();
    EXPECT_THAT(bar_chart(chart).svg, Not(HasSubstr("nan")));
}

TEST(AppraisalChart, SetsEveryAppraiserBesideTheOthersOnEveryPart) {
    const Chart drawn = appraisal_chart({"readings",
                                         "aim, deg",
                                         {{"setting 1", "T1", {0.1, 0.3}},
                                          {"setting 1", "T2", {0.2, 0.2}},
                                          {"setting 2", "T1", {0.5, 0.6}},
                                          {"setting 2", "T2", {0.4, 0.6}}}});
    ASSERT_EQ(drawn.table.rows.size(), 4U);
    EXPECT_THAT(drawn.table.rows[0], ElementsAre("setting 1", "T1", "2", "0.200", "0.200"));
    EXPECT_THAT(drawn.svg, HasSubstr("from left: T1, T2"));
}

}  // namespace
}  // namespace squaresight

#pragma once
#include <array>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// Charts of many measurements, binned so that their size does not grow with the number, each with
/// its numbers as a table: readable without the picture. Internal to `report`.
namespace squaresight {

struct ChartTable {
    std::vector<std::string> head;
    std::vector<std::vector<std::string>> rows;
};

struct Chart {
    std::string svg;
    ChartTable table;
};

/// A line across a chart, with the words at its end.
struct ChartLevel {
    double value = 0;
    std::string words;
    bool dashed = false;
};

/// y = at_zero + slope * x.
struct ChartSlope {
    double at_zero = 0;
    double slope = 1;
    std::string words;
    bool dashed = false;
};

/// Points, the larger the more fall into one field. Values that are not finite are left out.
struct PointChart {
    std::string title;  ///< read out in place of the picture
    std::string x_words, y_words;
    std::vector<std::array<double, 2>> points;
    std::vector<ChartLevel> levels;
    std::vector<ChartSlope> slopes;
};
Chart point_chart(const PointChart& chart);

/// A point of a chart in order, and the rule that it broke.
struct BrokenRule {
    std::size_t point = 0;
    std::string_view rule;  ///< words that outlive the chart
};

/// Values in the order in which they came, each with its limits; those that broke a rule are
/// ringed and named in the table.
struct OrderChart {
    std::string title;
    std::string y_words;
    std::function<std::string(std::size_t)> name_of;  ///< of a point: its day or job
    std::vector<double> values;
    double centre = 0;
    std::vector<double> lower, upper;  ///< limits, one a point or one for all; may be empty
    std::vector<BrokenRule> broken;    ///< by point
};
Chart order_chart(const OrderChart& chart);

/// How many values fall into bins, beside how many were to be expected. The last bin holds all
/// beyond its edge, and is drawn as wide as the one before.
struct CountChart {
    std::string title;
    std::string x_words;
    std::vector<double> edges;  ///< where each bin begins; at least two
    std::vector<double> counts;
    std::vector<double> expected;  ///< empty where nothing is
};
Chart count_chart(const CountChart& chart);

/// One bar of a bar chart, from 0.
struct Bar {
    std::string name;
    double value = 0;
    std::string words;  ///< at its end
    std::optional<std::array<double, 2>> interval;
};

/// Bars below each other, with a line across where a limit is.
struct BarChart {
    std::string title;
    std::string x_words;
    std::vector<Bar> bars;
    std::optional<ChartLevel> limit;
    ChartTable table;  ///< of the caller, who knows more than the bars
};
Chart bar_chart(const BarChart& chart);

/// Readings of one part by one appraiser.
struct AppraisedPart {
    std::string part, appraiser;
    std::vector<double> values;
};

/// Readings of every part by every appraiser, side by side, off the mean of all readings of the
/// part, with the mean of each: parts and appraisers in the order in which they come.
struct AppraisalChart {
    std::string title;
    std::string y_words;
    std::vector<AppraisedPart> cells;
};
Chart appraisal_chart(const AppraisalChart& chart);

}  // namespace squaresight

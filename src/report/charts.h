#pragma once
#include <array>
#include <functional>
#include <string>
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

/// Values in the order in which they came, each with its limits; those that broke a rule are
/// ringed and named in the table.
struct OrderChart {
    std::string title;
    std::string y_words;
    std::vector<std::string> names;  ///< of the points; dates or jobs
    std::vector<double> values;
    double centre = 0;
    std::vector<double> lower, upper;  ///< limits, one a point or one for all; may be empty
    std::vector<std::pair<std::size_t, std::string>> broken;  ///< point and rule, in order
};
Chart order_chart(const OrderChart& chart);

/// How many values fall between edges, beside how many were to be expected.
struct CountChart {
    std::string title;
    std::string x_words;
    std::vector<double> edges;     ///< one more than counts
    std::vector<double> counts;    ///< the last may hold all beyond
    std::vector<double> expected;  ///< empty where nothing is
};
Chart count_chart(const CountChart& chart);

}  // namespace squaresight

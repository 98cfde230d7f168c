#include "report/charts.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numeric>

#include "report/svg.h"

namespace squaresight {
namespace {

using svg::ink;
using svg::line_at;
using svg::Scale;
using svg::text_at;

constexpr int width = 640;
constexpr int height = 380;
constexpr double left = 66, right = 480, top = 16, bottom = 330;
constexpr int fields_across = 40;
constexpr int fields_down = 28;
constexpr std::size_t most_columns = 120;  // of a chart in order; more points share a column
constexpr std::size_t most_rows = 12;      // of a table
constexpr const char* dash = "7 5";
constexpr const char* blue = "#1b4f8f";

struct Range {
    double low = std::numeric_limits<double>::infinity();
    double high = -std::numeric_limits<double>::infinity();

    void take(double value) {
        if (std::isfinite(value)) {
            low = std::min(low, value);
            high = std::max(high, value);
        }
    }
    /// With a margin; never without width.
    Range widened() const {
        if (!(low <= high)) {
            return {-1, 1};
        }
        const double margin = std::max(0.06 * (high - low), 1e-6 + 1e-3 * std::abs(high));
        return {low - margin, high + margin};
    }
};

std::string number(double value) {
    if (!std::isfinite(value)) {
        return "";
    }
    const double size = std::abs(value);
    return size >= 100 ? fmt::format("{:.0f}", value)
           : size >= 1 ? fmt::format("{:.2f}", value)
                       : fmt::format("{:.3f}", value);
}

std::string tick_words(double value, double step) {
    const int digits = std::clamp(static_cast<int>(std::ceil(-std::log10(step) - 1e-9)), 0, 6);
    return fmt::format("{:.{}f}", std::abs(value) < 1e-9 * step ? 0.0 : value, digits);
}

/// The frame of a chart with its two scales.
struct Frame {
    Scale x, y;

    Frame(const Range& x_range, const Range& y_range)
        : x{x_range.low, x_range.high, left, right}, y{y_range.low, y_range.high, bottom, top} {}

    std::string outline() const {
        return fmt::format(
            R"(<rect x="{}" y="{}" width="{}" height="{}" fill="none" stroke="{}" stroke-width="1.5"/>)",
            left, top, right - left, bottom - top, ink);
    }
    std::string y_axis(const std::string& words) const {
        std::string axis;
        const double step = svg::tick_step(y.high_deg - y.low_deg);
        for (double at = std::ceil(y.low_deg / step) * step; at <= y.high_deg; at += step) {
            axis += line_at(left - 5, y(at), left, y(at), 1);
            axis += text_at(left - 8, y(at) + 5, tick_words(at, step), {13, "end"});
        }
        return axis + fmt::format(R"svg(<g transform="rotate(-90 16 {0})">{1}</g>)svg",
                                  (top + bottom) / 2,
                                  text_at(16, (top + bottom) / 2 + 4, words, {14, "middle"}));
    }
    std::string x_axis(const std::string& words) const {
        std::string axis;
        const double step = svg::tick_step(x.high_deg - x.low_deg);
        for (double at = std::ceil(x.low_deg / step) * step; at <= x.high_deg; at += step) {
            axis += line_at(x(at), bottom, x(at), bottom + 5, 1);
            axis += text_at(x(at), bottom + 20, tick_words(at, step), {13, "middle"});
        }
        return axis + x_words(words);
    }
    static std::string x_words(const std::string& words) {
        return text_at((left + right) / 2, bottom + 42, words, {14, "middle"});
    }
};

/// Words at the right hand end of lines, moved apart where they would overlap.
class EndWords {
  public:
    void add(double y, const std::string& words) {
        if (!words.empty()) {
            words_.emplace(y, words);
        }
    }
    std::string drawn() const {
        std::string all;
        double lowest = top - 4;
        for (const auto& [y, words] : words_) {
            const double at = std::max(y + 5, lowest + 17);
            all += text_at(right + 8, at, words, {13});
            lowest = at;
        }
        return all;
    }

  private:
    std::multimap<double, std::string> words_;
};

std::string picture(const std::string& title, const std::string& body) {
    return svg::picture(width, height, title, body);
}

// ---------- points

std::string fields(const Frame& frame, const std::vector<std::array<double, 2>>& points) {
    std::map<std::pair<int, int>, int> counts;
    for (const auto& [x, y] : points) {
        if (std::isfinite(x) && std::isfinite(y)) {
            const double across = (frame.x(x) - left) / (right - left);
            const double down = (frame.y(y) - top) / (bottom - top);
            ++counts[{std::min(fields_across - 1, static_cast<int>(across * fields_across)),
                      std::min(fields_down - 1, static_cast<int>(down * fields_down))}];
        }
    }
    int most = 1;
    for (const auto& [field, count] : counts) {
        most = std::max(most, count);
    }
    std::string drawn;
    for (const auto& [field, count] : counts) {
        const double share = std::sqrt(static_cast<double>(count) / most);
        drawn += fmt::format(
            R"(<circle cx="{:.1f}" cy="{:.1f}" r="{:.1f}" fill="{}" fill-opacity="0.75"/>)",
            left + (field.first + 0.5) * (right - left) / fields_across,
            top + (field.second + 0.5) * (bottom - top) / fields_down, 1.8 + 3.6 * share, blue);
    }
    return drawn;
}

/// What of a line lies within the frame; nothing where it passes beside it.
std::string sloped_line(const ChartSlope& line, const Frame& frame) {
    double from = frame.x.low_deg, to = frame.x.high_deg;
    if (line.slope != 0) {
        const double at_low = (frame.y.low_deg - line.at_zero) / line.slope;
        const double at_high = (frame.y.high_deg - line.at_zero) / line.slope;
        from = std::max(from, std::min(at_low, at_high));
        to = std::min(to, std::max(at_low, at_high));
    }
    if (!(from < to)) {
        return "";
    }
    const auto y = [&](double x) { return frame.y(line.at_zero + line.slope * x); };
    return line_at(frame.x(from), y(from), frame.x(to), y(to), 2, line.dashed ? dash : "");
}

/// Points by x in about ten groups of the same number.
ChartTable grouped(const PointChart& chart) {
    ChartTable table{
        {chart.x_words + " from", "to", "points", "mean of " + chart.y_words, "lowest", "highest"},
        {}};
    std::vector<std::array<double, 2>> sorted;
    std::copy_if(chart.points.begin(), chart.points.end(), std::back_inserter(sorted),
                 [](const auto& p) { return std::isfinite(p[0]) && std::isfinite(p[1]); });
    std::sort(sorted.begin(), sorted.end());
    const std::size_t groups = std::min<std::size_t>(10, sorted.size());
    for (std::size_t g = 0; g < groups; ++g) {
        const std::size_t begin = g * sorted.size() / groups;
        const std::size_t end = (g + 1) * sorted.size() / groups;
        double sum = 0;
        Range range;
        for (std::size_t i = begin; i < end; ++i) {
            sum += sorted[i][1];
            range.take(sorted[i][1]);
        }
        table.rows.push_back({number(sorted[begin][0]), number(sorted[end - 1][0]),
                              std::to_string(end - begin),
                              number(sum / static_cast<double>(end - begin)), number(range.low),
                              number(range.high)});
    }
    return table;
}

// ---------- in order

/// Neighbouring points that share a column.
struct Column {
    std::size_t begin = 0, end = 0;
    double mean = 0;
    Range range;
};

std::vector<Column> columns_of(const std::vector<double>& values, std::size_t most) {
    const std::size_t count = std::min(most, values.size());
    std::vector<Column> columns;
    for (std::size_t c = 0; c < count; ++c) {
        Column column{c * values.size() / count, (c + 1) * values.size() / count, 0, {}};
        for (std::size_t i = column.begin; i < column.end; ++i) {
            column.mean += values[i] / static_cast<double>(column.end - column.begin);
            column.range.take(values[i]);
        }
        columns.push_back(column);
    }
    return columns;
}

double limit_at(const std::vector<double>& limits, std::size_t point) {
    return limits[std::min(point, limits.size() - 1)];
}

std::string path(const std::vector<std::array<double, 2>>& points, const char* dashes) {
    std::string d;
    for (const auto& [x, y] : points) {
        d += fmt::format("{}{:.1f} {:.1f}", d.empty() ? "M" : "L", x, y);
    }
    return fmt::format(
        R"(<path d="{}" fill="none" stroke="{}" stroke-width="1.5" stroke-dasharray="{}"/>)", d,
        ink, dashes);
}

/// The table's columns with what broke a rule in each.
ChartTable order_table(const OrderChart& chart) {
    ChartTable table{{"from", "to", "points", "mean", "lowest", "highest", "rules broken"}, {}};
    auto broken = chart.broken.begin();
    for (const auto& column : columns_of(chart.values, most_rows)) {
        std::string rules;
        std::size_t count = 0;
        for (; broken != chart.broken.end() && broken->point < column.end; ++broken) {
            if (++count <= 3) {
                rules += fmt::format("{}{}: {}", rules.empty() ? "" : "; ",
                                     chart.name_of(broken->point), broken->rule);
            }
        }
        rules += count > 3 ? fmt::format("; and {} more", count - 3) : "";
        table.rows.push_back({chart.name_of(column.begin), chart.name_of(column.end - 1),
                              std::to_string(column.end - column.begin), number(column.mean),
                              number(column.range.low), number(column.range.high), rules});
    }
    return table;
}

/// Dots and bars of one chart as one path each, so that many charts make a small page.
std::string dots(const std::vector<std::array<double, 2>>& points) {
    std::string d;
    for (const auto& [x, y] : points) {
        d += fmt::format("M{:.1f} {:.1f}h.1", x, y);
    }
    return fmt::format(R"(<path d="{}" stroke="{}" stroke-width="6" stroke-linecap="round"/>)", d,
                       blue);
}

/// One ring a column of those that broke a rule.
std::string rings(const OrderChart& chart, const Frame& frame, const std::vector<Column>& columns) {
    const double radius = chart.values.size() > columns.size() ? 3.5 : 7;
    std::string d;
    auto column = columns.begin();
    for (auto broken = chart.broken.begin(); broken != chart.broken.end(); ++broken) {
        while (broken->point >= column->end) {
            ++column;
        }
        if (broken == chart.broken.begin() || (broken - 1)->point < column->begin) {
            d += fmt::format(
                "M{:.1f} {:.1f}a{} {} 0 1 0 {} 0a{} {} 0 1 0-{} 0",
                frame.x(0.5 * static_cast<double>(column->begin + column->end)) - radius,
                frame.y(chart.values[broken->point]), radius, radius, 2 * radius, radius, radius,
                2 * radius);
        }
    }
    return d.empty()
               ? d
               : fmt::format(R"(<path d="{}" fill="none" stroke="{}" stroke-width="2"/>)", d, ink);
}

std::string limit_line(const std::vector<double>& limits, const Frame& frame,
                       const std::vector<Column>& columns, EndWords& words) {
    if (limits.empty()) {
        return "";
    }
    std::vector<std::array<double, 2>> line;
    for (const auto& column : columns) {
        line.push_back(
            {frame.x(static_cast<double>(column.begin)), frame.y(limit_at(limits, column.begin))});
    }
    line.push_back({right, frame.y(limits.back())});
    words.add(line.back()[1], "limit " + number(limits.back()));
    return path(line, dash);
}

// ---------- parts and appraisers

double mean_of(const std::vector<double>& values) {
    return std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
}

/// Names in the order in which they come.
struct NamesInOrder {
    std::vector<std::string> names;

    void add(const std::string& name) {
        if (std::find(names.begin(), names.end(), name) == names.end()) {
            names.push_back(name);
        }
    }
    std::size_t place(const std::string& name) const {
        return static_cast<std::size_t>(std::find(names.begin(), names.end(), name) -
                                        names.begin());
    }
};

/// Where each part and appraiser stands across the chart, and what is read of each part.
struct Appraisal {
    NamesInOrder parts, appraisers;
    std::vector<double> part_means;

    explicit Appraisal(const AppraisalChart& chart) {
        std::vector<std::vector<double>> of_part;
        for (const auto& cell : chart.cells) {
            parts.add(cell.part);
            appraisers.add(cell.appraiser);
            of_part.resize(parts.names.size());
            auto& values = of_part[parts.place(cell.part)];
            values.insert(values.end(), cell.values.begin(), cell.values.end());
        }
        std::transform(of_part.begin(), of_part.end(), std::back_inserter(part_means), mean_of);
    }
    double off_part(const AppraisedPart& cell, double value) const {
        return value - part_means[parts.place(cell.part)];
    }
    /// Of one part: one an appraiser, one between parts.
    double slots() const { return static_cast<double>(appraisers.names.size()) + 1; }
    double slot_of(const AppraisedPart& cell) const {
        return slots() * static_cast<double>(parts.place(cell.part)) +
               static_cast<double>(appraisers.place(cell.appraiser)) + 1;
    }
};

/// Lines between parts, and their numbers where there are few.
std::string part_marks(std::size_t parts, double slots, const Frame& frame) {
    std::string body;
    for (std::size_t i = 0; i < parts; ++i) {
        const double x = frame.x(slots * static_cast<double>(i));
        body += i > 0 ? line_at(x, top, x, bottom, 1, "2 5") : "";
        if (parts <= most_rows) {
            body += text_at(frame.x(slots * (static_cast<double>(i) + 0.5)), bottom + 20,
                            std::to_string(i + 1), {13, "middle"});
        }
    }
    return body;
}

}  // namespace

Chart point_chart(const PointChart& chart) {
    Range x_range, y_range;
    for (const auto& [x, y] : chart.points) {
        x_range.take(x);
        y_range.take(y);
    }
    for (const auto& level : chart.levels) {
        y_range.take(level.value);
    }
    const Frame frame(x_range.widened(), y_range.widened());
    std::string body = frame.outline() + frame.x_axis(chart.x_words) + frame.y_axis(chart.y_words) +
                       fields(frame, chart.points);
    EndWords words;
    for (const auto& level : chart.levels) {
        const double y = frame.y(level.value);
        body += line_at(left, y, right, y, 2, level.dashed ? dash : "");
        words.add(y, level.words);
    }
    for (const auto& slope : chart.slopes) {
        body += sloped_line(slope, frame);
        words.add(frame.y(slope.at_zero + slope.slope * frame.x.high_deg), slope.words);
    }
    return {picture(chart.title, body + words.drawn()), grouped(chart)};
}

Chart order_chart(const OrderChart& chart) {
    Range y_range;
    y_range.take(chart.centre);
    for (const auto* list : {&chart.values, &chart.lower, &chart.upper}) {
        for (const double value : *list) {
            y_range.take(value);
        }
    }
    const Frame frame({0, std::max(1.0, static_cast<double>(chart.values.size()))},
                      y_range.widened());
    const auto columns = columns_of(chart.values, most_columns);
    std::string body = frame.outline() + frame.y_axis(chart.y_words);
    EndWords words;
    std::vector<std::array<double, 2>> means;
    std::string spans;
    for (const auto& column : columns) {
        const double x = frame.x(0.5 * static_cast<double>(column.begin + column.end));
        means.push_back({x, frame.y(column.mean)});
        if (column.end - column.begin > 1) {
            spans += fmt::format("M{:.1f} {:.1f}V{:.1f}", x, frame.y(column.range.low),
                                 frame.y(column.range.high));
        }
    }
    if (!spans.empty()) {
        body += fmt::format(R"(<path d="{}" stroke="{}" stroke-width="1.5"/>)", spans, svg::faint);
    }
    body += limit_line(chart.lower, frame, columns, words);
    body += limit_line(chart.upper, frame, columns, words);
    body += line_at(left, frame.y(chart.centre), right, frame.y(chart.centre), 1.5);
    words.add(frame.y(chart.centre), "centre " + number(chart.centre));
    body += path(means, "") + dots(means) + rings(chart, frame, columns);
    if (!chart.values.empty()) {
        body += text_at(left, bottom + 20, chart.name_of(0), {13});
        body += text_at(right, bottom + 20, chart.name_of(chart.values.size() - 1), {13, "end"});
    }
    const bool shared = chart.values.size() > columns.size();
    body += Frame::x_words(shared ? fmt::format("{} points a column: mean, lowest to highest; "
                                                "ringed: a rule was broken",
                                                chart.values.size() / columns.size())
                                  : std::string("in the order of time; ringed: a rule was broken"));
    return {picture(chart.title, body + words.drawn()), order_table(chart)};
}

Chart count_chart(const CountChart& chart) {
    Range y_range;
    y_range.take(0);
    for (const auto* list : {&chart.counts, &chart.expected}) {
        for (const double value : *list) {
            y_range.take(1.05 * value);
        }
    }
    const auto bins = chart.edges.size();
    const double end = 2 * chart.edges[bins - 1] - chart.edges[bins - 2];
    const Frame frame({chart.edges.front(), end}, {0, std::max(1.0, y_range.high)});
    std::string body = frame.outline() + frame.x_axis(chart.x_words) + frame.y_axis("number");
    ChartTable table{{chart.x_words + " from", "to", "number"}, {}};
    if (!chart.expected.empty()) {
        table.head.push_back("to be expected");
    }
    for (std::size_t i = 0; i < bins; ++i) {
        const bool last = i + 1 == bins;
        const double x0 = frame.x(chart.edges[i]);
        const double x1 = frame.x(last ? end : chart.edges[i + 1]);
        const double y = frame.y(chart.counts[i]);
        body += fmt::format(
            R"(<rect x="{:.1f}" y="{:.1f}" width="{:.1f}" height="{:.1f}" fill="{}" stroke="#fff"/>)",
            x0, y, x1 - x0, bottom - y, blue);
        table.rows.push_back({number(chart.edges[i]),
                              last ? "and beyond" : number(chart.edges[i + 1]),
                              fmt::format("{:.0f}", chart.counts[i])});
        if (!chart.expected.empty()) {
            const double promised = frame.y(chart.expected[i]);
            body += line_at(x0, promised, x1, promised, 3, "");
            table.rows.back().push_back(fmt::format("{:.1f}", chart.expected[i]));
        }
    }
    if (!chart.expected.empty()) {
        body += text_at(right + 8, top + 14, "bars: counted", {13}) +
                text_at(right + 8, top + 32, "lines: expected", {13});
    }
    return {picture(chart.title, body), table};
}

Chart bar_chart(const BarChart& chart) {
    constexpr double names_end = 190, row = 30, head = 12;
    const double foot = head + row * static_cast<double>(chart.bars.size());
    double most = chart.limit ? chart.limit->value : 0;
    for (const auto& bar : chart.bars) {
        most = std::max({most, bar.value, bar.interval ? (*bar.interval)[1] : 0});
    }
    const Scale x{0, most > 0 ? 1.02 * most : 1, names_end, right};
    std::string body = line_at(names_end, head, names_end, foot, 1.5);
    double y = head;
    for (const auto& bar : chart.bars) {
        body += text_at(names_end - 8, y + row / 2 + 5, bar.name, {14, "end"});
        body +=
            fmt::format(R"(<rect x="{:.1f}" y="{:.1f}" width="{:.1f}" height="{:.1f}" fill="{}"/>)",
                        names_end, y + 5, x(bar.value) - names_end, row - 10, blue);
        double end = x(bar.value);
        if (bar.interval) {
            const double low = x((*bar.interval)[0]), high = x((*bar.interval)[1]);
            body += line_at(low, y + row / 2, high, y + row / 2, 2);
            body += line_at(low, y + 9, low, y + row - 9, 2);
            body += line_at(high, y + 9, high, y + row - 9, 2);
            end = std::max(end, high);
        }
        body += text_at(end + 8, y + row / 2 + 5, bar.words, {14});
        y += row;
    }
    if (chart.limit) {
        body += line_at(x(chart.limit->value), head - 6, x(chart.limit->value), foot + 6, 2, dash);
        body += text_at(x(chart.limit->value), foot + 20, chart.limit->words, {13, "middle"});
    }
    body += text_at((names_end + right) / 2, foot + 40, chart.x_words, {14, "middle"});
    return {svg::picture(width, static_cast<int>(foot) + 50, chart.title, body), chart.table};
}

Chart appraisal_chart(const AppraisalChart& chart) {
    const Appraisal appraisal(chart);
    Range y_range;
    for (const auto& cell : chart.cells) {
        for (const double value : cell.values) {
            y_range.take(appraisal.off_part(cell, value));
        }
    }
    const auto parts = appraisal.parts.names.size();
    const Frame frame({0, std::max(1.0, appraisal.slots() * static_cast<double>(parts))},
                      y_range.widened());
    std::string body = frame.outline() + frame.y_axis(chart.y_words) +
                       line_at(left, frame.y(0), right, frame.y(0), 1);
    ChartTable table{{"part", "appraiser", "readings", "mean", "range"}, {}};
    std::vector<std::array<double, 2>> points;
    for (const auto& cell : chart.cells) {
        const double slot = appraisal.slot_of(cell);
        Range range;
        for (const double value : cell.values) {
            points.push_back({frame.x(slot), frame.y(appraisal.off_part(cell, value))});
            range.take(value);
        }
        const double mean = mean_of(cell.values);
        const double y = frame.y(appraisal.off_part(cell, mean));
        body += line_at(frame.x(slot - 0.4), y, frame.x(slot + 0.4), y, 2);
        table.rows.push_back({cell.part, cell.appraiser, std::to_string(cell.values.size()),
                              number(mean), number(range.high - range.low)});
    }
    body += part_marks(parts, appraisal.slots(), frame) + dots(points) +
            Frame::x_words(fmt::format("parts in the order of the table, 1 to {}; within each from "
                                       "left: {}",
                                       parts, fmt::join(appraisal.appraisers.names, ", ")));
    return {picture(chart.title, body), table};
}

}  // namespace squaresight

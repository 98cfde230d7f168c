#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "review/review_parts.h"

namespace squaresight {
namespace {

constexpr std::size_t most_charts_of_a_kind = 4;  // those with most points

using Text = int Measurement::*;

/// What is drawn of a measurement, NaN where there is none.
struct Drawn {
    const char* words;
    double (*of)(const Measurement&);
    bool first_of_job;  ///< or whatever differs from the one before in the job
};

struct Series {
    int name = 0;
    Rows points;
    std::vector<double> values;
};

double yaw_difference_deg(const Measurement& one) {
    return one.can_be_averaged(one.yaw) ? one.yaw.difference_deg() : NAN;
}
double pitch_difference_deg(const Measurement& one) {
    return one.can_be_averaged(one.pitch) ? one.pitch.difference_deg() : NAN;
}
double offset_left_deg(const Measurement& one) { return one.cradle_offset_left_deg; }
double offset_up_deg(const Measurement& one) { return one.cradle_offset_up_deg; }

/// A series for each name, those with most points first.
std::vector<Series> series_of(const Measurements& all, const Rows& rows, Text of,
                              const Drawn& quantity) {
    std::map<int, Series> by_name;
    std::vector<double> last_of_job(all.names.count(), NAN);
    for (const auto row : rows) {
        const Measurement& one = all.list[row];
        const double value = quantity.of(one);
        double& last = last_of_job[static_cast<std::size_t>(one.job)];
        const bool known = quantity.first_of_job ? std::isfinite(last) : last == value;
        if (one.*of != 0 && std::isfinite(value) && !known) {
            last = value;
            Series& series = by_name[one.*of];
            series.points.push_back(row);
            series.values.push_back(value);
        }
    }
    std::vector<Series> sorted;
    for (auto& [name, series] : by_name) {
        series.name = name;
        sorted.push_back(std::move(series));
    }
    std::stable_sort(sorted.begin(), sorted.end(), [](const Series& a, const Series& b) {
        return a.values.size() > b.values.size();
    });
    return sorted;
}

void add_charts_of(const Rows& rows, const char* kind, Text of, const Drawn& quantity,
                   Review& review) {
    std::size_t drawn = 0;
    for (auto& series : series_of(review.of, rows, of, quantity)) {
        const std::string& name = review.of.names[series.name];
        if (series.values.size() < fewest_chart_points) {
            review.too_few[fmt::format("{} {}, {}", kind, name, quantity.words)] =
                static_cast<int>(series.values.size());
            continue;
        }
        if (++drawn > most_charts_of_a_kind) {
            continue;
        }
        const auto individuals = individuals_chart(series.values);
        DriftChart chart{
            kind,         name, quantity.words, std::move(series.points), std::move(series.values),
            *individuals, {}};
        if (individuals->sigma > 0) {
            chart.ewma = ewma_chart(chart.values_deg, individuals->mean, individuals->sigma);
        }
        review.charts.push_back(std::move(chart));
    }
}

}  // namespace

void add_charts(const Rows& rows, Review& review) {
    const std::pair<const char*, Text> kinds[] = {{"phone", &Measurement::phone},
                                                  {"cradle", &Measurement::cradle},
                                                  {"bay", &Measurement::bay},
                                                  {"technician", &Measurement::technician}};
    const Drawn yaw{"photos minus tape, side to side", yaw_difference_deg, true};
    const Drawn pitch{"photos minus tape, up and down", pitch_difference_deg, true};
    for (const auto& [kind, of] : kinds) {
        add_charts_of(rows, kind, of, yaw, review);
        add_charts_of(rows, kind, of, pitch, review);
    }
    const Drawn left{"offset to the left", offset_left_deg, false};
    const Drawn up{"offset up", offset_up_deg, false};
    add_charts_of(rows, "cradle", &Measurement::cradle, left, review);
    add_charts_of(rows, "cradle", &Measurement::cradle, up, review);
}

void add_equipment(const Rows& rows, Review& review) {
    struct Kind {
        const char* name;
        Text of;
        Day Measurement::*dated;
    };
    const Kind kinds[] = {{"phone", &Measurement::phone, &Measurement::camera_day},
                          {"cradle", &Measurement::cradle, &Measurement::cradle_day},
                          {"board", &Measurement::board, &Measurement::board_day}};
    for (const auto& kind : kinds) {
        std::map<int, EquipmentAge> ages;
        for (const auto row : rows) {
            const Measurement& one = review.of.list[row];
            if (one.*kind.of == 0) {
                continue;
            }
            EquipmentAge& age = ages[one.*kind.of];
            age.dated = one.*kind.dated;  // rows come by day: the newest stays
            age.last_used = one.day;
            ++age.measurements;
            age.past_date += age.is_past_date() ? 1 : 0;
        }
        for (auto& [name, age] : ages) {
            age.kind = kind.name;
            age.name = review.of.names[name];
            if (age.is_past_date()) {
                review.flags.push_back(
                    {"",
                     fmt::format("The {} {} was past its date when last used: {} days old.",
                                 age.kind, age.name, age.age_days()),
                     false});
            }
            review.equipment.push_back(age);
        }
    }
    std::stable_sort(review.equipment.begin(), review.equipment.end(),
                     [](const EquipmentAge& a, const EquipmentAge& b) {
                         return (a.dated == 0) != (b.dated == 0) ? b.dated == 0
                                                                 : a.age_days() > b.age_days();
                     });
}

}  // namespace squaresight

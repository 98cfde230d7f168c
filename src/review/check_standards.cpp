#include <fmt/format.h>

#include <cmath>

#include "review/review_parts.h"

namespace squaresight {
namespace {

struct Angle {
    const char* words;
    AxisMeasurement Measurement::*axis;
};

/// The first stage of each job, by the check standard's name.
std::map<std::string, Rows> first_stages(const Rows& rows, const Measurements& all) {
    std::vector<char> job_taken(all.names.count(), 0);
    std::map<std::string, Rows> by_name;
    for (const auto row : rows) {
        char& taken = job_taken[static_cast<std::size_t>(all.list[row].job)];
        if (taken == 0) {
            taken = 1;
            by_name[all.names[all.list[row].check_standard]].push_back(row);
        }
    }
    return by_name;
}

CheckChart chart_of(const std::string& name, const Rows& rows, const Angle& angle,
                    const Measurements& all) {
    CheckChart chart{name, angle.words, {}, {}, 0, {}};
    std::vector<double> stated_u_deg;
    for (const auto row : rows) {
        const Measurement& one = all.list[row];
        const AxisMeasurement& measured = one.*angle.axis;
        if (one.stops > 0 || !std::isfinite(measured.vision_deg)) {
            ++chart.left_out;
            continue;
        }
        chart.points.push_back(row);
        chart.values_deg.push_back(measured.vision_deg);
        stated_u_deg.push_back(measured.vision_u_deg);
    }
    chart.check = check_standard(chart.values_deg, stated_u_deg);
    return chart;
}

void flag_if_left(const CheckChart& chart, Review& review) {
    if (!chart.left_its_limits()) {
        return;
    }
    const Measurements& all = review.of;
    const std::size_t good = chart.check->last_good(chart.values_deg.size());
    const std::string& job = all.names[all.list[chart.points.back()].job];
    review.flags.push_back(
        {job,
         fmt::format("Check standard {} left its limits, {}, in job {}: sign no job since {}.",
                     chart.name, chart.quantity, job, day_text(all.list[chart.points[good]].day)),
         true});
}

}  // namespace

void add_checks(const Rows& rows, Review& review) {
    const Angle angles[] = {{"side to side", &Measurement::yaw},
                            {"up and down", &Measurement::pitch}};
    for (const auto& [name, stages] : first_stages(rows, review.of)) {
        for (const auto& angle : angles) {
            review.checks.push_back(chart_of(name, stages, angle, review.of));
            flag_if_left(review.checks.back(), review);
        }
    }
}

}  // namespace squaresight

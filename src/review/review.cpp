#include "review/review.h"

#include <cmath>

#include "review/review_parts.h"

namespace squaresight {
namespace {

using Axis = AxisMeasurement Measurement::*;

/// Numbers texts from 0 without gaps, in the order in which they come.
class Numbering {
  public:
    explicit Numbering(std::size_t texts) : numbers_(texts, unseen) {}
    std::size_t operator()(int text) {
        std::size_t& number = numbers_[static_cast<std::size_t>(text)];
        number = number == unseen ? count_++ : number;
        return number;
    }

  private:
    static constexpr std::size_t unseen = static_cast<std::size_t>(-1);
    std::vector<std::size_t> numbers_;
    std::size_t count_ = 0;
};

void count_calls(const AxisMeasurement& measured, AxisReview& axis) {
    if (measured.vision_call && measured.tape_call) {
        axis.calls.add(*measured.vision_call, *measured.tape_call);
    }
    axis.agree += measured.agreement == AgreementCall::agree ? 1 : 0;
    axis.disagree += measured.agreement == AgreementCall::disagree ? 1 : 0;
    axis.cannot_tell += measured.agreement == AgreementCall::cannot_tell ? 1 : 0;
}

double squared_or_zero(double u) { return std::isfinite(u) ? u * u : 0; }

/// One pair of each job, which are independent.
struct JobPairs {
    std::vector<double> vision_deg, tape_deg;
    std::vector<double> over_uncertainty;           ///< differences, of pairs that state one
    double vision_variance = 0, tape_variance = 0;  ///< means of the stated ones

    void add(const AxisMeasurement& measured) {
        vision_deg.push_back(measured.vision_deg);
        tape_deg.push_back(measured.tape_deg);
        const auto pairs = static_cast<double>(vision_deg.size());
        vision_variance += (squared_or_zero(measured.vision_u_deg) - vision_variance) / pairs;
        tape_variance += (squared_or_zero(measured.tape_u_deg) - tape_variance) / pairs;
        if (measured.expanded_95_deg > 0) {
            over_uncertainty.push_back(measured.difference_deg() / (measured.expanded_95_deg / 2));
        }
    }
};

void fit_lines(const JobPairs& pairs, AxisReview& axis) {
    const auto& [vision_deg, tape_deg, over_uncertainty, vision_variance, tape_variance] = pairs;
    axis.proportional = proportional_bias(vision_deg, tape_deg, vision_variance, tape_variance);
    if (vision_variance > 0 && tape_variance > 0) {
        axis.variance_ratio = tape_variance / vision_variance;
        axis.deming = deming_regression(tape_deg, vision_deg, axis.variance_ratio);
    }
    axis.passing_bablok = passing_bablok(tape_deg, vision_deg);
    if (const auto spread = moments(tape_deg)) {
        const double true_variance = std::pow(spread->standard_deviation, 2) - tape_variance;
        axis.passing_bablok_unbiased_slope = slope_of_unequal_uncertainty(
            std::max(0.0, true_variance), tape_variance, vision_variance);
    }
    axis.stated = calibrate_en(over_uncertainty);
}

AxisReview axis_review(const Measurements& all, const Rows& rows, Axis which) {
    AxisReview axis;
    std::vector<std::size_t> vehicles;
    JobPairs firsts;
    std::vector<char> job_taken(all.names.count(), 0);
    Numbering number(all.names.count());
    for (const auto row : rows) {
        const Measurement& one = all.list[row];
        const AxisMeasurement& measured = one.*which;
        count_calls(measured, axis);
        if (!std::isfinite(measured.difference_deg()) || !one.can_be_averaged(measured)) {
            continue;
        }
        axis.vision_deg.push_back(measured.vision_deg);
        axis.tape_deg.push_back(measured.tape_deg);
        axis.difference_deg.push_back(measured.difference_deg());
        // A job of no named vehicle is taken as a vehicle of its own.
        vehicles.push_back(number(one.vehicle != 0 ? one.vehicle : one.job));
        char& taken = job_taken[static_cast<std::size_t>(one.job)];
        if (taken == 0) {
            taken = 1;
            firsts.add(measured);
        }
    }
    axis.limits = limits_of_agreement(axis.difference_deg);
    axis.repeated = repeated_agreement(axis.difference_deg, vehicles);
    fit_lines(firsts, axis);
    return axis;
}

/// Of check standards, from their first measurement on: that is what they are held against.
Rows check_rows(const Measurements& all, ReviewSelection selection) {
    selection.from.clear();
    Rows rows = newest_rows(all, selection);
    std::erase_if(rows, [&](std::uint32_t row) { return all.list[row].check_standard == 0; });
    return rows;
}

}  // namespace

Review review(Measurements all, const ReviewSelection& selection) {
    Review made;
    made.of = std::move(all);
    made.selection = selection;
    Rows rows = newest_rows(made.of, selection);
    std::erase_if(rows, [&](auto row) { return made.of.list[row].check_standard != 0; });
    made.measurements = rows.size();
    if (!rows.empty()) {
        made.first_day = made.of.list[rows.front()].day;
        made.last_day = made.of.list[rows.back()].day;
    }
    made.yaw = axis_review(made.of, rows, &Measurement::yaw);
    made.pitch = axis_review(made.of, rows, &Measurement::pitch);
    add_charts(rows, made);
    add_limits(rows, made);
    add_checks(check_rows(made.of, selection), made);
    add_equipment(rows, made);
    add_jobs_and_flags(rows, made);
    return made;
}

}  // namespace squaresight

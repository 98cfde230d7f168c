#pragma once
#include <optional>
#include <string>
#include <vector>

#include "agreement/interval.h"

namespace squaresight {

/// A crossed gauge study: every appraiser measures every part equally often. How much of what is
/// seen is the gauge's and not the parts'. Methods: Automotive Industry Action Group, "Measurement
/// Systems Analysis" (4th edition, 2010), chapter III B; Montgomery & Runger (1993), Quality
/// Engineering 6: 115-135 and 289-305.

struct GaugeReading {
    std::string part;       ///< what was measured: a mount setting, a vehicle
    std::string appraiser;  ///< who, or with what
    double value = 0;
};

/// One source in the table of the analysis of variance. Of the last, F and p are 0 and 1.
struct AnovaRow {
    double degrees_of_freedom = 0;
    double sum_of_squares = 0;
    double f = 0, p = 1;
    double mean_square() const { return sum_of_squares / degrees_of_freedom; }
};

/// Appraisers who measure some parts differently than others are an interaction. It is kept as a
/// source of its own where chance explains it with p of at most this (the reference manual: alpha =
/// 0.25), else counted to repeatability.
constexpr double interaction_kept_up_to_p = 0.25;

/// Both factors random. Parts and appraisers are tested against the interaction where it is kept,
/// else against `repeatability`, which then includes it.
struct CrossedAnova {
    AnovaRow part, appraiser, repeatability;
    AnovaRow interaction;  ///< tested against repeatability without it, kept or not
    bool interaction_kept = false;
    int parts = 0, appraisers = 0, trials = 0;
};

struct WithInterval {
    double value = 0;
    Interval interval_95;
};

/// A source of variation. Shares of variation are of standard deviations and add up in squares.
struct GaugeSource {
    WithInterval standard_deviation;
    WithInterval percent_of_variation;  ///< 100 * standard deviation / that of all
    double percent_of_variance = 0;     ///< 100 * variance / that of all
    /// 100 * 6 standard deviations / width of the tolerance; nothing without a tolerance.
    std::optional<WithInterval> percent_of_tolerance;
};

/// Intervals are generalised ones (Hamada & Weerahandi 2000, Journal of Quality Technology 32:
/// 241-253): each mean square times its degrees of freedom over a chi-square quantity, 4,000
/// evenly spread (Halton) of these, the same every time; negative variances count as 0.
struct GaugeResult {
    GaugeSource repeatability;    ///< equipment
    GaugeSource reproducibility;  ///< appraisers, with their interaction
    GaugeSource gauge;            ///< both
    GaugeSource part;
    GaugeSource total;
    double appraiser_standard_deviation = 0;    ///< within reproducibility
    double interaction_standard_deviation = 0;  ///< within reproducibility
    /// 1.41 * part / gauge, and that rounded down, at least 1.
    WithInterval distinct_categories_unrounded;
    int distinct_categories = 1;
};

struct GaugeStudy {
    CrossedAnova anova;
    GaugeResult by_anova;
    GaugeResult by_ranges;
};

/// What turns ranges into standard deviations: 1/d2 of a range of trials, 1/d2* of one range of
/// appraisers' means, and of one range of parts' means (K1, K2, K3 of the manual).
struct RangeFactors {
    double trials = 0, appraisers = 0, parts = 0;
};

RangeFactors range_factors(int trials, int appraisers, int parts);

/// `tolerance_width` is the whole width, twice the limit either side. InputError where not every
/// appraiser measured every part equally often and at least twice, with fewer than two parts or
/// appraisers, for a value that is not finite, and where no reading differs from its repeats.
GaugeStudy gauge_study(const std::vector<GaugeReading>& readings,
                       std::optional<double> tolerance_width,
                       double keep_interaction_up_to_p = interaction_kept_up_to_p);

/// By average and range alone, with factors of a printed table. As above. The interval of a range
/// stands on its equivalent degrees of freedom (Patnaik 1950, Biometrika 37: 78-87).
GaugeResult gauge_by_ranges(const std::vector<GaugeReading>& readings,
                            std::optional<double> tolerance_width, const RangeFactors& factors);

}  // namespace squaresight

#pragma once
#include <cstddef>
#include <optional>
#include <span>

#include "agreement/descriptive.h"
#include "agreement/interval.h"

namespace squaresight {

/// Agreement of two methods by their differences: Bland & Altman (1986), Lancet i: 307-310; (1999),
/// Statistical Methods in Medical Research 8: 135-160; (2007), Journal of Biopharmaceutical
/// Statistics 17: 571-582. Differences are first minus second, units those of the values.

/// Fewer say nothing about scatter; the intervals tell how little few pairs say.
constexpr std::size_t fewest_pairs = 3;

/// Up to so many pairs the limits' intervals are exact (Carkeet 2015, Optometry and Vision Science
/// 92: e71-e80: noncentral t). Beyond, s sqrt(1/n + 1.96^2 / (2 (n - 1))) is the limits' standard
/// error (Bland & Altman 1999, section 2.1): at this number both agree to 1 % of the width.
constexpr std::size_t most_pairs_for_exact_intervals = 400;

/// Where 95 % of differences lie: bias -/+ 1.96 standard deviations (1986 took 2).
struct LimitsOfAgreement {
    std::size_t pairs = 0;
    Estimated bias;
    double standard_deviation = 0;  ///< of single differences
    Estimated lower, upper;
};

std::optional<LimitsOfAgreement> limits_of_agreement(std::span<const double> differences);

/// Whether the difference depends on what is measured (1999, section 3.2): differences, and their
/// distances from that line, as a straight line of the means of both methods.
struct ProportionalBias {
    LineFit difference_on_mean;
    LineFit spread_on_mean;  ///< |residual|; times sqrt(pi / 2) a standard deviation
    /// The slope that methods of unequal uncertainty show though neither is biased (Bland & Altman
    /// 1995, Lancet 346: 1085-1087): half the difference of the variances over that of the means.
    double slope_of_unequal_uncertainty = 0;
    /// Of a slope at least as far from that by chance: this, not the fit's own, tells of a bias.
    double p = 1;
};

/// Variances are the methods' stated ones, squared standard uncertainties; 0 and 0 take them as
/// equal. Nothing where the means do not vary.
std::optional<ProportionalBias> proportional_bias(std::span<const double> first,
                                                  std::span<const double> second,
                                                  double first_variance = 0,
                                                  double second_variance = 0);

/// Several pairs of one vehicle are not as good as pairs of several vehicles. Variance of a single
/// difference = between vehicles + within, from the one-way analysis of variance of the differences
/// with unequal numbers of pairs (Bland & Altman 2007, section 3: the true value may vary from pair
/// to pair). Intervals of the limits: MOVER (Zou 2013, Statistical Methods in Medical Research 22:
/// 630-642) about a modified-large-sample interval of the variance (Graybill & Wang 1980, Journal
/// of the American Statistical Association 75: 869-873); approximate where numbers are unequal.
struct RepeatedAgreement {
    std::size_t vehicles = 0;
    LimitsOfAgreement limits;
    double between_standard_deviation = 0;  ///< 0 where within explains all
    double within_standard_deviation = 0;
    double between_p = 1;  ///< F test: of no scatter between vehicles beyond that within
};

/// `vehicles` numbers the vehicle of each difference from 0 without gaps. Nothing without a second
/// pair of any vehicle, or with fewer than three vehicles.
std::optional<RepeatedAgreement> repeated_agreement(std::span<const double> differences,
                                                    std::span<const std::size_t> vehicles);

/// Readings of one vehicle by one method while the vehicle stays as it is.
struct Replicates {
    std::span<const double> values;
    std::span<const std::size_t> vehicles;  ///< of each value, from 0 without gaps
};

/// Limits for single readings from replicates by each method, unpaired, of vehicles that stay as
/// they are (Bland & Altman 1999, section 5.1): the variance of the vehicles' mean differences,
/// plus (1 - mean of 1 / replicates) of each method's variance within vehicles.
struct ReplicatedAgreement {
    double bias = 0;  ///< mean over vehicles of mean difference
    double standard_deviation_of_mean_differences = 0;
    double first_within_standard_deviation = 0;  ///< repeatability of the first method
    double second_within_standard_deviation = 0;
    double standard_deviation = 0;  ///< of the difference of single readings
    Interval limits;
};

/// Both methods on the same vehicles, at least three; each method replicated on at least one.
std::optional<ReplicatedAgreement> replicated_agreement(const Replicates& first,
                                                        const Replicates& second);

}  // namespace squaresight

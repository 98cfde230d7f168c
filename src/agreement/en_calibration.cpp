#include "agreement/en_calibration.h"

#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <cmath>
#include <limits>

#include "agreement/descriptive.h"

namespace squaresight {
namespace {

constexpr double bin_width = 0.25;
constexpr std::size_t bin_count = 13;  ///< twelve to 3, and what is beyond

/// Share of |E_n| of at least this.
double share_beyond(double en) { return std::erfc(2 * en / std::sqrt(2.0)); }

std::vector<EnBin> bins_of(std::span<const double> z) {
    std::vector<EnBin> bins;
    for (std::size_t k = 0; k < bin_count; ++k) {
        const double from = static_cast<double>(k) * bin_width;
        const bool last = k + 1 == bin_count;
        const double to = last ? std::numeric_limits<double>::infinity() : from + bin_width;
        const double share = share_beyond(from) - (last ? 0 : share_beyond(to));
        bins.push_back({from, to, 0, share * static_cast<double>(z.size())});
    }
    for (const double one : z) {
        const double place = std::min(std::abs(one) / 2 / bin_width, bin_count - 1.0);
        ++bins[static_cast<std::size_t>(place)].count;
    }
    return bins;
}

}  // namespace

ScatterTest scatter_test(double chi_square, double degrees_of_freedom) {
    const boost::math::chi_squared distribution(degrees_of_freedom);
    const double smaller = cdf(distribution, chi_square);
    const double larger = cdf(complement(distribution, chi_square));
    ScatterTest test;
    test.chi_square = chi_square;
    test.degrees_of_freedom = degrees_of_freedom;
    test.p = std::min(1.0, 2 * std::min(smaller, larger));
    const double factor = std::sqrt(chi_square / degrees_of_freedom);
    test.factor = {factor,
                   factor / std::sqrt(2 * degrees_of_freedom),
                   {std::sqrt(chi_square / chi_square_quantile(0.975, degrees_of_freedom)),
                    std::sqrt(chi_square / chi_square_quantile(0.025, degrees_of_freedom))}};
    if (test.p < en_significance) {
        test.call = larger < smaller ? StatedUncertainty::too_small : StatedUncertainty::too_large;
    }
    return test;
}

std::optional<EnCalibration> calibrate_en(std::span<const double> z) {
    if (z.size() < fewest_en) {
        return std::nullopt;
    }
    const auto of = moments(z);
    if (!of) {
        return std::nullopt;
    }
    const auto count = static_cast<double>(z.size());
    const double about_mean = of->standard_deviation * of->standard_deviation * (count - 1);
    EnCalibration calibration;
    calibration.count = z.size();
    calibration.about_zero = scatter_test(about_mean + count * of->mean * of->mean, count);
    calibration.about_mean = scatter_test(about_mean, count - 1);
    calibration.mean_z =
        with_t_interval(of->mean, of->standard_deviation / std::sqrt(count), count - 1);
    calibration.beyond_one = static_cast<std::size_t>(
        std::count_if(z.begin(), z.end(), [](double one) { return std::abs(one) > 2; }));
    calibration.expected_beyond_one = count * share_beyond(1);
    calibration.bins = bins_of(z);
    return calibration;
}

}  // namespace squaresight

#include "agreement/interval.h"

#include <boost/math/distributions/beta.hpp>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>

namespace squaresight {

double normal_quantile(double probability) { return quantile(boost::math::normal(), probability); }

double student_t_quantile(double probability, double degrees_of_freedom) {
    return quantile(boost::math::students_t(degrees_of_freedom), probability);
}

double chi_square_quantile(double probability, double degrees_of_freedom) {
    return quantile(boost::math::chi_squared(degrees_of_freedom), probability);
}

Interval share_interval_95(std::size_t count, std::size_t of) {
    const auto seen = static_cast<double>(count);
    const auto others = static_cast<double>(of - count);
    return {count == 0 ? 0 : quantile(boost::math::beta_distribution(seen, others + 1), 0.025),
            count == of ? 1 : quantile(boost::math::beta_distribution(seen + 1, others), 0.975)};
}

Estimated with_t_interval(double value, double standard_error, double degrees_of_freedom) {
    const double half = student_t_quantile(0.975, degrees_of_freedom) * standard_error;
    return {value, standard_error, {value - half, value + half}};
}

double student_t_p_value(double t, double degrees_of_freedom) {
    if (!std::isfinite(t)) {
        return 0;
    }
    return 2 * cdf(boost::math::students_t(degrees_of_freedom), -std::abs(t));
}

FTest f_test(double mean_square, double degrees_of_freedom, double error_mean_square,
             double error_degrees_of_freedom) {
    if (mean_square == 0) {
        return {};
    }
    const double f = mean_square / error_mean_square;
    if (!std::isfinite(f)) {
        return {f, 0};
    }
    const boost::math::fisher_f distribution(degrees_of_freedom, error_degrees_of_freedom);
    return {f, cdf(complement(distribution, f))};
}

}  // namespace squaresight

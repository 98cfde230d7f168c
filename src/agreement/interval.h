#pragma once
#include <cstddef>

namespace squaresight {

struct Interval {
    double low = 0;
    double high = 0;
};

/// A quantity estimated from a sample, in the unit of its name.
struct Estimated {
    double value = 0;
    double standard_error = 0;
    Interval interval_95;  ///< two-sided, 2.5 % beyond each end
};

double normal_quantile(double probability);
double student_t_quantile(double probability, double degrees_of_freedom);
double chi_square_quantile(double probability, double degrees_of_freedom);

/// Of a share of which `count` of `of` were seen: exact (Clopper & Pearson 1934, Biometrika 26:
/// 404-413). From 0 to 1 where nothing was seen.
Interval share_interval_95(std::size_t count, std::size_t of);

/// value +/- t(0.975) * standard error.
Estimated with_t_interval(double value, double standard_error, double degrees_of_freedom);

/// Two-sided probability of a |t| at least as large.
double student_t_p_value(double t, double degrees_of_freedom);

/// A quotient of mean squares, and the probability of one at least as large. Where the error below
/// is 0, infinite and sure, unless both are 0: then 0 and 1.
struct FTest {
    double f = 0, p = 1;
};

FTest f_test(double mean_square, double degrees_of_freedom, double error_mean_square,
             double error_degrees_of_freedom);

}  // namespace squaresight

#pragma once
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>

namespace squaresight::test {

/// Digits to which they agree (log relative error); absolute where the published value is 0, and 16
/// where both are the same.
inline double digits(double ours, double published) {
    if (ours == published) {
        return 16;
    }
    const double scale = published == 0 ? 1 : std::abs(published);
    return -std::log10(std::abs(ours - published) / scale);
}

/// Agreement to at least so many digits; how many is told in the test's properties.
inline void expect_digits(const std::string& name, double ours, double published, double least) {
    const double agreed = digits(ours, published);
    ::testing::Test::RecordProperty("log_relative_error_" + name, std::to_string(agreed));
    EXPECT_GE(agreed, least) << name << ": " << ours << " for " << published;
}

/// What is printed, to the last digit printed: half a unit of it, and one of ours in rounding.
inline void expect_printed(const std::string& name, double ours, double printed,
                           double last_digit) {
    EXPECT_NEAR(ours, printed, last_digit / 2 * (1 + 1e-9)) << name;
}

}  // namespace squaresight::test

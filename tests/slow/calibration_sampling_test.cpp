#include <gtest/gtest.h>

#include <cmath>

#include "calibrate/pointing.h"
#include "support/drawn_calibration.h"

// The covariance of a calibration, held against calibrations of 300 phones whose lens, focus, sag,
// boards, tape and corner noise were drawn from what the calibration supposes of them.
namespace squaresight::test {
namespace {

constexpr int columns = 8;
constexpr int rows = 6;

struct Obtained {
    int calibrations = 0;
    Eigen::ArrayXXd squares = Eigen::ArrayXXd::Zero(rows, columns);  // of pointing errors, deg2
    Eigen::ArrayXXd promised =
        Eigen::ArrayXXd::Zero(rows, columns);  // variances of both axes, deg2
    int within_95 = 0;                         // of all parameters
    double focus_squares = 0;
};

Obtained obtain(int near_photos, int taped_photos, unsigned seed) {
    DrawnCalibrations shop(seed);
    Obtained obtained;
    for (int trial = 0; trial < 300; ++trial) {
        const auto drawn = shop.draw(near_photos, taped_photos);
        const auto solution = solve_calibration(drawn.data, {});
        if (!solution.solved) {
            continue;
        }
        ++obtained.calibrations;
        const auto found = solution.lens.parameters();
        const auto truth = drawn.truth.parameters();
        for (int k = 0; k < Lens::parameter_count; ++k) {
            const auto at = static_cast<std::size_t>(k);
            obtained.within_95 +=
                std::abs(found[at] - truth[at]) < 1.96 * std::sqrt(solution.covariance(k, k));
        }
        obtained.focus_squares += std::pow(
            (solution.focus.lens_mm - drawn.lens_mm) / solution.focus.standard_uncertainty_mm, 2);
        for (int row = 0; row < rows; ++row) {
            for (int column = 0; column < columns; ++column) {
                const Eigen::Vector2d pixel((column + 0.5) * drawn.data.width_px / columns,
                                            (row + 0.5) * drawn.data.height_px / rows);
                const double u = *pointing_u_deg(solution.lens, solution.covariance, pixel);
                const double off = *pointing_difference_deg(solution.lens, drawn.truth, pixel);
                obtained.promised(row, column) += 2 * u * u;
                obtained.squares(row, column) += off * off;
            }
        }
    }
    return obtained;
}

void expect_as_promised(const Obtained& obtained) {
    ASSERT_EQ(obtained.calibrations, 300);
    const Eigen::ArrayXXd ratio = (obtained.squares / obtained.promised).sqrt();
    EXPECT_GT(ratio.minCoeff(), 0.9) << ratio;
    EXPECT_LT(ratio.maxCoeff(), 1.1) << ratio;
    const double within = static_cast<double>(obtained.within_95) / (300 * Lens::parameter_count);
    EXPECT_GT(within, 0.93);
    EXPECT_LT(within, 0.97);
    const double focus = std::sqrt(obtained.focus_squares / 300);
    EXPECT_GT(focus, 0.0);
    EXPECT_LT(focus, 1.15);
}

TEST(CalibrationSampling, PointingErrsAsPromisedWithTapedPhotos) {
    RecordProperty("seed", 41);
    expect_as_promised(obtain(12, 3, 41));
}

}  // namespace
}  // namespace squaresight::test

#include "adjust/corner_noise.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

namespace squaresight {
namespace {

constexpr double noise_floor_px = 0.03;
constexpr double outlier_sigmas = 5;
/// Unknowns that one photo's corners determine by themselves, roughly: its pose.
constexpr double photo_freedom = 6;
/// Median of a chi-square variable with two degrees of freedom: 2 ln 2.
constexpr double chi_square_2_median = 1.386294;

double median(std::vector<double> values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

/// Squared misfit of each corner in its own stated covariance.
std::vector<double> squares_of(const std::vector<Corner>& corners,
                               const std::vector<Eigen::Vector2d>& misfits_px) {
    std::vector<double> squares;
    for (std::size_t c = 0; c < misfits_px.size(); ++c) {
        squares.push_back(misfits_px[c].dot(corners[c].covariance_px2.llt().solve(misfits_px[c])));
    }
    return squares;
}

double stated_rms_px(const std::vector<Corner>& corners) {
    double sum = 0;
    for (const auto& corner : corners) {
        sum += corner.covariance_px2.trace() / 2;
    }
    return std::sqrt(sum / static_cast<double>(corners.size()));
}

}  // namespace

std::optional<std::vector<Corner>> without_outliers(
    const std::vector<Corner>& corners, const std::vector<Eigen::Vector2d>& misfits_px) {
    const auto squares = squares_of(corners, misfits_px);
    if (squares.empty()) {
        return std::nullopt;
    }
    const double scale2 = std::max(median(squares) / chi_square_2_median,
                                   std::pow(noise_floor_px / stated_rms_px(corners), 2));
    std::vector<Corner> kept;
    for (std::size_t c = 0; c < squares.size(); ++c) {
        if (squares[c] <= outlier_sigmas * outlier_sigmas * scale2) {
            kept.push_back(corners[c]);
        }
    }
    if (kept.size() == squares.size() || kept.size() < fewest_corners) {
        return std::nullopt;
    }
    return kept;
}

double noise_factor(const std::vector<Corner>& corners,
                    const std::vector<Eigen::Vector2d>& misfits_px) {
    double sum = 0;
    for (const double square : squares_of(corners, misfits_px)) {
        sum += square;
    }
    const double freedom = 2 * static_cast<double>(corners.size()) - photo_freedom;
    return std::max(std::sqrt(sum / freedom), noise_floor_px / stated_rms_px(corners));
}

}  // namespace squaresight

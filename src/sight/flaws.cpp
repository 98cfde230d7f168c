#include "sight/flaws.h"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <opencv2/imgproc.hpp>

namespace squaresight {
namespace {

constexpr int burnt_out_grey = 250;
constexpr double most = 0.5;             // of a part of the picture, or of the places asked about
constexpr double least_step_greys = 30;  // of an edge that tells how sharp a picture is
constexpr double one_way_ratio = 2.5;    // squared slopes along the one direction over the other

/// The part of a photo within `reach_px` of a place; empty outside.
cv::Mat about(const cv::Mat& grey, const Eigen::Vector2d& at_px, double reach_px) {
    const int reach = std::max(1, static_cast<int>(std::lround(reach_px)));
    const cv::Rect wanted(static_cast<int>(std::lround(at_px.x())) - reach,
                          static_cast<int>(std::lround(at_px.y())) - reach, 2 * reach + 1,
                          2 * reach + 1);
    return grey(wanted & cv::Rect(0, 0, grey.cols, grey.rows));
}

double burnt_out_share(const cv::Mat& part) {
    return part.empty() ? 0
                        : static_cast<double>(cv::countNonZero(part >= burnt_out_grey)) /
                              static_cast<double>(part.total());
}

/// The slope that only this share of a picture's pixels exceed, grey values a pixel.
double steep_slope(const cv::Mat& grey, double share) {
    cv::Mat right, down, slope;
    cv::Sobel(grey, right, CV_32F, 1, 0, 3, 1.0 / 8);
    cv::Sobel(grey, down, CV_32F, 0, 1, 3, 1.0 / 8);
    cv::magnitude(right, down, slope);
    std::vector<float> slopes(slope.begin<float>(), slope.end<float>());
    const auto steeper = static_cast<std::ptrdiff_t>(share * static_cast<double>(slopes.size()));
    const auto at = slopes.end() - 1 - std::min<std::ptrdiff_t>(steeper, std::ssize(slopes) - 1);
    std::nth_element(slopes.begin(), at, slopes.end());
    return *at;
}

}  // namespace

double smear_px(const cv::Mat& grey) {
    constexpr double edge_share = 0.0005;  // of the photo's pixels, at the steepest edges
    constexpr int coarsest_px = 64;
    constexpr int fewest_pixels = 400;
    double fine_slope = 0;  // per pixel of the photo, noise averaged over 2 x 2 pixels
    double step = 0;        // between black and white: whole where a pixel spans the edge
    cv::Mat picture = grey;
    for (int px = 2; px <= coarsest_px && picture.total() >= 4 * fewest_pixels; px *= 2) {
        cv::Mat half;
        cv::resize(picture, half, cv::Size(picture.cols / 2, picture.rows / 2), 0, 0,
                   cv::INTER_AREA);
        picture = half;
        const double slope = steep_slope(picture, edge_share * px);
        fine_slope = px == 2 ? slope / px : fine_slope;
        step = std::max(step, 2 * slope);
    }
    const bool has_edges = step >= least_step_greys && fine_slope > 0;
    return has_edges ? step / (std::sqrt(2 * std::numbers::pi) * fine_slope) : 0;
}

Unseen why_unseen(const cv::Mat& grey, const std::vector<Eigen::Vector2d>& places_px) {
    std::size_t outside = 0;
    std::size_t burnt_out = 0;
    for (const auto& place : places_px) {
        const cv::Mat part = place.cwiseAbs().maxCoeff() < 1e6 ? about(grey, place, 4) : cv::Mat();
        outside += part.empty() ? 1U : 0U;
        burnt_out += burnt_out_share(part) > most ? 1U : 0U;
    }
    const std::size_t half = places_px.size() / 2;
    return burnt_out > half ? Unseen::burnt_out : outside > half ? Unseen::outside : Unseen::hidden;
}

std::string burnt_out_part(const cv::Mat& grey) {
    if (burnt_out_share(grey) > most) {
        return "whole";
    }
    constexpr std::array<const char*, 9> names{"upper left", "upper",  "upper right",
                                               "left",       "middle", "right",
                                               "lower left", "lower",  "lower right"};
    std::string worst;
    double largest = most;
    for (int n = 0; n < 9; ++n) {
        const int column = n % 3;
        const int row = n / 3;
        const cv::Range rows(grey.rows * row / 3, grey.rows * (row + 1) / 3);
        const cv::Range columns(grey.cols * column / 3, grey.cols * (column + 1) / 3);
        const double share = burnt_out_share(grey(rows, columns));
        if (share > largest) {
            largest = share;
            worst = names[static_cast<std::size_t>(n)];
        }
    }
    return worst;
}

bool smeared_one_way(const cv::Mat& grey, const std::vector<Eigen::Vector2d>& corners_px,
                     double reach_px) {
    Eigen::Matrix2d slopes = Eigen::Matrix2d::Zero();
    for (const auto& corner : corners_px) {
        const cv::Mat part = about(grey, corner, reach_px);
        if (part.rows < 3 || part.cols < 3) {
            continue;
        }
        cv::Mat right, down;
        cv::Sobel(part, right, CV_32F, 1, 0);
        cv::Sobel(part, down, CV_32F, 0, 1);
        slopes(0, 0) += right.dot(right);
        slopes(1, 1) += down.dot(down);
        slopes(0, 1) += right.dot(down);
    }
    slopes(1, 0) = slopes(0, 1);
    const Eigen::Vector2d values =
        Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d>(slopes).eigenvalues();
    return values(1) > one_way_ratio * values(0);
}

}  // namespace squaresight

#pragma once
#include <Eigen/Core>
#include <opencv2/core.hpp>
#include <vector>

namespace squaresight {

/// A photo at halving sizes: level 0 is the photo itself, a pixel of each next level is the mean
/// of 2 x 2 pixels of the one before. Pixel centres at whole numbers on every level.
using Pyramid = std::vector<cv::Mat>;

/// Levels down to the last whose shorter side is at least `shortest_px`.
Pyramid halved_photo(const cv::Mat& grey, int shortest_px);

inline Eigen::Vector2d to_level(const Eigen::Vector2d& photo_px, int level) {
    return (photo_px.array() + 0.5) / static_cast<double>(1 << level) - 0.5;
}

inline Eigen::Vector2d from_level(const Eigen::Vector2d& level_px, int level) {
    return (level_px.array() + 0.5) * static_cast<double>(1 << level) - 0.5;
}

/// Whether a point lies at least `margin_px` inside the outermost pixel centres.
inline bool lies_inside(const cv::Mat& image, const Eigen::Vector2d& at_px, double margin_px) {
    return at_px.x() >= margin_px && at_px.y() >= margin_px &&
           at_px.x() <= image.cols - 1 - margin_px && at_px.y() <= image.rows - 1 - margin_px;
}

/// Bilinear grey value; the point must lie inside the outermost pixel centres.
inline double grey_at(const cv::Mat& image, const Eigen::Vector2d& at_px) {
    const int x = std::min(static_cast<int>(at_px.x()), image.cols - 2);
    const int y = std::min(static_cast<int>(at_px.y()), image.rows - 2);
    const double across = at_px.x() - x;
    const double down = at_px.y() - y;
    const unsigned char* upper = image.ptr<unsigned char>(y) + x;
    const unsigned char* lower = image.ptr<unsigned char>(y + 1) + x;
    return (1 - down) * ((1 - across) * upper[0] + across * upper[1]) +
           down * ((1 - across) * lower[0] + across * lower[1]);
}

}  // namespace squaresight

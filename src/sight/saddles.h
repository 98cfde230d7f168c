#pragma once
#include <Eigen/Core>
#include <opencv2/core.hpp>
#include <optional>
#include <vector>

namespace squaresight {

/// A point where the grey values rise both ways along one line and fall both ways along another,
/// as they do where four squares of a checkerboard meet.
struct Saddle {
    Eigen::Vector2d at_px{0, 0};
    Eigen::Vector2d bright{1, 0};  ///< unit vector through the two bright quarters, either way
    double strength = 0;           ///< about half the contrast of the squares, in grey values
};

/// The saddles of an image, strongest first, at most `limit`.
std::vector<Saddle> find_saddles(const cv::Mat& image, std::size_t limit);

/// The saddle that a quadratic fit walks to from `start_px`, if it stays within `reach_px`.
std::optional<Saddle> saddle_near(const cv::Mat& image, const Eigen::Vector2d& start_px,
                                  double reach_px);

}  // namespace squaresight

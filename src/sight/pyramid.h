#pragma once
#include <Eigen/Core>
#include <cmath>
#include <opencv2/core.hpp>
#include <vector>

namespace squaresight {

/// A photo at halving sizes: level 0 is the photo itself, a pixel of each next level is the mean
/// of 2 x 2 pixels of the one before. A photo of few pixels has a level -1 of twice its size, on
/// which squares of a few pixels can be told apart. Pixel centres at whole numbers on every level.
class Pyramid {
  public:
    /// Levels down to the last whose shorter side is at least `shortest_px`.
    Pyramid(const cv::Mat& grey, int shortest_px);

    int largest() const { return largest_; }
    int smallest() const { return largest_ + static_cast<int>(images_.size()) - 1; }
    const cv::Mat& operator[](int level) const {
        return images_[static_cast<std::size_t>(level - largest_)];
    }

  private:
    int largest_ = 0;
    std::vector<cv::Mat> images_;
};

/// Side of a pixel of a level, in pixels of the photo.
inline double level_px(int level) { return std::ldexp(1.0, level); }

inline Eigen::Vector2d to_level(const Eigen::Vector2d& photo_px, int level) {
    return (photo_px.array() + 0.5) / level_px(level) - 0.5;
}

inline Eigen::Vector2d from_level(const Eigen::Vector2d& at_level, int level) {
    return (at_level.array() + 0.5) * level_px(level) - 0.5;
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

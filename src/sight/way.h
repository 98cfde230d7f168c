#pragma once
#include <Eigen/Core>
#include <opencv2/core.hpp>
#include <optional>

#include "sight/saddles.h"

namespace squaresight {

/// The way from one place of an image to another, looked at in three places between them: whether
/// an edge or a dark square lies there.
class Way {
  public:
    /// `least_contrast`: of what counts, in grey values.
    Way(const cv::Mat& image, const Eigen::Vector2d& from_px, const Eigen::Vector2d& to_px,
        double least_contrast);

    /// Bright on the right hand (x right, y down) all along.
    bool is_edge() const;

    /// Bright on the right hand on the whole: a spot of dirt may lie there.
    bool is_edge_on_the_whole() const;

    /// Darker than both ends all along.
    bool is_dark() const;

  private:
    std::optional<double> contrast_at(double share) const;

    const cv::Mat& image_;
    Eigen::Vector2d from_px_;
    Eigen::Vector2d step_px_;
    Eigen::Vector2d right_px_;
    double least_contrast_;
};

/// Contrast that an edge or a square between two saddles has at least.
double least_contrast_between(const Saddle& a, const Saddle& b);

}  // namespace squaresight

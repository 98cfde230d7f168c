#pragma once
#include <Eigen/Core>
#include <opencv2/core.hpp>
#include <optional>

#include "sight/board_view.h"
#include "sight/printed_pattern.h"

namespace squaresight {

/// An inner corner measured by least squares over the edges that run from it.
struct FittedCorner {
    Eigen::Vector2d pixel{0, 0};
    Eigen::Matrix2d covariance_px2 = Eigen::Matrix2d::Identity();
    double blur_px = 0;  ///< standard deviation of a Gaussian edge spread
    double white = 0;    ///< grey values of the squares at the corner
    double black = 0;
    double tone = 0;   ///< by which mid-grey is lifted, over the contrast: a camera's tone curve
    double noise = 0;  ///< standard deviation of the grey values about the model
    double unevenness = 1;  ///< of the misfit over the arms: 1 when it is noise alone
    double spotted = 0;     ///< share of the pixels under spots of dirt, which were left out
    double spoilt = 1;      ///< its variance over that which noise alone would give it
};

/// Where a corner lies, within two pixels or so, how blurred it is, within a factor of two or so,
/// and what the tone may be.
struct CornerStart {
    Eigen::Vector2d pixel{0, 0};
    double blur_px = 1.2;
    double tone = 0;
};

/// Fits the grey values along the four edges about a corner with the blurred corner that the view
/// predicts. Nothing if it does not settle near its start.
std::optional<FittedCorner> fit_corner(const cv::Mat& grey, const BoardView& view,
                                       const PrintedPattern& print, int index,
                                       const CornerStart& start);

}  // namespace squaresight

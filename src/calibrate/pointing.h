#pragma once
#include "calibrate/calibration.h"

/// What a calibration's uncertainty means: where a pixel looks.
namespace squaresight {

/// By how far the direction in which a pixel looks, in the camera's frame, moves with the terms of
/// the lens: rad across and down, for each unit of each term. Nothing where the pixel has no ray.
std::optional<LensJacobian> pointing_by_lens(const Lens& lens, const Eigen::Vector2d& pixel);

/// Standard uncertainty of that direction, root mean square of both axes.
std::optional<double> pointing_u_deg(const Lens& lens, const LensCovariance& covariance,
                                     const Eigen::Vector2d& pixel);

/// Angle between the directions in which a pixel looks by two lenses.
std::optional<double> pointing_difference_deg(const Lens& a, const Lens& b,
                                              const Eigen::Vector2d& pixel);

/// Covariance of the nine parameters that stands for that of all terms: nowhere in the picture does
/// it leave less uncertainty of where a pixel looks.
Eigen::Matrix<double, 9, 9> parameter_covariance(const CalibrationSolution& solution, int width_px,
                                                 int height_px);

}  // namespace squaresight

#pragma once
#include <Eigen/Core>
#include <array>
#include <filesystem>
#include <optional>
#include <string>

#include "photo/identity.h"

namespace squaresight {

/// Brown-Conrady lens, OpenCV's order and meaning; pixel centres at whole numbers.
/// Parameters in the order of covariances: fx fy cx cy k1 k2 p1 p2 k3.
struct Lens {
    static constexpr int parameter_count = 9;
    double fx = 0, fy = 0, cx = 0, cy = 0;
    double k1 = 0, k2 = 0, p1 = 0, p2 = 0, k3 = 0;

    std::array<double, parameter_count> parameters() const {
        return {fx, fy, cx, cy, k1, k2, p1, p2, k3};
    }
    static Lens from_parameters(const std::array<double, parameter_count>& p) {
        return {p[0], p[1], p[2], p[3], p[4], p[5], p[6], p[7], p[8]};
    }
};

using LensJacobian = Eigen::Matrix<double, 2, Lens::parameter_count>;

/// Projects a point in C. Returns nothing for a point that is not ahead of the lens (z <= 0) or
/// lies outside the field where the distortion is monotonic.
/// Optional Jacobians: d pixel / d point and d pixel / d lens parameter.
std::optional<Eigen::Vector2d> project(const Lens& lens, const Eigen::Vector3d& point_in_camera,
                                       Eigen::Matrix<double, 2, 3>* by_point = nullptr,
                                       LensJacobian* by_lens = nullptr);

/// The ray (x/z, y/z) that a pixel looks along; nothing if there is none.
std::optional<Eigen::Vector2d> ray_of_pixel(const Lens& lens, const Eigen::Vector2d& pixel);

/// A calibrated camera (schema squaresight/camera/1).
struct Camera {
    std::string name;
    int width_px = 0;  ///< of the sensor-native image
    int height_px = 0;
    Lens lens;
    /// Of the lens parameters, in their units. Always set: where the file has none, the stated
    /// priors (focal length 0.5 % common to both axes, principal point 5 px, k1 0.005; standard).
    Eigen::Matrix<double, 9, 9> covariance = Eigen::Matrix<double, 9, 9>::Zero();
    bool covariance_given = false;
    double pointing_jitter_deg = 0.02;  ///< standard uncertainty
    CameraIdentity identity;
    std::optional<int> photos_used;     ///< by the calibration
    std::optional<double> residual_px;  ///< root mean square of the calibration's residuals
    std::string date;                   ///< of the calibration, YYYY-MM-DD, or empty
};

/// Reads and checks a camera file; InputError as in units/entry.h (NaN, negative focal length,
/// covariance not symmetric or not positive semi-definite, ...).
Camera load_camera(const std::filesystem::path& file);

/// The file's text; the covariance is written only where it was given.
std::string camera_yaml(const Camera& camera);

}  // namespace squaresight

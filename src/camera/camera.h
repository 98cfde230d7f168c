#pragma once
#include <Eigen/Core>
#include <array>
#include <filesystem>
#include <optional>
#include <string>

#include "photo/identity.h"

namespace squaresight {

/// Brown-Conrady lens, OpenCV's order and meaning; pixel centres at whole numbers.
/// Parameters in the order of covariances: fx fy cx cy k1 k2 p1 p2 k3. The further terms are zero
/// for nearly every lens and have no covariance of their own.
struct Lens {
    static constexpr int parameter_count = 9;
    static constexpr int term_count = 13;
    double fx = 0, fy = 0, cx = 0, cy = 0;
    double k1 = 0, k2 = 0, p1 = 0, p2 = 0, k3 = 0;
    double k4 = 0, k5 = 0, k6 = 0;  ///< denominators of the radial part (OpenCV's rational model)
    double skew = 0;                ///< px that x moves for each y of the ray; no phone has any

    std::array<double, parameter_count> parameters() const {
        return {fx, fy, cx, cy, k1, k2, p1, p2, k3};
    }
    std::array<double, term_count> terms() const {
        return {fx, fy, cx, cy, k1, k2, p1, p2, k3, k4, k5, k6, skew};
    }
    static Lens from_terms(const std::array<double, term_count>& t) {
        return {t[0], t[1], t[2], t[3], t[4], t[5], t[6], t[7], t[8], t[9], t[10], t[11], t[12]};
    }
    /// The same lens with other parameters; its further terms stay.
    Lens with_parameters(const std::array<double, parameter_count>& p) const {
        return {p[0], p[1], p[2], p[3], p[4], p[5], p[6], p[7], p[8], k4, k5, k6, skew};
    }
};

/// By the terms of a lens, in their order.
using LensJacobian = Eigen::Matrix<double, 2, Lens::term_count>;

/// Projects a point in C. Returns nothing for a point that is not ahead of the lens (z <= 0) or
/// lies outside the field where the distortion is monotonic.
/// Optional Jacobians: d pixel / d point and d pixel / d lens term.
std::optional<Eigen::Vector2d> project(const Lens& lens, const Eigen::Vector3d& point_in_camera,
                                       Eigen::Matrix<double, 2, 3>* by_point = nullptr,
                                       LensJacobian* by_lens = nullptr);

/// The ray (x/z, y/z) that a pixel looks along; nothing if there is none.
std::optional<Eigen::Vector2d> ray_of_pixel(const Lens& lens, const Eigen::Vector2d& pixel);

/// Standard uncertainty of how far a phone's lens sags under gravity (design figure).
inline constexpr double usual_lens_sag_deg = 0.03;

/// How far a phone that warms swings from the first photo of a stage to the last; standard.
/// Assumption, no source.
inline constexpr double usual_warming_deg = 0.01;
/// Error that neighbouring corners share; standard. Assumption, no source.
inline constexpr double usual_corner_field_px = 0.02;

/// How the focal length grows as the phone focuses nearer: by the thin lens, the image lies
/// u f / (u - f) behind the lens. fx and fy of the camera hold at `distance_mm`; at u they are
/// (1 - lens_mm / distance_mm) / (1 - lens_mm / u) times that.
struct FocusBreathing {
    double distance_mm = 5000;
    double lens_mm = 0;  ///< the thin lens that does the same
    double standard_uncertainty_mm = 0;
    double scale_at(double u_mm) const {
        return (1 - lens_mm / distance_mm) / (1 - lens_mm / u_mm);
    }
};

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
    double pointing_jitter_deg = 0.02;         ///< standard uncertainty
    double lens_sag_deg = usual_lens_sag_deg;  ///< standard uncertainty
    double warming_deg = usual_warming_deg;    ///< standard uncertainty, either axis
    /// Standard uncertainty of the error that corners share with those near them on the board.
    double corner_field_px = usual_corner_field_px;
    std::optional<FocusBreathing> focus;  ///< where calibration found it
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

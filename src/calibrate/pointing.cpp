#include "calibrate/pointing.h"

#include <Eigen/Geometry>
#include <Eigen/LU>
#include <Eigen/QR>
#include <algorithm>
#include <cmath>
#include <vector>

namespace squaresight {
namespace {

Eigen::Vector3d direction(const Eigen::Vector2d& ray) {
    return Eigen::Vector3d(ray.x(), ray.y(), 1).normalized();
}

/// Two directions across a line of sight, as its picture lies: right and down.
Eigen::Matrix<double, 2, 3> across_and_down(const Eigen::Vector3d& sight) {
    const Eigen::Vector3d right = Eigen::Vector3d::UnitY().cross(sight).normalized();
    Eigen::Matrix<double, 2, 3> axes;
    axes << right.transpose(), sight.cross(right).transpose();
    return axes;
}

}  // namespace

std::optional<LensJacobian> pointing_by_lens(const Lens& lens, const Eigen::Vector2d& pixel) {
    const auto ray = ray_of_pixel(lens, pixel);
    Eigen::Matrix<double, 2, 3> by_point;
    LensJacobian by_lens;
    if (!ray || !project(lens, {ray->x(), ray->y(), 1}, &by_point, &by_lens)) {
        return std::nullopt;
    }
    const Eigen::Vector3d sight = direction(*ray);
    const double length = std::sqrt(1 + ray->squaredNorm());
    return LensJacobian(-across_and_down(sight).leftCols<2>() / length *
                        by_point.leftCols<2>().inverse() * by_lens);
}

std::optional<double> pointing_u_deg(const Lens& lens, const LensCovariance& covariance,
                                     const Eigen::Vector2d& pixel) {
    const auto by_lens = pointing_by_lens(lens, pixel);
    if (!by_lens) {
        return std::nullopt;
    }
    const Eigen::Matrix2d angles = *by_lens * covariance * by_lens->transpose();
    return std::sqrt(angles.trace() / 2) * deg_per_rad;
}

std::optional<double> pointing_difference_deg(const Lens& a, const Lens& b,
                                              const Eigen::Vector2d& pixel) {
    const auto ray_a = ray_of_pixel(a, pixel);
    const auto ray_b = ray_of_pixel(b, pixel);
    if (!ray_a || !ray_b) {
        return std::nullopt;
    }
    const Eigen::Vector3d one = direction(*ray_a);
    const Eigen::Vector3d other = direction(*ray_b);
    return std::atan2(one.cross(other).norm(), one.dot(other)) * deg_per_rad;
}

Eigen::Matrix<double, 9, 9> parameter_covariance(const CalibrationSolution& solution, int width_px,
                                                 int height_px) {
    constexpr int parameters = Lens::parameter_count;
    constexpr int further = Lens::term_count - parameters;
    if (solution.covariance.bottomRightCorner<further, further>().isZero(0)) {
        return solution.covariance.topLeftCorner<parameters, parameters>();
    }
    constexpr int steps = 12;
    std::vector<LensJacobian> fields;
    for (int i = 0; i < steps * steps; ++i) {
        const Eigen::Vector2d pixel((i % steps + 0.5) * width_px / steps,
                                    (i / steps + 0.5) * height_px / steps);
        if (const auto by_lens = pointing_by_lens(solution.lens, pixel)) {
            fields.push_back(*by_lens);
        }
    }
    Eigen::Matrix<double, Eigen::Dynamic, Lens::term_count> by_terms(2 * fields.size(),
                                                                     int{Lens::term_count});
    for (std::size_t i = 0; i < fields.size(); ++i) {
        by_terms.middleRows<2>(2 * static_cast<Eigen::Index>(i)) = fields[i];
    }
    // What moves of the nine do to the picture nearest to what a move of all terms does.
    const Eigen::Matrix<double, parameters, Lens::term_count> stand_in =
        by_terms.leftCols<parameters>().completeOrthogonalDecomposition().solve(by_terms);
    const Eigen::Matrix<double, 9, 9> nearest =
        stand_in * solution.covariance * stand_in.transpose();
    double least = 1;  // of the variance that is carried, over that of all terms
    for (const auto& field : fields) {
        const auto by_nine = field.leftCols<parameters>();
        least = std::min(least, (by_nine * nearest * by_nine.transpose()).trace() /
                                    (field * solution.covariance * field.transpose()).trace());
    }
    return nearest / least;
}

}  // namespace squaresight

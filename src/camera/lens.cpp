#include <Eigen/LU>
#include <cmath>

#include "camera/camera.h"

namespace squaresight {
namespace {

/// Distorted image coordinates of a ray, with derivatives by x and y.
struct Distorted {
    Eigen::Vector2d at;
    Eigen::Matrix2d by_ray;
    bool monotonic = true;
};

Distorted distort(const Lens& lens, double x, double y) {
    const double r2 = x * x + y * y;
    const double r4 = r2 * r2;
    const double r6 = r4 * r2;
    const double below = 1 + lens.k4 * r2 + lens.k5 * r4 + lens.k6 * r6;
    const double radial = (1 + lens.k1 * r2 + lens.k2 * r4 + lens.k3 * r6) / below;
    const double slope =  // d radial / d r2
        (lens.k1 + 2 * lens.k2 * r2 + 3 * lens.k3 * r4 -
         radial * (lens.k4 + 2 * lens.k5 * r2 + 3 * lens.k6 * r4)) /
        below;
    Distorted d;
    d.at = {x * radial + 2 * lens.p1 * x * y + lens.p2 * (r2 + 2 * x * x),
            y * radial + lens.p1 * (r2 + 2 * y * y) + 2 * lens.p2 * x * y};
    const double cross = 2 * x * y * slope + 2 * lens.p1 * x + 2 * lens.p2 * y;
    d.by_ray << radial + 2 * x * x * slope + 2 * lens.p1 * y + 6 * lens.p2 * x, cross, cross,
        radial + 2 * y * y * slope + 6 * lens.p1 * y + 2 * lens.p2 * x;
    d.monotonic = below > 0 && radial > 0 && radial + 2 * r2 * slope > 0;
    return d;
}

/// The same by k1 k2 p1 p2 k3 k4 k5 k6.
Eigen::Matrix<double, 2, 8> distorted_by_coefficients(const Lens& lens, double x, double y) {
    const double r2 = x * x + y * y;
    const Eigen::Vector3d powers(r2, r2 * r2, r2 * r2 * r2);
    const double below = 1 + powers.dot(Eigen::Vector3d(lens.k4, lens.k5, lens.k6));
    const double above = 1 + powers.dot(Eigen::Vector3d(lens.k1, lens.k2, lens.k3));
    const Eigen::Vector3d by_above = powers / below;
    const Eigen::Vector3d by_below = -above / (below * below) * powers;
    Eigen::Matrix<double, 2, 8> by;
    by << x * by_above[0], x * by_above[1], 2 * x * y, r2 + 2 * x * x, x * by_above[2],
        x * by_below.transpose(),  //
        y * by_above[0], y * by_above[1], r2 + 2 * y * y, 2 * x * y, y * by_above[2],
        y * by_below.transpose();
    return by;
}

}  // namespace

std::optional<Eigen::Vector2d> project(const Lens& lens, const Eigen::Vector3d& point_in_camera,
                                       Eigen::Matrix<double, 2, 3>* by_point,
                                       LensJacobian* by_lens) {
    const double z = point_in_camera.z();
    if (!(z > 0)) {
        return std::nullopt;
    }
    const double x = point_in_camera.x() / z;
    const double y = point_in_camera.y() / z;
    const Distorted d = distort(lens, x, y);
    if (!d.monotonic) {
        return std::nullopt;
    }
    Eigen::Matrix2d focal;
    focal << lens.fx, lens.skew, 0, lens.fy;
    if (by_point != nullptr) {
        Eigen::Matrix<double, 2, 3> ray_by_point;
        ray_by_point << 1 / z, 0, -x / z, 0, 1 / z, -y / z;
        *by_point = focal * d.by_ray * ray_by_point;
    }
    if (by_lens != nullptr) {
        by_lens->leftCols<4>() << d.at.x(), 0, 1, 0, 0, d.at.y(), 0, 1;
        by_lens->middleCols<8>(4) = focal * distorted_by_coefficients(lens, x, y);
        by_lens->rightCols<1>() << d.at.y(), 0;
    }
    return Eigen::Vector2d(focal * d.at + Eigen::Vector2d(lens.cx, lens.cy));
}

std::optional<Eigen::Vector2d> ray_of_pixel(const Lens& lens, const Eigen::Vector2d& pixel) {
    const double down = (pixel.y() - lens.cy) / lens.fy;
    const Eigen::Vector2d wanted((pixel.x() - lens.cx - lens.skew * down) / lens.fx, down);
    Eigen::Vector2d ray = wanted;
    for (int round = 0; round < 50; ++round) {
        const Distorted d = distort(lens, ray.x(), ray.y());
        if (!d.monotonic) {
            return std::nullopt;
        }
        const Eigen::Vector2d step = d.by_ray.inverse() * (wanted - d.at);
        ray += step;
        if (!ray.allFinite() || ray.norm() > 100) {
            return std::nullopt;
        }
        if (step.norm() < 1e-14 * (1 + ray.norm())) {
            return ray;
        }
    }
    return distort(lens, ray.x(), ray.y()).at.isApprox(wanted, 1e-10) ? std::optional(ray)
                                                                      : std::nullopt;
}

}  // namespace squaresight

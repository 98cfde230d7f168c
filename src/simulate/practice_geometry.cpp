#include "simulate/practice_geometry.h"

#include <cmath>
#include <opencv2/calib3d.hpp>

#include "units/quantity.h"

namespace squaresight {
namespace {

using Eigen::AngleAxisd;
using Eigen::Isometry3d;
using Eigen::Translation3d;
using Eigen::Vector3d;

AngleAxisd about(const Vector3d& axis, double deg) { return {deg * rad_per_deg, axis}; }

/// Turned to the left, then tipped up, of something that looks along its own X.
Eigen::Quaterniond left_then_up(double left_deg, double up_deg) {
    return about(Vector3d::UnitZ(), left_deg) * about(Vector3d::UnitY(), -up_deg);
}

/// What has axes right, down, in (camera, board), as seen by something with axes ahead, left, up
/// that looks the same way.
Isometry3d looking_ahead() {
    Isometry3d axes = Isometry3d::Identity();
    axes.linear() << -Vector3d::UnitY(), -Vector3d::UnitZ(), Vector3d::UnitX();
    return axes;
}

/// The reference line, which passes beside the mount: its X runs along it.
Isometry3d vehicle_from_line(const PoseValues& q) {
    return about(Vector3d::UnitZ(), q[line_left_deg]) * Translation3d(0, -q[mount_left_mm], 0);
}

/// The floor under the board, in the line's frame: plumb below a distance along a rising floor.
double floor_up_mm(const PoseValues& q) {
    const Vector3d along =
        about(Vector3d::UnitY(), -(q[floor_rise_deg] + q[rail_zero_deg])) * Vector3d::UnitX();
    const Eigen::ParametrizedLine<double, 3> floor(Vector3d::Zero(), along);
    const Eigen::Hyperplane<double, 3> board(Vector3d::UnitX(), -q[distance_mm]);
    return floor.intersectionPoint(board).z();
}

double legendre(unsigned degree, double at) { return std::legendre(degree, at); }

}  // namespace

Eigen::Vector2d nominal_corner_mm(const Pattern& pattern, int index) {
    const std::div_t place = std::div(index, pattern.across - 1);
    const Eigen::Vector2d from_top_left(1 + place.rem, 1 + place.quot);
    return pattern.square_mm * (from_top_left - Eigen::Vector2d(pattern.across, pattern.down) / 2);
}

Eigen::Vector2d tape_end_mm(const TapeEnd& end, const Target& target) {
    if (end.place_mm) {
        return *end.place_mm - target.centre_mm;
    }
    const Eigen::Vector2d sheet_mm(target.sheet_width_mm, target.sheet_height_mm);
    const auto at = [&](double across, double down) {
        return Eigen::Vector2d(sheet_mm.cwiseProduct(Eigen::Vector2d(across, down)) -
                               target.centre_mm);
    };
    return end.name == "left edge"     ? at(0, 0.5)
           : end.name == "right edge"  ? at(1, 0.5)
           : end.name == "top edge"    ? at(0.5, 0)
           : end.name == "bottom edge" ? at(0.5, 1)
                                       : Eigen::Vector2d(0, 0);
}

Vector3d point_in_target_mm(const PracticeSheet& sheet, const Target& target,
                            const Eigen::Vector2d& nominal_mm) {
    const double across = 2 * nominal_mm.x() / target.sheet_width_mm;
    const double down = 2 * nominal_mm.y() / target.sheet_height_mm;
    // Shapes without a mean and without a slope over the sheet: Legendre's polynomials. The first
    // bends reach from -1/2 at the middle to 1 at an edge.
    const double bows =
        2.0 / 3 *
        (sheet.bow_across_mm * legendre(2, across) + sheet.bow_down_mm * legendre(2, down));
    const double s_bends =
        sheet.s_bend_across_mm * legendre(3, across) + sheet.s_bend_down_mm * legendre(3, down);
    return {nominal_mm.x() * sheet.scale_across + nominal_mm.y() * sheet.skew,
            nominal_mm.y() * sheet.scale_down, bows + s_bends + sheet.twist_mm * across * down};
}

double centre_behind_mm(const PracticeSheet& sheet) {
    return 2.0 / 3 * legendre(2, 0) * (sheet.bow_across_mm + sheet.bow_down_mm);
}

Isometry3d vehicle_from_board(const PoseValues& q) {
    const Isometry3d line_from_board =
        Translation3d(q[distance_mm], q[target_left_mm], floor_up_mm(q) + q[target_height_mm]) *
        about(Vector3d::UnitZ(), q[target_turned_left_deg]) *
        about(Vector3d::UnitY(), q[target_lean_back_deg] - q[rail_zero_deg]) *
        about(Vector3d::UnitX(), q[target_roll_clockwise_deg]) * looking_ahead();
    return vehicle_from_line(q) * line_from_board;
}

Isometry3d vehicle_from_face(const PoseValues& q) {
    return Translation3d(q[face_ahead_mm], 0, q[mount_height_mm]) *
           left_then_up(q[yaw_left_deg], q[pitch_up_deg]);
}

Isometry3d vehicle_from_camera(const PoseValues& q, const Eigen::Vector2d& face_form_deg,
                               int phone_up_deg) {
    const Isometry3d vehicle_from_plane =
        vehicle_from_face(q) * left_then_up(face_form_deg.x(), face_form_deg.y());
    const Isometry3d vehicle_from_cradle = vehicle_from_plane *
                                           Translation3d(0, q[place_left_mm], q[place_up_mm]) *
                                           about(Vector3d::UnitX(), q[cradle_roll_deg]);
    const Vector3d lens =
        vehicle_from_cradle * Vector3d(q[lens_ahead_mm], q[lens_left_mm], q[lens_up_mm]);
    const Isometry3d cradle_from_camera = left_then_up(q[seating_left_deg], q[seating_up_deg]) *
                                          left_then_up(q[offset_left_deg], q[offset_up_deg]) *
                                          left_then_up(q[jitter_left_deg], q[jitter_up_deg]) *
                                          about(Vector3d::UnitX(), phone_up_deg) * looking_ahead();
    Isometry3d camera =
        about(Vector3d::UnitY(), q[lens_sag_deg]) * vehicle_from_cradle * cradle_from_camera;
    camera.translation() = lens;
    return camera;
}

std::vector<std::optional<Eigen::Vector2d>> pixels_of(const Lens& lens, const Camera& camera,
                                                      const Eigen::Matrix3Xd& points_in_camera_mm) {
    std::vector<cv::Point3d> points;
    for (const auto& point : points_in_camera_mm.colwise()) {
        points.emplace_back(point.x(), point.y(), point.z());
    }
    const std::vector<double> distortion{lens.k1, lens.k2, lens.p1, lens.p2,
                                         lens.k3, lens.k4, lens.k5, lens.k6};
    std::vector<cv::Point2d> rays;
    cv::projectPoints(points, cv::Vec3d::zeros(), cv::Vec3d::zeros(), cv::Matx33d::eye(),
                      distortion, rays);
    const auto pixel_of_ray = [&](double right, double down) {
        return Eigen::Vector2d(lens.cx + lens.fx * right + lens.skew * down,
                               lens.cy + lens.fy * down);
    };
    const Eigen::Vector2d size_px(camera.width_px, camera.height_px);
    std::vector<std::optional<Eigen::Vector2d>> pixels(points.size());
    for (std::size_t i = 0; i < points.size(); ++i) {
        const cv::Point3d& point = points[i];
        const Eigen::Vector2d straight =
            pixel_of_ray(point.x / point.z, point.y / point.z).cwiseQuotient(size_px);
        if (point.z > 0 && straight.minCoeff() > -0.25 && straight.maxCoeff() < 1.25) {
            pixels[i] = pixel_of_ray(rays[i].x, rays[i].y);
        }
    }
    return pixels;
}

TapesToBeam tapes_to_beam(const PoseValues& q, const BayTape& bay, const BeamAngles& angles,
                          double beam_level_deg, double bumper_square_mm) {
    const Eigen::Quaterniond vehicle_from_tool =
        left_then_up(q[yaw_left_deg], q[pitch_up_deg]) * about(Vector3d::UnitX(), beam_level_deg);
    const Vector3d beam_starts(bay.beam_at_mm + q[face_ahead_mm], 0, q[mount_height_mm]);
    const auto ahead_mm = [&](double left_mm, const Vector3d& along_face, double away_deg) {
        const Vector3d away = std::sin(away_deg * rad_per_deg) * Vector3d::UnitX();
        const Vector3d beam = std::cos(away_deg * rad_per_deg) * along_face + away;
        const Eigen::ParametrizedLine<double, 3> line(beam_starts, vehicle_from_tool * beam);
        const Eigen::Hyperplane<double, 3> at_point(Vector3d::UnitY(), -left_mm);
        return line.intersectionPoint(at_point).x();
    };
    return {
        ahead_mm(bay.left_point_mm, Vector3d::UnitY(), angles.left_deg) - bumper_square_mm / 2,
        ahead_mm(-bay.right_point_mm, -Vector3d::UnitY(), angles.right_deg) + bumper_square_mm / 2};
}

double face_level_deg(const PoseValues& q) {
    const Vector3d normal = vehicle_from_face(q).linear() * Vector3d::UnitX();
    return std::asin(normal.z()) * deg_per_rad - q[rail_zero_deg];
}

}  // namespace squaresight

#include "calibrate/start.h"

#include <Eigen/Geometry>
#include <Eigen/SVD>
#include <algorithm>
#include <opencv2/calib3d.hpp>

namespace squaresight {
namespace {

constexpr double usual_focal_share = 0.8;  // of the picture's longer side

struct Pairs {
    std::vector<cv::Point3f> board_mm;
    std::vector<cv::Point2f> pixels;
};

const Eigen::Vector2d& on_board_mm(const CalibrationData& data, const BoardView& view,
                                   const Corner& corner) {
    return data.boards[static_cast<std::size_t>(view.board)]
        .corners_mm[static_cast<std::size_t>(corner.index)];
}

Pairs pairs_of(const CalibrationData& data, const BoardView& view) {
    Pairs pairs;
    for (const auto& corner : view.corners) {
        const Eigen::Vector2d mm = on_board_mm(data, view, corner);
        pairs.board_mm.emplace_back(static_cast<float>(mm.x()), static_cast<float>(mm.y()), 0.0f);
        pairs.pixels.emplace_back(static_cast<float>(corner.pixel.x()),
                                  static_cast<float>(corner.pixel.y()));
    }
    return pairs;
}

bool is_plausible(double focal_px, const CalibrationData& data) {
    const double side = std::max(data.width_px, data.height_px);
    return focal_px > 0.2 * side && focal_px < 5 * side;  // false for NaN too
}

}  // namespace

Lens starting_lens(const CalibrationData& data) {
    Lens lens;
    lens.cx = (data.width_px - 1) / 2.0;
    lens.cy = (data.height_px - 1) / 2.0;
    lens.fx = lens.fy = usual_focal_share * std::max(data.width_px, data.height_px);
    std::vector<std::vector<cv::Point3f>> boards;
    std::vector<std::vector<cv::Point2f>> pictures;
    for (const auto& view : data.views) {
        const Pairs pairs = pairs_of(data, view);
        boards.push_back(pairs.board_mm);
        pictures.push_back(pairs.pixels);
    }
    const cv::Mat matrix =
        cv::initCameraMatrix2D(boards, pictures, {data.width_px, data.height_px}, 1);
    const double focal_px = matrix.at<double>(0, 0);
    if (is_plausible(focal_px, data)) {
        lens.fx = lens.fy = focal_px;
    }
    return lens;
}

std::optional<Pose<double>> starting_pose(const CalibrationData& data, std::size_t view,
                                          const Lens& lens) {
    std::vector<cv::Point2d> on_board, rays;
    for (const auto& corner : data.views[view].corners) {
        const auto ray = ray_of_pixel(lens, corner.pixel);
        if (ray) {
            const Eigen::Vector2d mm = on_board_mm(data, data.views[view], corner);
            on_board.emplace_back(mm.x(), mm.y());
            rays.emplace_back(ray->x(), ray->y());
        }
    }
    if (rays.size() < 4) {
        return std::nullopt;
    }
    const cv::Mat found = cv::findHomography(on_board, rays);
    if (found.empty()) {
        return std::nullopt;
    }
    Eigen::Matrix3d homography;
    for (int row = 0; row < 3; ++row) {
        for (int column = 0; column < 3; ++column) {
            homography(row, column) = found.at<double>(row, column);
        }
    }
    homography *= 2 / (homography.col(0).norm() + homography.col(1).norm());
    if (homography(2, 2) < 0) {
        homography = -homography;
    }
    Eigen::Matrix3d axes;
    axes << homography.col(0), homography.col(1), homography.col(0).cross(homography.col(1));
    const Eigen::JacobiSVD<Eigen::Matrix3d> svd(axes, Eigen::ComputeFullU | Eigen::ComputeFullV);
    Pose<double> pose{svd.matrixU() * svd.matrixV().transpose(), homography.col(2)};
    if (!pose.rotation.allFinite() || pose.rotation.determinant() < 0 ||
        !pose.translation_mm.allFinite() || !(pose.translation_mm.z() > 0)) {
        return std::nullopt;
    }
    return pose;
}

Pose<double> mirrored(const Pose<double>& camera_from_board) {
    const Eigen::Vector3d sight = camera_from_board.translation_mm.normalized();
    const Eigen::Vector3d normal = camera_from_board.rotation.col(2);
    const Eigen::Vector3d reflected = 2 * sight.dot(normal) * sight - normal;
    return {Eigen::Quaterniond::FromTwoVectors(normal, reflected).toRotationMatrix() *
                camera_from_board.rotation,
            camera_from_board.translation_mm};
}

}  // namespace squaresight

#pragma once
#include <functional>
#include <string>
#include <vector>

#include "support/degraded_photo.h"

/// What stands about in a bay and looks like the board, or a little like it.
namespace squaresight::degraded {

/// Paints on the unblurred photo; the scene has its finer pixels.
struct Decoy {
    std::string name;
    std::function<void(cv::Mat&, const raster::Scene&, Random&)> paint;
    bool same_board = false;  ///< it is the target once more
};

inline raster::Scene elsewhere(const raster::Scene& scene, Random& random) {
    raster::Scene other = scene;
    const double distance_mm = random.between(1500, 3000);
    const double side = random.upto(2) == 0 ? -1 : 1;
    other.pose = raster::pose(
        distance_mm, random.between(0, 360), random.between(-30, 30), random.between(-30, 30),
        {side * random.between(0.2, 0.5) * distance_mm, random.between(-0.3, 0.3) * distance_mm});
    return other;
}

inline void paint_other(cv::Mat& photo, const raster::Scene& scene, Random& random,
                        const std::function<void(raster::Scene&)>& change) {
    raster::Scene other = elsewhere(scene, random);
    change(other);
    raster::paint_board(photo, other);
}

/// Single markers of the target's family, its own numbers among them.
inline void scatter_markers(cv::Mat& photo, const raster::Scene& scene, Random& random) {
    const Dictionary dictionary = marker_dictionary(scene.target.pattern.dictionary, "decoy");
    const int cells = dictionary.size + 4;  // with the black border and white about it
    for (int n = 0; n < 30; ++n) {
        const int id = random.upto(static_cast<int>(dictionary.bits.size()));
        cv::Mat marker(cells, cells, CV_32F, cv::Scalar(scene.white));
        for (int row = 1; row < cells - 1; ++row) {
            for (int column = 1; column < cells - 1; ++column) {
                const bool inside = row > 1 && column > 1 && row < cells - 2 && column < cells - 2;
                const bool white =
                    inside &&
                    dictionary.bits[static_cast<std::size_t>(id)][static_cast<std::size_t>(
                        (row - 2) * dictionary.size + column - 2)] != 0;
                marker.at<float>(row, column) =
                    static_cast<float>(white ? scene.white : scene.black);
            }
        }
        const double cell_px = scene.finer * random.between(2, 8);
        const double turn = random.angle();
        const cv::Matx23d from_marker(cell_px * std::cos(turn), -cell_px * std::sin(turn),
                                      random.upto(photo.cols), cell_px * std::sin(turn),
                                      cell_px * std::cos(turn), random.upto(photo.rows));
        cv::Mat larger;
        constexpr int times = 16;
        cv::resize(marker, larger, {}, times, times, cv::INTER_NEAREST);
        cv::Mat shrink(from_marker);
        shrink.colRange(0, 2) /= times;
        cv::warpAffine(larger, photo, shrink, photo.size(), cv::INTER_AREA, cv::BORDER_TRANSPARENT);
    }
}

/// Three checkered faces that meet in a corner.
inline void stand_box(cv::Mat& photo, const raster::Scene& scene, Random& random) {
    raster::Scene face = elsewhere(scene, random);
    face.with_markers = false;
    face.target.pattern.down = face.target.pattern.across = 8;
    const double side_mm = 8 * face.target.pattern.square_mm;
    face.target.sheet_width_mm = face.target.sheet_height_mm = side_mm;
    const raster::Pose front = raster::pose(2400, random.between(-15, 15), 35, 35);
    const Eigen::Vector3d middle = elsewhere(scene, random).pose.target_in_camera_mm;
    for (const Eigen::Matrix3d& turn :
         {rotation_y<double>(0), rotation_y<double>(M_PI / 2), rotation_y<double>(-M_PI / 2),
          rotation_x<double>(M_PI / 2), rotation_x<double>(-M_PI / 2)}) {
        face.pose.camera_from_target = front.camera_from_target * turn;
        const Eigen::Vector3d inward = face.pose.camera_from_target.col(2);
        face.pose.target_in_camera_mm = middle - inward * side_mm / 2;
        if (inward.dot(face.pose.target_in_camera_mm) > 0) {
            raster::paint_board(photo, face);
        }
    }
}

inline void hang_fence(cv::Mat& photo, const raster::Scene& scene, Random& random) {
    const int step = scene.finer * (12 + random.upto(40));
    const int thick = scene.finer * (1 + random.upto(4));
    const cv::Scalar wire(random.between(120, 230));
    for (int at = -photo.rows; at < photo.cols + photo.rows; at += step) {
        cv::line(photo, {at, 0}, {at + photo.rows, photo.rows}, wire, thick);
        cv::line(photo, {at, 0}, {at - photo.rows, photo.rows}, wire, thick);
    }
}

inline void lay_bricks(cv::Mat& photo, const raster::Scene& scene, Random& random) {
    const int high = scene.finer * (10 + random.upto(30));
    const int wide = high * (1 + random.upto(3));
    const int joint = scene.finer * (1 + random.upto(4));
    photo.setTo(200);
    for (int row = 0; row * high < photo.rows; ++row) {
        for (int at = row % 2 == 0 ? 0 : -wide / 2; at < photo.cols; at += wide) {
            cv::rectangle(photo, cv::Rect(at, row * high, wide - joint, high - joint),
                          cv::Scalar(random.between(40, 120)), cv::FILLED);
        }
    }
}

inline void print_text(cv::Mat& photo, const raster::Scene& scene, Random& random) {
    photo.setTo(210);
    const double size = scene.finer * random.between(0.4, 1.2);
    const int line_px = static_cast<int>(36 * size);
    for (int y = line_px; y < photo.rows; y += line_px) {
        std::string text;
        for (int n = 0; n < 80; ++n) {
            text += static_cast<char>(random.upto(6) == 0 ? ' ' : '0' + random.upto(43));
        }
        cv::putText(photo, text, {10, y}, cv::FONT_HERSHEY_DUPLEX, size, cv::Scalar(40),
                    static_cast<int>(2 * size) + 1, cv::LINE_AA);
    }
}

inline std::vector<Decoy> decoys() {
    const auto board = [](const std::function<void(raster::Scene&)>& change) {
        return [change](cv::Mat& photo, const raster::Scene& scene, Random& random) {
            paint_other(photo, scene, random, change);
        };
    };
    return {
        {"markers of the same family", scatter_markers},
        {"a board with other numbers",
         board([](auto& other) { other.target.pattern.first_id = 50; })},
        {"a board of another shape", board([](auto& other) { other.target.pattern.across = 11; })},
        {"a board of other colours",
         board([](auto& other) { other.target.pattern.first_square = SquareColour::white; })},
        {"a mirror image", board([](auto& other) { other.mirrored = true; })},
        {"a plain checkerboard", board([](auto& other) { other.with_markers = false; })},
        {"a checkered box", stand_box},
        {"a chain-link fence", hang_fence},
        {"bricks", lay_bricks},
        {"printed text", print_text},
        {"the same board again", board([](auto&) {}), true},
    };
}

/// The board out of sight: nothing of it is painted and no corner of it has a place.
inline void take_away(raster::Scene& scene) {
    scene.pose.target_in_camera_mm.z() = -scene.pose.target_in_camera_mm.z();
    scene.pose.camera_from_target.setIdentity();
}

}  // namespace squaresight::degraded

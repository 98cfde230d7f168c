#include <gtest/gtest.h>

#include <opencv2/aruco/charuco.hpp>
#include <opencv2/calib3d.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <string>

#include "sight/sight.h"
#include "support/scratch.h"

/// Boards of another make, of the same public dictionaries, described in a target file.
namespace squaresight {
namespace {

Target described(const Scratch& scratch, const std::string& pattern) {
    return load_target(scratch.write("other.yaml",
                                     "schema: squaresight/target/1\n"
                                     "name: other-make\n"
                                     "sheet: {width: 840 mm, height: 840 mm}\n"
                                     "pattern: " +
                                         pattern + "\n"));
}

/// The board of OpenCV's tutorial on such boards: 5 x 7 squares of 40 mm, markers of 20 mm,
/// DICT_6X6_250.
constexpr const char* tutorial_board =
    "{across: 5, down: 7, square: 40 mm, marker: 20 mm, dictionary: DICT_6X6_250, first_id: 0, "
    "first_square: black}";

/// The camera of its photos, rounded (OpenCV 4.6.0, modules/aruco/tutorials/aruco_calibration, file
/// tutorial_camera_charuco.yml).
Lens tutorial_lens() {
    Lens lens;
    lens.fx = 452.51;
    lens.fy = 456.77;
    lens.cx = 317.70;
    lens.cy = 277.75;
    lens.k1 = 0.1214;
    lens.k2 = -1.0855;
    lens.k3 = 2.9543;
    return lens;
}

/// A real photo of that tutorial (Debian package opencv-doc).
cv::Mat tutorial_photo(const std::string& name) {
    const std::string file = "/usr/share/doc/opencv-doc/opencv4/html/" + name;
    const cv::Mat photo = cv::imread(file, cv::IMREAD_GRAYSCALE);
    EXPECT_FALSE(photo.empty()) << file << " is missing: install the Debian package opencv-doc";
    return photo;
}

/// By how much corners lie off a flat board seen through the tutorial's lens, per axis: the photo
/// has no truth, but its board is flat.
double off_a_plane_px(const std::vector<cv::Point2f>& seen_px,
                      const std::vector<cv::Point2f>& board) {
    const Lens lens = tutorial_lens();
    const cv::Matx33d matrix(lens.fx, 0, lens.cx, 0, lens.fy, lens.cy, 0, 0, 1);
    const cv::Vec<double, 5> distortion(lens.k1, lens.k2, lens.p1, lens.p2, lens.k3);
    std::vector<cv::Point2f> straight, expected;
    cv::undistortPoints(seen_px, straight, matrix, distortion, cv::noArray(), matrix);
    cv::perspectiveTransform(board, expected, cv::findHomography(board, straight));
    double squares = 0;
    for (std::size_t i = 0; i < straight.size(); ++i) {
        squares += std::pow(cv::norm(straight[i] - expected[i]), 2);
    }
    return std::sqrt(squares / 2 / static_cast<double>(straight.size()));
}

/// The picture is hard on both: sharpened, and its edges are narrower than a pixel.
void expect_flatter_than_corner_sub_pix(const cv::Mat& photo, const Sight& sight) {
    std::vector<cv::Point2f> ours, board;
    for (const auto& corner : sight.corners) {
        ours.emplace_back(corner.pixel.x(), corner.pixel.y());
        board.emplace_back(40 * (corner.index % 4), 40 * (corner.index / 4));
    }
    const double ours_px = off_a_plane_px(ours, board);
    testing::Test::RecordProperty("off_a_plane_px", std::to_string(ours_px));
    for (const int half_window : {3, 4, 5, 6, 7, 8}) {
        auto others = ours;
        cv::cornerSubPix(photo, others, {half_window, half_window}, {-1, -1},
                         cv::TermCriteria(3, 50, 1e-3));
        EXPECT_LT(ours_px, off_a_plane_px(others, board)) << half_window;
    }
}

TEST(OtherMake, ARealPhotoOfOpenCvsTutorialBoardIsFound) {
    const Scratch scratch;
    const Target target = described(scratch, tutorial_board);
    const cv::Mat photo = tutorial_photo("choriginal.jpg");
    const Sight sight = find_target(photo, target, tutorial_lens());
    EXPECT_EQ(sight.corners.size(), 24U) << sight.advice;
    EXPECT_EQ(sight.markers_read, 17);
    expect_flatter_than_corner_sub_pix(photo, sight);
}

struct OtherBoard {
    int across, down;
    cv::aruco::PREDEFINED_DICTIONARY_NAME number;
    const char* dictionary;
};

/// Drawn by OpenCV, each square 60 px, and no line of the drawing is ours: corner (column, row)
/// stands where four squares meet, half a pixel before the first pixel of the next square.
TEST(OtherMake, BoardsAsOpenCvDrawsThemAreFoundWhereItDrewThem) {
    for (const auto& b :
         {OtherBoard{9, 7, cv::aruco::DICT_5X5_100, "DICT_5X5_100"},
          OtherBoard{11, 5, cv::aruco::DICT_APRILTAG_36h11, "DICT_APRILTAG_36h11"},
          OtherBoard{7, 9, cv::aruco::DICT_ARUCO_ORIGINAL, "DICT_ARUCO_ORIGINAL"}}) {
        const auto board = cv::aruco::CharucoBoard::create(
            b.across, b.down, 60, 42, cv::aruco::getPredefinedDictionary(b.number));
        constexpr int margin_px = 50;
        cv::Mat drawn;
        board->draw({60 * b.across + 2 * margin_px, 60 * b.down + 2 * margin_px}, drawn, margin_px);
        cv::GaussianBlur(drawn, drawn, {0, 0}, 0.8);
        const Scratch scratch;
        const Target target = described(
            scratch, "{across: " + std::to_string(b.across) + ", down: " + std::to_string(b.down) +
                         ", square: 60 mm, marker: 42 mm, dictionary: " + b.dictionary +
                         ", first_id: 0, first_square: black}");
        Lens lens;
        lens.fx = lens.fy = 1000;
        lens.cx = drawn.cols / 2.0;
        lens.cy = drawn.rows / 2.0;
        const Sight sight = find_target(drawn, target, lens);
        EXPECT_EQ(static_cast<int>(sight.corners.size()), (b.across - 1) * (b.down - 1))
            << b.dictionary << ": " << sight.advice;
        for (const auto& corner : sight.corners) {
            const Eigen::Vector2d drawn_at(
                margin_px + 60 * (corner.index % (b.across - 1) + 1) - 0.5,
                margin_px + 60 * (corner.index / (b.across - 1) + 1) - 0.5);
            EXPECT_LT((corner.pixel - drawn_at).norm(), 0.02) << b.dictionary << corner.index;
        }
    }
}

}  // namespace
}  // namespace squaresight

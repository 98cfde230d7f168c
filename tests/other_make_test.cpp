#include <gtest/gtest.h>

#include <opencv2/aruco/charuco.hpp>
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

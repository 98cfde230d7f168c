#include "sight/explanation.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "support/board_raster.h"

namespace squaresight {
namespace {

raster::Scene bay_scene() {
    raster::Scene scene;
    scene.target.name = "bay";
    scene.target.sheet_width_mm = 841;
    scene.target.sheet_height_mm = 594;
    scene.target.pattern = {12, 8, 65, 48, "DICT_4X4_100", 0, SquareColour::black};
    scene.lens.fx = scene.lens.fy = 900;
    scene.lens.cx = 600;
    scene.lens.cy = 450;
    scene.pose = raster::pose(1600, 3, 12, -15, {60, -40});
    scene.noise = 2;
    return scene;
}

int count_of(const Explanation& told, CornerFate fate) {
    return static_cast<int>(
        std::count_if(told.corners.begin(), told.corners.end(),
                      [&](const ExplainedCorner& corner) { return corner.fate == fate; }));
}

TEST(Explanation, OfAWholeBoardUsesEveryCorner) {
    const auto scene = bay_scene();
    const auto told = explain_target(raster::photo_of(scene), scene.target, scene.lens);
    EXPECT_EQ(count_of(told, CornerFate::used), 77);
    EXPECT_EQ(told.corners.size(), 77U);
    EXPECT_TRUE(told.other_boards.empty());
}

TEST(Explanation, SaysWhereAHandLies) {
    auto scene = bay_scene();
    const auto middle = raster::true_corner(scene, 38);
    scene.in_front = [&](cv::Mat& ideal) {
        cv::circle(ideal, cv::Point2d(2 * middle.x(), 2 * middle.y()), 120, cv::Scalar(120),
                   cv::FILLED);
    };
    const auto told = explain_target(raster::photo_of(scene), scene.target, scene.lens);
    EXPECT_EQ(count_of(told, CornerFate::used), static_cast<int>(told.sight.corners.size()));
    EXPECT_GT(count_of(told, CornerFate::not_measured) + count_of(told, CornerFate::set_aside), 0);
    EXPECT_EQ(told.corners.size(), 77U);
    for (const auto& corner : told.corners) {
        const auto truth = raster::true_corner(scene, corner.index);
        EXPECT_LT((corner.pixel - truth).norm(), 1.0) << corner.index;
        if (corner.index == 38) {
            EXPECT_NE(corner.fate, CornerFate::used);
        }
    }
}

TEST(Explanation, ShowsABoardThatIsNotTheTarget) {
    auto scene = bay_scene();
    const Target wanted = scene.target;
    scene.target.pattern.first_id = 50;
    const auto told = explain_target(raster::photo_of(scene), wanted, scene.lens);
    EXPECT_TRUE(told.corners.empty());
    ASSERT_FALSE(told.other_boards.empty());
    EXPECT_GT(told.other_boards.front().size(), 40U);
    EXPECT_THAT(told.sight.advice, testing::HasSubstr("numbered from 50"));
}

TEST(Explanation, OfNothingIsEmpty) {
    const auto scene = bay_scene();
    const cv::Mat bare(900, 1200, CV_8UC1, cv::Scalar(120));
    const auto told = explain_target(bare, scene.target, scene.lens);
    EXPECT_TRUE(told.corners.empty());
    EXPECT_TRUE(told.other_boards.empty());
    EXPECT_TRUE(explain_target({}, scene.target, scene.lens).corners.empty());
}

}  // namespace
}  // namespace squaresight

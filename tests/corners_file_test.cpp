#include "job/corners_file.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "support/scratch.h"
#include "support/simulated_job.h"
#include "units/error.h"

namespace squaresight {
namespace {

using testing::HasSubstr;

ReducedPhoto whole_photo() {
    ReducedPhoto photo;
    photo.width_px = 4000;
    photo.height_px = 3000;
    photo.facts.has_metadata = true;
    photo.facts.identity = {"Heron", "Bay 7", "main: wide", 5.4, 26};
    photo.facts.orientation = 3;
    photo.facts.taken_at = "2026:03:02 08:15:30";
    photo.facts.utc_offset_min = -330;
    photo.facts.digital_zoom = 1.5;
    photo.facts.stated_width_px = 4000;
    photo.facts.stated_height_px = 3000;
    photo.digest = std::string(64, 'a');
    Eigen::Matrix2d covariance;
    covariance << 0.01, -0.002, -0.002, 0.04;
    photo.corners = {{3, {1200.25, 640.125}, covariance},
                     {76, {1.0 / 3, 2999.4999}, 0.0025 * Eigen::Matrix2d::Identity()}};
    return photo;
}

constexpr const char* head = "schema: squaresight/corners/1\nimage: {width: 4000, height: 3000}\n";

class CornersFile : public testing::Test {
  protected:
    ReducedPhoto load(const std::string& text) const {
        return load_corners(scratch.write("a.corners.yaml", text), test::a1_target().pattern);
    }
    std::string refusal(const std::string& text) const {
        try {
            load(text);
        } catch (const InputError& error) {
            return error.what();
        }
        return "accepted";
    }
    Scratch scratch;
};

TEST_F(CornersFile, ComesBackAsItWasWritten) {
    const ReducedPhoto photo = whole_photo();
    const ReducedPhoto read = load(corners_yaml(photo));
    EXPECT_EQ(corners_yaml(read), corners_yaml(photo));
    EXPECT_EQ(read.facts.identity.lens, "main: wide");
    EXPECT_EQ(read.facts.identity.focal_length_35mm_mm, 26);
    EXPECT_EQ(read.facts.utc_offset_min, -330);
    EXPECT_TRUE(read.facts.has_metadata);
    ASSERT_EQ(read.corners.size(), 2U);
    EXPECT_EQ(read.corners[1].pixel, photo.corners[1].pixel);
    EXPECT_EQ(read.corners[0].covariance_px2, photo.corners[0].covariance_px2);
}

TEST_F(CornersFile, TakesAListInBracketsAndSortsIt) {
    const ReducedPhoto read = load(std::string(head) +
                                   "corners: [[5, 10, 20, 1, 0, 1],\n  # turned\n  [2, 30, 40.5, "
                                   "1e-2, 0, 0.01]]\n");
    ASSERT_EQ(read.corners.size(), 2U);
    EXPECT_EQ(read.corners[0].index, 2);
    EXPECT_EQ(read.corners[0].pixel.y(), 40.5);
    EXPECT_FALSE(read.facts.has_metadata);
}

TEST_F(CornersFile, WithoutADigestIsKnownByItsOwnBytes) {
    const std::string text = std::string(head) + "corners: []\n";
    const ReducedPhoto read = load(text);
    EXPECT_EQ(read.digest, sha256_hex(text));
    EXPECT_TRUE(read.corners.empty());
}

TEST_F(CornersFile, RefusesNumbersThatAreNone) {
    const auto with = [&](const std::string& rows) {
        return refusal(std::string(head) + "corners:\n" + rows);
    };
    EXPECT_THAT(with("  - [0, nan, 20, 1, 0, 1]\n"), HasSubstr("a.corners.yaml:4: corners"));
    EXPECT_THAT(with("  - [0, 10, inf, 1, 0, 1]\n"), HasSubstr("'inf' in place of a number"));
    EXPECT_THAT(with("  - [0, 10, 1e999, 1, 0, 1]\n"), HasSubstr("in place of a number"));
    EXPECT_THAT(with("  - [0, 10, twenty, 1, 0, 1]\n"), HasSubstr("'twenty' in place"));
    EXPECT_THAT(with("  - [77, 10, 20, 1, 0, 1]\n"), HasSubstr("has 0 to 76"));
    EXPECT_THAT(with("  - [-1, 10, 20, 1, 0, 1]\n"), HasSubstr("no corner of this board"));
    EXPECT_THAT(with("  - [0.5, 10, 20, 1, 0, 1]\n"), HasSubstr("no corner of this board"));
    EXPECT_THAT(with("  - [0, 4000, 20, 1, 0, 1]\n"), HasSubstr("outside the picture"));
    EXPECT_THAT(with("  - [0, 10, 20, 1, 1, 1]\n"), HasSubstr("no usable covariance"));
    EXPECT_THAT(with("  - [0, 10, 20, 0, 0, 1]\n"), HasSubstr("no usable covariance"));
    EXPECT_THAT(with("  - [0, 10, 20, 1, 0, -1]\n"), HasSubstr("no usable covariance"));
    EXPECT_THAT(with("  - [0, 10, 20, 1, 0, 1]\n  - [0, 11, 20, 1, 0, 1]\n"),
                HasSubstr("a.corners.yaml:5: corners[0]: stands here twice"));
}

TEST_F(CornersFile, RefusesWhatIsNotWhole) {
    const std::string start = std::string(head) + "corners: [[0, 10, 20, 1, 0, 1]";
    EXPECT_THAT(refusal(start), HasSubstr("ends too early"));
    EXPECT_THAT(refusal(start + ",\n"), HasSubstr("ends too early"));
    EXPECT_THAT(refusal(start + "]\ndigest: 7\n"), HasSubstr("stand last"));
    EXPECT_THAT(refusal(std::string(head) + "corners:\n  - [0, 10, 20, 1, 0]\n"),
                HasSubstr("has ']' where ',' is needed"));
    EXPECT_THAT(refusal(std::string(head) + "corners:\n  - 5\n"), HasSubstr("where '[' is needed"));
    EXPECT_THAT(refusal(head), HasSubstr("has no 'corners'"));
    EXPECT_THAT(refusal("schema: squaresight/corners/1\ncorners: []\n"),
                HasSubstr("has no 'image'"));
    EXPECT_THAT(refusal(std::string(head) + "colour: red\ncorners: []\n"),
                HasSubstr("is not a key that is known here"));
    EXPECT_THAT(refusal(std::string(head) + "digest: abc\ncorners: []\n"),
                HasSubstr("no SHA-256 digest"));
    EXPECT_THAT(refusal(std::string(head) + "orientation: 9\ncorners: []\n"),
                HasSubstr("out of range"));
}

}  // namespace
}  // namespace squaresight

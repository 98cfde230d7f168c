#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <set>

#include "photo/photo.h"
#include "support/exif_block.h"
#include "support/heif_file.h"
#include "support/scratch.h"
#include "units/error.h"

namespace squaresight {
namespace {

using namespace std::string_literals;
using testing::AllOf;
using testing::HasSubstr;
using testing::Not;

/// A picture that is unlike itself when turned or mirrored, in colour.
cv::Mat picture(int width = 320, int height = 192) {
    cv::Mat colour(height, width, CV_8UC3);
    for (int y = 0; y < height; ++y) {
        for (int x = 0; x < width; ++x) {
            colour.at<cv::Vec3b>(y, x) =
                cv::Vec3b(static_cast<unsigned char>(60 + 60 * y / height), 120,
                          static_cast<unsigned char>(20 + 150 * x / width));
        }
    }
    colour(cv::Rect(width / 2, 0, width / 2, height / 4)) = cv::Scalar(240, 235, 230);
    return colour;
}

cv::Mat luma(const cv::Mat& bgr) {
    cv::Mat grey;
    cv::cvtColor(bgr, grey, cv::COLOR_BGR2GRAY);
    return grey;
}

double mean_difference(const cv::Mat& a, const cv::Mat& b) {
    return cv::norm(a, b, cv::NORM_L1) / static_cast<double>(a.total() * a.channels());
}

/// A native picture turned and mirrored upright, as the drawings of JEITA CP-3451 show orientation.
cv::Mat upright(const cv::Mat& native, int orientation) {
    cv::Mat out = native.clone();
    if (orientation >= 5) {
        cv::transpose(native, out);  // 5: rows become columns
    }
    switch (orientation) {
        case 2:
        case 6:
            cv::flip(out, out, 1);
            break;
        case 3:
        case 7:
            cv::flip(out, out, -1);
            break;
        case 4:
        case 8:
            cv::flip(out, out, 0);
            break;
        default:
            break;
    }
    return out;
}

/// What libheif itself shows of a file, turned and mirrored as the container says.
cv::Mat shown_by_libheif(const std::filesystem::path& file) {
    heif_context* context = heif_context_alloc();
    heif::require(heif_context_read_from_file(context, file.c_str(), nullptr));
    heif_image_handle* handle = nullptr;
    heif::require(heif_context_get_primary_image_handle(context, &handle));
    heif_image* image = nullptr;
    heif::require(heif_decode_image(handle, &image, heif_colorspace_RGB,
                                    heif_chroma_interleaved_RGB, nullptr));
    int stride = 0;
    auto* data = heif_image_get_plane(image, heif_channel_interleaved, &stride);
    cv::Mat bgr;
    cv::cvtColor(cv::Mat(heif_image_get_height(image, heif_channel_interleaved),
                         heif_image_get_width(image, heif_channel_interleaved), CV_8UC3, data,
                         static_cast<std::size_t>(stride)),
                 bgr, cv::COLOR_RGB2BGR);
    heif_image_release(image);
    heif_image_handle_release(handle);
    heif_context_free(context);
    return bgr;
}

class HeifTest : public testing::Test {
  protected:
    std::filesystem::path write(const std::string& bytes,
                                const std::string& name = "a.heic") const {
        return scratch.write(name, bytes);
    }
    std::string refusal(const std::string& bytes) const {
        try {
            load_photo(write(bytes));
        } catch (const InputError& error) {
            return error.what();
        }
        return "was accepted";
    }
    Scratch scratch;
};

TEST_F(HeifTest, GreyIsTheLumaInEveryDepthAndRange) {
    for (const int bits : {8, 10, 12}) {
        for (const bool full_range : {true, false}) {
            const auto coded = heif::coded(picture(), {bits, full_range});
            const auto file = write(heif::file_of(coded, {heif::nclx(full_range)}));
            const Photo photo = load_photo(file);
            ASSERT_EQ(photo.grey.type(), CV_8UC1);
            ASSERT_EQ(photo.grey.size(), picture().size());
            EXPECT_LE(mean_difference(photo.grey, luma(picture())), 1.0) << bits << full_range;
            EXPECT_LE(mean_difference(load_colour(file, 1), picture()), 2.0) << bits << full_range;
        }
    }
}

TEST_F(HeifTest, RangeIsReadFromTheCodedPictureWhereTheContainerIsSilent) {
    const auto coded = heif::coded(picture(), {8, false});
    EXPECT_LE(mean_difference(load_photo(write(heif::file_of(coded))).grey, luma(picture())), 1.0);
}

TEST_F(HeifTest, MonochromePicturesAreRead) {
    for (const int bits : {8, 10}) {
        const auto file = write(heif::file_of(heif::coded(picture(), {bits, true, true})));
        EXPECT_LE(mean_difference(load_photo(file).grey, luma(picture())), 1.0);
        EXPECT_EQ(load_colour(file, 1).type(), CV_8UC3);
    }
}

TEST_F(HeifTest, LibheifsOwnFilesAreRead) {
    const auto file = write(heif::file_by_libheif(picture(), {}));
    EXPECT_LE(mean_difference(load_photo(file).grey, luma(picture())), 1.0);
    EXPECT_FALSE(load_photo(file).facts.orientation);
    EXPECT_FALSE(load_photo(file).facts.has_metadata);
}

TEST_F(HeifTest, PixelsStayNativeAndOrientationIsWhatViewersShow) {
    const auto coded = heif::coded(picture());
    const cv::Mat native = load_photo(write(heif::file_of(coded))).grey;
    std::set<int> seen;
    for (unsigned quarters = 0; quarters < 4; ++quarters) {
        for (unsigned mirror = 0; mirror < 3; ++mirror) {
            for (const bool mirror_first : {false, true}) {
                std::vector<std::string> turns{heif::irot(quarters)};
                if (mirror < 2) {
                    turns.insert(mirror_first ? turns.begin() : turns.end(), heif::imir(mirror));
                }
                const auto file = write(heif::file_of(coded, turns));
                const Photo photo = load_photo(file);
                EXPECT_EQ(cv::norm(photo.grey, native, cv::NORM_INF), 0);
                ASSERT_TRUE(photo.facts.orientation);
                seen.insert(*photo.facts.orientation);
                const cv::Mat shown = shown_by_libheif(file);
                const cv::Mat turned = upright(native, *photo.facts.orientation);
                ASSERT_EQ(shown.size(), turned.size());
                EXPECT_LE(mean_difference(luma(shown), turned), 1.0)
                    << quarters << mirror << mirror_first;
            }
        }
    }
    EXPECT_EQ(seen.size(), 8u);
}

// ISO/IEC 23008-12, 6.5.10: irot turns to the left by quarters; three of them are EXIF's 6.
TEST_F(HeifTest, ThreeQuartersLeftIsTheExifSixOfAnUprightPhone) {
    const auto coded = heif::coded(picture());
    EXPECT_EQ(load_photo(write(heif::file_of(coded, {heif::irot(3)}))).facts.orientation, 6);
    EXPECT_EQ(load_photo(write(heif::file_of(coded, {heif::irot(1)}))).facts.orientation, 8);
    EXPECT_EQ(load_photo(write(heif::file_of(coded, {heif::irot(0)}))).facts.orientation, 1);
}

TEST_F(HeifTest, ExifOrientationIsOnlyARepeatOfTheContainers) {
    const auto coded = heif::coded(picture());
    ExifBlock exif;
    exif.text(false, 0x0110, "Bay 7");
    exif.short_number(false, 0x0112, 6);
    const auto orientation = [&](const std::vector<std::string>& turns) {
        return load_photo(write(heif::file_of(coded, turns, exif.bytes()))).facts.orientation;
    };
    EXPECT_EQ(orientation({heif::irot(3)}), 6);  // both, agreeing
    EXPECT_EQ(orientation({heif::irot(0)}), 1);  // both, the container's counts
    EXPECT_EQ(orientation({}), 6);               // only EXIF
    EXPECT_EQ(load_photo(write(heif::file_of(coded, {}, exif.bytes()))).facts.identity.model,
              "Bay 7");
}

TEST_F(HeifTest, MetadataOfAnotherPictureAreNotTaken) {
    const auto coded = heif::coded(picture());
    ExifBlock exif;
    exif.text(false, 0x0110, "Other");
    heif::File file;
    file.add_picture(coded);
    file.add_exif(exif.bytes(), file.add_picture(coded));
    EXPECT_FALSE(load_photo(write(file.bytes())).facts.has_metadata);
}

TEST_F(HeifTest, TheMainPictureOfSeveralIsTaken) {
    const cv::Mat dark(96, 128, CV_8UC3, cv::Scalar(20, 20, 20));
    heif::File file;
    file.add_picture(heif::coded(dark));
    file.primary = file.add_picture(heif::coded(picture()), {heif::irot(2)});
    const Photo photo = load_photo(write(file.bytes()));
    EXPECT_EQ(photo.grey.size(), picture().size());
    EXPECT_EQ(photo.facts.orientation, 3);
}

TEST_F(HeifTest, PhotosInTilesAreReadWhole) {
    for (const bool full_range : {true, false}) {
        const cv::Mat whole = picture(250, 180);  // the last row and column reach beyond
        cv::Mat padded;
        cv::copyMakeBorder(whole, padded, 0, 12, 0, 6, cv::BORDER_REPLICATE);
        heif::File file;
        std::vector<unsigned> tiles;
        for (int y = 0; y < 192; y += 64) {
            for (int x = 0; x < 256; x += 64) {
                tiles.push_back(file.add_picture(
                    heif::coded(padded(cv::Rect(x, y, 64, 64)).clone(), {8, full_range})));
            }
        }
        file.primary = file.add_grid(3, 4, 250, 180, tiles, {heif::irot(3)});
        const auto path = write(file.bytes());
        const Photo photo = load_photo(path);
        ASSERT_EQ(photo.grey.size(), whole.size());
        EXPECT_LE(mean_difference(photo.grey, luma(whole)), 1.0) << full_range;
        EXPECT_EQ(photo.facts.orientation, 6);
        EXPECT_EQ(load_colour(path, 2).size(), cv::Size(125, 90));
    }
}

TEST_F(HeifTest, SmallColourPicturesAreRoundedUp) {
    const auto file = write(heif::file_of(heif::coded(picture(322, 202))));
    for (const int denominator : {1, 2, 4, 8}) {
        const cv::Mat small = load_colour(file, denominator);
        EXPECT_EQ(small.type(), CV_8UC3);
        EXPECT_EQ(small.size(), cv::Size((322 + denominator - 1) / denominator,
                                         (202 + denominator - 1) / denominator));
    }
}

TEST_F(HeifTest, FilledUpBlocksArePixelsButACropIsRefused) {
    const auto coded = heif::coded(picture(320, 192));
    // 319 x 190 from the top left corner: middle moved by (319 - 320) / 2 and (190 - 192) / 2.
    const auto filled = heif::clap({319, 1, 190, 1, -1, 2, -1, 1});
    EXPECT_EQ(load_photo(write(heif::file_of(coded, {filled}))).grey.size(), cv::Size(320, 192));
    const auto cropped = heif::clap({200, 1, 100, 1, 0, 1, 0, 1});
    EXPECT_THAT(refusal(heif::file_of(coded, {cropped})),
                AllOf(HasSubstr("cropped"), HasSubstr("bring the photo as the phone took it")));
    EXPECT_THAT(refusal(heif::file_of(coded, {heif::clap({200, 0, 100, 0, 0, 1, 0, 0})})),
                HasSubstr("broken"));
}

TEST_F(HeifTest, WhatHangsBehindTheContainerDoesNoHarm) {
    const std::string photo = heif::file_of(heif::coded(picture()));
    EXPECT_EQ(load_photo(write(photo + heif::box("mpvd", std::string(5000, 'v')))).grey.cols, 320);
    EXPECT_EQ(load_photo(write(photo + "trailer of a moving photo")).grey.cols, 320);
    EXPECT_EQ(load_photo(write(photo + "abc")).grey.cols, 320);
}

TEST_F(HeifTest, MovingPicturesVideosAndOtherCodingsAreNamed) {
    const auto with_brands = [](const std::string& brands) {
        heif::File file;
        file.add_picture(heif::coded(picture(64, 64)));
        file.brands = brands;
        return file.bytes();
    };
    EXPECT_THAT(refusal(with_brands("msf1\0\0\0\0msf1mif1heic"s)), HasSubstr("moving picture"));
    EXPECT_THAT(refusal(with_brands("hevc\0\0\0\0msf1"s)), HasSubstr("moving picture"));
    EXPECT_THAT(refusal(with_brands("avif\0\0\0\0avifmif1"s)), HasSubstr("AVIF"));
    EXPECT_THAT(refusal(with_brands("avis\0\0\0\0avis"s)), HasSubstr("moving picture"));
    EXPECT_THAT(refusal(with_brands("qt  \0\0\0\0qt  "s)), HasSubstr("is a video"));
    EXPECT_THAT(refusal(with_brands("mp42\0\0\0\0isommp42"s)), HasSubstr("is a video"));
    EXPECT_THAT(refusal(with_brands("crx \0\0\0\0crx isom"s)), HasSubstr("raw photo"));
    EXPECT_THAT(refusal(heif::box("ftyp", "heic\0\0\0\0heic"s) + heif::box("moov", "")),
                HasSubstr("moving picture"));
    heif::File other;
    other.add_item("av01", "x", {heif::ispe(64, 64)});
    EXPECT_THAT(refusal(other.bytes()), HasSubstr("AVIF"));
    heif::File overlay;
    overlay.add_item("iovl", "x", {heif::ispe(64, 64)});
    EXPECT_THAT(refusal(overlay.bytes()), HasSubstr("made of others"));
}

TEST_F(HeifTest, CutShortItIsRefusedWhereverItEnds) {
    const std::string bytes = heif::file_of(heif::coded(picture()));
    for (std::size_t length = 4; length < bytes.size(); length += 1 + bytes.size() / 200) {
        EXPECT_THAT(refusal(bytes.substr(0, length)),
                    AllOf(Not(HasSubstr("was accepted")), Not(HasSubstr("\n"))))
            << length;
    }
}

TEST_F(HeifTest, DamageNeverCrashes) {
    heif::File file;
    std::vector<unsigned> tiles;
    for (int n = 0; n < 4; ++n) {
        tiles.push_back(file.add_picture(heif::coded(picture(64, 64))));
    }
    file.primary = file.add_grid(2, 2, 128, 128, tiles, {heif::irot(1), heif::imir(0)});
    ExifBlock exif;
    exif.text(false, 0x0110, "Bay 7");
    file.add_exif(exif.bytes(), file.primary);
    const std::string grid = file.bytes();
    const std::string single = heif::file_of(heif::coded(picture(64, 64)), {heif::irot(1)});
    unsigned state = 31;  // the seed of this small generator
    int refused = 0;
    for (int trial = 0; trial < 4000; ++trial) {
        std::string damaged = trial % 2 == 0 ? grid : single;
        const std::size_t within = trial % 4 < 2 ? damaged.find("mdat") : damaged.size();
        for (int hit = 0; hit < 1 + trial % 5; ++hit) {
            state = state * 1664525 + 1013904223;
            damaged[(state >> 8) % within] = static_cast<char>(state >> 24);
        }
        refused += refusal(damaged) != "was accepted";
    }
    EXPECT_GT(refused, 0);
}

}  // namespace
}  // namespace squaresight

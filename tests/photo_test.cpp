#include "photo/photo.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "photo/metadata.h"
#include "support/exif_block.h"
#include "support/scratch.h"
#include "units/bytes.h"
#include "units/error.h"

namespace squaresight {
namespace {

using namespace std::string_literals;
using testing::AllOf;
using testing::HasSubstr;
using testing::Not;

/// A picture that is unlike itself when turned or mirrored: dark on the left, a light top right.
cv::Mat picture(int width = 320, int height = 200) {
    cv::Mat grey(height, width, CV_8UC1);
    for (int y = 0; y < height; ++y) {
        for (int x = 0; x < width; ++x) {
            grey.at<unsigned char>(y, x) = static_cast<unsigned char>(20 + 150 * x / width);
        }
    }
    grey(cv::Rect(width / 2, 0, width / 2, height / 4)) = 240;
    return grey;
}

std::string encoded(const std::string& extension, const cv::Mat& image) {
    std::vector<unsigned char> bytes;
    cv::imencode(extension, image, bytes, {cv::IMWRITE_JPEG_QUALITY, 98});
    return {bytes.begin(), bytes.end()};
}

ExifBlock phone_exif() {
    ExifBlock exif;
    exif.text(false, 0x010f, "Heron");
    exif.text(false, 0x0110, "Bay 7");
    exif.short_number(false, 0x0112, 6);
    exif.text(true, 0x9003, "2026:03:02 08:15:30");
    exif.ratio(true, 0x920a, 42, 10);
    exif.short_number(true, 0xa002, 320);
    exif.short_number(true, 0xa003, 200);
    exif.ratio(true, 0xa404, 112, 100);
    exif.text(true, 0xa434, "Bay 7 main 4.2 mm");
    return exif;
}

std::string jpeg_with(const std::string& exif_block) {
    return with_exif(encoded(".jpg", picture()), exif_block);
}

std::string png_chunk(const std::string& name, const std::string& content) {
    return big_endian_bytes(static_cast<unsigned>(content.size())) + name + content +
           big_endian_bytes(png_crc(name + content));
}

class PhotoTest : public testing::Test {
  protected:
    std::filesystem::path write(const std::string& name, const std::string& bytes) const {
        return scratch.write(name, bytes);
    }
    Scratch scratch;
};

std::string refusal(const std::filesystem::path& file) {
    try {
        load_photo(file);
    } catch (const InputError& error) {
        return error.what();
    }
    return "was accepted";
}

// FIPS 180-4 names its examples on csrc.nist.gov ("Examples with Intermediate Values", SHA256.pdf:
// one block "abc", two blocks of 448 bits); the empty and the million-letter message: NIST CAVP
// SHA256ShortMsg.rsp (Len = 0) and FIPS 180-2, appendix B.3.
TEST(Sha256, GivesTheExamplesOfTheStandard) {
    EXPECT_EQ(sha256_hex("abc"),
              "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    EXPECT_EQ(sha256_hex("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"),
              "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
    EXPECT_EQ(sha256_hex(""), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
    EXPECT_EQ(sha256_hex(std::string(1000000, 'a')),
              "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}

// PNG specification (ISO/IEC 15948), the IEND chunk: its CRC is always AE 42 60 82.
TEST(PngCrc, OfTheEmptyEndChunkIsTheKnownOne) { EXPECT_EQ(png_crc("IEND"), 0xae426082u); }

TEST(Sha256, PadsEveryLengthAroundABlock) {
    std::vector<std::string> digests;
    for (std::size_t length = 50; length < 140; ++length) {
        digests.push_back(sha256_hex(std::string(length, 'x')));
        EXPECT_EQ(digests.back().size(), 64u);
    }
    std::sort(digests.begin(), digests.end());
    EXPECT_EQ(std::adjacent_find(digests.begin(), digests.end()), digests.end());
}

TEST_F(PhotoTest, JpegComesAsGreyPixelsWithItsDigest) {
    const auto bytes = encoded(".jpg", picture());
    const Photo photo = load_photo(write("a.jpg", bytes));
    ASSERT_EQ(photo.grey.size(), cv::Size(320, 200));
    ASSERT_EQ(photo.grey.type(), CV_8UC1);
    EXPECT_LE(cv::norm(photo.grey, picture(), cv::NORM_L1) / (320 * 200), 1.0);
    EXPECT_EQ(photo.digest, sha256_hex(bytes));
    EXPECT_FALSE(photo.facts.has_metadata);
}

TEST_F(PhotoTest, ColourJpegGivesItsLuminance) {
    const cv::Mat colour(40, 40, CV_8UC3, cv::Scalar(200, 100, 50));  // BGR
    const Photo photo = load_photo(write("c.jpg", encoded(".jpg", colour)));
    // ITU-R BT.601 luma, as JFIF prescribes: 0.299 R + 0.587 G + 0.114 B.
    EXPECT_NEAR(photo.grey.at<unsigned char>(20, 20), 0.299 * 50 + 0.587 * 100 + 0.114 * 200, 2);
}

TEST_F(PhotoTest, PixelsStayAsTheSensorHasThemForEveryOrientation) {
    for (unsigned orientation = 1; orientation <= 8; ++orientation) {
        ExifBlock exif;
        exif.short_number(false, 0x0112, orientation);
        const auto jpeg = write("o.jpg", jpeg_with(exif.bytes()));
        std::string png = encoded(".png", picture());
        png.insert(33, png_chunk("eXIf", exif.bytes()));
        for (const auto& file : {jpeg, write("o.png", png)}) {
            const Photo photo = load_photo(file);
            ASSERT_EQ(photo.grey.size(), cv::Size(320, 200)) << file << orientation;
            EXPECT_LE(cv::norm(photo.grey, picture(), cv::NORM_L1) / (320 * 200), 1.0);
            EXPECT_EQ(photo.facts.orientation, static_cast<int>(orientation)) << file;
            EXPECT_EQ(load_colour(file, 1).size(), cv::Size(320, 200));
        }
    }
}

TEST_F(PhotoTest, TellsWhatThePhoneWroteOfItself) {
    const auto facts = load_photo(write("p.jpg", jpeg_with(phone_exif().bytes()))).facts;
    EXPECT_TRUE(facts.has_metadata);
    EXPECT_EQ(facts.identity.make, "Heron");
    EXPECT_EQ(facts.identity.model, "Bay 7");
    EXPECT_EQ(facts.identity.lens, "Bay 7 main 4.2 mm");
    EXPECT_DOUBLE_EQ(facts.identity.focal_length_mm.value(), 4.2);
    EXPECT_EQ(facts.orientation, 6);
    EXPECT_DOUBLE_EQ(facts.digital_zoom.value(), 1.12);
    EXPECT_EQ(facts.taken_at, "2026:03:02 08:15:30");
    EXPECT_EQ(facts.stated_width_px, 320);
    EXPECT_EQ(facts.stated_height_px, 200);
}

TEST_F(PhotoTest, FindsMetadataBehindOtherSegments) {
    std::string jpeg = jpeg_with(phone_exif().bytes());
    jpeg.insert(2, jpeg_segment('\xe1', "http://ns.adobe.com/xap/1.0/\0<x/>"s));
    jpeg.insert(2, jpeg_segment('\xe0', "JFIF\0\1\1\0\0\1\0\1\0\0"s));
    EXPECT_EQ(load_photo(write("x.jpg", jpeg)).facts.identity.model, "Bay 7");
}

TEST_F(PhotoTest, NothingIsMadeUpThatTheCameraDidNotWrite) {
    ExifBlock one_tag;
    one_tag.text(false, 0x0110, "Bay 7");
    const auto facts = facts_from_exif(one_tag.bytes());
    EXPECT_TRUE(facts.has_metadata);
    EXPECT_FALSE(facts.orientation || facts.stated_width_px || facts.identity.focal_length_mm);
    EXPECT_FALSE(facts_from_exif(ExifBlock().bytes()).has_metadata);
    EXPECT_FALSE(facts_from_exif("II*").has_metadata);
    EXPECT_FALSE(facts_from_exif(std::string(64, 'x')).has_metadata);
}

TEST_F(PhotoTest, ZoomCountsFromHalfAPercent) {
    const auto zoomed = [](unsigned above, unsigned below) {
        ExifBlock exif;
        exif.ratio(true, 0xa404, above, below);
        return is_zoomed(facts_from_exif(exif.bytes()));
    };
    const std::pair<unsigned, unsigned> none[] = {{0, 1}, {1, 1},      {0, 0},     {100, 100},
                                                  {7, 0}, {1, 0},      {256, 256}, {10007, 10000},
                                                  {0, 0}, {1004, 1000}};
    for (const auto& [above, below] : none) {
        EXPECT_FALSE(zoomed(above, below)) << above << "/" << below;
    }
    EXPECT_TRUE(zoomed(106, 100));
    EXPECT_TRUE(zoomed(2, 1));
    EXPECT_TRUE(zoomed(1, 2));
    EXPECT_FALSE(is_zoomed({}));
}

TEST_F(PhotoTest, UnsetClockAndAbsurdTagsAreLeftOut) {
    ExifBlock exif;
    exif.text(true, 0x9003, "    :  :     :  :  ");
    exif.short_number(false, 0x0112, 9);
    exif.ratio(true, 0x920a, 0, 0);
    const auto facts = facts_from_exif(exif.bytes());
    EXPECT_EQ(facts.taken_at, "");
    EXPECT_FALSE(facts.orientation);
    EXPECT_FALSE(facts.identity.focal_length_mm);
}

TEST_F(PhotoTest, DamagedMetadataNeverCrash) {
    const std::string block = phone_exif().bytes();
    for (std::size_t length = 0; length < block.size(); ++length) {
        facts_from_exif(block.substr(0, length));
    }
    unsigned state = 17;  // the seed of this small generator
    for (int trial = 0; trial < 3000; ++trial) {
        std::string damaged = block;
        for (int hit = 0; hit < 6; ++hit) {
            state = state * 1664525 + 1013904223;
            damaged[(state >> 8) % damaged.size()] = static_cast<char>(state >> 24);
        }
        facts_from_exif(damaged);
    }
    const auto photo = load_photo(write("d.jpg", jpeg_with(block.substr(0, 30))));
    EXPECT_EQ(photo.grey.cols, 320);
}

TEST_F(PhotoTest, SmallColourPicturesAreRoundedUp) {
    const cv::Mat odd = picture(321, 203);
    for (const auto& extension : {".jpg"s, ".png"s}) {
        const auto file = write("s" + extension, encoded(extension, odd));
        for (const int denominator : {1, 2, 4, 8}) {
            const cv::Mat small = load_colour(file, denominator);
            EXPECT_EQ(small.type(), CV_8UC3);
            EXPECT_EQ(small.cols, (321 + denominator - 1) / denominator);
            EXPECT_EQ(small.rows, (203 + denominator - 1) / denominator);
        }
    }
}

TEST_F(PhotoTest, SixteenBitAndTransparentPngAreRead) {
    cv::Mat deep;
    picture().convertTo(deep, CV_16UC1, 257);
    const Photo photo = load_photo(write("deep.png", encoded(".png", deep)));
    ASSERT_EQ(photo.grey.type(), CV_8UC1);
    EXPECT_LE(cv::norm(photo.grey, picture(), cv::NORM_INF), 1.0);
    cv::Mat clear(50, 60, CV_8UC4, cv::Scalar(10, 10, 10, 128));
    EXPECT_EQ(load_photo(write("clear.png", encoded(".png", clear))).grey.type(), CV_8UC1);
}

TEST_F(PhotoTest, JpegCutShortIsRefusedWhereverItEnds) {
    const auto bytes = encoded(".jpg", picture());
    for (std::size_t length = 4; length < bytes.size() - 2; length += 97) {
        EXPECT_THAT(refusal(write("cut.jpg", bytes.substr(0, length))),
                    AllOf(HasSubstr("cut.jpg"), HasSubstr("broken photo"), HasSubstr("again")))
            << length;
    }
    EXPECT_THAT(refusal(write("cut.jpg", bytes.substr(0, bytes.size() - 2))), HasSubstr("broken"));
}

TEST_F(PhotoTest, PngCutShortIsRefusedWhereverItEnds) {
    const auto bytes = encoded(".png", picture());
    for (std::size_t length = 8; length < bytes.size() - 12; length += 41) {
        EXPECT_THAT(refusal(write("cut.png", bytes.substr(0, length))), HasSubstr("broken photo"))
            << length;
    }
}

TEST_F(PhotoTest, PngWithADamagedByteIsRefused) {
    auto bytes = encoded(".png", picture());
    bytes[bytes.size() / 2] = static_cast<char>(bytes[bytes.size() / 2] ^ 0x55);
    EXPECT_THAT(refusal(write("hit.png", bytes)), HasSubstr("broken photo"));
}

TEST_F(PhotoTest, DamagedJpegNeverCrashes) {
    const auto bytes = encoded(".jpg", picture());
    unsigned state = 29;  // the seed of this small generator
    int refused = 0;
    for (int trial = 0; trial < 300; ++trial) {
        std::string damaged = bytes;
        for (int hit = 0; hit < 4; ++hit) {
            state = state * 1664525 + 1013904223;
            damaged[(state >> 8) % damaged.size()] = static_cast<char>(state >> 24);
        }
        refused += refusal(write("hit.jpg", damaged)) != "was accepted";
    }
    EXPECT_GT(refused, 0);
}

TEST_F(PhotoTest, BytesBehindTheEndOfTheJpegDoNoHarm) {
    const auto bytes = encoded(".jpg", picture()) + "trailer of a moving photo"s;
    EXPECT_EQ(load_photo(write("t.jpg", bytes)).grey.cols, 320);
}

TEST_F(PhotoTest, StrayBytesBeforeTheEndMarkerDoNoHarm) {
    auto bytes = encoded(".jpg", picture());
    bytes.insert(bytes.size() - 2, std::string(6, '\0'));
    EXPECT_EQ(load_photo(write("stray.jpg", bytes)).grey.cols, 320);
}

TEST_F(PhotoTest, GiantPhotosAreRefusedFromTheirHeader) {
    auto jpeg = encoded(".jpg", picture());
    const auto frame = jpeg.find("\xff\xc0");
    ASSERT_NE(frame, std::string::npos);
    jpeg.replace(frame + 5, 4, two_bytes(40000) + two_bytes(40000));
    EXPECT_THAT(refusal(write("g.jpg", jpeg)),
                AllOf(HasSubstr("40000 x 40000 px"), HasSubstr("200 megapixels")));
    auto png = encoded(".png", picture());
    png.replace(16, 8, big_endian_bytes(2000000000u) + big_endian_bytes(2000000000u));
    EXPECT_THAT(refusal(write("g.png", png)), HasSubstr("200 megapixels"));
}

TEST_F(PhotoTest, OtherKindsAreNamedWithWhatToDo) {
    EXPECT_THAT(refusal(write("d.dng", "II*\0"s + std::string(40, '\1'))), HasSubstr("DNG"));
    EXPECT_THAT(refusal(write("w.jpg", "RIFF\x10\0\0\0WEBPVP8 "s)), HasSubstr("WebP"));
    EXPECT_THAT(refusal(write("r.jpg", "RIFF"s)), HasSubstr("no photo"));
    EXPECT_THAT(refusal(write("p.jpg", "%PDF-1.5"s)), HasSubstr("PDF"));
    EXPECT_THAT(refusal(write("t.jpg", "not a photo at all"s)), HasSubstr("no photo"));
    EXPECT_THAT(refusal(write("b.jpg", "\x01"s)), HasSubstr("no photo"));
}

TEST_F(PhotoTest, MissingEmptyAndFolderAreRefusedInOneLine) {
    EXPECT_THAT(refusal(scratch.folder() / "none.jpg"), HasSubstr("no such file"));
    EXPECT_THAT(refusal(write("empty.jpg", "")), HasSubstr("empty"));
    EXPECT_THAT(refusal(scratch.folder()), AllOf(HasSubstr("folder"), Not(HasSubstr("\n"))));
}

}  // namespace
}  // namespace squaresight

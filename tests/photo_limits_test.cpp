#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <turbojpeg.h>
#include <unistd.h>
#include <zlib.h>

#include <fmt/format.h>

#include <functional>

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
using testing::StartsWith;

constexpr double gib = 1024.0 * 1024 * 1024;

struct Outcome {
    std::string said;
    double peak_bytes = 0;
};

/// What comes of some work in a process of its own, and the most memory that it held.
Outcome in_a_process(const std::function<std::string()>& work) {
    int ends[2];
    if (pipe(ends) != 0) {
        return {"no pipe", 0};
    }
    const pid_t child = fork();
    if (child == 0) {
        const std::string said = work();
        const auto written = write(ends[1], said.data(), said.size());
        _exit(written == static_cast<ssize_t>(said.size()) ? 0 : 1);
    }
    close(ends[1]);
    Outcome outcome;
    char buffer[4096];
    for (ssize_t got = 0; (got = read(ends[0], buffer, sizeof buffer)) > 0;) {
        outcome.said.append(buffer, static_cast<std::size_t>(got));
    }
    close(ends[0]);
    int status = 0;
    rusage usage{};
    wait4(child, &status, 0, &usage);
    outcome.peak_bytes = static_cast<double>(usage.ru_maxrss) * 1024;
    if (!WIFEXITED(status) || WEXITSTATUS(status) != 0) {
        outcome.said = "crashed: " + outcome.said;
    }
    return outcome;
}

/// Bounded memory, in particular below the promised GiB; a sanitizer's own memory is not ours.
void expect_within_a_gib(const Outcome& outcome) {
#if !defined(__SANITIZE_ADDRESS__)
    EXPECT_LT(outcome.peak_bytes, gib) << outcome.said;
#endif
    testing::Test::RecordProperty("peak_mib", static_cast<int>(outcome.peak_bytes / 1024 / 1024));
}

std::string loaded(const std::filesystem::path& file) {
    try {
        const Photo photo = load_photo(file);
        return fmt::format("{} x {}", photo.grey.cols, photo.grey.rows);
    } catch (const InputError& error) {
        return error.what();
    }
}

class PhotoLimits : public testing::Test {
  protected:
    /// Makes a file in a process of its own, so that its memory is not counted, and loads it in
    /// another.
    Outcome outcome_of(const std::string& name, const std::function<std::string()>& bytes) const {
        const auto file = scratch.folder() / name;
        const Outcome made = in_a_process([&] {
            scratch.write(name, bytes());
            return "made"s;
        });
        EXPECT_EQ(made.said, "made");
        Outcome outcome = in_a_process([&] { return loaded(file); });
        expect_within_a_gib(outcome);
        return outcome;
    }
    Scratch scratch;
};

/// A JPEG of this size, a checker of fine grey.
std::string jpeg_of(int width, int height, int subsampling, int flags = 0) {
    std::vector<unsigned char> pixels(static_cast<std::size_t>(width) * height);
    for (std::size_t n = 0; n < pixels.size(); ++n) {
        pixels[n] = static_cast<unsigned char>((n / 64 % 2) * 100 + n % 7);
    }
    const tjhandle encoder = tjInitCompress();
    unsigned char* bytes = nullptr;
    unsigned long size = 0;
    if (subsampling == TJSAMP_GRAY) {
        tjCompress2(encoder, pixels.data(), width, 0, height, TJPF_GRAY, &bytes, &size, subsampling,
                    80, flags);
    } else {  // luma as above, no colour
        const int chroma_width = (width + 1) / 2;
        const std::vector<unsigned char> none(
            static_cast<std::size_t>(chroma_width) * ((height + 1) / 2), 128);
        const unsigned char* planes[] = {pixels.data(), none.data(), none.data()};
        const int strides[] = {width, chroma_width, chroma_width};
        tjCompressFromYUVPlanes(encoder, planes, width, strides, height, TJSAMP_420, &bytes, &size,
                                80, flags);
    }
    std::string jpeg(reinterpret_cast<char*>(bytes), size);
    tjFree(bytes);
    tjDestroy(encoder);
    return jpeg;
}

std::string png_chunk(const std::string& name, const std::string& content) {
    return big_endian_bytes(static_cast<unsigned>(content.size())) + name + content +
           big_endian_bytes(png_crc(name + content));
}

/// A PNG of zeros, which a few kilobytes hold.
std::string png_of_zeros(unsigned width, unsigned height, unsigned depth, unsigned colour,
                         std::size_t row_bytes, bool interlaced = false) {
    z_stream stream{};
    deflateInit(&stream, 1);
    std::string packed;
    const std::string row(row_bytes + 1, '\0');
    std::vector<unsigned char> buffer(1 << 16);
    for (unsigned y = 0; y < height; ++y) {
        stream.next_in = reinterpret_cast<Bytef*>(const_cast<char*>(row.data()));
        stream.avail_in = static_cast<unsigned>(row.size());
        const int flush = y + 1 == height ? Z_FINISH : Z_NO_FLUSH;
        do {
            stream.next_out = buffer.data();
            stream.avail_out = static_cast<unsigned>(buffer.size());
            deflate(&stream, flush);
            packed.append(reinterpret_cast<char*>(buffer.data()), buffer.size() - stream.avail_out);
        } while (stream.avail_out == 0);
    }
    deflateEnd(&stream);
    const std::string header = big_endian_bytes(width) + big_endian_bytes(height) +
                               std::string{static_cast<char>(depth), static_cast<char>(colour), 0,
                                           0, static_cast<char>(interlaced ? 1 : 0)};
    return "\x89PNG\r\n\x1a\n"s + png_chunk("IHDR", header) + png_chunk("IDAT", packed) +
           png_chunk("IEND", "");
}

TEST_F(PhotoLimits, TheLargestJpegIsReadWithinAGib) {
    for (const int subsampling : {TJSAMP_GRAY, TJSAMP_420}) {
        const auto outcome =
            outcome_of("big.jpg", [&] { return jpeg_of(16000, 12500, subsampling); });
        EXPECT_EQ(outcome.said, "16000 x 12500");
    }
}

TEST_F(PhotoLimits, ProgressiveJpegsKeepWithinAGibOrAreRefused) {
    const auto grey = outcome_of(
        "big.jpg", [] { return jpeg_of(16000, 12500, TJSAMP_GRAY, TJFLAG_PROGRESSIVE); });
    EXPECT_EQ(grey.said, "16000 x 12500");
    const auto colour =
        outcome_of("big.jpg", [] { return jpeg_of(16000, 12500, TJSAMP_420, TJFLAG_PROGRESSIVE); });
    EXPECT_THAT(colour.said, testing::AnyOf("16000 x 12500", HasSubstr("GB of memory")));
}

TEST_F(PhotoLimits, AJpegThatIsAllHeaderIsRefused) {
    const auto outcome = outcome_of("header.jpg", [] {
        auto jpeg = jpeg_of(64, 64, TJSAMP_420);
        const auto frame = jpeg.find("\xff\xc0");
        return jpeg.replace(frame + 5, 4, two_bytes(12500) + two_bytes(16000));
    });
    EXPECT_THAT(outcome.said, HasSubstr("broken photo"));
}

TEST_F(PhotoLimits, AJpegOfManyPassesIsRefused) {
    const auto outcome = outcome_of("scans.jpg", [] {
        auto jpeg = jpeg_of(8000, 8000, TJSAMP_GRAY, TJFLAG_PROGRESSIVE);
        const auto last = jpeg.rfind("\xff\xda");
        const std::string scan = jpeg.substr(last, jpeg.size() - 2 - last);
        for (int n = 0; n < 100; ++n) {
            jpeg.insert(last, scan.substr(0, 4000));
        }
        return jpeg;
    });
    EXPECT_THAT(outcome.said, AllOf(HasSubstr("broken photo"), HasSubstr("passes")));
}

TEST_F(PhotoLimits, PngsOfZerosAreReadOrRefusedWithinAGib) {
    const auto largest =
        outcome_of("z.png", [] { return png_of_zeros(14000, 14000, 8, 2, 3 * 14000); });
    EXPECT_EQ(largest.said, "14000 x 14000");
    const auto interlaced =
        outcome_of("i.png", [] { return png_of_zeros(14000, 14000, 8, 0, 14000 * 8 / 7, true); });
    EXPECT_THAT(interlaced.said, testing::AnyOf("14000 x 14000", HasSubstr("broken photo")));
    const auto deep =
        outcome_of("d.png", [] { return png_of_zeros(14000, 14000, 16, 6, 8 * 14000); });
    EXPECT_THAT(deep.said, HasSubstr("memory"));
    const auto giant =
        outcome_of("g.png", [] { return png_of_zeros(60000, 60000, 1, 0, 60000 / 8); });
    EXPECT_THAT(giant.said, HasSubstr("200 megapixels"));
}

TEST_F(PhotoLimits, APngWhoseTextIsABombIsRead) {
    const auto outcome = outcome_of("t.png", [] {
        std::string png = png_of_zeros(64, 64, 8, 0, 64);
        const std::string bomb = png_of_zeros(30000, 30000, 8, 0, 30000);
        const auto data = bomb.find("IDAT");
        const std::string packed = bomb.substr(data + 4, bomb.find("IEND") - 8 - (data + 4));
        png.insert(33, png_chunk("iCCP", "bomb\0\0"s + packed));
        png.insert(33, png_chunk("zTXt", "bomb\0\0"s + packed));
        return png;
    });
    EXPECT_EQ(outcome.said, "64 x 64");
}

cv::Mat flat(int width, int height) { return cv::Mat(height, width, CV_8UC1, cv::Scalar(90)); }

/// A photo in square tiles, all the same one.
std::string tiled(unsigned tile_px, unsigned columns, unsigned rows, int bits = 8) {
    heif::File file;
    const unsigned tile = file.add_picture(
        heif::coded(flat(static_cast<int>(tile_px), static_cast<int>(tile_px)), {bits}));
    file.primary = file.add_grid(rows, columns, columns * tile_px, rows * tile_px,
                                 std::vector<unsigned>(rows * columns, tile));
    return file.bytes();
}

TEST_F(PhotoLimits, HeicsOfAnySizeKeepWithinAGibOrAreRefused) {
    EXPECT_EQ(outcome_of("48.heic", [] { return tiled(512, 16, 12); }).said, "8192 x 6144");
    EXPECT_EQ(outcome_of("48.heic", [] { return tiled(512, 16, 12, 10); }).said, "8192 x 6144");
    EXPECT_EQ(outcome_of("192.heic", [] { return tiled(512, 31, 24); }).said, "15872 x 12288");
    EXPECT_THAT(outcome_of("192.heic", [] { return tiled(512, 31, 24, 10); }).said,
                HasSubstr("GB of memory"));
    EXPECT_THAT(outcome_of("400.heic", [] { return tiled(1024, 20, 20); }).said,
                HasSubstr("200 megapixels"));
}

TEST_F(PhotoLimits, HeicsOfThousandsOfTilesAreReadOrRefused) {
    EXPECT_EQ(outcome_of("t.heic", [] { return tiled(64, 64, 64); }).said, "4096 x 4096");
    EXPECT_THAT(outcome_of("t.heic", [] { return tiled(32, 100, 100); }).said,
                testing::AnyOf(HasSubstr("10000 pieces"), HasSubstr("too many")));
    EXPECT_THAT(outcome_of("t.heic", [] { return tiled(32, 256, 256); }).said,
                testing::AnyOf(HasSubstr("pieces"), HasSubstr("broken")));
}

TEST_F(PhotoLimits, AHeicInOnePieceKeepsWithinAGib) {
    const auto outcome =
        outcome_of("one.heic", [] { return heif::file_of(heif::coded(flat(8192, 6144))); });
    EXPECT_EQ(outcome.said, "8192 x 6144");
}

TEST_F(PhotoLimits, AHeicThatIsLargerThanItsContainerSaysIsRefused) {
    const auto outcome = outcome_of("liar.heic", [] {
        auto picture = heif::coded(flat(8192, 8192));
        picture.width = picture.height = 64;
        return heif::file_of(picture);
    });
    EXPECT_THAT(outcome.said, HasSubstr("broken photo"));
    const auto tiles = outcome_of("liar.heic", [] {
        auto picture = heif::coded(flat(8192, 8192));
        picture.width = picture.height = 64;
        heif::File file;
        const unsigned tile = file.add_picture(picture);
        file.primary = file.add_grid(8, 8, 512, 512, std::vector<unsigned>(64, tile));
        return file.bytes();
    });
    EXPECT_THAT(tiles.said, HasSubstr("broken photo"));
    const auto later = outcome_of("liar.heic", [] {
        const auto large = heif::coded(flat(8192, 8192));
        auto picture = heif::coded(flat(64, 64));
        const auto parameters = large.hvcc.find("\x21\0\1"s, 30);  // one unit of type 33
        const std::string unit =
            large.hvcc.substr(parameters + 5, big_endian(large.hvcc, parameters + 3, 2));
        picture.data.insert(0, big_endian_bytes(static_cast<unsigned>(unit.size())) + unit);
        return heif::file_of(picture);
    });
    EXPECT_THAT(later.said, AllOf(HasSubstr("broken photo"), HasSubstr("container says")));
}

TEST_F(PhotoLimits, DeepNestingAndEndlessListsAreRefused) {
    const auto nested = outcome_of("n.heic", [] {
        std::string inside;
        for (int n = 0; n < 20000; ++n) {
            inside = heif::box("ipco", inside);
        }
        return heif::box("ftyp", "heic\0\0\0\0heic"s) +
               heif::full_box("meta", 0, heif::box("iprp", inside));
    });
    EXPECT_THAT(nested.said, HasSubstr("broken photo"));
    const auto deep = outcome_of("n.heic", [] {
        heif::File file;
        std::string inside;
        for (int n = 0; n < 20000; ++n) {
            inside = heif::box("dinf", inside);
        }
        file.add_picture(heif::coded(flat(64, 64)), {inside});
        return file.bytes();
    });
    EXPECT_THAT(deep.said, testing::AnyOf(HasSubstr("broken photo"), "64 x 64"));
    const auto listed = outcome_of("l.heic", [] {
        heif::File file;
        file.add_picture(heif::coded(flat(64, 64)));
        for (int n = 0; n < 30000; ++n) {
            file.add_item("mime", "", {});
        }
        return file.bytes();
    });
    EXPECT_THAT(listed.said, HasSubstr("10000 items"));
}

TEST_F(PhotoLimits, MetadataThatGoInCirclesDoNoHarm) {
    // Directories that name themselves as the next one and as their own sub-directory.
    const std::string circle =
        "II*\0"s + ExifBlock::u32(8) + ExifBlock::u16(3) + ExifBlock::u16(0x8769) +
        ExifBlock::u16(4) + ExifBlock::u32(1) + ExifBlock::u32(8) + ExifBlock::u16(0x8825) +
        ExifBlock::u16(4) + ExifBlock::u32(1) + ExifBlock::u32(8) + ExifBlock::u16(0xa005) +
        ExifBlock::u16(4) + ExifBlock::u32(1) + ExifBlock::u32(8) + ExifBlock::u32(8);
    const auto jpeg =
        outcome_of("c.jpg", [&] { return with_exif(jpeg_of(64, 64, TJSAMP_420), circle); });
    EXPECT_EQ(jpeg.said, "64 x 64");
    const auto png = outcome_of("c.png", [&] {
        std::string bytes = png_of_zeros(64, 64, 8, 0, 64);
        return bytes.insert(33, png_chunk("eXIf", circle));
    });
    EXPECT_EQ(png.said, "64 x 64");
    const auto heic =
        outcome_of("c.heic", [&] { return heif::file_of(heif::coded(flat(64, 64)), {}, circle); });
    EXPECT_EQ(heic.said, "64 x 64");
}

TEST_F(PhotoLimits, LongMetadataAreReadFromTheirStart) {
    ExifBlock exif;
    exif.text(false, 0x0110, "Bay 7");
    const std::string block = exif.bytes() + std::string(200000, 'm');
    const auto file = scratch.write("l.heic", heif::file_of(heif::coded(flat(64, 64)), {}, block));
    EXPECT_EQ(load_photo(file).facts.identity.model, "Bay 7");
}

}  // namespace
}  // namespace squaresight

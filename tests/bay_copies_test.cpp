// Copies of photos that arrive at the bay page.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "bay/look.h"
#include "photo/metadata.h"
#include "support/scratch.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

using Json = nlohmann::json;
using testing::HasSubstr;
namespace fs = std::filesystem;

const fs::path samples = fs::path(SQUARESIGHT_SOURCE_DIR) / "samples";
const char* const photo = "photos/found-upright-1.jpg";

/// The same pixels without the EXIF block, which stands first in the sample photos (APP1).
std::string without_exif(std::string jpeg) {
    const auto high = static_cast<unsigned char>(jpeg.at(4)),
               low = static_cast<unsigned char>(jpeg.at(5));
    jpeg.erase(2, 2 + 256u * high + low);
    EXPECT_TRUE(exif_block_of_jpeg(jpeg_segments(jpeg)).empty());
    return jpeg;
}

/// The sample job, alone with its shop, with this instead of its first photo.
Json look_at(const Scratch& scratch, const std::string& jpeg) {
    const fs::path root = fs::path(SQUARESIGHT_SOURCE_DIR), job = "samples/jobs/1042-full";
    for (const fs::path& folder :
         {fs::path("calib"), fs::path("targets"), fs::path("samples/mounts"), job}) {
        fs::create_directories(scratch.folder() / folder);
        fs::copy(root / folder, scratch.folder() / folder,
                 fs::copy_options::recursive | fs::copy_options::overwrite_existing);
    }
    write_file(scratch.folder() / job / photo, jpeg);
    fs::create_directory(scratch.folder() / "seen");
    const Json look = Json::parse(
        photo_look(scratch.folder() / job / "job.yaml", photo, scratch.folder() / "seen"));
    EXPECT_FALSE(look.contains("problem")) << look.dump(1);
    return look;
}

std::string original() { return read_file(samples / "jobs/1042-full" / photo, 1 << 26); }

TEST(BayCopies, ACopyOfFullSizeWithoutThePhonesDataIsRefusedWithHowToSendTheOriginal) {
    const Scratch scratch;
    const Json look = look_at(scratch, without_exif(original()));
    ASSERT_EQ(look.at("findings").size(), 1) << look.dump(1);
    const Json& finding = look.at("findings")[0];
    EXPECT_EQ(finding.at("level"), "STOP");
    EXPECT_EQ(finding.at("code"), "camera-unverified");
    EXPECT_THAT(finding.at("text").get<std::string>(),
                HasSubstr("Bring the original, by cable or sent as a file"));
}

TEST(BayCopies, TheOriginalIsAccepted) {
    const Scratch scratch;
    const Json look = look_at(scratch, original());
    EXPECT_TRUE(look.at("found").get<bool>());
    EXPECT_TRUE(look.at("findings").empty()) << look.dump(1);
}

}  // namespace
}  // namespace squaresight::bay

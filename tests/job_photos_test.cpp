#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <opencv2/imgcodecs.hpp>

#include "job/headline.h"
#include "job/measure.h"
#include "job/photo_identity.h"
#include "job/photo_times.h"
#include "support/heif_file.h"
#include "support/job_folder.h"
#include "units/files.h"

namespace squaresight {
namespace {

using namespace std::string_literals;
using test::JobFolder;
using test::PhotoTags;
using ::testing::AllOf;
using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using Json = nlohmann::json;

// ---------- the same scene in every kind of file

std::string png_of(const cv::Mat& picture, const PhotoTags& tags) {
    std::vector<unsigned char> bytes;
    cv::imencode(".png", picture, bytes);
    std::string png(bytes.begin(), bytes.end());
    const std::string block = test::exif_of(tags, picture.size()).bytes();
    return png.insert(33, big_endian_bytes(static_cast<unsigned>(block.size())) + "eXIf" + block +
                              big_endian_bytes(png_crc("eXIf" + block)));
}

std::string heic_of(const cv::Mat& picture, const PhotoTags& tags, const heif::Coding& coding) {
    constexpr unsigned quarters_left[] = {0, 0, 0, 2, 0, 0, 3, 0, 1};
    return heif::file_of(heif::coded(picture, coding),
                         {heif::irot(quarters_left[tags.orientation])},
                         test::exif_of(tags, picture.size()).bytes());
}

using Encode = std::function<std::string(const cv::Mat&, const PhotoTags&)>;

struct FileKind {
    const char* name;
    Encode encode;
};

std::vector<FileKind> file_kinds() {
    const auto heic = [](heif::Coding coding) {
        return [coding](const cv::Mat& picture, const PhotoTags& tags) {
            return heic_of(picture, tags, coding);
        };
    };
    const auto deep_png = [](const cv::Mat& picture, const PhotoTags& tags) {
        cv::Mat deep;
        picture.convertTo(deep, CV_16U, 257);
        return png_of(deep, tags);
    };
    const auto colour_png = [](const cv::Mat& picture, const PhotoTags& tags) {
        cv::Mat colour;
        cv::cvtColor(picture, colour, cv::COLOR_GRAY2BGR);
        return png_of(colour, tags);
    };
    return {
        {"jpeg", [](const cv::Mat& p, const PhotoTags& t) { return test::tagged_jpeg(p, t, 98); }},
        {"16 bit png", deep_png},
        {"colour png", colour_png},
        {"heic", heic({8, true})},
        {"limited heic", heic({8, false})},
        {"10 bit heic", heic({10, true})},
        {"limited 10 bit heic", heic({10, false})},
        {"monochrome heic", heic({8, true, true})}};
}

cv::Mat board_picture(double roll_deg) {
    const JobFolder job;
    test::Truth truth = job.truth;
    truth[cradle_roll_deg] = roll_deg;
    return test::raster_picture(truth);
}

double farthest_px(const std::vector<Corner>& a, const std::vector<Corner>& b) {
    EXPECT_EQ(a.size(), b.size());
    double farthest = 0;
    for (std::size_t i = 0; i < std::min(a.size(), b.size()); ++i) {
        EXPECT_EQ(a[i].index, b[i].index);
        farthest = std::max(farthest, (a[i].pixel - b[i].pixel).norm());
    }
    return farthest;
}

TEST(SameScene, HasTheSameCornersInEveryKindOfFile) {
    const Scratch scratch;
    const cv::Mat picture = board_picture(0);
    const auto corners_in = [&](const std::string& bytes) {
        return find_target(load_photo(scratch.write("a", bytes)).grey, test::a1_target(),
                           test::small_lens())
            .corners;
    };
    const auto known = corners_in(png_of(picture, {}));
    ASSERT_EQ(known.size(), 77U);
    for (const auto& kind : file_kinds()) {
        const double farthest = farthest_px(corners_in(kind.encode(picture, {})), known);
        EXPECT_LE(farthest, 0.02) << kind.name;
        std::cout << kind.name << ": farthest corner " << farthest << " px\n";
    }
}

double yaw_of(const Encode& encode) {
    JobFolder job;
    PhotoTags inverted;
    inverted.orientation = 3;
    inverted.taken_at = "2026:03:02 08:17:30";
    job.write("a.jpg", encode(board_picture(0), {}));
    job.write("b.jpg", encode(board_picture(180), inverted));
    const JobResult result = measure_job(job.write_sheet());
    EXPECT_TRUE(result.sightings[0].vision->solved);
    EXPECT_FALSE(result.sightings[0].stopped());
    return result.sightings[0].vision->stage.yaw_left_deg.value;
}

TEST(SameScene, HasTheSameYawInEveryKindOfFile) {
    const double known_deg = yaw_of(png_of);
    for (const auto& kind : file_kinds()) {
        EXPECT_NEAR(yaw_of(kind.encode), known_deg, 0.001) << kind.name;
    }
}

// ---------- which camera took it

Camera bay_phone() {
    Camera camera;
    camera.name = "bay phone";
    camera.width_px = 4000;
    camera.height_px = 3000;
    camera.identity = {"Heron", "Bay 7", "main 5.4 mm", 5.4, 26};
    return camera;
}

PhotoResult bay_photo() {
    PhotoResult photo;
    photo.file = "a.jpg";
    photo.digest = "a";
    photo.width_px = 4000;
    photo.height_px = 3000;
    photo.facts.has_metadata = true;
    photo.facts.identity = bay_phone().identity;
    photo.facts.stated_width_px = 4000;
    photo.facts.stated_height_px = 3000;
    return photo;
}

std::vector<std::string> told(const Findings& findings) {
    std::vector<std::string> codes;
    for (const auto& finding : findings) {
        codes.push_back(finding.code + (finding.level == Level::stop ? " stop" : ""));
    }
    return codes;
}

/// What is told of a photo that was changed.
Findings identity_of(const std::function<void(PhotoResult&)>& change,
                     const Camera& camera = bay_phone()) {
    PhotoResult photo = bay_photo();
    change(photo);
    return check_identity(photo, camera);
}

TEST(Identity, OfTheCalibratedPhoneNothingIsTold) {
    EXPECT_THAT(identity_of([](PhotoResult&) {}), IsEmpty());
    EXPECT_THAT(identity_of([](PhotoResult& p) { p.facts.digital_zoom = 1.0007; }), IsEmpty());
    EXPECT_THAT(identity_of([](PhotoResult& p) { p.facts.identity.lens.clear(); }), IsEmpty());
    EXPECT_THAT(identity_of([](PhotoResult& p) { p.facts.identity.focal_length_35mm_mm.reset(); }),
                IsEmpty());
}

TEST(Identity, AnotherFieldStopsAndIsNamed) {
    const std::pair<std::function<void(CameraIdentity&)>, const char*> others[] = {
        {[](CameraIdentity& i) { i.make = "Plover"; }, "make 'Plover' instead of 'Heron'"},
        {[](CameraIdentity& i) { i.model = "Bay 8"; }, "model 'Bay 8'"},
        {[](CameraIdentity& i) { i.lens = "wide"; }, "lens 'wide'"},
        {[](CameraIdentity& i) { i.focal_length_mm = 2.2; }, "focal length 2.2 mm instead of 5.4"},
        {[](CameraIdentity& i) {
             i.focal_length_mm.reset();
             i.focal_length_35mm_mm = 13;
         },
         "35 mm equivalent 13 mm instead of 26 mm"}};
    for (const auto& [change, named] : others) {
        const auto findings = identity_of([&](PhotoResult& p) { change(p.facts.identity); });
        ASSERT_THAT(told(findings), ElementsAre("camera-mismatch stop")) << named;
        EXPECT_THAT(findings[0].text, AllOf(HasSubstr(named), HasSubstr("a.jpg")));
    }
}

TEST(Identity, AZoomStopsHoweverItIsTold) {
    const auto digital = identity_of([](PhotoResult& p) { p.facts.digital_zoom = 1.06; });
    ASSERT_THAT(told(digital), ElementsAre("photo-zoomed stop"));
    EXPECT_THAT(digital[0].text, HasSubstr("1.06"));
    for (const double equivalent_mm : {27.0, 52.0}) {
        const auto cropped = identity_of(
            [&](PhotoResult& p) { p.facts.identity.focal_length_35mm_mm = equivalent_mm; });
        ASSERT_THAT(told(cropped), ElementsAre("photo-zoomed stop"));
        EXPECT_THAT(cropped[0].text, HasSubstr("instead of 26 mm"));
    }
    Camera exact = bay_phone();
    exact.identity.focal_length_35mm_mm = 25.6;  // EXIF rounds it
    EXPECT_THAT(identity_of([](PhotoResult&) {}, exact), IsEmpty());
}

TEST(Identity, AnEditedSizeStops) {
    const auto scaled = identity_of([](PhotoResult& p) {
        p.width_px = 2000;
        p.height_px = 1500;
    });
    EXPECT_THAT(told(scaled), ElementsAre("photo-not-original stop", "camera-mismatch stop"));
    const auto cropped_and_blown_up =
        identity_of([](PhotoResult& p) { p.facts.stated_width_px = 3200; });
    EXPECT_THAT(told(cropped_and_blown_up), ElementsAre("photo-not-original stop"));
    const auto turned = identity_of([](PhotoResult& p) { std::swap(p.width_px, p.height_px); });
    ASSERT_THAT(told(turned), ElementsAre("camera-mismatch stop"));
    EXPECT_THAT(turned[0].text, HasSubstr("turned after it was taken"));
}

TEST(Identity, ATurnedOrThumbnailSizeInTheMetadataIsNoEdit) {
    EXPECT_THAT(identity_of([](PhotoResult& p) {
                    std::swap(p.facts.stated_width_px, p.facts.stated_height_px);
                }),
                IsEmpty());
    EXPECT_THAT(identity_of([](PhotoResult& p) {
                    p.facts.stated_width_px = 160;
                    p.facts.stated_height_px = 120;
                }),
                IsEmpty());
    EXPECT_THAT(identity_of([](PhotoResult& p) {
                    p.facts.stated_width_px.reset();
                    p.facts.stated_height_px.reset();
                }),
                IsEmpty());
}

TEST(Identity, StrippedAndPartlyStrippedPhotosAreNeverCalledIdentified) {
    const auto stripped = identity_of([](PhotoResult& p) { p.facts = {}; });
    ASSERT_THAT(told(stripped), ElementsAre("camera-unverified"));
    EXPECT_THAT(stripped[0].text, AllOf(HasSubstr("make, model, lens"), HasSubstr("messenger"),
                                        HasSubstr("by cable or sent as a file")));
    const auto partly = identity_of([](PhotoResult& p) {
        p.facts.identity.make.clear();
        p.facts.identity.model.clear();
    });
    ASSERT_THAT(told(partly), ElementsAre("camera-unverified"));
    EXPECT_THAT(partly[0].text, HasSubstr("does not tell its make, model,"));
    EXPECT_THAT(told(identity_of([](PhotoResult& p) {
                    p.facts.identity = {"Heron", "Bay 7", "", {}, {}};
                })),
                ElementsAre("camera-unverified"));
    Camera nameless = bay_phone();
    nameless.identity = {};
    const auto unknown = identity_of([](PhotoResult&) {}, nameless);
    ASSERT_THAT(told(unknown), ElementsAre("camera-unverified"));
    EXPECT_THAT(unknown[0].text, HasSubstr("Add 'identity' to the camera file"));
}

// ---------- when they were taken, and whether they were taken at all

struct Stage {
    std::vector<PhotoResult> photos;
    bool same_setup = false;
};

PhotoResult taken(const std::string& file, const std::string& time,
                  std::optional<int> utc_offset_min = {}) {
    PhotoResult photo = bay_photo();
    photo.file = photo.digest = file;
    photo.facts.taken_at = time;
    photo.facts.utc_offset_min = utc_offset_min;
    return photo;
}

Findings told_together(const std::vector<Stage>& stages) {
    JobSheet sheet;
    std::vector<SightingResult> sightings;
    for (const auto& stage : stages) {
        sheet.sightings.emplace_back().same_setup = stage.same_setup;
        sightings.emplace_back().photos = stage.photos;
    }
    check_photos_together(sheet, sightings);
    Findings all;
    for (const auto& sighting : sightings) {
        all.insert(all.end(), sighting.findings.begin(), sighting.findings.end());
    }
    return all;
}

TEST(PhotoTimes, OfOneVisitNothingIsTold) {
    EXPECT_THAT(
        told_together(
            {{{taken("a", "2026:03:02 08:00:00"), taken("b", "2026:03:02 08:00:00")}},
             {{taken("c", "2026:03:02 08:00:00"), taken("d", "2026:03:02 21:30:00")}, true}}),
        IsEmpty());
}

TEST(PhotoTimes, AnUnsetClockGivesNoAlarm) {
    EXPECT_THAT(
        told_together(
            {{{taken("a", "2026:03:02 08:00:00"), taken("b", ""), taken("c", "1970:01:01 00:00:12"),
               taken("d", "2000:01:01 00:00:00"), taken("e", "2026:13:45 08:00:00")}},
             {{taken("f", "1980:01:01 00:00:00")}, true}}),
        IsEmpty());
}

TEST(PhotoTimes, TimeZonesAreTakenOut) {
    // The clock went back an hour between the photos, at the end of summer time.
    EXPECT_THAT(told_together({{{taken("a", "2026:10:25 02:50:00", 120)}},
                               {{taken("b", "2026:10:25 02:10:00", 60)}}}),
                IsEmpty());
    EXPECT_THAT(told(told_together({{{taken("a", "2026:10:25 02:50:00", 60)}},
                                    {{taken("b", "2026:10:25 03:10:00", 120)}}})),
                ElementsAre("photo-reused stop"));
}

TEST(PhotoTimes, APhotoFromBeforeAnEarlierStageStops) {
    const auto findings = told_together(
        {{{taken("a", "2026:03:02 08:00:00")}}, {{taken("old", "2026:03:01 17:00:00")}, true}});
    ASSERT_THAT(told(findings), ElementsAre("photo-reused stop"));
    EXPECT_THAT(findings[0].text, AllOf(HasSubstr("old"), HasSubstr("2026:03:01 17:00:00")));
}

TEST(PhotoTimes, DaysApartInOneStageStopAndOnOneSetupWarn) {
    EXPECT_THAT(
        told(told_together({{{taken("a", "2026:03:02 08:00:00"), taken("b", "2026:03:04 08:00:00"),
                              taken("c", "2026:03:02 08:01:00")}}})),
        ElementsAre("photo-time stop"));
    EXPECT_THAT(told(told_together({{{taken("a", "2026:03:02 08:00:00")}},
                                    {{taken("b", "2026:03:04 08:00:00")}, true}})),
                ElementsAre("photo-time"));
    EXPECT_THAT(told_together({{{taken("a", "2026:03:02 08:00:00")}},
                               {{taken("b", "2026:03:04 08:00:00")}, false}}),
                IsEmpty());
}

TEST(PhotoTimes, APhotoThatIsOlderThanItsJobStops) {
    const auto at = [&](const std::string& begun) {
        JobSheet sheet;
        sheet.date = begun;
        std::vector<SightingResult> sightings(1);
        sightings[0].photos = {taken("a", "2026:03:02 08:00:00")};
        check_photos_of_job(sheet, sightings);
        return told(sightings[0].findings);
    };
    EXPECT_THAT(at("2026-12-01"), ElementsAre("photo-time stop"));
    EXPECT_THAT(at("2026-03-04"), ElementsAre("photo-time stop"));
    EXPECT_THAT(at("2026-03-03"), IsEmpty()) << "clocks may stand apart";
    EXPECT_THAT(at("2026-03-01"), IsEmpty());
    EXPECT_THAT(at(""), IsEmpty()) << "a sheet that tells no day";
}

TEST(PhotoTimes, AgainstTheCalendar) {
    Camera camera = bay_phone();
    camera.date = "2026-03-01";
    const auto at = [&](const std::string& time) {
        std::vector<SightingResult> sightings(1);
        sightings[0].photos = {taken("a", time)};
        const std::chrono::sys_days today{std::chrono::year(2026) / 11 / 25};
        return told(check_photo_dates(camera, sightings, today));
    };
    EXPECT_THAT(at("2026:03:02 08:00:00"), IsEmpty());
    EXPECT_THAT(at("2026:02:10 08:00:00"), IsEmpty());
    EXPECT_THAT(at("2026:01:10 08:00:00"), ElementsAre("photo-time"));
    EXPECT_THAT(at("2026:11:26 01:30:00"), IsEmpty());  // ahead by a time zone
    EXPECT_THAT(at("2026:11:27 08:00:00"), ElementsAre("photo-time"));
    EXPECT_THAT(at("2027:11:27 08:00:00"),
                testing::UnorderedElementsAre("calibration-old", "photo-time"));
    EXPECT_THAT(at("1970:01:01 00:00:00"), IsEmpty());
    camera.date.clear();
    EXPECT_THAT(at("2020:01:10 08:00:00"), IsEmpty());
}

/// The corners of one picture, moved by noise of this size.
PhotoResult with_corners(PhotoResult photo, double noise_px, unsigned seed) {
    std::mt19937 random(seed);
    std::normal_distribution<double> noise(0, noise_px);
    for (int index = 0; index < 77; ++index) {
        const Eigen::Vector2d moved(noise(random), noise(random));
        photo.sight.corners.push_back(
            {index,
             Eigen::Vector2d(1000 + 150.0 * (index % 11), 900 + 150.0 * (index / 11)) + moved,
             1e-4 * Eigen::Matrix2d::Identity()});
    }
    return photo;
}

PhotoResult half_turned(PhotoResult photo) {
    for (auto& corner : photo.sight.corners) {
        corner.pixel = Eigen::Vector2d(3999, 2999) - corner.pixel;
    }
    return photo;
}

TEST(SamePicture, SavedAgainOrTurnedByAnEditorStops) {
    const PhotoResult first = with_corners(taken("a", ""), 0.02, 1);
    PhotoResult again = first;
    again.file = again.digest = "b";
    for (auto& corner : again.sight.corners) {
        corner.pixel.x() += 0.005;
    }
    auto findings = told_together({{{first, again}}});
    ASSERT_THAT(told(findings), ElementsAre("photo-reused stop"));
    EXPECT_THAT(findings[0].text, HasSubstr("b is the same picture as a, saved again"));
    findings = told_together({{{first, half_turned(again)}}});
    ASSERT_THAT(told(findings), ElementsAre("photo-reused stop"));
    EXPECT_THAT(findings[0].text, HasSubstr("turned by an editor"));
    EXPECT_THAT(told(told_together({{{first}}, {{again}}})), ElementsAre("photo-reused stop"));
}

TEST(SamePicture, PhotosOfAPhoneThatStoodStillAreTwo) {
    for (unsigned seed = 1; seed < 50; ++seed) {
        const PhotoResult first = with_corners(taken("a", ""), 0.01, seed);
        const PhotoResult second = with_corners(taken("b", ""), 0.01, 1000 + seed);
        EXPECT_THAT(told_together({{{first, second, half_turned(second)}}}),
                    ElementsAre(::testing::Field(&Finding::code, "photo-reused")));
        EXPECT_THAT(told_together({{{first, second}}}), IsEmpty());
    }
}

TEST(SamePicture, IsKnownThroughWhatAnEditorDoesToTheFile) {
    JobFolder job;
    const cv::Mat picture = board_picture(0);
    PhotoTags upright, inverted;
    inverted.taken_at = "2026:03:02 08:17:30";
    job.write("a.jpg", test::tagged_jpeg(picture, upright));
    cv::Mat turned;
    cv::rotate(picture, turned, cv::ROTATE_180);
    for (const int quality : {95, 85, 80}) {
        job.write("b.jpg", test::tagged_jpeg(turned, inverted, quality));
        const JobResult result = measure_job(job.write_sheet());
        EXPECT_THAT(told(result.sightings[0].findings), Contains("photo-reused stop")) << quality;
    }
}

/// A job with the folder's photos in a folder of its own.
JobResult measured_as(const JobFolder& folder, const std::string& name, const std::string& job) {
    for (const auto* file : {"mount.yaml", "camera.yaml", "target.yaml", "a.jpg", "b.jpg"}) {
        folder.write("jobs/" + name + "/" + file, read_file(folder.file(file), 1 << 26));
    }
    std::string sheet = read_file(folder.file("job.yaml"), 1 << 20);
    const std::string old = "job: \"1042\"";
    sheet.replace(sheet.find(old), old.size(), "job: '" + job + "'");
    return measure_job(folder.write("jobs/" + name + "/job.yaml", sheet));
}

TEST(OtherJobs, APhotoOfAnotherJobOfTheShopStops) {
    JobFolder folder;
    folder.add_pair();
    folder.write_sheet();
    for (const auto* name : {"jobs/1", "jobs/2", "jobs/3"}) {
        std::filesystem::create_directories(folder.file(name));
    }
    const auto codes = [](const JobResult& result) {
        std::vector<std::string> found;
        for (const auto& finding : result.sightings.at(0).findings) {
            found.push_back(finding.code + (finding.level == Level::stop ? " stop" : ""));
        }
        return found;
    };
    EXPECT_THAT(codes(measured_as(folder, "1", "1042")), IsEmpty());
    const JobResult second = measured_as(folder, "2", "1043");
    EXPECT_THAT(codes(second), ElementsAre("photo-of-other-job stop", "photo-of-other-job stop"));
    EXPECT_THAT(second.sightings[0].findings[0].text, HasSubstr("job 1042"));
    EXPECT_EQ(headline_of(second), Headline::stop);
    std::filesystem::remove_all(folder.file("jobs/2"));
    EXPECT_THAT(codes(measured_as(folder, "3", "1042")), IsEmpty()) << "a copy of the same job";
}

}  // namespace
}  // namespace squaresight

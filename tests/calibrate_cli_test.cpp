#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <random>

#include "camera/camera.h"
#include "support/command.h"
#include "support/job_folder.h"
#include "support/phone_check.h"
#include "target/target.h"
#include "units/files.h"

// The calibrate command from photos to files, on photos that are rastered here through a known
// lens that focuses like a thin lens of 5 mm.
namespace squaresight::test {
namespace {

using testing::HasSubstr;

constexpr int width_px = 1600;
constexpr int height_px = 1200;
constexpr double jitter_deg = 0.05;

Lens true_lens() { return {1250, 1250.6, 806, 594, 0.06, -0.09, 0.0004, -0.0003, 0.02}; }

/// A phone that photographs boards, and the folder that its photos lie in.
class Shop {
  public:
    explicit Shop(Lens lens = true_lens()) : lens_(lens) {
        folder_.write("board.yaml", target_yaml(near_checkerboard()));
        folder_.write("bay.yaml", target_yaml(a1_target()));
    }

    std::string path(const std::string& name) const { return (folder_.folder() / name).string(); }
    std::string quoted(const std::string& name) const { return "'" + path(name) + "'"; }
    void write(const std::string& name, const std::string& bytes) const {
        folder_.write(name, bytes);
    }

    void photograph(const std::string& name, const Target& board, raster::Pose pose,
                    const PhotoTags& tags = {}) const {
        const double focal_scale =
            FocusBreathing{5000, 5, 0}.scale_at(pose.target_in_camera_mm.norm());
        raster::Scene scene;
        scene.target = board;
        scene.pose = pose;
        scene.lens = lens_;
        scene.lens.fx *= focal_scale;
        scene.lens.fy *= focal_scale;
        scene.width_px = width_px;
        scene.height_px = height_px;
        scene.with_markers = board.has_markers();
        scene.noise = 2;
        scene.seed = static_cast<unsigned>(name.size() * 131 + static_cast<unsigned char>(name[5]));
        write(name, tagged_jpeg(raster::photo_of(scene), tags));
    }

    /// Near photos all round; every other one with the phone a quarter turn round.
    std::string near_photos(const std::string& prefix, int count) const {
        std::string files;
        for (int i = 0; i < count; ++i) {
            const double round = 2.4 * i;
            const double distance_mm = 430 + 30 * (i % 4);
            PhotoTags tags;
            tags.orientation = i % 2 == 0 ? 1 : 6;
            const std::string name = fmt::format("{}-{}.jpg", prefix, i + 1);
            photograph(
                name, near_checkerboard(),
                raster::pose(distance_mm, i % 2 == 0 ? 3 : 88, 27 * std::sin(1.9 * i),
                             27 * std::cos(2.7 * i), {60 * std::cos(round), 35 * std::sin(round)}),
                tags);
            files += quoted(name) + " ";
        }
        return files;
    }

    /// The bay's board 5 m before the lens.
    std::string taped_photos(int count) const {
        std::string files;
        for (int i = 0; i < count; ++i) {
            const std::string name = fmt::format("far-{}.jpg", i + 1);
            raster::Pose pose = raster::pose(5000, 0.4 * i, 3 - 2 * i, 4, {150.0 * i, -80});
            pose.target_in_camera_mm *= 5000 / pose.target_in_camera_mm.norm();
            photograph(name, a1_target(), pose);
            files += quoted(name) + " ";
        }
        return files;
    }

    std::string still_photos(int count) const {
        std::mt19937 random(17);
        std::normal_distribution<double> shake(0, jitter_deg * rad_per_deg);
        std::string files;
        for (int i = 0; i < count; ++i) {
            const std::string name = fmt::format("still-{}.jpg", i + 1);
            raster::Pose pose = raster::pose(5000, 0.3, 2, -3, {40, 20});
            const Eigen::Matrix3d shaken =
                rotation_y<double>(shake(random)) * rotation_x<double>(shake(random));
            pose.camera_from_target = shaken * pose.camera_from_target;
            pose.target_in_camera_mm = shaken * pose.target_in_camera_mm;
            photograph(name, a1_target(), pose);
            files += quoted(name) + " ";
        }
        return files;
    }

  private:
    Scratch folder_;
    Lens lens_;
};

const std::string bad_identity_text = "model 'Bay 8' instead of 'Bay 7'";

/// The shop's phone, calibrated once for all tests.
struct Calibrated {
    Shop shop;
    std::string near = shop.near_photos("near", 9);
    std::string boards =
        "--board " + shop.quoted("board.yaml") + " --board " + shop.quoted("bay.yaml") + " ";
    std::string taped = "--taped '5000 mm +/- 2 mm' " + shop.taped_photos(3);
    Finished finished = run_squaresight(
        "calibrate " + boards + near + taped + "--still " + shop.still_photos(8) +
        "--date 2026-03-05 --name 'bay phone' --json --out " + shop.quoted("phone.yaml"));
};

Calibrated& calibrated() {
    static Calibrated once;
    return once;
}

nlohmann::json json_in(const std::string& output) {
    const auto begin = output.find('{');
    return nlohmann::json::parse(output.substr(begin, output.rfind('}') - begin + 1));
}

TEST(CalibrateCommand, FindsTheCameraThatTookThePhotos) {
    const auto& done = calibrated();
    ASSERT_EQ(done.finished.exit_code, 0) << done.finished.output;
    const Camera camera = load_camera(done.shop.path("phone.yaml"));
    EXPECT_EQ(camera.name, "bay phone");
    EXPECT_EQ(camera.date, "2026-03-05");
    EXPECT_EQ(camera.width_px, width_px);
    EXPECT_EQ(camera.photos_used, 12);
    EXPECT_EQ(camera.identity.model, "Bay 7");
    const auto found = camera.lens.parameters();
    const auto truth = true_lens().parameters();
    for (int k = 0; k < Lens::parameter_count; ++k) {
        const auto at = static_cast<std::size_t>(k);
        EXPECT_LT(std::abs(found[at] - truth[at]), 4 * std::sqrt(camera.covariance(k, k))) << k;
    }
    EXPECT_LT(std::sqrt(camera.covariance(0, 0)), 0.002 * camera.lens.fx);
    EXPECT_LT(*camera.residual_px, 0.06);
}

TEST(CalibrateCommand, SaysWhatTheCameraIsGoodFor) {
    const auto json = json_in(calibrated().finished.output);
    EXPECT_EQ(json["schema"], "squaresight/phone-check/1");
    EXPECT_TRUE(json["verdict"]["fit"]) << json["verdict"]["text"];
    EXPECT_LT(json["verdict"]["from_lens"]["yaw_deg"], json["verdict"]["limit"]["yaw_deg"]);
    EXPECT_EQ(json["photos"].size(), 12u);
    EXPECT_LT(json["held_out_rms_px"].get<double>(), 0.08);
    EXPECT_TRUE(std::filesystem::exists(calibrated().shop.path("phone.html")));
}

TEST(CalibrateCommand, StillPhotosTellTheJitter) {
    const auto json = json_in(calibrated().finished.output);
    EXPECT_EQ(json["still"]["photos"], 8);
    EXPECT_LT(json["still"]["lower_95_deg"], jitter_deg);
    EXPECT_GT(json["still"]["upper_95_deg"], jitter_deg);
    const Camera camera = load_camera(calibrated().shop.path("phone.yaml"));
    EXPECT_EQ(camera.pointing_jitter_deg, json["still"]["standard_uncertainty_deg"]);
}

std::size_t count_of(const std::string& text, const std::string& part) {
    std::size_t count = 0;
    for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) {
        ++count;
    }
    return count;
}

TEST(CalibrateCommand, WithoutTapedPhotosOnePercentIsToldOnceAndThePhoneIsNotFit) {
    const auto& done = calibrated();
    const auto finished =
        run_squaresight("calibrate --board " + done.shop.quoted("board.yaml") + " " + done.near +
                        "--out " + done.shop.quoted("untaped.yaml"));
    ASSERT_EQ(finished.exit_code, 0) << finished.output;
    EXPECT_THAT(finished.output,
                testing::AllOf(HasSubstr("Not yet: "), testing::Not(HasSubstr("Fit for use"))));
    EXPECT_EQ(count_of(finished.output, "known to 1 %"), 1U) << finished.output;
    EXPECT_EQ(count_of(finished.output, "Photograph the bay's board square-on"), 1U);
    const std::string page = read_file(done.shop.path("untaped.html"), 1 << 24);
    EXPECT_EQ(count_of(page, "<h1>Not yet</h1>"), 1U);
    EXPECT_EQ(count_of(page, "Photograph the bay"), 1U);
    const Camera camera = load_camera(done.shop.path("untaped.yaml"));
    EXPECT_NEAR(std::sqrt(camera.covariance(0, 0)) / camera.lens.fx, 0.01, 0.002);
}

TEST(CalibrateCommand, CheckHoldsForTheSamePhone) {
    const auto& done = calibrated();
    const auto finished =
        run_squaresight("calibrate --check " + done.shop.quoted("phone.yaml") + " " + done.boards +
                        done.shop.near_photos("again", 4) + "--json");
    ASSERT_EQ(finished.exit_code, 0) << finished.output;
    const auto json = json_in(finished.output);
    EXPECT_EQ(json["standing"], "holds") << finished.output;
    EXPECT_GT(json["p"], 0.001);
}

TEST(CalibrateCommand, CheckFindsALensThatMoved) {
    const auto& done = calibrated();
    Lens dropped = true_lens();
    dropped.fx *= 1.012;
    dropped.fy *= 1.012;
    dropped.cx += 6;
    const Shop after(dropped);
    const auto finished =
        run_squaresight("calibrate --check " + done.shop.quoted("phone.yaml") + " " + done.boards +
                        after.near_photos("again", 4) + "--json");
    ASSERT_EQ(finished.exit_code, 0) << finished.output;
    const auto json = json_in(finished.output);
    EXPECT_EQ(json["standing"], "changed") << finished.output;
    EXPECT_THAT(json["text"].get<std::string>(), HasSubstr("Calibrate the phone again"));
}

TEST(CalibrateCommand, AnExistingFileIsKept) {
    const auto& done = calibrated();
    const std::string before = read_file(done.shop.path("phone.yaml"), 1 << 20);
    const std::string command = "calibrate " + done.boards + done.near + done.taped + "--out ";
    const auto refused = run_squaresight(command + done.shop.quoted("phone.yaml"));
    EXPECT_EQ(refused.exit_code, 3);
    EXPECT_THAT(refused.output, HasSubstr("is there already"));
    EXPECT_EQ(read_file(done.shop.path("phone.yaml"), 1 << 20), before);

    done.shop.write("old.yaml", before);
    const auto replaced = run_squaresight(command + done.shop.quoted("old.yaml") + " --replace");
    EXPECT_EQ(replaced.exit_code, 0) << replaced.output;
    EXPECT_EQ(read_file(done.shop.path("old-2026-03-05.yaml"), 1 << 20), before);
    EXPECT_EQ(load_camera(done.shop.path("old.yaml")).date, "2026-03-02")
        << "the day of its photos, not of this run";
}

TEST(CalibrateCommand, UnusableInputIsRefusedWithASentence) {
    const auto& done = calibrated();
    const Shop& shop = done.shop;
    const std::string out = " --out " + shop.quoted("none.yaml");
    const auto refuses = [&](const std::string& arguments, const std::string& sentence) {
        const auto finished = run_squaresight("calibrate " + arguments + out);
        EXPECT_EQ(finished.exit_code, 3) << finished.output;
        EXPECT_THAT(finished.output, HasSubstr(sentence));
        EXPECT_FALSE(std::filesystem::exists(shop.path("none.yaml")));
    };
    const std::string board = "--board " + shop.quoted("board.yaml") + " ";
    const auto near = [&](int photo) {
        return shop.quoted(fmt::format("near-{}.jpg", photo)) + " ";
    };

    refuses(board, "no photos were given");
    refuses(done.near, "no board was given");
    refuses(board + near(1) + near(2) + near(3), "at least 5 are needed");
    refuses(board + near(1) + near(1) + near(1) + near(1) + near(1) + near(1),
            "is the same picture as");
    refuses("--inner-corners 9x6 --square 25mm " + done.near, "13 x 9 inner corners");
    refuses("--inner-corners 9by6 --square 25mm " + done.near, "is no grid of corners");
    refuses("--inner-corners 9x6 --square 25 " + done.near, "--square");
    refuses("--board missing.yaml " + done.near, "missing.yaml");
    refuses(board + "--taped far.jpg -- " + done.near, "write the distance first");
    refuses(board + "--taped 5000mm --date 2026-03-05 " + done.near, "a distance without photos");
    refuses(board + done.near + "--still " + near(1) + near(2),
            "take at least 5 of a still target");

    std::string one_place;
    for (int i = 0; i < 6; ++i) {
        const std::string name = fmt::format("place-{}.jpg", i);
        shop.photograph(name, near_checkerboard(), raster::pose(500 + i, 2, 10, 5, {2.0 * i, 0}));
        one_place += shop.quoted(name) + " ";
    }
    refuses(board + one_place, "show the same pose of the board");

    PhotoTags other;
    other.model = "Bay 8";
    shop.photograph("other-1.jpg", near_checkerboard(), raster::pose(500, 2, 20, 5), other);
    refuses(board + done.near + shop.quoted("other-1.jpg"), bad_identity_text);
}

TEST(CalibrateCommand, PhotosThatCannotBeUsedAreNamedAndLeftOut) {
    const auto& done = calibrated();
    done.shop.write("broken.jpg", "no photo at all");
    const auto finished =
        run_squaresight("calibrate --board " + done.shop.quoted("board.yaml") + " " + done.near +
                        done.shop.quoted("broken.jpg") + " " + done.shop.quoted("gone.jpg") +
                        " --out " + done.shop.quoted("some.yaml"));
    ASSERT_EQ(finished.exit_code, 0) << finished.output;
    EXPECT_THAT(finished.output, HasSubstr("broken.jpg was left out"));
    EXPECT_THAT(finished.output, HasSubstr("gone.jpg was left out"));
    EXPECT_EQ(load_camera(done.shop.path("some.yaml")).photos_used, 9);
}

TEST(CalibrateCommand, CheckRefusesABrokenCameraFile) {
    const auto& done = calibrated();
    const std::string good = read_file(done.shop.path("phone.yaml"), 1 << 20);
    const auto with = [&](const std::string& key, const std::string& value) {
        std::string text = good;
        const auto at = text.find("\n" + key + ": ") + 1;
        text.replace(at, text.find('\n', at) - at, key + ": " + value);
        done.shop.write("bad.yaml", text);
        return run_squaresight("calibrate --check " + done.shop.quoted("bad.yaml") + " " +
                               done.boards + done.near);
    };
    for (const auto& [key, value] :
         {std::pair<std::string, std::string>{"fx", ".nan"}, {"fy", "-1250"}, {"cx", "banana"}}) {
        const auto finished = with(key, value);
        EXPECT_EQ(finished.exit_code, 3) << key;
        EXPECT_THAT(finished.output, HasSubstr("bad.yaml"));
        EXPECT_THAT(finished.output, HasSubstr(key));
    }
}

}  // namespace
}  // namespace squaresight::test

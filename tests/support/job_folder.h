#pragma once
#include <fmt/format.h>

#include <opencv2/imgcodecs.hpp>
#include <string>
#include <vector>

#include "adjust/pose_chain.h"
#include "support/board_raster.h"
#include "support/exif_block.h"
#include "support/practice_mount.h"
#include "support/scratch.h"
#include "support/simulated_job.h"

namespace squaresight::test {

/// A small camera, 1200 x 900 px, for photos that are rastered in a test.
inline Lens small_lens() { return {900, 900, 599.5, 449.5, 0, 0, 0, 0, 0}; }

/// What a photo's file says beside its pixels.
struct PhotoTags {
    int orientation = 1;
    std::string taken_at = "2026:03:02 08:15:30";
    double zoom = 1;
    std::string model = "Bay 7";
};

inline ExifBlock exif_of(const PhotoTags& tags, const cv::Size& size) {
    ExifBlock exif;
    exif.text(false, 0x010f, "Heron");
    exif.text(false, 0x0110, tags.model);
    exif.short_number(false, 0x0112, static_cast<unsigned>(tags.orientation));
    exif.text(true, 0x9003, tags.taken_at);
    exif.short_number(true, 0xa002, static_cast<unsigned>(size.width));
    exif.short_number(true, 0xa003, static_cast<unsigned>(size.height));
    exif.ratio(true, 0xa404, static_cast<unsigned>(tags.zoom * 100 + 0.5), 100);
    return exif;
}

/// A photo's file as a phone writes it.
inline std::string tagged_jpeg(const cv::Mat& picture, const PhotoTags& tags, int quality = 95) {
    std::vector<unsigned char> bytes;
    cv::imencode(".jpg", picture, bytes, {cv::IMWRITE_JPEG_QUALITY, quality});
    return with_exif({bytes.begin(), bytes.end()}, exif_of(tags, picture.size()).bytes());
}

/// The A1 board as the pose chain says that the camera sees it.
inline cv::Mat raster_picture(const Truth& truth, double print_scale = 1) {
    const squaresight::Pose<double> pose = camera_from_target(truth.data(), 0);
    raster::Scene scene;
    scene.target = a1_target();
    scene.target.pattern.square_mm *= print_scale;
    scene.target.pattern.marker_mm *= print_scale;
    scene.lens = small_lens();
    scene.width_px = 1200;
    scene.height_px = 900;
    scene.noise = 1;
    scene.pose.camera_from_target = pose.rotation;
    scene.pose.target_in_camera_mm = pose.translation_mm;
    return raster::photo_of(scene);
}

/// A folder with everything that a job names: mount, camera, target, an upright and an inverted
/// photo at 3 m, and the sheet itself, line by line so that a test can change one.
class JobFolder {
  public:
    JobFolder() {
        truth = stated_truth(table_setup(3000));
        truth[yaw_left_deg] = 1.1;
        truth[pitch_up_deg] = -0.8;
        truth[offset_left_deg] = 0.7;
        truth[offset_up_deg] = -0.4;
        write("mount.yaml", practice_mount);
        write("camera.yaml", R"(schema: squaresight/camera/1
name: small
image: {width: 1200, height: 900}
model: brown-conrady
fx: 900
fy: 900
cx: 599.5
cy: 449.5
distortion: {k1: 0, k2: 0, p1: 0, p2: 0, k3: 0}
identity: {make: Heron, model: Bay 7}
pointing_jitter: 0.01 deg
)");
        write("target.yaml", R"(schema: squaresight/target/1
name: a1
sheet: {width: 841 mm, height: 594 mm}
pattern: {across: 12, down: 8, square: 65 mm, marker: 48 mm, dictionary: DICT_4X4_100,
          first_id: 0, first_square: black}
printed: {across: 1, down: 1}
flatness: 1 mm
)");
    }

    /// The photo of the truth at a roll of the cradle.
    void add_photo(const std::string& name, double roll_deg, PhotoTags tags,
                   double print_scale = 1) const {
        Truth rolled = truth;
        rolled[cradle_roll_deg] = roll_deg;
        write(name, tagged_jpeg(raster_picture(rolled, print_scale), tags));
    }

    void add_pair() const {
        add_photo("a.jpg", 0, {});
        PhotoTags inverted;
        inverted.orientation = 3;
        inverted.taken_at = "2026:03:02 08:17:30";
        add_photo("b.jpg", 180, inverted);
    }

    std::filesystem::path write(const std::string& name, const std::string& bytes) const {
        return scratch.write(name, bytes);
    }
    std::filesystem::path file(const std::string& name) const { return scratch.folder() / name; }

    std::filesystem::path write_sheet() const {
        std::string text;
        for (const auto& line : sheet) {
            text += line + "\n";
        }
        return write("job.yaml", text);
    }

    /// Replaces the only line of the sheet that contains `part`.
    void change(const std::string& part, const std::string& line) {
        for (auto& old : sheet) {
            if (old.find(part) != std::string::npos) {
                old = line;
                return;
            }
        }
        throw std::logic_error("the sheet has no line with " + part);
    }

    Truth truth;
    std::vector<std::string> sheet{
        "schema: squaresight/job/1",
        "job: \"1042\"",
        "mount: mount.yaml",
        "camera: camera.yaml",
        "target: target.yaml",
        "sightings:",
        "  - stage: as-found",
        "    setup:",
        "      line: 0 deg +/- 0.03 deg",
        "      distance: 3000 mm",
        "      target_left: 0 mm +/- 3 mm",
        "      mount_left: 0 mm +/- 3 mm",
        "      target_height: 900 mm",
        "      mount_height: 900 mm",
        "      floor_rise: 0 deg +/- 0.2 deg",
        "      target_roll_clockwise: 0 deg +/- 0.2 deg",
        "    photos:",
        "      - {file: a.jpg, cradle: upright}",
        "      - {file: b.jpg, cradle: inverted}",
        "    tape_and_level:",
        "      face_level: [-0.8 deg, -0.8 deg]",
        "      left_point: 20 in",
        "      right_point: 20 in",
        "      passes: [{left: 7 in, right: 7 12/16 in}]",
        "      laser: beam",
        "      bumper_square: 0 mm +/- 3 mm",
    };

  private:
    Scratch scratch;
};

}  // namespace squaresight::test

#pragma once
#include <array>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "target/target.h"

/// The truth of an invented job (schema squaresight/scene/1, see samples/README.md).
/// Lengths in mm, angles in degrees; names carry the sign.
namespace squaresight {

struct TrueLens {
    double fx_px = 0, fy_px = 0, cx_px = 0, cy_px = 0;
    double k1 = 0, k2 = 0, p1 = 0, p2 = 0, k3 = 0;  ///< OpenCV's meaning
    double sag_down_deg = 0;                        ///< whichever way up the phone is
    double focused_at_mm = 0;                       ///< where fx and fy hold; 0: at infinity
};

struct Picture {
    int width_px = 0;  ///< sensor-native
    int height_px = 0;
    double blur_px = 0.8;       ///< standard deviation of the lens's blur
    double noise_levels = 1.5;  ///< standard deviation, of 255
    double light = 1;           ///< factor on every lamp of the bay
    int jpeg_quality = 85;
    std::string make, model, lens;    ///< as the photo's metadata say; empty: they are silent
    double focal_length_mm = 0;       ///< 0: they are silent
    double focal_length_35mm_mm = 0;  ///< 35 mm equivalent; 0: they are silent
    double digital_zoom = 1;
};

struct TrueSheet {
    std::filesystem::path target_file;
    double scale_across = 1;  ///< printed / nominal
    double scale_down = 1;
    /// How far the middle of the left and right edges, of the top and bottom edges, and the top
    /// left corner lie behind the centre.
    double bow_across_mm = 0, bow_down_mm = 0, twist_mm = 0;
};

struct TrueCradle {
    double offset_left_deg = 0, offset_up_deg = 0;
    double lens_ahead_mm = 0, lens_left_mm = 0, lens_up_mm = 0;
    int phone_up_deg = 0;  ///< clockwise turn that stands the native image upright: 0 90 180 270
};

/// Drawn from the scene's seed, standard deviations about each of two axes.
struct Scatter {
    double seating_deg = 0;  ///< of every placement of the cradle
    double jitter_deg = 0;   ///< of every photo
};

struct TrueSetup {
    double line_left_deg = 0;
    double distance_mm = 0;
    double target_left_mm = 0, mount_left_mm = 0;
    double target_height_mm = 0, mount_height_mm = 0;
    double floor_rise_deg = 0;
    double target_lean_back_deg = 0, target_turned_left_deg = 0, target_roll_clockwise_deg = 0;
};

/// What scatters: drawn once for a placement of the cradle and once for a photo.
struct PhotoScatter {
    double seating_left_deg = 0, seating_up_deg = 0;
    double jitter_left_deg = 0, jitter_up_deg = 0;
};

struct TruePhoto {
    std::string file;  ///< relative to the scene file
    double roll_deg = 0;
    int placement = -1;                   ///< photos of equal placement >= 0 share roll and seating
    std::optional<PhotoScatter> scatter;  ///< where it is told and not drawn
};

struct TrueStage {
    std::string stage;
    std::string taken_at;  ///< "2026-03-04 09:12:00"
    double yaw_left_deg = 0, pitch_up_deg = 0;
    double moved_ahead_mm = 0;  ///< of the face's centre since the first stage
    double focus_mm = 0;        ///< where the phone focuses; 0: where fx and fy hold
    TrueSetup setup;
    std::vector<TruePhoto> photos;
};

struct Scene {
    std::filesystem::path folder;
    std::string job;
    int seed = 0;
    Picture picture;
    TrueLens lens;
    TrueSheet sheet;
    TrueCradle cradle;
    Scatter scatter;
    std::vector<TrueStage> stages;
};

/// The lens as it is in the photos of a stage. A phone focuses by moving its lens, which the thin
/// lens of the picture's focal length describes: the image of what is u away lies u f / (u - f)
/// behind it.
TrueLens focused_lens(const Scene& scene, const TrueStage& stage);

/// Reads a scene file strictly; InputError as in units/entry.h. `setup: same` repeats the setup of
/// the stage before.
Scene load_scene(const std::filesystem::path& file);

/// The text of a scene file that stands in the scene's folder.
std::string scene_yaml(const Scene& scene);

}  // namespace squaresight

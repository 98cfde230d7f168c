#pragma once
#include <filesystem>
#include <string>

#include "exposure.h"
#include "scene.h"

namespace squaresight::samples {

/// What scatters: drawn once for a placement of the cradle and once for a photo.
struct PhotoScatter {
    double seating_left_deg = 0, seating_up_deg = 0;
    double jitter_left_deg = 0, jitter_up_deg = 0;
};

enum class Detail {
    mask,   ///< nothing but the sheet, white on black
    plain,  ///< one ray a pixel
    smooth  ///< edges are averaged over many rays
};

struct PovRayOptions {
    int threads = 1;
    bool plain = false;  ///< hard shadows
};

/// Runs POV-Ray on samples/scenes in a folder of its own, which is removed afterwards.
class PovRay {
  public:
    /// `sheet` is the picture of the sheet.
    PovRay(const Scene& scene, const cv::Mat& sheet, double sheet_width_mm, double sheet_height_mm,
           PovRayOptions options);
    ~PovRay();
    PovRay(const PovRay&) = delete;
    PovRay& operator=(const PovRay&) = delete;

    /// The scene as a pinhole at the lens sees it, `focal_px` pixels to the unit of the window.
    /// InputError if POV-Ray is missing or fails.
    Pinhole render(const TrueStage& stage, const TruePhoto& photo, const PhotoScatter& scatter,
                   const Window& window, double focal_px, Detail detail) const;

  private:
    const Scene& scene_;
    std::filesystem::path folder_;
    double sheet_width_mm_;
    double sheet_height_mm_;
    PovRayOptions options_;
};

}  // namespace squaresight::samples

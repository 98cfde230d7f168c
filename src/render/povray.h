#pragma once
#include <filesystem>
#include <string>

#include "render/exposure.h"
#include "render/scene.h"

namespace squaresight {

enum class Detail {
    mask,     ///< nothing but the sheet, white on black
    plain,    ///< one ray a pixel
    smooth,   ///< edges are averaged over many rays
    smoother  ///< the same with sixteen times as many: pixels may be four times as large
};

/// InputError where the program POV-Ray is not installed.
void require_povray();

struct PovRayOptions {
    int threads = 1;
    bool plain = false;  ///< hard shadows
};

/// Runs POV-Ray on the scene (scenes/) in a folder of its own, which is removed afterwards.
class PovRay {
  public:
    /// `sheet` is the picture of the sheet.
    PovRay(const Scene& scene, const cv::Mat& sheet, double sheet_width_mm, double sheet_height_mm,
           PovRayOptions options);
    ~PovRay();
    PovRay(const PovRay&) = delete;
    PovRay& operator=(const PovRay&) = delete;

    /// The scene as a pinhole at the lens sees it, `focal_px` pixels to the unit of the window.
    /// InputError if POV-Ray fails.
    Pinhole render(const TrueStage& stage, const TruePhoto& photo, const PhotoScatter& scatter,
                   const Window& window, double focal_px, Detail detail) const;

  private:
    const Scene& scene_;
    std::filesystem::path folder_;
    double sheet_width_mm_;
    double sheet_height_mm_;
    PovRayOptions options_;
};

}  // namespace squaresight

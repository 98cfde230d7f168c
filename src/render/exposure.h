#pragma once
#include <opencv2/core.hpp>

#include "render/scene.h"

/// The lens and sensor of the invented phone: what turns exact pinhole pictures of the scene into
/// a photo. Shares no code with the program's own lens model.
namespace squaresight {

/// A window on the plane at unit distance ahead of the lens: native right and down, so its unit is
/// the tangent of an angle.
struct Window {
    double left = 0, top = 0, right = 0, bottom = 0;
    double width() const { return right - left; }
    double height() const { return bottom - top; }
};

/// A pinhole picture of the scene: CV_32FC3, linear light, spread evenly over `window`.
struct Pinhole {
    cv::Mat light;
    Window window;
};

/// The window that covers every pixel of the photo, with a small margin.
Window window_of_photo(const TrueLens& lens, const Picture& picture);

/// The photo's light before blur and noise (CV_32FC3, linear). `board`, drawn finer than the photo,
/// replaces `whole` wherever it covers a pixel: there each pixel is the mean of the light on its
/// area. `board.light` may be empty.
cv::Mat light_on_sensor(const TrueLens& lens, const Picture& picture, const Pinhole& whole,
                        const Pinhole& board);

/// Blur, fall-off toward the corners, noise and tone curve: CV_8UC3, BGR.
cv::Mat developed(const cv::Mat& light, const Picture& picture, unsigned seed);

}  // namespace squaresight

#include "render/exposure.h"

#include <algorithm>
#include <cmath>
#include <opencv2/calib3d.hpp>
#include <opencv2/imgproc.hpp>

namespace squaresight {
namespace {

constexpr int strip_px = 64;  // rows at a time: a board that fills the photo would fill the memory

/// Where on the plane at unit distance each pixel of an area looks: CV_64FC2.
cv::Mat unit_plane_of_pixels(const TrueLens& lens, const cv::Rect& area) {
    cv::Mat points(area.size(), CV_64FC2);
    for (int row = 0; row < points.rows; ++row) {
        for (int column = 0; column < points.cols; ++column) {
            points.at<cv::Vec2d>(row, column) = {static_cast<double>(area.x + column),
                                                 static_cast<double>(area.y + row)};
        }
    }
    const cv::Matx33d matrix{lens.fx_px, 0, lens.cx_px, 0, lens.fy_px, lens.cy_px, 0, 0, 1};
    const cv::Vec<double, 5> distortion{lens.k1, lens.k2, lens.p1, lens.p2, lens.k3};
    const cv::TermCriteria until{cv::TermCriteria::COUNT | cv::TermCriteria::EPS, 60, 1e-10};
    cv::Mat rays;
    cv::undistortPoints(points.reshape(2, points.rows * points.cols), rays, matrix, distortion,
                        cv::noArray(), cv::noArray(), until);
    return rays.reshape(2, points.rows);
}

/// The same for `parts` points a pixel each way, spread evenly over the pixels of `area`, between
/// those of a frame of pixels that reaches one pixel beyond it: a lens bends too little within a
/// pixel (1e-5 px) to tell.
cv::Mat between_pixels(const cv::Mat& rays, const cv::Rect& area, int parts) {
    cv::Mat finer(area.height * parts, area.width * parts, CV_64FC2);
    for (int row = 0; row < finer.rows; ++row) {
        const double y = area.y - 0.5 + (row + 0.5) / parts;
        const int upper = static_cast<int>(std::floor(y));
        for (int column = 0; column < finer.cols; ++column) {
            const double x = area.x - 0.5 + (column + 0.5) / parts;
            const int left = static_cast<int>(std::floor(x));
            const double down = y - upper;
            const double right = x - left;
            const auto* above = rays.ptr<cv::Vec2d>(upper) + left;
            const auto* below = rays.ptr<cv::Vec2d>(upper + 1) + left;
            finer.at<cv::Vec2d>(row, column) =
                (1 - down) * ((1 - right) * above[0] + right * above[1]) +
                down * ((1 - right) * below[0] + right * below[1]);
        }
    }
    return finer;
}

/// Samples a pinhole picture where rays meet it.
cv::Mat sampled(const Pinhole& pinhole, const cv::Mat& rays, int interpolation) {
    const double across_px = pinhole.light.cols / pinhole.window.width();
    const double down_px = pinhole.light.rows / pinhole.window.height();
    cv::Mat map(rays.size(), CV_32FC2);
    for (int row = 0; row < rays.rows; ++row) {
        for (int column = 0; column < rays.cols; ++column) {
            const cv::Vec2d& ray = rays.at<cv::Vec2d>(row, column);
            map.at<cv::Vec2f>(row, column) = {
                static_cast<float>((ray[0] - pinhole.window.left) * across_px - 0.5),
                static_cast<float>((ray[1] - pinhole.window.top) * down_px - 0.5)};
        }
    }
    cv::Mat light;
    cv::remap(pinhole.light, light, map, cv::noArray(), interpolation, cv::BORDER_REPLICATE);
    return light;
}

/// Pixels (CV_8UC1, 255) whose ray lies inside `window`, two of its own pixels from its rim.
cv::Mat pixels_inside(const cv::Mat& rays, const Window& window, double photo_px) {
    const double rim = 2 / photo_px;
    cv::Mat inside;
    cv::inRange(rays, cv::Scalar(window.left + rim, window.top + rim),
                cv::Scalar(window.right - rim, window.bottom - rim), inside);
    return inside;
}

/// Samples a pixel each way where the board is: at least two to a pixel of its picture, or edges
/// would ripple.
int parts_a_pixel(const Pinhole& board, double photo_px) {
    const double finer = board.light.cols / board.window.width() / photo_px;
    return finer > 2.5 ? 8 : finer > 1.3 ? 4 : 2;
}

}  // namespace

Window window_of_photo(const TrueLens& lens, const Picture& picture) {
    Window window{1e9, 1e9, -1e9, -1e9};
    const auto take_in = [&](const cv::Mat& rays) {
        for (auto ray = rays.begin<cv::Vec2d>(); ray != rays.end<cv::Vec2d>(); ++ray) {
            window.left = std::min(window.left, (*ray)[0]);
            window.right = std::max(window.right, (*ray)[0]);
            window.top = std::min(window.top, (*ray)[1]);
            window.bottom = std::max(window.bottom, (*ray)[1]);
        }
    };
    take_in(unit_plane_of_pixels(lens, {-2, -2, picture.width_px + 4, 1}));
    take_in(unit_plane_of_pixels(lens, {-2, picture.height_px + 1, picture.width_px + 4, 1}));
    take_in(unit_plane_of_pixels(lens, {-2, -2, 1, picture.height_px + 4}));
    take_in(unit_plane_of_pixels(lens, {picture.width_px + 1, -2, 1, picture.height_px + 4}));
    return window;
}

cv::Mat light_on_sensor(const TrueLens& lens, const Picture& picture, const Pinhole& whole,
                        const Pinhole& board) {
    // One pixel more on each side.
    const cv::Mat around =
        unit_plane_of_pixels(lens, {-1, -1, picture.width_px + 2, picture.height_px + 2});
    const cv::Mat rays = around(cv::Rect(1, 1, picture.width_px, picture.height_px)).clone();
    cv::Mat light = sampled(whole, rays, cv::INTER_CUBIC);
    if (board.light.empty()) {
        return light;
    }
    const double photo_px = std::min(lens.fx_px, lens.fy_px);
    const int parts = parts_a_pixel(board, photo_px);
    const cv::Mat inside = pixels_inside(rays, board.window, photo_px);
    const cv::Rect area = cv::boundingRect(inside);
    for (int row = area.y; row < area.br().y; row += strip_px) {
        const cv::Rect strip(area.x, row, area.width, std::min(strip_px, area.br().y - row));
        const cv::Mat fine = sampled(board, between_pixels(around, strip + cv::Point(1, 1), parts),
                                     cv::INTER_LINEAR);
        cv::Mat means;
        cv::resize(fine, means, strip.size(), 0, 0, cv::INTER_AREA);
        means.copyTo(light(strip), inside(strip));
    }
    return light;
}

cv::Mat developed(const cv::Mat& light, const Picture& picture, unsigned seed) {
    cv::Mat photo;
    if (picture.blur_px > 0) {
        cv::GaussianBlur(light, photo, {0, 0}, picture.blur_px);
    } else {
        photo = light.clone();
    }
    const double half_diagonal = std::hypot(photo.cols, photo.rows) / 2;
    cv::RNG random(seed);
    cv::Mat grain(photo.size(), CV_32FC1);
    random.fill(grain, cv::RNG::NORMAL, 0, picture.noise_levels);
    cv::Mat levels(photo.size(), CV_8UC3);
    for (int row = 0; row < photo.rows; ++row) {
        for (int column = 0; column < photo.cols; ++column) {
            const double from_middle =
                std::hypot(column - photo.cols / 2.0, row - photo.rows / 2.0) / half_diagonal;
            const double fall_off = 1 - 0.3 * from_middle * from_middle;
            const cv::Vec3f& linear = photo.at<cv::Vec3f>(row, column);
            for (int channel = 0; channel < 3; ++channel) {
                const double shown = std::pow(std::max(0.0, linear[channel] * fall_off), 1 / 2.2);
                levels.at<cv::Vec3b>(row, column)[channel] = cv::saturate_cast<unsigned char>(
                    255 * std::min(shown, 1.0) + grain.at<float>(row, column));
            }
        }
    }
    return levels;
}

}  // namespace squaresight

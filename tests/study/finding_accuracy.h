#pragma once
#include <Eigen/LU>
#include <cmath>
#include <map>
#include <mutex>
#include <string>
#include <vector>

#include "sight/sight.h"
#include "study/finders.h"
#include "study/parallel.h"
#include "support/degraded_photo.h"

/// How good corners are: against cornerSubPix, and against the least that any unbiased estimate
/// could scatter (Cramer-Rao), computed from how the photo's own pixels change when the board
/// moves.
namespace squaresight::study {

/// Errors of corners, both axes together.
struct Scatter {
    long corners = 0;
    double squares_px2 = 0;
    Eigen::Vector2d sum_px{0, 0};

    void add(const Eigen::Vector2d& error_px) {
        ++corners;
        squares_px2 += error_px.squaredNorm();
        sum_px += error_px;
    }
    double rms_px() const { return std::sqrt(squares_px2 / (2.0 * static_cast<double>(corners))); }
    Eigen::Vector2d mean_px() const { return sum_px / static_cast<double>(corners); }
    double mean_uncertainty_px() const {
        return rms_px() / std::sqrt(static_cast<double>(corners));
    }
};

/// What accuracy is quoted for: blur 1 px, noise 3, JPEG 85.
inline degraded::Conditions common_photo() {
    degraded::Conditions c;
    c.blur_px = 1;
    c.noise = 3;
    c.jpeg_quality = 85;
    c.tilt_deg = 20;
    return c;
}

inline degraded::Conditions as_a_phone_makes_it(degraded::Conditions c) {
    c.tone = 0.6;
    c.sharpening = 0.8;
    return c;
}

/// The board without noise or processing, moved in the photo.
inline cv::Mat moved_photo(const raster::Scene& scene, const Eigen::Vector2d& by_px) {
    raster::Scene moved = scene;
    moved.noise = 0;
    moved.lens.cx += by_px.x();
    moved.lens.cy += by_px.y();
    cv::Mat photo;
    raster::photo_of(moved).convertTo(photo, CV_64F);
    return photo;
}

/// Least variance (mean of both axes, px2) of each inner corner: all that is printed moves with it
/// as far as half way to the next corners, everything else is known, noise is white.
inline std::map<int, double> least_variances_px2(const raster::Scene& scene, double noise) {
    constexpr double step_px = 0.25;
    const auto by = [&](const Eigen::Vector2d& way) {
        return cv::Mat((moved_photo(scene, step_px * way) - moved_photo(scene, -step_px * way)) /
                       (2 * step_px));
    };
    const cv::Mat by_x = by({1, 0}), by_y = by({0, 1});
    const Pattern& pattern = scene.target.pattern;
    std::map<int, Eigen::Matrix2d> information;
    for (int index = 0; index < pattern.corner_count(); ++index) {
        information[index].setZero();
    }
    const Eigen::Matrix3d board_from_ray = [&] {
        Eigen::Matrix3d ray_from_board;
        ray_from_board << scene.pose.camera_from_target.leftCols<2>(),
            scene.pose.target_in_camera_mm;
        return Eigen::Matrix3d(ray_from_board.inverse());
    }();
    for (int y = 0; y < by_x.rows; ++y) {
        for (int x = 0; x < by_x.cols; ++x) {
            const auto ray = ray_of_pixel(scene.lens, {x, y});
            if (!ray) {
                continue;
            }
            const Eigen::Vector3d on_board = board_from_ray * ray->homogeneous();
            const int column = static_cast<int>(std::lround(
                on_board.x() / on_board.z() / pattern.square_mm + pattern.across / 2.0 - 1));
            const int row = static_cast<int>(std::lround(
                on_board.y() / on_board.z() / pattern.square_mm + pattern.down / 2.0 - 1));
            if (column < 0 || row < 0 || column >= pattern.corners_across() ||
                row >= pattern.corners_down()) {
                continue;
            }
            const Eigen::Vector2d slope(by_x.at<double>(y, x), by_y.at<double>(y, x));
            information[row * pattern.corners_across() + column] +=
                slope * slope.transpose() / (noise * noise);
        }
    }
    std::map<int, double> variances;
    for (const auto& [index, matrix] : information) {
        variances[index] = matrix.inverse().trace() / 2;
    }
    return variances;
}

/// Standard deviation of what noise and JPEG did to the pixels of the board.
inline double noise_of(const degraded::DegradedPhoto& photo) {
    raster::Scene quiet = photo.scene;
    quiet.noise = 0;
    degraded::Conditions untouched;
    untouched.jpeg_quality = 100;
    const cv::Mat still = degraded::photo_of(quiet, untouched).grey;
    double sum = 0, squares = 0;
    long count = 0;
    for (const auto& place : degraded::places_over(photo.scene.target.pattern)) {
        const cv::Point at = degraded::rounded(*raster::pixel_of(photo.scene, place));
        if (at.inside(cv::Rect(cv::Point(0, 0), photo.grey.size()))) {
            const double change = static_cast<double>(photo.grey.at<unsigned char>(at)) -
                                  static_cast<double>(still.at<unsigned char>(at));
            sum += change;
            squares += change * change;
            ++count;
        }
    }
    const double n = static_cast<double>(count);
    return std::sqrt(squares / n - sum / n * sum / n);
}

struct Accuracy {
    Scatter ours;
    std::map<int, Scatter> corner_sub_pix;  ///< by half window, px
    double least_px2 = 0;                   ///< sum of the least variances of the corners found
    double least_of_edges_px2 = 0;          ///< the same where only the squares are printed
    double noise = 0;                       ///< grey values, mean over photos
    int photos = 0;

    int best_window() const {
        return std::min_element(corner_sub_pix.begin(), corner_sub_pix.end(),
                                [](const auto& a, const auto& b) {
                                    return a.second.rms_px() < b.second.rms_px();
                                })
            ->first;
    }
    double least_px() const { return std::sqrt(least_px2 / static_cast<double>(ours.corners)); }
    double least_of_edges_px() const {
        return std::sqrt(least_of_edges_px2 / static_cast<double>(ours.corners));
    }
};

/// cornerSubPix starts from the whole pixel next to the truth.
inline void add_corner_sub_pix(const degraded::DegradedPhoto& photo, Accuracy& accuracy) {
    const raster::Scene& scene = photo.scene;
    for (int half = 2; half <= 12; ++half) {
        std::vector<cv::Point2f> pixels;
        for (int index = 0; index < scene.target.pattern.corner_count(); ++index) {
            pixels.emplace_back(degraded::rounded(raster::true_corner(scene, index)));
        }
        cv::cornerSubPix(
            photo.grey, pixels, {half, half}, {-1, -1},
            cv::TermCriteria(cv::TermCriteria::COUNT | cv::TermCriteria::EPS, 100, 1e-4));
        for (std::size_t n = 0; n < pixels.size(); ++n) {
            accuracy.corner_sub_pix[half].add(Eigen::Vector2d(static_cast<double>(pixels[n].x),
                                                              static_cast<double>(pixels[n].y)) -
                                              raster::true_corner(scene, static_cast<int>(n)));
        }
    }
}

/// The bound of a processed photo is that of the sensor's: processing adds no information.
inline Accuracy measure_accuracy(const degraded::Conditions& conditions, unsigned first_seed,
                                 int photos, unsigned threads) {
    Accuracy accuracy;
    std::mutex mutex;
    degraded::Conditions sensor = conditions;
    sensor.tone = 1;
    sensor.sharpening = 0;
    in_parallel(
        photos,
        [&](int number) {
            const unsigned seed = first_seed + static_cast<unsigned>(number);
            const auto photo = degraded::photo_of(conditions, seed);
            const double noise = noise_of(degraded::photo_of(sensor, seed));
            raster::Scene plain = photo.scene;
            plain.with_markers = false;
            const auto least = least_variances_px2(photo.scene, noise);
            const auto least_of_edges = least_variances_px2(plain, noise);
            const Sight sight = find_target(photo.grey, photo.scene.target, photo.scene.lens);
            const std::scoped_lock lock(mutex);
            ++accuracy.photos;
            accuracy.noise += noise / photos;
            for (const auto& corner : sight.corners) {
                accuracy.ours.add(corner.pixel - raster::true_corner(photo.scene, corner.index));
                accuracy.least_px2 += least.at(corner.index);
                accuracy.least_of_edges_px2 += least_of_edges.at(corner.index);
            }
            add_corner_sub_pix(photo, accuracy);
        },
        threads);
    return accuracy;
}

/// Mean errors: over all photos, and the largest of eight places in a pixel on each axis.
struct Bias {
    Scatter all;
    std::array<std::array<Scatter, 8>, 2> by_place;

    void add(const Corner& corner, const Eigen::Vector2d& truth_px) {
        const Eigen::Vector2d error = corner.pixel - truth_px;
        all.add(error);
        for (int axis = 0; axis < 2; ++axis) {
            const double place = truth_px[axis] - std::floor(truth_px[axis]);
            by_place[static_cast<std::size_t>(axis)]
                    [std::min<std::size_t>(7, static_cast<std::size_t>(8 * place))]
                        .add(error);
        }
    }
    double largest_by_place_px() const {
        double largest = 0;
        for (int axis = 0; axis < 2; ++axis) {
            for (const auto& scatter : by_place[static_cast<std::size_t>(axis)]) {
                largest = std::max(largest, std::abs(scatter.mean_px()[axis]));
            }
        }
        return largest;
    }
};

inline Bias measure_bias(const degraded::Conditions& conditions, unsigned first_seed, int photos,
                         unsigned threads) {
    Bias bias;
    std::mutex mutex;
    in_parallel(
        photos,
        [&](int number) {
            const auto photo =
                degraded::photo_of(conditions, first_seed + static_cast<unsigned>(number));
            const Sight sight = find_target(photo.grey, photo.scene.target, photo.scene.lens);
            const std::scoped_lock lock(mutex);
            for (const auto& corner : sight.corners) {
                bias.add(corner, raster::true_corner(photo.scene, corner.index));
            }
        },
        threads);
    return bias;
}

}  // namespace squaresight::study

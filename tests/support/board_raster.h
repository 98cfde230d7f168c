#pragma once
#include <Eigen/Core>
#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <functional>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>
#include <optional>
#include <random>
#include <vector>

#include "camera/camera.h"
#include "frames/rotations.h"
#include "target/target.h"

/// Photos of a target with known truth: every edge of the print is projected through pose and lens
/// and each pixel holds the exact share of its unit square (centre at whole numbers) that each
/// colour covers; only the lens's curving of edges is cut into short straight pieces. What a
/// rendered photo does not have: depth of field, rolling shutter, colour.
namespace squaresight::raster {

/// Share of each pixel that closed polygons cover, from signed areas along their edges. Polygons
/// must not overlap; those that run clockwise in the photo (x right, y down) count as positive.
class Coverage {
  public:
    Coverage(int width_px, int height_px)
        : width_(width_px),
          height_(height_px),
          cells_(cv::Mat::zeros(height_px, width_px + 2, CV_64F)) {}

    void add_polygon(const std::vector<Eigen::Vector2d>& corners_px) {
        for (std::size_t n = 0; n < corners_px.size(); ++n) {
            add_edge(corners_px[n], corners_px[(n + 1) % corners_px.size()]);
        }
    }

    /// CV_32F, 0..1.
    cv::Mat shares() const {
        cv::Mat out(height_, width_, CV_32F);
        for (int y = 0; y < height_; ++y) {
            double sum = 0;
            for (int x = 0; x < width_; ++x) {
                sum += cells_.at<double>(y, x);
                out.at<float>(y, x) = static_cast<float>(std::clamp(sum, 0.0, 1.0));
            }
        }
        return out;
    }

  private:
    /// Moves to coordinates in which pixel (0, 0) covers 0..1, and walks row by row.
    void add_edge(Eigen::Vector2d a, Eigen::Vector2d b) {
        a.array() += 0.5;
        b.array() += 0.5;
        if (a.y() == b.y()) {
            return;
        }
        const double sign = a.y() < b.y() ? -1 : 1;  // down the right hand side closes the area
        if (a.y() > b.y()) {
            std::swap(a, b);
        }
        const double slope = (b.x() - a.x()) / (b.y() - a.y());
        const int first = std::max(0, static_cast<int>(std::floor(a.y())));
        const int last = std::min(height_ - 1, static_cast<int>(std::floor(b.y())));
        for (int y = first; y <= last; ++y) {
            const double top = std::max(a.y(), static_cast<double>(y));
            const double bottom = std::min(b.y(), y + 1.0);
            if (bottom > top) {
                add_in_row(y, a.x() + slope * (top - a.y()), a.x() + slope * (bottom - a.y()),
                           sign * (bottom - top));
            }
        }
    }

    /// A piece of edge inside one row: everything right of it gains `height` of cover, the pixels
    /// that it crosses a part of that.
    void add_in_row(int y, double x0, double x1, double height) {
        const double left = std::clamp(std::min(x0, x1), 0.0, static_cast<double>(width_));
        const double right = std::clamp(std::max(x0, x1), 0.0, static_cast<double>(width_));
        double before = 0;  // cover of the pixel left of the current one
        const int first = static_cast<int>(left);
        const int last = static_cast<int>(right);
        for (int x = first; x <= last + 1; ++x) {
            const double cover = height * covered(x, std::min(x0, x1), std::max(x0, x1));
            if (x < width_ + 2) {
                cells_.at<double>(y, x) += cover - before;
            }
            before = cover;
        }
    }

    /// Share of pixel x right of an edge whose x is spread evenly over left..right.
    static double covered(int x, double left, double right) {
        const auto integral = [&](double t) {  // of the share of the edge that lies left of t
            if (t <= left) {
                return 0.0;
            }
            if (t >= right) {
                return (t - right) + 0.5 * (right - left);
            }
            return 0.5 * (t - left) * (t - left) / (right - left);
        };
        return integral(x + 1.0) - integral(x);
    }

    int width_;
    int height_;
    cv::Mat cells_;
};

/// Where a point of the target (mm right and down of its centre) stands in the camera.
struct Pose {
    Eigen::Matrix3d camera_from_target = Eigen::Matrix3d::Identity();
    Eigen::Vector3d target_in_camera_mm{0, 0, 3000};

    Eigen::Vector3d in_camera(const Eigen::Vector2d& in_target_mm) const {
        return camera_from_target * Eigen::Vector3d(in_target_mm.x(), in_target_mm.y(), 0) +
               target_in_camera_mm;
    }
};

/// Turned about the line of sight, then tilted about the camera's x and y.
inline Pose pose(double distance_mm, double roll_deg, double tilt_x_deg = 0, double tilt_y_deg = 0,
                 const Eigen::Vector2d& aside_mm = {0, 0}) {
    const double rad = M_PI / 180;
    Pose p;
    p.camera_from_target = rotation_x<double>(tilt_x_deg * rad) *
                           rotation_y<double>(tilt_y_deg * rad) *
                           rotation_z<double>(roll_deg * rad);
    p.target_in_camera_mm = {aside_mm.x(), aside_mm.y(), distance_mm};
    return p;
}

struct Scene {
    Target target;
    Pose pose;
    Lens lens;
    int width_px = 1200;
    int height_px = 900;
    double white = 200;  ///< grey values of paper and ink
    double black = 40;
    double blur_px = 1;
    double noise = 0;          ///< standard deviation, grey values
    double light_falloff = 0;  ///< share of the light lost from the left to the right of the photo
    bool mirrored = false;     ///< the print is a mirror image
    bool with_markers = true;
    unsigned seed = 1;
    /// Blur is applied on pixels this much finer, so that it comes before sampling as in a lens:
    /// blurring whole pixels instead shifts corners by up to 0.012 px with their place in a pixel.
    int finer = 2;
    /// Paints on the unblurred photo (CV_32F, finer pixels): before the board and after it.
    std::function<void(cv::Mat&)> behind;
    std::function<void(cv::Mat&)> in_front;
};

inline std::optional<Eigen::Vector2d> pixel_of(const Scene& scene,
                                               const Eigen::Vector2d& in_target_mm) {
    return project(scene.lens, scene.pose.in_camera(in_target_mm));
}

inline Eigen::Vector2d true_corner(const Scene& scene, int index) {
    return pixel_of(scene, corner_in_target_mm(scene.target.pattern, index)).value();
}

/// Adds a rectangle of the target, its sides cut into pieces of at most about 8 px.
inline void add_rectangle(Coverage& coverage, const Scene& scene, double left_mm, double top_mm,
                          double right_mm, double bottom_mm) {
    const double flip = scene.mirrored ? -1 : 1;
    const std::vector<Eigen::Vector2d> corners{
        {left_mm, top_mm}, {right_mm, top_mm}, {right_mm, bottom_mm}, {left_mm, bottom_mm}};
    std::vector<Eigen::Vector2d> outline_px;
    const double piece_mm = 8 * scene.pose.target_in_camera_mm.z() / scene.lens.fx;
    for (std::size_t n = 0; n < 4; ++n) {
        const Eigen::Vector2d from = corners[n];
        const Eigen::Vector2d side = corners[(n + 1) % 4] - from;
        const int pieces = std::max(1, static_cast<int>(std::ceil(side.norm() / piece_mm)));
        for (int k = 0; k < pieces; ++k) {
            const Eigen::Vector2d at = from + side * k / pieces;
            const auto pixel = pixel_of(scene, {flip * at.x(), at.y()});
            if (!pixel) {
                return;
            }
            outline_px.push_back(*pixel);
        }
    }
    if (scene.mirrored) {
        std::reverse(outline_px.begin(), outline_px.end());
    }
    coverage.add_polygon(outline_px);
}

inline void add_square_with_marker(Coverage& ink, const Scene& scene, const Dictionary& dictionary,
                                   const MarkerPlace& marker) {
    const Pattern& p = scene.target.pattern;
    const int cells = dictionary.size + 2;
    const double cell_mm = p.marker_mm / cells;
    const double left_mm = (marker.column + 0.5 - p.across / 2.0) * p.square_mm - p.marker_mm / 2;
    const double top_mm = (marker.row + 0.5 - p.down / 2.0) * p.square_mm - p.marker_mm / 2;
    const auto& bits = dictionary.bits[static_cast<std::size_t>(marker.id)];
    const auto is_white = [&](int column, int row) {
        const bool border = column == 0 || row == 0 || column == cells - 1 || row == cells - 1;
        return !border && bits[static_cast<std::size_t>((row - 1) * dictionary.size + column - 1)];
    };
    for (int row = 0; row < cells; ++row) {
        for (int column = 0; column < cells;) {
            int end = column;
            while (end < cells && !is_white(end, row)) {
                ++end;
            }
            if (end > column) {
                add_rectangle(ink, scene, left_mm + column * cell_mm, top_mm + row * cell_mm,
                              left_mm + end * cell_mm, top_mm + (row + 1) * cell_mm);
            }
            column = end + 1;
        }
    }
}

inline cv::Mat ink_shares(const Scene& scene) {
    const Pattern& p = scene.target.pattern;
    Coverage ink(scene.width_px, scene.height_px);
    for (int row = 0; row < p.down; ++row) {
        for (int column = 0; column < p.across; ++column) {
            if (!is_white_square(p, column, row)) {
                const double left_mm = (column - p.across / 2.0) * p.square_mm;
                const double top_mm = (row - p.down / 2.0) * p.square_mm;
                add_rectangle(ink, scene, left_mm, top_mm, left_mm + p.square_mm,
                              top_mm + p.square_mm);
            }
        }
    }
    if (scene.with_markers) {
        const Dictionary dictionary = marker_dictionary(p.dictionary, "test");
        for (const auto& marker : marker_places(p)) {
            add_square_with_marker(ink, scene, dictionary, marker);
        }
    }
    return ink.shares();
}

/// The photo before blur, noise and rounding (CV_32F); `background` holds what is behind.
inline void paint_board(cv::Mat& photo, const Scene& scene) {
    Coverage sheet(scene.width_px, scene.height_px);
    const double right_mm = scene.target.sheet_width_mm / 2;
    const double down_mm = scene.target.sheet_height_mm / 2;
    add_rectangle(sheet, scene, -right_mm, -down_mm, right_mm, down_mm);
    const cv::Mat paper = sheet.shares();
    const cv::Mat ink = ink_shares(scene);
    const auto contrast = static_cast<float>(scene.white - scene.black);
    for (int y = 0; y < photo.rows; ++y) {
        for (int x = 0; x < photo.cols; ++x) {
            float& grey = photo.at<float>(y, x);
            const float share = paper.at<float>(y, x);
            grey = (1 - share) * grey + share * static_cast<float>(scene.white) -
                   contrast * ink.at<float>(y, x);
        }
    }
}

/// Blur, uneven light, noise and rounding to whole grey values.
inline cv::Mat exposed(const cv::Mat& ideal, const Scene& scene) {
    cv::Mat blurred = ideal;
    if (scene.blur_px > 0) {
        const double blur = scene.blur_px * scene.finer;
        const int size = 2 * static_cast<int>(std::ceil(4 * blur)) + 1;
        cv::GaussianBlur(ideal, blurred, cv::Size(size, size), blur);
    }
    if (scene.finer > 1) {
        cv::resize(blurred, blurred, cv::Size(scene.width_px, scene.height_px), 0, 0,
                   cv::INTER_AREA);
    }
    std::mt19937 random(scene.seed);
    std::normal_distribution<float> noise(0, 1);
    cv::Mat photo(blurred.size(), CV_8UC1);
    for (int y = 0; y < photo.rows; ++y) {
        for (int x = 0; x < photo.cols; ++x) {
            const double light = 1 - scene.light_falloff * x / photo.cols;
            double grey = light * static_cast<double>(blurred.at<float>(y, x));
            if (scene.noise > 0) {
                grey += scene.noise * static_cast<double>(noise(random));
            }
            photo.at<unsigned char>(y, x) =
                static_cast<unsigned char>(std::clamp(std::lround(grey), 0L, 255L));
        }
    }
    return photo;
}

/// The same scene on finer pixels.
inline Scene refined(const Scene& scene) {
    Scene fine = scene;
    fine.width_px *= scene.finer;
    fine.height_px *= scene.finer;
    fine.lens.fx *= scene.finer;
    fine.lens.fy *= scene.finer;
    fine.lens.cx = (scene.lens.cx + 0.5) * scene.finer - 0.5;
    fine.lens.cy = (scene.lens.cy + 0.5) * scene.finer - 0.5;
    return fine;
}

inline cv::Mat photo_of(const Scene& scene) {
    const Scene fine = refined(scene);
    cv::Mat ideal(fine.height_px, fine.width_px, CV_32F, cv::Scalar(110));
    if (scene.behind) {
        scene.behind(ideal);
    }
    paint_board(ideal, fine);
    if (scene.in_front) {
        scene.in_front(ideal);
    }
    return exposed(ideal, scene);
}

/// Rectangles, lines, discs and letters at random: a workshop for corner finders.
inline void paint_clutter(cv::Mat& photo, unsigned seed, int things) {
    std::mt19937 random(seed);
    const auto upto = [&](int limit) {
        return static_cast<int>(random() % static_cast<unsigned>(std::max(1, limit)));
    };
    for (int n = 0; n < things; ++n) {
        const cv::Point at(upto(photo.cols), upto(photo.rows));
        const cv::Scalar grey(upto(256));
        const int size = 4 + upto(photo.cols / 12);
        switch (n % 4) {
            case 0:
                cv::rectangle(photo, at, at + cv::Point(size, 4 + upto(size)), grey, cv::FILLED);
                break;
            case 1:
                cv::line(photo, at, cv::Point(upto(photo.cols), upto(photo.rows)), grey,
                         1 + upto(6), cv::LINE_8);
                break;
            case 2:
                cv::circle(photo, at, size / 2, grey, cv::FILLED);
                break;
            default:
                cv::putText(photo, "REAR AXLE 42", at, cv::FONT_HERSHEY_SIMPLEX,
                            0.4 + 0.1 * upto(20), grey, 1 + upto(3));
        }
    }
}

}  // namespace squaresight::raster

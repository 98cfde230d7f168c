#pragma once
#include <Eigen/Core>
#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <random>
#include <string>
#include <vector>

#include "support/board_raster.h"

/// Photos of the bay's board spoilt one way at a time or several: the axes of docs/finding.md.
/// Light is spoilt before the lens, the lens before the sensor, and a phone's own processing comes
/// last, as in a camera.
namespace squaresight::degraded {

class Random {
  public:
    explicit Random(unsigned seed) : engine_(seed) {}
    double between(double low, double high) {
        return low + (high - low) * static_cast<double>(engine_()) / 4294967296.0;
    }
    int upto(int limit) {
        return static_cast<int>(engine_() % static_cast<unsigned>(std::max(1, limit)));
    }
    double angle() { return between(0, 2 * M_PI); }

  private:
    std::mt19937 engine_;
};

/// How a photo was taken. The defaults are an ordinary good one.
struct Conditions {
    double square_px = 32;  ///< a square seen square-on at the board's distance
    double tilt_deg = 30;   ///< of the board, about any axis across the line of sight
    double roll_deg = -1;   ///< below 0: any
    double blur_px = 0.8;   ///< standard deviation of a good lens
    double defocus_px = 0;  ///< radius of the disc that a point becomes
    double shake_px = 0;    ///< length of the line that a point becomes
    double noise = 2;       ///< standard deviation, grey values
    double contrast = 1;    ///< share that haze leaves of it
    double exposure = 1;    ///< grey values are multiplied by this, then clipped
    double glare = 0;       ///< radius of the burnt-out patch, board widths
    double shadow = 0;      ///< share of the light that is lost behind its edge
    double hidden = 0;      ///< share of the board behind other things
    double dirt = 0;        ///< share of the board under spots of dirt and rain
    double outside = 0;     ///< share of the board beyond the photo's edge
    double k1 = 0;          ///< of the lens
    double sharpening = 0;  ///< unsharp masking, after a tone curve
    double tone = 1;        ///< exponent of the tone curve; a phone's is about 0.6
    double jpeg_quality = 95;
    double clutter = 60;  ///< things behind the board
};

/// One way to spoil a photo, from easy to hard.
struct Axis {
    std::string name;
    std::string level_words;  ///< with {} for the level
    double Conditions::*level;
    std::vector<double> levels;
    /// How hard a level is: ratios of this are ratios of "further".
    enum class Hardness {
        as_level,
        inverse,
        inverse_of_rest,
        inverse_cosine
    } hardness = Hardness::as_level;
    Conditions base = {};
    /// The last level is the end of what the axis can be (all angles, the lowest quality, ...).
    bool ends = false;

    double hardness_of(double value) const {
        switch (hardness) {
            case Hardness::inverse:
                return 1 / value;
            case Hardness::inverse_of_rest:
                return 1 / (1 - value);
            case Hardness::inverse_cosine:
                return 1 / std::cos(value * M_PI / 180);
            default:
                return std::abs(value);
        }
    }
    Conditions at(std::size_t n) const {
        Conditions conditions = base;
        conditions.*level = levels.at(n);
        return conditions;
    }
};

/// `count` levels from `first` to `last`, each the same ratio from the one before.
inline std::vector<double> in_ratio(double first, double last, int count) {
    std::vector<double> levels;
    for (int n = 0; n < count; ++n) {
        levels.push_back(first * std::pow(last / first, n / (count - 1.0)));
    }
    return levels;
}

inline std::vector<double> in_steps(double first, double step, int count) {
    std::vector<double> levels;
    for (int n = 0; n < count; ++n) {
        levels.push_back(first + step * n);
    }
    return levels;
}

/// At least twelve levels each, no two further apart than a quarter on the axes that have a size.
inline std::vector<Axis> axes() {
    using H = Axis::Hardness;
    Conditions wide;  // a lens bends most at the edge of its field
    wide.square_px = 38;
    Conditions processed;
    processed.tone = 0.6;
    processed.jpeg_quality = 85;
    processed.noise = 3;
    std::vector<double> rolls = in_steps(0, 30, 12);
    return {
        {"distance", "{:.1f} px a square", &Conditions::square_px, in_ratio(32, 4.5, 15),
         H::inverse},
        {"tilt",
         "{:.0f} deg",
         &Conditions::tilt_deg,
         {40, 48, 54, 59, 63, 67, 70, 73, 75, 77, 79, 81},
         H::inverse_cosine},
        {"roll", "{:.0f} deg", &Conditions::roll_deg, rolls, H::as_level, {}, true},
        {"defocus", "disc of radius {:.1f} px", &Conditions::defocus_px, in_ratio(1.5, 16, 12)},
        {"motion blur", "line of {:.1f} px", &Conditions::shake_px, in_ratio(3, 36, 12)},
        {"noise", "{:.0f} grey values", &Conditions::noise, in_ratio(6, 100, 12)},
        {"low contrast", "{:.3f} of it left", &Conditions::contrast, in_ratio(0.4, 0.015, 12),
         H::inverse},
        {"darkness", "{:.3f} of the light", &Conditions::exposure, in_ratio(0.4, 0.015, 12),
         H::inverse},
        {"overexposure", "{:.2f} times the light", &Conditions::exposure, in_ratio(1.3, 6.5, 12)},
        {"glare", "patch of {:.2f} board widths", &Conditions::glare, in_ratio(0.08, 0.8, 12)},
        {"shadow edge",
         "{:.3f} of the light lost",
         &Conditions::shadow,
         {0.3, 0.45, 0.6, 0.7, 0.78, 0.84, 0.88, 0.91, 0.935, 0.952, 0.965, 0.975},
         H::inverse_of_rest},
        {"hidden part",
         "{:.2f} of the board",
         &Conditions::hidden,
         {0.2, 0.3, 0.4, 0.47, 0.53, 0.59, 0.64, 0.69, 0.73, 0.77, 0.8, 0.83},
         H::inverse_of_rest},
        {"dirt and rain", "{:.2f} of the board", &Conditions::dirt, in_steps(0.05, 0.055, 12),
         H::inverse_of_rest},
        {"photo's edge",
         "{:.2f} of the board outside",
         &Conditions::outside,
         {0.2, 0.3, 0.4, 0.47, 0.53, 0.59, 0.64, 0.69, 0.73, 0.77, 0.8, 0.83},
         H::inverse_of_rest},
        {"lens, barrel", "k1 {:.2f}", &Conditions::k1, in_ratio(-0.2, -2.4, 12), H::as_level, wide},
        {"lens, pincushion", "k1 {:.2f}", &Conditions::k1, in_ratio(0.3, 6, 12), H::as_level, wide},
        {"JPEG quality",
         "{:.0f}",
         &Conditions::jpeg_quality,
         {60, 45, 35, 27, 21, 16, 12, 9, 7, 5, 3, 1},
         H::inverse,
         {},
         true},
        {"sharpening", "{:.1f} after a tone curve", &Conditions::sharpening, in_ratio(0.4, 8, 12),
         H::as_level, processed},
    };
}

inline Target bay_board(const std::string& dictionary = "DICT_4X4_100") {
    Target target;
    target.name = "bay";
    target.sheet_width_mm = 841;
    target.sheet_height_mm = 594;
    target.pattern = {12, 8, 65, 48, dictionary, 0, SquareColour::black};
    return target;
}

struct DegradedPhoto {
    raster::Scene scene;
    cv::Mat grey;
};

/// Places spread over the pattern, mm, for shares of its area.
inline std::vector<Eigen::Vector2d> places_over(const Pattern& pattern) {
    constexpr int across = 36, down = 24;
    std::vector<Eigen::Vector2d> places;
    for (int n = 0; n < across * down; ++n) {
        const double right = (n % across + 0.5) / across - 0.5;
        const double below = (n / across + 0.5) / down - 0.5;
        places.push_back(pattern.square_mm *
                         Eigen::Vector2d(pattern.across * right, pattern.down * below));
    }
    return places;
}

inline double share_outside(const raster::Scene& scene) {
    const auto places = places_over(scene.target.pattern);
    const auto outside = std::count_if(places.begin(), places.end(), [&](const auto& place) {
        const auto at = raster::pixel_of(scene, place);
        return !at || at->x() < -0.5 || at->y() < -0.5 || at->x() > scene.width_px - 0.5 ||
               at->y() > scene.height_px - 0.5;
    });
    return static_cast<double>(outside) / static_cast<double>(places.size());
}

/// Moves the board sideways until `share` of it lies beyond the photo's edge.
inline void push_out(raster::Scene& scene, double share, double towards) {
    const Eigen::Vector3d from = scene.pose.target_in_camera_mm;
    const Eigen::Vector3d way(std::cos(towards), std::sin(towards), 0);
    double in_mm = 0, out_mm = 3 * from.z();
    for (int n = 0; n < 24; ++n) {
        const double middle_mm = 0.5 * (in_mm + out_mm);
        scene.pose.target_in_camera_mm = from + middle_mm * way;
        (share_outside(scene) < share ? in_mm : out_mm) = middle_mm;
    }
    scene.pose.target_in_camera_mm = from + in_mm * way;
}

/// The board somewhere in a small photo, as the conditions say and otherwise at random.
inline raster::Scene scene_of(const Conditions& c, unsigned seed,
                              const Target& target = bay_board()) {
    Random random(seed);
    raster::Scene scene;
    scene.target = target;
    scene.width_px = 800;
    scene.height_px = 600;
    scene.lens.fx = scene.lens.fy = 700;
    scene.lens.cx = 401.3;
    scene.lens.cy = 298.6;
    scene.lens.k1 = c.k1;
    const double distance_mm = scene.lens.fx * target.pattern.square_mm / c.square_px;
    const double any_roll_deg = random.between(0, 360);
    const double roll_deg = c.roll_deg < 0 ? any_roll_deg : c.roll_deg + random.between(-15, 15);
    const double axis = random.angle();
    scene.pose = raster::pose(distance_mm, roll_deg);
    scene.pose.camera_from_target =
        Eigen::AngleAxisd(c.tilt_deg * M_PI / 180,
                          Eigen::Vector3d(std::cos(axis), std::sin(axis), 0))
            .toRotationMatrix() *
        scene.pose.camera_from_target;
    const double mm_per_px = distance_mm / scene.lens.fx;
    const double right_px = random.between(-30, 30);
    scene.pose.target_in_camera_mm.x() = right_px * mm_per_px;
    scene.pose.target_in_camera_mm.y() = random.between(-30, 30) * mm_per_px;
    if (c.outside > 0) {
        push_out(scene, c.outside, random.angle());
    }
    scene.noise = c.noise;
    scene.blur_px = c.blur_px;
    scene.seed = seed;
    return scene;
}

/// Board places in the finer pixels of the unblurred photo, those that the lens sees.
inline std::vector<Eigen::Vector2d> fine_places(const raster::Scene& scene) {
    std::vector<Eigen::Vector2d> fine;
    for (const auto& place : places_over(scene.target.pattern)) {
        if (const auto at = raster::pixel_of(scene, place)) {
            fine.push_back((at->array() + 0.5) * scene.finer - 0.5);
        }
    }
    return fine;
}

inline Eigen::Vector2d any_of(const std::vector<Eigen::Vector2d>& places, Random& random) {
    return places.at(static_cast<std::size_t>(random.upto(static_cast<int>(places.size()))));
}

inline cv::Point rounded(const Eigen::Vector2d& p) {
    return {static_cast<int>(std::lround(p.x())), static_cast<int>(std::lround(p.y()))};
}

/// Three round things, striped or lettered, that together hide `share` of the board.
inline void hide(cv::Mat& photo, const raster::Scene& scene, double share, Random& random) {
    const auto places = fine_places(scene);
    std::vector<std::pair<Eigen::Vector2d, double>> discs;
    for (int n = 0; n < 3; ++n) {
        discs.emplace_back(any_of(places, random), random.between(0.5, 1));
    }
    const auto hidden_share = [&](double radius_px) {
        const auto hidden = std::count_if(places.begin(), places.end(), [&](const auto& place) {
            return std::any_of(discs.begin(), discs.end(), [&](const auto& disc) {
                return (place - disc.first).norm() < disc.second * radius_px;
            });
        });
        return static_cast<double>(hidden) / static_cast<double>(places.size());
    };
    double small_px = 0, large_px = 2 * photo.cols;
    for (int n = 0; n < 24; ++n) {
        const double middle_px = 0.5 * (small_px + large_px);
        (hidden_share(middle_px) < share ? small_px : large_px) = middle_px;
    }
    cv::Mat mask = cv::Mat::zeros(photo.size(), CV_8U);
    for (const auto& [at, size] : discs) {
        cv::circle(mask, rounded(at), static_cast<int>(size * small_px), cv::Scalar(255),
                   cv::FILLED);
    }
    cv::Mat things(photo.size(), CV_32F, cv::Scalar(random.between(30, 210)));
    for (int n = 0; n < 12; ++n) {
        cv::line(things, {random.upto(photo.cols), 0}, {random.upto(photo.cols), photo.rows},
                 cv::Scalar(random.upto(256)), 4 + random.upto(30));
        cv::putText(things, "CLAMP 7X", {random.upto(photo.cols), random.upto(photo.rows)},
                    cv::FONT_HERSHEY_SIMPLEX, 2, cv::Scalar(random.upto(256)), 5);
    }
    things.copyTo(photo, mask);
}

/// Dirt (dark, opaque in the middle) and drops (bright, half seen through), from a twentieth to a
/// third of a square, until they cover `share` of the board.
inline void spot(cv::Mat& photo, const raster::Scene& scene, double share, Random& random) {
    const auto places = fine_places(scene);
    const double square_px = scene.finer * scene.lens.fx * scene.target.pattern.square_mm /
                             scene.pose.target_in_camera_mm.z();
    cv::Mat covered = cv::Mat::zeros(photo.size(), CV_8U);
    const auto inside = [&](const Eigen::Vector2d& p) {
        return p.x() >= 0 && p.y() >= 0 && p.x() < photo.cols - 1 && p.y() < photo.rows - 1;
    };
    const auto covered_share = [&] {
        const auto n = std::count_if(places.begin(), places.end(), [&](const auto& p) {
            return inside(p) && covered.at<unsigned char>(rounded(p)) != 0;
        });
        return static_cast<double>(n) / static_cast<double>(places.size());
    };
    for (int batch = 0; batch < 400 && covered_share() < share; ++batch) {
        for (int n = 0; n < 8; ++n) {
            const Eigen::Vector2d at =
                any_of(places, random) +
                square_px * Eigen::Vector2d(random.between(-0.5, 0.5), random.between(-0.5, 0.5));
            const double radius_px = square_px * random.between(0.05, 0.33);
            const bool drop = random.upto(2) == 0;
            const cv::Point shift(static_cast<int>(radius_px * random.between(-0.3, 0.3)), 0);
            cv::Mat mask = cv::Mat::zeros(photo.size(), CV_8U);
            cv::circle(mask, rounded(at), static_cast<int>(radius_px), cv::Scalar(255), cv::FILLED);
            cv::circle(mask, rounded(at) + shift, static_cast<int>(0.8 * radius_px),
                       cv::Scalar(255), cv::FILLED);
            covered.setTo(255, mask);
            const cv::Mat veiled = drop ? cv::Mat(photo * 0.5 + 110) : cv::Mat(photo * 0.1 + 55);
            veiled.copyTo(photo, mask);
        }
    }
}

/// Light is lost on one side of a line through the board, with a penumbra of a pixel or some.
inline void shade(cv::Mat& photo, const raster::Scene& scene, double lost, Random& random) {
    const Eigen::Vector2d at = any_of(fine_places(scene), random);
    const double angle = random.angle();
    const Eigen::Vector2d normal(std::cos(angle), std::sin(angle));
    const double penumbra_px = scene.finer * random.between(0.5, 6);
    for (int y = 0; y < photo.rows; ++y) {
        for (int x = 0; x < photo.cols; ++x) {
            const double beyond = normal.dot(Eigen::Vector2d(x, y) - at) / penumbra_px;
            photo.at<float>(y, x) *=
                static_cast<float>(1 - lost * std::clamp(beyond + 0.5, 0., 1.));
        }
    }
}

/// A lamp's reflection: burnt out within the radius, fading beyond it.
inline void reflect(cv::Mat& photo, const raster::Scene& scene, double board_widths,
                    Random& random) {
    const auto places = fine_places(scene);
    const Eigen::Vector2d at = any_of(places, random);
    const double radius_px = board_widths * scene.finer * scene.lens.fx *
                             scene.target.pattern.across * scene.target.pattern.square_mm /
                             scene.pose.target_in_camera_mm.z();
    for (int y = 0; y < photo.rows; ++y) {
        for (int x = 0; x < photo.cols; ++x) {
            const double away = (Eigen::Vector2d(x, y) - at).norm() / radius_px;
            photo.at<float>(y, x) += static_cast<float>(255 * std::exp(2 - 2 * away * away));
        }
    }
}

/// What a point becomes: a disc or a line, area-exact enough by drawing it finer.
inline void smear(cv::Mat& photo, const cv::Mat& finer_shape, int times) {
    cv::Mat kernel;
    cv::resize(finer_shape, kernel, finer_shape.size() / times, 0, 0, cv::INTER_AREA);
    cv::filter2D(photo, photo, CV_32F, kernel / cv::sum(kernel)[0], {-1, -1}, 0,
                 cv::BORDER_REPLICATE);
}

inline void defocus(cv::Mat& photo, double radius_px) {
    constexpr int times = 8;
    const int size = times * (2 * static_cast<int>(std::ceil(radius_px)) + 1);
    cv::Mat disc(size, size, CV_32F);
    for (int y = 0; y < size; ++y) {
        for (int x = 0; x < size; ++x) {
            const double away = std::hypot(x - (size - 1) / 2.0, y - (size - 1) / 2.0);
            disc.at<float>(y, x) = away < times * radius_px ? 1 : 0;
        }
    }
    smear(photo, disc, times);
}

inline void shake(cv::Mat& photo, double length_px, double angle) {
    constexpr int times = 8;
    const int size = times * (2 * static_cast<int>(std::ceil(length_px / 2)) + 3);
    cv::Mat line(size, size, CV_32F);
    const Eigen::Vector2d way(std::cos(angle), std::sin(angle));
    for (int y = 0; y < size; ++y) {
        for (int x = 0; x < size; ++x) {
            const Eigen::Vector2d from(x - (size - 1) / 2.0, y - (size - 1) / 2.0);
            const bool on_it = std::abs(from.dot(way)) < times * length_px / 2 &&
                               std::abs(from.x() * way.y() - from.y() * way.x()) < times / 2.0;
            line.at<float>(y, x) = on_it ? 1 : 0;
        }
    }
    smear(photo, line, times);
}

/// What stands between board and sensor: on the board, before it, in the light, in the lens.
inline void spoil_light(cv::Mat& photo, const raster::Scene& scene, const Conditions& c) {
    Random random(scene.seed ^ 0x5eedu);
    if (c.dirt > 0) {
        spot(photo, scene, c.dirt, random);
    }
    if (c.hidden > 0) {
        hide(photo, scene, c.hidden, random);
    }
    if (c.shadow > 0) {
        shade(photo, scene, c.shadow, random);
    }
    if (c.contrast < 1) {
        photo = photo * c.contrast + 120 * (1 - c.contrast);
    }
    if (c.glare > 0) {
        reflect(photo, scene, c.glare, random);
    }
    if (c.exposure < 1 || c.exposure > 1) {
        photo *= c.exposure;
    }
    if (c.defocus_px > 0) {
        defocus(photo, scene.finer * c.defocus_px);
    }
    if (c.shake_px > 0) {
        shake(photo, scene.finer * c.shake_px, random.angle());
    }
}

/// Tone curve and unsharp masking, as phones do them.
inline cv::Mat processed(cv::Mat grey, const Conditions& c) {
    if (c.tone < 1) {
        cv::Mat curve(1, 256, CV_8U);
        for (int n = 0; n < 256; ++n) {
            curve.at<unsigned char>(n) =
                cv::saturate_cast<unsigned char>(255 * std::pow(n / 255.0, c.tone));
        }
        cv::LUT(grey, curve, grey);
    }
    if (c.sharpening > 0) {
        cv::Mat soft;
        cv::GaussianBlur(grey, soft, cv::Size(9, 9), 1.2);
        cv::addWeighted(grey, 1 + c.sharpening, soft, -c.sharpening, 0, grey);
    }
    return grey;
}

inline cv::Mat through_jpeg(const cv::Mat& grey, double quality) {
    std::vector<unsigned char> bytes;
    cv::imencode(".jpg", grey, bytes,
                 {cv::IMWRITE_JPEG_QUALITY, static_cast<int>(std::lround(quality))});
    return cv::imdecode(bytes, cv::IMREAD_GRAYSCALE);
}

/// Photo of a scene that may have been changed since `scene_of`; what is painted behind it stays.
inline DegradedPhoto photo_of(raster::Scene scene, const Conditions& c) {
    const auto further_behind = scene.behind;
    const unsigned seed = scene.seed;
    scene.behind = [=](cv::Mat& photo) {
        raster::paint_clutter(photo, seed, static_cast<int>(c.clutter));
        if (further_behind) {
            further_behind(photo);
        }
    };
    DegradedPhoto photo{scene, {}};
    scene.in_front = [&](cv::Mat& ideal) { spoil_light(ideal, scene, c); };
    photo.grey = through_jpeg(processed(raster::photo_of(scene), c), c.jpeg_quality);
    return photo;
}

inline DegradedPhoto photo_of(const Conditions& c, unsigned seed,
                              const Target& target = bay_board()) {
    return photo_of(scene_of(c, seed, target), c);
}

}  // namespace squaresight::degraded

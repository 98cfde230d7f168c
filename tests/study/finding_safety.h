#pragma once
#include <fmt/format.h>

#include <Eigen/LU>
#include <array>
#include <cmath>
#include <map>
#include <mutex>
#include <string>
#include <vector>

#include "sight/sight.h"
#include "study/parallel.h"
#include "support/decoys.h"
#include "support/degraded_photo.h"

/// Is any corner wrong, and are the stated covariances true? Photos spoilt at random: one way, two
/// ways, and with decoys.
namespace squaresight::study {

struct Tally {
    long photos = 0;
    long found = 0;
    long corners = 0;
    long wrong = 0;  ///< off by more than a fifth of a square: a wrong identity or another thing
    long beyond_5_sigma = 0;
    double squared_sigmas = 0;

    double rms_sigmas() const {
        return corners == 0 ? 0 : std::sqrt(squared_sigmas / (2.0 * static_cast<double>(corners)));
    }
    /// Of `rms_sigmas`, were all corners independent and their errors normal.
    double rms_uncertainty() const {
        return corners == 0 ? 0 : 0.5 / std::sqrt(static_cast<double>(corners));
    }
    void add(const Tally& other) {
        photos += other.photos;
        found += other.found;
        corners += other.corners;
        wrong += other.wrong;
        beyond_5_sigma += other.beyond_5_sigma;
        squared_sigmas += other.squared_sigmas;
    }
};

/// Squared Mahalanobis distance; nothing where the board has no such corner in the photo.
inline std::optional<double> squared_sigmas(const Corner& corner, const raster::Scene& truth) {
    const auto at =
        raster::pixel_of(truth, corner_in_target_mm(truth.target.pattern, corner.index));
    if (!at) {
        return std::nullopt;
    }
    const Eigen::Vector2d error = corner.pixel - *at;
    return error.dot(corner.covariance_px2.inverse() * error);
}

inline bool is_wrong(const Corner& corner, const raster::Scene& truth, double square_px) {
    const auto at =
        raster::pixel_of(truth, corner_in_target_mm(truth.target.pattern, corner.index));
    return !at || !((corner.pixel - *at).norm() < 0.2 * square_px);
}

inline Tally tally_of(const Sight& sight, const raster::Scene& truth) {
    Tally tally;
    tally.photos = 1;
    tally.found = !sight.corners.empty();
    for (const auto& corner : sight.corners) {
        ++tally.corners;
        if (is_wrong(corner, truth, sight.pixels_per_square)) {
            ++tally.wrong;
            continue;
        }
        const double sigmas2 = *squared_sigmas(corner, truth);
        tally.beyond_5_sigma += !(sigmas2 <= 25);
        tally.squared_sigmas += sigmas2;
    }
    return tally;
}

/// One photo of the safety count. Everything follows from its seed.
struct SafetyPhoto {
    std::string axis;    ///< the row that it counts to
    std::string detail;  ///< what else is needed to make it again
    degraded::DegradedPhoto photo;
    std::optional<raster::Scene> second;  ///< where the same board stands once more
};

inline degraded::Conditions usual_conditions(degraded::Random& random) {
    degraded::Conditions c;
    c.square_px = random.between(20, 40);
    c.tilt_deg = random.between(0, 45);
    c.k1 = random.between(-0.1, 0.1);
    c.noise = random.between(1, 4);
    c.blur_px = random.between(0.6, 1.5);
    c.jpeg_quality = random.between(70, 98);
    return c;
}

inline SafetyPhoto axis_photo(unsigned seed) {
    static const auto axes = degraded::axes();
    degraded::Random random(seed ^ 0xa11ce5u);
    const auto& axis = axes[static_cast<std::size_t>(random.upto(static_cast<int>(axes.size())))];
    const auto level = static_cast<std::size_t>(random.upto(static_cast<int>(axis.levels.size())));
    return {axis.name, fmt::format("level {:g}", axis.levels[level]),
            degraded::photo_of(axis.at(level), seed), std::nullopt};
}

inline SafetyPhoto pair_photo(unsigned seed) {
    static const auto axes = degraded::axes();
    degraded::Random random(seed ^ 0xa11ce5u);
    const int count = static_cast<int>(axes.size());
    const int first = random.upto(count - 1);
    const int second = first + 1 + random.upto(count - first - 1);
    const auto& a = axes[static_cast<std::size_t>(first)];
    const auto& b = axes[static_cast<std::size_t>(second)];
    const double level_a = a.levels[static_cast<std::size_t>(random.upto(8))];
    const auto at_b = static_cast<std::size_t>(random.upto(8));
    degraded::Conditions c = b.at(at_b);
    if (a.level != b.level) {
        c.*a.level = level_a;
    }
    return {"pairs", fmt::format("{} {:g}, {} {:g}", a.name, level_a, b.name, b.levels[at_b]),
            degraded::photo_of(c, seed), std::nullopt};
}

/// With the target beside it or without.
inline SafetyPhoto decoy_photo(unsigned seed) {
    static const auto decoys = degraded::decoys();
    degraded::Random random(seed ^ 0xa11ce5u);
    const auto& decoy =
        decoys[static_cast<std::size_t>(random.upto(static_cast<int>(decoys.size())))];
    const degraded::Conditions c = usual_conditions(random);
    raster::Scene scene = degraded::scene_of(c, seed);
    const bool alone = !decoy.same_board && random.upto(2) == 0;
    if (alone) {
        degraded::take_away(scene);
    }
    const raster::Scene fine = raster::refined(scene);
    scene.behind = [&decoy, fine, seed](cv::Mat& photo) {
        degraded::Random again(seed ^ 0xdec0u);
        decoy.paint(photo, fine, again);
    };
    SafetyPhoto made{decoy.name, alone ? "alone" : "beside the target",
                     degraded::photo_of(scene, c), std::nullopt};
    if (decoy.same_board) {
        degraded::Random again(seed ^ 0xdec0u);
        made.second = degraded::elsewhere(scene, again);
    }
    return made;
}

/// Upside down, on its side, or anyhow: it is the same board, and found.
inline SafetyPhoto turned_photo(unsigned seed) {
    degraded::Random random(seed ^ 0xa11ce5u);
    degraded::Conditions c = usual_conditions(random);
    c.roll_deg = 90 * (1 + random.upto(3));
    return {"upside down, on its side", fmt::format("{:g} deg", c.roll_deg),
            degraded::photo_of(c, seed), std::nullopt};
}

/// Of ten photos five are spoilt one way, two two ways, two have decoys and one is turned.
inline SafetyPhoto safety_photo(unsigned seed) {
    switch (seed % 10) {
        case 0:
            return turned_photo(seed);
        case 1:
        case 2:
            return decoy_photo(seed);
        case 3:
        case 4:
            return pair_photo(seed);
        default:
            return axis_photo(seed);
    }
}

struct SafetyCount {
    std::map<std::string, Tally> of;    ///< by axis
    std::vector<std::string> failures;  ///< one line for each photo with a corner that is wrong

    Tally all() const {
        Tally sum;
        for (const auto& [name, tally] : of) {
            sum.add(tally);
        }
        return sum;
    }
};

/// Seeds `first`..`first + count - 1`. `done` is told after each photo.
inline SafetyCount count_safety(
    unsigned first, int count, unsigned threads, const std::function<void()>& done = [] {}) {
    SafetyCount result;
    std::mutex mutex;
    in_parallel(
        count,
        [&](int number) {
            const unsigned seed = first + static_cast<unsigned>(number);
            const SafetyPhoto made = safety_photo(seed);
            const raster::Scene& scene = made.photo.scene;
            const Sight sight = find_target(made.photo.grey, scene.target, scene.lens);
            Tally tally = tally_of(sight, scene);
            if (made.second) {
                const Tally other = tally_of(sight, *made.second);
                tally = other.wrong < tally.wrong ? other : tally;
            }
            const std::scoped_lock lock(mutex);
            result.of[made.axis].add(tally);
            if (tally.wrong + tally.beyond_5_sigma > 0) {
                result.failures.push_back(fmt::format(
                    "seed {}, {}, {}: {} of {} corners wrong, {} beyond 5 sigma", seed, made.axis,
                    made.detail, tally.wrong, tally.corners, tally.beyond_5_sigma));
            }
            done();
        },
        threads);
    return result;
}

}  // namespace squaresight::study

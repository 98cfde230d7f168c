#pragma once
#include <fmt/format.h>

#include <Eigen/Geometry>
#include <array>
#include <cmath>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "study/finders.h"
#include "study/parallel.h"
#include "support/degraded_photo.h"

/// How far each finder goes on each axis: the last level at which 95 % of photos give a pose
/// within 0.05 deg of the truth.
namespace squaresight::study {

inline constexpr double pose_limit_deg = 0.05;
inline constexpr double enough_photos = 0.95;

/// Two boards, since libapriltag reads its own family only; ours on both, to compare like with
/// like.
enum Finder : std::size_t { ours, opencv, ours_36h11, apriltag, finder_count };
inline constexpr std::array<const char*, finder_count> finder_names{"ours", "OpenCV", "ours, 36h11",
                                                                    "libapriltag, 36h11"};

/// The larger of how far the board's face is turned away from the truth and how far its middle
/// stands off the true bearing.
inline double pose_error_deg(const CvPose& pose, const raster::Pose& truth) {
    cv::Matx33d as_cv;
    cv::Rodrigues(pose.turn, as_cv);
    Eigen::Matrix3d turn;
    for (int n = 0; n < 9; ++n) {
        turn(n / 3, n % 3) = as_cv(n / 3, n % 3);
    }
    const Eigen::Vector3d middle(pose.shift[0], pose.shift[1], pose.shift[2]);
    const double bearing = std::atan2(middle.cross(truth.target_in_camera_mm).norm(),
                                      middle.dot(truth.target_in_camera_mm));
    const double turned =
        std::abs(Eigen::AngleAxisd(turn * truth.camera_from_target.transpose()).angle());
    return std::max(turned, bearing) * 180 / M_PI;
}

/// Whether the finder gives a pose at all, and whether one of its ways gives a good one.
struct Try {
    bool posed = false;
    bool good = false;
};

inline Try try_photo(Finder finder, const degraded::DegradedPhoto& photo) {
    const raster::Scene& scene = photo.scene;
    Try outcome;
    const WillDo will_do = [&](const Points& points) {
        const auto pose = pose_of(points, scene.lens);
        outcome.posed = outcome.posed || pose;
        outcome.good = pose && pose_error_deg(*pose, scene.pose) <= pose_limit_deg;
        return outcome.good;
    };
    if (finder == opencv) {
        static const OpenCvFinder other(degraded::bay_board().pattern);
        other.try_ways(photo.grey, scene.lens, will_do);
    } else if (finder == apriltag) {
        thread_local AprilTagFinder other(scene.target.pattern);
        other.try_ways(photo.grey, will_do);
    } else {
        will_do(
            our_points(find_target(photo.grey, scene.target, scene.lens), scene.target.pattern));
    }
    return outcome;
}

inline Target board_of(Finder finder) {
    return degraded::bay_board(finder == ours || finder == opencv ? "DICT_4X4_100"
                                                                  : "DICT_APRILTAG_36h11");
}

/// Photos of one level. A finder that has failed too many of them is not asked for the rest.
struct LevelCount {
    int photos = 0;
    std::array<int, finder_count> asked{}, posed{}, good{};

    bool failed(Finder finder) const {
        return asked[finder] - good[finder] > (1 - enough_photos) * photos + 1e-9;
    }
    bool passed(Finder finder) const { return good[finder] > 0 && !failed(finder); }
};

struct StudyPlan {
    unsigned seed = 1;
    int photos = 20;
    unsigned threads = 2;
    std::function<void(const std::string&)> tell = [](const std::string&) {};
};

inline LevelCount count_level(const degraded::Conditions& conditions,
                              const std::vector<Finder>& finders, const StudyPlan& plan) {
    LevelCount level;
    level.photos = plan.photos;
    std::mutex mutex;
    in_parallel(
        plan.photos,
        [&](int number) {
            std::map<std::string, degraded::DegradedPhoto> photos;  // by dictionary
            for (const Finder finder : finders) {
                {
                    const std::scoped_lock lock(mutex);
                    if (level.failed(finder)) {
                        continue;
                    }
                }
                const Target board = board_of(finder);
                auto& photo = photos[board.pattern.dictionary];
                if (photo.grey.empty()) {
                    photo = degraded::photo_of(conditions,
                                               plan.seed + static_cast<unsigned>(number), board);
                }
                const Try outcome = try_photo(finder, photo);
                const std::scoped_lock lock(mutex);
                ++level.asked[finder];
                level.posed[finder] += outcome.posed;
                level.good[finder] += outcome.good;
            }
        },
        plan.threads);
    return level;
}

/// What an axis came to. A finder is not asked any more after two levels in a row without success.
struct AxisOutcome {
    std::string name;
    std::vector<LevelCount> levels;
    std::array<std::optional<std::size_t>, finder_count> last;  ///< level; nothing: not even first
};

inline AxisOutcome go_along(const std::string& name,
                            const std::vector<degraded::Conditions>& levels, bool to_the_end,
                            const StudyPlan& plan) {
    AxisOutcome outcome{name, {}, {}};
    std::array<int, finder_count> failures{};
    for (std::size_t n = 0; n < levels.size(); ++n) {
        std::vector<Finder> asked;
        for (const Finder finder : {ours, opencv, ours_36h11, apriltag}) {
            if (to_the_end || failures[finder] < 2) {
                asked.push_back(finder);
            }
        }
        if (asked.empty()) {
            break;
        }
        plan.tell(fmt::format("{}: level {} of {}", name, n + 1, levels.size()));
        outcome.levels.push_back(count_level(levels[n], asked, plan));
        for (const Finder finder : asked) {
            const bool passed = outcome.levels.back().passed(finder);
            failures[finder] = passed ? 0 : failures[finder] + 1;
            if (passed) {
                outcome.last[finder] = n;
            }
        }
    }
    return outcome;
}

inline AxisOutcome study_axis(const degraded::Axis& axis, const StudyPlan& plan) {
    std::vector<degraded::Conditions> levels;
    for (std::size_t n = 0; n < axis.levels.size(); ++n) {
        levels.push_back(axis.at(n));
    }
    return go_along(axis.name, levels, axis.name == "roll", plan);
}

/// Two axes whose levels grow together, level by level.
struct AxisPair {
    degraded::Axis first, second;

    std::string name() const { return first.name + " + " + second.name; }
    std::vector<degraded::Conditions> levels() const {
        std::vector<degraded::Conditions> all;
        for (std::size_t n = 0; n < std::min(first.levels.size(), second.levels.size()); ++n) {
            degraded::Conditions conditions = second.at(n);
            conditions.*first.level = first.levels[n];
            all.push_back(conditions);
        }
        return all;
    }
};

/// Every two axes but roll (any roll is in every photo) and two of the same quantity.
inline std::vector<AxisPair> axis_pairs() {
    std::vector<AxisPair> pairs;
    const auto axes = degraded::axes();
    for (std::size_t a = 0; a < axes.size(); ++a) {
        for (std::size_t b = a + 1; b < axes.size(); ++b) {
            if (axes[a].name != "roll" && axes[b].name != "roll" &&
                axes[a].level != axes[b].level) {
                pairs.push_back({axes[a], axes[b]});
            }
        }
    }
    return pairs;
}

/// How much further one finder goes than another: the ratio of what is hard about their last
/// levels. A finder that fails the first level already counts as having reached it.
inline double further(const degraded::Axis& axis, const AxisOutcome& outcome, Finder one,
                      Finder other) {
    const auto hardness = [&](Finder finder) {
        return axis.hardness_of(axis.levels[outcome.last[finder].value_or(0)]);
    };
    return hardness(one) / hardness(other);
}

}  // namespace squaresight::study

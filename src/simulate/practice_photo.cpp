#include "simulate/practice_photo.h"

#include <fmt/format.h>

#include <chrono>
#include <cmath>

namespace squaresight {
namespace {

constexpr double parts_of_px = 1e4;
constexpr double parts_of_px2 = 1e9;
constexpr double least_noise_px = 1e-3;  ///< stated where there is none
constexpr std::chrono::days after_check{20};

Eigen::Vector2d rounded(const Eigen::Vector2d& pixel) {
    return (pixel * parts_of_px).array().round() / parts_of_px;
}

std::string practice_day(const std::string& checked_on) {
    using namespace std::chrono;
    int year = 2026;
    unsigned month = 2;
    unsigned day = 12;
    std::sscanf(checked_on.c_str(), "%4d-%2u-%2u", &year, &month, &day);
    const year_month_day date{
        sys_days(year_month_day{std::chrono::year(year), std::chrono::month(month),
                                std::chrono::day(day)}) +
        after_check};
    return fmt::format("{:04d}:{:02d}:{:02d}", static_cast<int>(date.year()),
                       static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()));
}

}  // namespace

std::vector<Corner> practice_corners(const PracticeTruth& truth, const PoseValues& pose,
                                     const Camera& camera, const Target& target, double noise_px,
                                     Draw& draw) {
    const Pose<double> seen = camera_from_target(pose.data(), truth.phone_up_deg);
    const double stated_px = std::max(noise_px, least_noise_px);
    const double variance_px2 = std::round(stated_px * stated_px * parts_of_px2) / parts_of_px2;
    std::vector<Corner> corners;
    for (int index = 0; index < target.pattern.corner_count(); ++index) {
        const Eigen::Vector2d noise(draw.normal(noise_px), draw.normal(noise_px));
        const Eigen::Vector3d in_target =
            point_in_target_mm(truth.sheet, target, corner_in_target_mm(target.pattern, index));
        const auto pixel = project(truth.lens, seen.rotation * in_target + seen.translation_mm);
        if (!pixel) {
            continue;
        }
        const Eigen::Vector2d read = rounded(*pixel + noise);
        const bool inside = read.minCoeff() >= 0 && read.x() <= camera.width_px - 1 &&
                            read.y() <= camera.height_px - 1;
        if (inside) {
            corners.push_back({index, read, variance_px2 * Eigen::Matrix2d::Identity()});
        }
    }
    return corners;
}

PhotoFacts practice_facts(const Camera& camera, double phone_turn_deg, int seconds) {
    PhotoFacts facts;
    facts.has_metadata = true;
    facts.identity = camera.identity;
    constexpr int orientations[] = {1, 6, 3, 8};
    facts.orientation = orientations[std::lround(phone_turn_deg / 90) & 3];
    facts.taken_at = fmt::format("{} {:02d}:{:02d}:{:02d}", practice_day(camera.date),
                                 9 + seconds / 3600, seconds / 60 % 60, seconds % 60);
    facts.stated_width_px = camera.width_px;
    facts.stated_height_px = camera.height_px;
    return facts;
}

}  // namespace squaresight

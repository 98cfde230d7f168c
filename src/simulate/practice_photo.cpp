#include "simulate/practice_photo.h"

#include <fmt/format.h>

#include <Eigen/Eigenvalues>
#include <chrono>
#include <cmath>

#include "adjust/priors.h"
#include "simulate/practice_geometry.h"

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

SharedCornerError::SharedCornerError(const Pattern& pattern, double standard_px) {
    constexpr double negligible = 1e-9;  ///< of the largest part's variance
    const int count = pattern.corner_count();
    Eigen::MatrixXd covariance(count, count);
    for (int a = 0; a < count; ++a) {
        for (int b = 0; b < count; ++b) {
            const double apart_mm =
                (nominal_corner_mm(pattern, a) - nominal_corner_mm(pattern, b)).norm();
            covariance(a, b) =
                standard_px * standard_px * std::exp(-std::pow(apart_mm / corner_field_mm, 2) / 2);
        }
    }
    const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> parts(covariance);
    const auto kept =
        (parts.eigenvalues().array() > negligible * parts.eigenvalues().maxCoeff()).count();
    root_px_ = parts.eigenvectors().rightCols(kept) *
               parts.eigenvalues().tail(kept).cwiseSqrt().asDiagonal();
}

Eigen::MatrixX2d SharedCornerError::drawn(Draw& draw) const {
    Eigen::MatrixX2d parts(root_px_.cols(), 2);
    for (double& part : parts.reshaped()) {
        part = draw.normal(1);
    }
    return root_px_ * parts;
}

std::vector<Corner> practice_corners(const PracticeTruth& truth, const PoseValues& pose,
                                     const Camera& camera, const Target& target, double noise_px,
                                     const SharedCornerError& shared, Draw& draw) {
    const Eigen::Isometry3d camera_from_board =
        vehicle_from_camera(pose, truth.face_form_deg, truth.phone_up_deg).inverse() *
        vehicle_from_board(pose);
    Eigen::Matrix3Xd in_camera_mm(3, target.pattern.corner_count());
    for (int index = 0; index < target.pattern.corner_count(); ++index) {
        in_camera_mm.col(index) =
            camera_from_board *
            point_in_target_mm(truth.sheet, target, nominal_corner_mm(target.pattern, index));
    }
    const auto pixels = pixels_of(truth.lens, camera, in_camera_mm);
    const Eigen::MatrixX2d shared_px = shared.drawn(draw);
    const double stated_px = std::max(noise_px, least_noise_px);
    const double variance_px2 = std::round(stated_px * stated_px * parts_of_px2) / parts_of_px2;
    std::vector<Corner> corners;
    for (int index = 0; index < target.pattern.corner_count(); ++index) {
        const Eigen::Vector2d noise(draw.normal(noise_px), draw.normal(noise_px));
        const auto& pixel = pixels[static_cast<std::size_t>(index)];
        if (!pixel) {
            continue;
        }
        const Eigen::Vector2d read = rounded(*pixel + shared_px.row(index).transpose() + noise);
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

#include "calibrate/still.h"

#include <fmt/format.h>

#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <cmath>

#include "units/error.h"

namespace squaresight {
namespace {

/// Photos whose bearing lies further than this many typical deviations from the middle one, and
/// further than any stabiliser moves a picture, were taken from elsewhere.
constexpr double moved_deviations = 8;
constexpr double moved_deg = 0.5;

/// Where the middle of the board lies in the camera: deg right and down.
Eigen::Vector2d bearing_deg(const Pose<double>& camera_from_board) {
    const Eigen::Vector3d& at = camera_from_board.translation_mm;
    return deg_per_rad * Eigen::Vector2d(std::atan2(at.x(), at.z()), std::atan2(at.y(), at.z()));
}

double median_of(std::vector<double> values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

Eigen::Vector2d median_bearing(const std::vector<Eigen::Vector2d>& bearings) {
    std::vector<double> right, down;
    for (const auto& bearing : bearings) {
        right.push_back(bearing.x());
        down.push_back(bearing.y());
    }
    return {median_of(right), median_of(down)};
}

/// What corner noise alone scatters the middle of a board by, deg per axis, squared.
double noise_variance_deg2(const CalibratedView& view, const Lens& lens) {
    double variance_px2 = 0;
    for (const auto& corner : view.corners) {
        variance_px2 += corner.covariance_px2.trace() / 2;
    }
    const double count = static_cast<double>(view.corners.size());
    variance_px2 *= view.noise_factor * view.noise_factor / (count * count);
    return variance_px2 * std::pow(deg_per_rad / lens.fx, 2);
}

CalibrationData data_of(const std::vector<BoardPhoto>& photos,
                        const std::vector<CalibrationBoard>& boards, StillScatter& scatter) {
    CalibrationData data;
    data.boards = boards;
    for (const auto& photo : photos) {
        if (photo.problem.empty()) {
            data.views.push_back(photo.view);
            data.views.back().tape = -1;
            data.width_px = photo.width_px;
            data.height_px = photo.height_px;
        } else {
            scatter.left_out.push_back(photo.file + ": " + photo.problem);
        }
    }
    return data;
}

[[noreturn]] void refuse_moved(const std::string& why) {
    throw InputError("--still", why,
                     "stand the phone and the target so that neither can move, touch neither "
                     "(timer or remote release), and take the photos again");
}

void need_photos(std::size_t count) {
    if (count < fewest_still_photos) {
        throw InputError("--still", fmt::format("{} of the photos can be used", count),
                         fmt::format("take at least {} of a still target, the phone untouched "
                                     "between them",
                                     fewest_still_photos));
    }
}

}  // namespace

StillScatter scatter_of_still(const std::vector<BoardPhoto>& photos,
                              const std::vector<CalibrationBoard>& boards,
                              const CalibrationSolution& known, const CalibrationModel& model) {
    StillScatter scatter;
    const CalibrationData data = data_of(photos, boards, scatter);
    need_photos(data.views.size());
    for (const auto& view : data.views) {
        if (view.board != data.views.front().board) {
            refuse_moved(
                fmt::format("{} shows another board than {}", view.file, data.views.front().file));
        }
    }
    const CalibrationSolution solved = solve_views(data, known, model);
    if (!solved.solved) {
        refuse_moved("the board's place could not be found in these photos");
    }
    std::vector<Eigen::Vector2d> bearings;
    for (const auto& view : solved.views) {
        bearings.push_back(bearing_deg(view.camera_from_board));
    }
    const Eigen::Vector2d middle = median_bearing(bearings);
    std::vector<double> off;
    for (const auto& bearing : bearings) {
        off.push_back((bearing - middle).norm());
    }
    const double limit = std::max(moved_deg, moved_deviations * median_of(off));
    std::vector<Eigen::Vector2d> kept;
    double noise2 = 0;
    for (std::size_t i = 0; i < bearings.size(); ++i) {
        if (off[i] > limit) {
            scatter.left_out.push_back(fmt::format(
                "{}: points {:.2f} deg away from the others; was the phone or the board moved?",
                data.views[i].file, off[i]));
        } else {
            kept.push_back(bearings[i]);
            noise2 += noise_variance_deg2(solved.views[i], solved.lens);
        }
    }
    need_photos(kept.size());
    if (median_of(off) > moved_deg) {
        refuse_moved(fmt::format("the photos point {:.2f} deg apart", 2 * median_of(off)));
    }
    Eigen::Vector2d mean = Eigen::Vector2d::Zero();
    for (const auto& bearing : kept) {
        mean += bearing / static_cast<double>(kept.size());
    }
    double squares = 0;
    for (const auto& bearing : kept) {
        squares += (bearing - mean).squaredNorm();
    }
    const double freedom = 2 * (static_cast<double>(kept.size()) - 1);
    noise2 /= static_cast<double>(kept.size());
    const auto without_noise = [&](double variance) {
        return std::sqrt(std::max(0.0, variance - noise2));
    };
    const boost::math::chi_squared distribution(freedom);
    scatter.photos = static_cast<int>(kept.size());
    scatter.jitter_deg = without_noise(squares / freedom);
    scatter.standard_uncertainty_deg = without_noise(squares / (freedom - 2));
    scatter.lower_95_deg = without_noise(squares / quantile(distribution, 0.975));
    scatter.upper_95_deg = without_noise(squares / quantile(distribution, 0.025));
    return scatter;
}

}  // namespace squaresight

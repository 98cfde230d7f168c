#include "sight/corner_fit.h"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "sight/corner_model.h"
#include "sight/pyramid.h"

namespace squaresight {
namespace {

constexpr int unknowns = 10;  // shift x y, log blur, black and white with their slopes, tone
using Unknowns = Eigen::Matrix<double, unknowns, 1>;
using Normal = Eigen::Matrix<double, unknowns, unknowns>;

constexpr double arm_squares = 0.45;  // of an edge, from its corner
constexpr double arm_limit_px = 24;
constexpr double ample_px = 30;  // a square that has pixels to spare
constexpr double reach_px = 3;   // of the fit from its start
constexpr double least_contrast = 6;
constexpr double brightest = 253;  // grey values that a sensor and a JPEG tell apart
constexpr double darkest = 2;
constexpr double usual_greys = 150;  // how far levels, slopes along an arm and tone go
constexpr double usual_noise = 3;
constexpr double usual_blur_px = 1.2;     // to start from
constexpr double unmodelled_px = 0.0015;  // pixels' shape and rounding, seen without any noise
constexpr double rounding_noise = 0.29;   // of whole grey values: 1 / sqrt(12)

struct Sample {
    Eigen::Vector2d pixel;
    double grey = 0;
};

/// Which pixels along the arms are taken: half of them, as the black squares of a chessboard lie,
/// will do to come near.
enum class Take { every, half };

/// Pixels along the four arms; empty if a good part of them lies outside the photo.
std::vector<Sample> samples_along_arms(const cv::Mat& grey, const CornerModel& model,
                                       const Eigen::Vector2d& corner_px, double band_px,
                                       Take take) {
    std::vector<Sample> samples;
    const Eigen::Vector2d arms_px = (arm_squares * model.px_per_square()).cwiseMin(arm_limit_px);
    const int radius = static_cast<int>(std::ceil(1.5 * arms_px.maxCoeff())) + 1;
    const int middle_x = static_cast<int>(std::lround(corner_px.x()));
    const int middle_y = static_cast<int>(std::lround(corner_px.y()));
    int outside = 0;
    for (int y = middle_y - radius; y <= middle_y + radius; ++y) {
        for (int x = middle_x - radius; x <= middle_x + radius; ++x) {
            if (take == Take::half && (x + y) % 2 != 0) {
                continue;
            }
            const Eigen::Vector2d pixel(x, y);
            const Eigen::Array2d away = model.distances_px(pixel - corner_px).array().abs();
            if (away.minCoeff() > band_px || (away > arms_px.array()).any()) {
                continue;
            }
            if (!lies_inside(grey, pixel, 0)) {
                ++outside;
                continue;
            }
            samples.push_back({pixel, static_cast<double>(grey.at<unsigned char>(y, x))});
        }
    }
    if (outside * 5 > static_cast<int>(samples.size())) {
        samples.clear();
    }
    return samples;
}

/// What a pixel shows beyond what is expected; nothing where it is burnt out or without light, and
/// as much was expected.
std::optional<double> misfit_of(double grey, double expected) {
    const double shown = std::clamp(grey, darkest, brightest);
    const bool beyond_sensor =
        (shown == brightest && expected >= brightest) || (shown == darkest && expected <= darkest);
    return beyond_sensor ? std::nullopt : std::optional(shown - expected);
}

/// Gauss-Newton over one set of samples.
class CornerFit {
  public:
    CornerFit(const CornerModel& model, const Eigen::Vector2d& start_px, double blur_px)
        : model_(model), start_px_(start_px), corner_px_(start_px), log_blur_(std::log(blur_px)) {}

    bool settle(const std::vector<Sample>& samples, double within_px) {
        if (static_cast<int>(samples.size()) < 4 * unknowns) {
            return false;
        }
        for (int round = 0; round < 20; ++round) {
            const Unknowns step = solve(samples);
            if (!step.allFinite()) {
                return false;
            }
            const double shorten = std::min(1.0, 1.0 / std::max(step.head<2>().norm(), 1e-12));
            corner_px_ += shorten * step.head<2>();
            const double log_blur_before = log_blur_;
            log_blur_ = std::clamp(log_blur_ + std::clamp(step(2), -0.4, 0.4), std::log(0.25),
                                   std::log(0.4 * model_.px_per_square().minCoeff() + 0.5));
            if (!((corner_px_ - start_px_).norm() < reach_px)) {
                return false;
            }
            if (round > 0 && step.head<2>().norm() < within_px &&
                std::abs(log_blur_ - log_blur_before) < 20 * within_px) {
                return true;
            }
        }
        return false;
    }

    const Eigen::Vector2d& corner_px() const { return corner_px_; }
    double blur_px() const { return std::exp(log_blur_); }

    FittedCorner result() const {
        FittedCorner corner;
        corner.pixel = corner_px_;
        corner.blur_px = blur_px();
        corner.black = greys_(0);
        corner.white = greys_(3);
        const double freedom = std::max(1, used_ - unknowns);
        const double variance = std::max(squares_ / freedom, rounding_noise * rounding_noise);
        corner.noise = std::sqrt(variance);
        corner.unevenness = unevenness(variance);
        corner.covariance_px2 =
            variance * normal_.ldlt().solve(Normal::Identity()).topLeftCorner<2, 2>() +
            unmodelled_px * unmodelled_px * Eigen::Matrix2d::Identity();
        return corner;
    }

  private:
    /// The grey levels come linearly, so they are solved for at each step; shift and blur are
    /// linearised about the levels of the step before.
    Unknowns solve(const std::vector<Sample>& samples) {
        const double scale = model_.px_per_square().maxCoeff() * arm_squares;
        if (greys_.isZero()) {
            greys_ = first_greys(samples);
        }
        normal_.setZero();
        Unknowns right = Unknowns::Zero();
        squares_ = 0;
        used_ = 0;
        flanks_.fill({});
        for (const auto& sample : samples) {
            const Eigen::Vector2d d = sample.pixel - corner_px_;
            const Whiteness white = model_.white(d, blur_px());
            const Eigen::Vector3d place(1, d.x() / scale, d.y() / scale);
            const double level_black = greys_.head<3>().dot(place);
            const double level_white = greys_.segment<3>(3).dot(place);
            const double contrast = level_white - level_black;
            // A camera's tone curve lifts or lowers what lies between black and white.
            const double between = 4 * white.value * (1 - white.value);
            const double by_white = contrast + greys_(6) * 4 * (1 - 2 * white.value);
            Unknowns row;
            row << -by_white * white.by_offset, by_white * white.by_log_blur,
                (1 - white.value) * place, white.value * place, between;
            const double expected = level_black + contrast * white.value + greys_(6) * between;
            const auto shown_beyond = misfit_of(sample.grey, expected);
            if (!shown_beyond) {
                continue;
            }
            const double misfit = *shown_beyond;
            normal_.selfadjointView<Eigen::Lower>().rankUpdate(row);
            right += misfit * row;
            squares_ += misfit * misfit;
            ++used_;
            Flank& flank = flanks_[flank_of(model_.distances_px(d))];
            flank.misfit += misfit;
            ++flank.count;
        }
        normal_ = Normal(normal_.selfadjointView<Eigen::Lower>());
        expect_usual_greys(right);
        Unknowns step = normal_.ldlt().solve(right);
        greys_ += step.tail<7>();
        return step;
    }

    /// Where all that is white or black lies beyond the sensor its level would have no hold.
    void expect_usual_greys(Unknowns& right) {
        const double weight = usual_noise * usual_noise / (usual_greys * usual_greys);
        for (int n = 0; n < greys_.size(); ++n) {
            const double usual = n == 3 ? brightest : 0;
            normal_(3 + n, 3 + n) += weight;
            right(3 + n) += weight * (usual - greys_(n));
        }
    }

    /// One side of one arm: something that covers a part of the corner shows in some of them.
    struct Flank {
        double misfit = 0;
        int count = 0;
    };

    static std::size_t flank_of(const Eigen::Vector2d& hk) {
        return (hk.x() > 0 ? 1U : 0U) + (hk.y() > 0 ? 2U : 0U) +
               (std::abs(hk.x()) > std::abs(hk.y()) ? 4U : 0U);
    }

    double unevenness(double variance) const {
        double sum = 0;
        for (const auto& flank : flanks_) {
            const double count = std::max(flank.count, 1);
            const double mean = std::abs(flank.misfit) / count;
            const double beyond = std::max(0.0, mean - rounding_noise);  // alike all along an edge
            sum += beyond * beyond * count / variance;
        }
        return sum / static_cast<double>(flanks_.size());
    }

    static Eigen::Matrix<double, 7, 1> first_greys(const std::vector<Sample>& samples) {
        std::vector<double> greys;
        greys.reserve(samples.size());
        for (const auto& sample : samples) {
            greys.push_back(sample.grey);
        }
        std::sort(greys.begin(), greys.end());
        Eigen::Matrix<double, 7, 1> levels;
        levels << greys[greys.size() / 10], 0, 0, greys[greys.size() * 9 / 10], 0, 0, 0;
        return levels;
    }

    const CornerModel& model_;
    Eigen::Vector2d start_px_;
    Eigen::Vector2d corner_px_;
    double log_blur_;
    Eigen::Matrix<double, 7, 1> greys_ = Eigen::Matrix<double, 7, 1>::Zero();
    Normal normal_ = Normal::Zero();
    double squares_ = 0;
    int used_ = 0;  ///< samples that the sensor could show
    std::array<Flank, 8> flanks_{};
};

}  // namespace

std::optional<FittedCorner> fit_corner(const cv::Mat& grey, const BoardView& view,
                                       const PrintedPattern& print, int index,
                                       const Eigen::Vector2d& start_px) {
    const auto map = local_map(view, corner_in_target_mm(print.pattern, index),
                               print.pattern.square_mm, arm_squares);
    if (!map) {
        return std::nullopt;
    }
    const CornerModel model(*map, print, index);
    CornerFit fit(model, start_px, usual_blur_px);
    struct Pass {
        double within_px;
        Take take;
    };
    const bool ample = model.px_per_square().minCoeff() > ample_px;
    for (const auto& pass :
         {Pass{0.03, ample ? Take::half : Take::every}, Pass{0.0005, Take::every}}) {
        const auto samples =
            samples_along_arms(grey, model, fit.corner_px(), 3 * fit.blur_px() + 1, pass.take);
        if (!fit.settle(samples, pass.within_px)) {
            return std::nullopt;
        }
    }
    const FittedCorner corner = fit.result();
    const bool sound = corner.white - corner.black > least_contrast &&
                       corner.covariance_px2.allFinite() && corner.covariance_px2(0, 0) > 0;
    return sound ? std::optional(corner) : std::nullopt;
}

}  // namespace squaresight

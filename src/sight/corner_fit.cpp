#include "sight/corner_fit.h"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "sight/pyramid.h"

namespace squaresight {
namespace {

constexpr int unknowns = 9;  // shift x y, log blur, black and white with their slopes
using Vector9 = Eigen::Matrix<double, unknowns, 1>;
using Matrix9 = Eigen::Matrix<double, unknowns, unknowns>;

constexpr double arm_squares = 0.45;  // of an edge, from its corner
constexpr double arm_limit_px = 24;
constexpr double reach_px = 3;  // of the fit from its start
constexpr double least_contrast = 8;
constexpr double most_cells = 9;  // a side of a marker of any dictionary, its border included
constexpr double rounding_noise = 0.29;  // of whole grey values: 1 / sqrt(12)

/// Board places near a corner as quadratics of pixels: squares right and down of the corner.
struct LocalMap {
    Eigen::Matrix<double, 2, 5> coefficients;  ///< of x, y, x^2, xy, y^2

    Eigen::Vector2d squares(const Eigen::Vector2d& d) const {
        Eigen::Matrix<double, 5, 1> basis;
        basis << d.x(), d.y(), d.x() * d.x(), d.x() * d.y(), d.y() * d.y();
        return coefficients * basis;
    }
    Eigen::Matrix2d slopes(const Eigen::Vector2d& d) const {
        Eigen::Matrix<double, 5, 2> basis;
        basis << 1, 0, 0, 1, 2 * d.x(), 0, d.y(), d.x(), 0, 2 * d.y();
        return coefficients * basis;
    }
};

std::optional<LocalMap> local_map(const BoardView& view, const Eigen::Vector2d& corner_mm,
                                  double square_mm) {
    const auto centre = view.pixel(corner_mm);
    if (!centre) {
        return std::nullopt;
    }
    Eigen::Matrix<double, 8, 5> pixels;
    Eigen::Matrix<double, 8, 2> squares;
    int row = 0;
    for (const double v : {-arm_squares, 0.0, arm_squares}) {
        for (const double u : {-arm_squares, 0.0, arm_squares}) {
            if (u == 0 && v == 0) {
                continue;
            }
            const auto pixel = view.pixel(corner_mm + square_mm * Eigen::Vector2d(u, v));
            if (!pixel) {
                return std::nullopt;
            }
            const Eigen::Vector2d d = *pixel - *centre;
            pixels.row(row) << d.x(), d.y(), d.x() * d.x(), d.x() * d.y(), d.y() * d.y();
            squares.row(row++) << u, v;
        }
    }
    LocalMap map;
    map.coefficients =
        (pixels.transpose() * pixels).ldlt().solve(pixels.transpose() * squares).transpose();
    return map;
}

double gauss(double x) { return std::exp(-0.5 * x * x) * 0.3989422804014327; }
double below(double x) { return 0.5 * std::erfc(-x * 0.7071067811865476); }

/// A value and its derivatives by the distances from the two edges (in units of the blur).
struct Slope {
    double value = 0;
    double by_h = 0;
    double by_k = 0;
};

/// Whiteness about the point where four squares meet, blurred.
class CornerModel {
  public:
    CornerModel(const LocalMap& map, const Pattern& pattern, bool white_lower_right)
        : map_(map), sign_(white_lower_right ? 1 : -1) {
        const Eigen::Matrix2d slopes = map.slopes({0, 0});
        px_per_square_ = slopes.rowwise().norm().cwiseInverse();
        correlation_ = slopes.row(0).normalized().dot(slopes.row(1).normalized());
        margin_squares_ = (1 - pattern.marker_mm / pattern.square_mm) / 2;
    }

    const Eigen::Vector2d& px_per_square() const { return px_per_square_; }
    double margin_squares() const { return margin_squares_; }

    /// Distances in px from the two edges.
    Eigen::Vector2d distances(const Eigen::Vector2d& d) const {
        return map_.squares(d).cwiseProduct(px_per_square_);
    }

    /// Whiteness 0..1 at pixel offset d from the corner, with its slopes by d and by log blur.
    double white(const Eigen::Vector2d& d, double blur_px, Eigen::Vector2d& by_d,
                 double& by_log_blur) const {
        const Eigen::Vector2d hk = distances(d) / blur_px;
        const Slope s = squares_less_markers(hk, blur_px);
        const Eigen::Matrix2d hk_by_d = px_per_square_.asDiagonal() * map_.slopes(d) / blur_px;
        by_d = s.by_h * hk_by_d.row(0) + s.by_k * hk_by_d.row(1);
        by_log_blur = -(s.by_h * hk.x() + s.by_k * hk.y());
        return s.value;
    }

  private:
    Slope squares_less_markers(const Eigen::Vector2d& hk, double blur_px) const {
        const Slope board = squares(hk.x(), hk.y());
        Slope s{0.5 + 0.5 * sign_ * board.value, 0.5 * sign_ * board.by_h,
                0.5 * sign_ * board.by_k};
        const Eigen::Vector2d margin = margin_squares_ * px_per_square_ / blur_px;
        for (const double way : {1.0, -1.0}) {
            const double h = way * hk.x() - margin.x();
            const double k = way * sign_ * hk.y() - margin.y();
            if (h > -4 && k > -4) {
                s.value -= below(h) * below(k);
                s.by_h -= way * gauss(h) * below(k);
                s.by_k -= way * sign_ * below(h) * gauss(k);
            }
        }
        return s;
    }

    /// Mean of sign(h + noise) * sign(k + noise): the product of two edges, and what the edges'
    /// not being square to one another adds (the integral of the bivariate normal density over
    /// its correlation, by three Gauss-Legendre points).
    Slope squares(double h, double k) const {
        const double edge_h = 2 * below(h) - 1;
        const double edge_k = 2 * below(k) - 1;
        Slope s{edge_h * edge_k, 2 * gauss(h) * edge_k, 2 * gauss(k) * edge_h};
        if (h * h + k * k > 40) {
            return s;
        }
        constexpr std::array<double, 3> at{0.1127016653792583, 0.5, 0.8872983346207417};
        constexpr std::array<double, 3> weight{5.0 / 18, 8.0 / 18, 5.0 / 18};
        for (std::size_t n = 0; n < at.size(); ++n) {
            const double t = correlation_ * at[n];
            const double rest = 1 - t * t;
            const double density = 4 * correlation_ * weight[n] *
                                   std::exp(-(h * h - 2 * t * h * k + k * k) / (2 * rest)) /
                                   (2 * M_PI * std::sqrt(rest));
            s.value += density;
            s.by_h -= density * (h - t * k) / rest;
            s.by_k -= density * (k - t * h) / rest;
        }
        return s;
    }

    LocalMap map_;
    double sign_;
    Eigen::Vector2d px_per_square_;
    double correlation_ = 0;
    double margin_squares_ = 0;
};

struct Sample {
    Eigen::Vector2d pixel;
    double grey = 0;
};

/// Pixels along the four arms; empty if a good part of them lies outside the photo.
std::vector<Sample> samples_along_arms(const cv::Mat& grey, const CornerModel& model,
                                       const Eigen::Vector2d& corner_px, double band_px) {
    std::vector<Sample> samples;
    const Eigen::Vector2d arms_px = (arm_squares * model.px_per_square()).cwiseMin(arm_limit_px);
    const int radius = static_cast<int>(std::ceil(1.5 * arms_px.maxCoeff())) + 1;
    const int middle_x = static_cast<int>(std::lround(corner_px.x()));
    const int middle_y = static_cast<int>(std::lround(corner_px.y()));
    int outside = 0;
    for (int y = middle_y - radius; y <= middle_y + radius; ++y) {
        for (int x = middle_x - radius; x <= middle_x + radius; ++x) {
            const Eigen::Vector2d pixel(x, y);
            const Eigen::Array2d away = model.distances(pixel - corner_px).array().abs();
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

/// Gauss-Newton over one set of samples.
class CornerFit {
  public:
    CornerFit(const CornerModel& model, const Eigen::Vector2d& start_px, double blur_px)
        : model_(model), start_px_(start_px), corner_px_(start_px), log_blur_(std::log(blur_px)) {}

    bool settle(const std::vector<Sample>& samples) {
        if (static_cast<int>(samples.size()) < 4 * unknowns) {
            return false;
        }
        for (int round = 0; round < 20; ++round) {
            const Vector9 step = solve(samples);
            if (!step.allFinite()) {
                return false;
            }
            const double shorten = std::min(1.0, 1.0 / std::max(step.head<2>().norm(), 1e-12));
            corner_px_ += shorten * step.head<2>();
            log_blur_ = std::clamp(log_blur_ + std::clamp(step(2), -0.4, 0.4), std::log(0.25),
                                   std::log(0.4 * model_.px_per_square().minCoeff() + 0.5));
            if (!((corner_px_ - start_px_).norm() < reach_px)) {
                return false;
            }
            if (step.head<2>().norm() < 1e-4) {
                return true;
            }
        }
        return false;
    }

    const Eigen::Vector2d& corner_px() const { return corner_px_; }
    double blur_px() const { return std::exp(log_blur_); }

    FittedCorner result(std::size_t count) const {
        FittedCorner corner;
        corner.pixel = corner_px_;
        corner.blur_px = blur_px();
        corner.black = greys_(0);
        corner.white = greys_(3);
        const double freedom = static_cast<double>(count) - unknowns;
        const double variance = std::max(squares_ / freedom, rounding_noise * rounding_noise);
        corner.noise = std::sqrt(variance);
        corner.covariance_px2 =
            variance * normal_.ldlt().solve(Matrix9::Identity()).topLeftCorner<2, 2>();
        return corner;
    }

  private:
    /// The grey levels come linearly, so they are solved for at each step; shift and blur are
    /// linearised about the levels of the step before.
    Vector9 solve(const std::vector<Sample>& samples) {
        const double scale = model_.px_per_square().maxCoeff() * arm_squares;
        if (greys_.isZero()) {
            greys_ = first_greys(samples);
        }
        normal_.setZero();
        Vector9 right = Vector9::Zero();
        squares_ = 0;
        for (const auto& sample : samples) {
            const Eigen::Vector2d d = sample.pixel - corner_px_;
            Eigen::Vector2d by_d;
            double by_log_blur = 0;
            const double white = model_.white(d, blur_px(), by_d, by_log_blur);
            const Eigen::Vector3d place(1, d.x() / scale, d.y() / scale);
            const double level_black = greys_.head<3>().dot(place);
            const double level_white = greys_.tail<3>().dot(place);
            const double contrast = level_white - level_black;
            Vector9 row;
            row << -contrast * by_d, contrast * by_log_blur, (1 - white) * place, white * place;
            const double misfit = sample.grey - (level_black + contrast * white);
            normal_.selfadjointView<Eigen::Lower>().rankUpdate(row);
            right += misfit * row;
            squares_ += misfit * misfit;
        }
        normal_ = Matrix9(normal_.selfadjointView<Eigen::Lower>());
        const Vector9 step = normal_.ldlt().solve(right);
        greys_ += step.tail<6>();
        return step;
    }

    static Eigen::Matrix<double, 6, 1> first_greys(const std::vector<Sample>& samples) {
        std::vector<double> greys;
        for (const auto& sample : samples) {
            greys.push_back(sample.grey);
        }
        std::sort(greys.begin(), greys.end());
        Eigen::Matrix<double, 6, 1> levels;
        levels << greys[greys.size() / 10], 0, 0, greys[greys.size() * 9 / 10], 0, 0;
        return levels;
    }

    const CornerModel& model_;
    Eigen::Vector2d start_px_;
    Eigen::Vector2d corner_px_;
    double log_blur_;
    Eigen::Matrix<double, 6, 1> greys_ = Eigen::Matrix<double, 6, 1>::Zero();
    Matrix9 normal_ = Matrix9::Zero();
    double squares_ = 0;
};

/// As wide as the blur needs, but not so wide that the bits of a marker come in.
double band_px(const CornerModel& model, const Pattern& pattern, double blur_px) {
    const double cell = pattern.marker_mm / pattern.square_mm / most_cells;
    const double widest = (model.margin_squares() + 0.6 * cell) * model.px_per_square().minCoeff();
    return std::min(3 * blur_px + 1, std::max(widest, 2.0));
}

}  // namespace

std::optional<FittedCorner> fit_corner(const cv::Mat& grey, const BoardView& view,
                                       const Pattern& pattern, int index,
                                       const Eigen::Vector2d& start_px) {
    const auto map = local_map(view, corner_in_target_mm(pattern, index), pattern.square_mm);
    if (!map) {
        return std::nullopt;
    }
    const int column = index % pattern.corners_across();
    const int row = index / pattern.corners_across();
    const CornerModel model(*map, pattern, is_white_square(pattern, column, row));
    CornerFit fit(model, start_px, 1.2);
    std::size_t count = 0;
    for (int pass = 0; pass < 2; ++pass) {
        const auto samples = samples_along_arms(grey, model, fit.corner_px(),
                                                band_px(model, pattern, fit.blur_px()));
        count = samples.size();
        if (!fit.settle(samples)) {
            return std::nullopt;
        }
    }
    const FittedCorner corner = fit.result(count);
    const bool sound = corner.white - corner.black > least_contrast &&
                       corner.covariance_px2.allFinite() && corner.covariance_px2(0, 0) > 0;
    return sound ? std::optional(corner) : std::nullopt;
}

}  // namespace squaresight

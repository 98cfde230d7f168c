#include "sight/corner_fit.h"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "sight/corner_model.h"
#include "sight/pyramid.h"
#include "sight/spots.h"

namespace squaresight {
namespace {

// Shift x y, log blur across both edges and its correlation, black and white with their slopes,
// tone.
constexpr int unknowns = 12;
constexpr int before_greys = 5;
using Unknowns = Eigen::Matrix<double, unknowns, 1>;
using Normal = Eigen::Matrix<double, unknowns, unknowns>;

constexpr double arm_squares = 0.45;  // of an edge, from its corner
constexpr double arm_limit_px = 18;
constexpr double cut_px = 2.5;  // of a marker's outline, from the last pixels that are taken
constexpr std::size_t usual_quarter = 256;  // pixels
constexpr int most_takes = 3;        // of pixels, anew where a fit finds the corner elsewhere or
constexpr double as_taken_px = 0.5;  // its blur wider by more than that
constexpr double last_step_px = 0.05;
constexpr double last_contrast_step = 0.02;  // over the contrast
constexpr double reach_px = 3;               // of the fit from its start
constexpr double least_contrast = 6;
constexpr float brightest = 253;  // grey values that a sensor and a JPEG tell apart
constexpr float darkest = 2;
constexpr double usual_greys = 150;  // how far levels, slopes along an arm and tone go
constexpr float usual_noise = 3;
constexpr float far_sigmas = 5;  // from a limit of the sensor: it is not felt
constexpr double nearly_all = 0.999;
constexpr double usual_lean = 0.3;  // correlation of a blur beyond that of a round one
constexpr double most_correlation = 0.95;
constexpr double least_blur_px = 0.25;
constexpr double spot_contrast = 0.2;  // of black and white: by which the first spots stand off
constexpr double spot_squares = 0.18;  // across: what is larger is no spot
constexpr double least_beside_spots = 0.7;  // of the pixels
constexpr int rounds_of_spots = 10;
constexpr double unmodelled_px = 0.0006;  // pixels' shape and rounding, seen without any noise

/// How far from the edges pixels are taken: as far as their blur is felt, and an outline of the
/// markers that this would cut is taken in.
Eigen::Vector2d band_px(const CornerModel& model, const Eigen::Vector2d& blur_px) {
    const Eigen::Array2d edge_px = 3 * blur_px.array() + 1;
    const Eigen::Array2d outline_px = model.margin_px();
    const Eigen::Array2d with_outline_px = edge_px.max(outline_px + blur_px.array());
    return (outline_px < edge_px + cut_px).select(with_outline_px, edge_px);
}

/// How far from a corner the pixels along its arms lie in x and y at most.
Eigen::Vector2d arms_reach_px(const CornerModel& model, const Eigen::Vector2d& band_px,
                              const Eigen::Vector2d& arms_px) {
    const double farthest_px = 2 * arms_px.maxCoeff();
    const Eigen::Vector2d curved_px = model.most_curved_px(farthest_px);
    const Eigen::Matrix2d offset_from_distances = model.flat_distances().inverse().cwiseAbs();
    const Eigen::Vector2d across_px(band_px.x(), arms_px.y());
    const Eigen::Vector2d along_px(arms_px.x(), band_px.y());
    return (offset_from_distances * (across_px + curved_px))
        .cwiseMax(offset_from_distances * (along_px + curved_px))
        .cwiseMin(farthest_px);
}

/// Zero or less for a point that lies along an arm, by its distances from both edges.
Batch beyond_arms(const BatchOfPairs& distances_px, const Eigen::Array2f& band_px,
                  const Eigen::Array2f& arms_px) {
    const auto h = distances_px.col(0).abs();
    const auto k = distances_px.col(1).abs();
    return (h - arms_px.x()).max(k - arms_px.y()).max((h - band_px.x()).min(k - band_px.y()));
}

/// Pixels along the four arms, quarter by quarter of the corner; empty if a good part of them lies
/// outside the photo.
std::vector<Sample> samples_along_arms(const cv::Mat& grey, const CornerModel& model,
                                       const Eigen::Vector2d& corner_px,
                                       const Eigen::Vector2d& band_px) {
    std::array<std::vector<Sample>, 4> quarters;
    for (auto& quarter : quarters) {
        quarter.reserve(usual_quarter);
    }
    const Eigen::Vector2d arms_px = (arm_squares * model.px_per_square()).cwiseMin(arm_limit_px);
    const Eigen::Vector2d to_end_px = arms_reach_px(model, band_px, arms_px);
    if (!to_end_px.allFinite()) {  // both edges run alike
        return {};
    }
    const Eigen::Vector2i reach = to_end_px.array().ceil().cast<int>();
    const Eigen::Vector2i middle = corner_px.array().round().cast<int>();
    const Eigen::Array2f band = band_px.array().cast<float>();
    const Eigen::Array2f arms = arms_px.array().cast<float>();
    const cv::Rect image({0, 0}, grey.size());
    const Batch columns = Batch::LinSpaced(0, batch_size - 1);
    BatchOfPairs offsets_px;
    int outside = 0;
    for (int y = middle.y() - reach.y(); y <= middle.y() + reach.y(); ++y) {
        offsets_px.col(1).setConstant(static_cast<float>(y - corner_px.y()));
        for (int x = middle.x() - reach.x(); x <= middle.x() + reach.x(); x += batch_size) {
            offsets_px.col(0) = columns + static_cast<float>(x - corner_px.x());
            const BatchOfPairs distances_px = model.distances_px(offsets_px);
            const Batch beyond = beyond_arms(distances_px, band, arms);
            if (beyond.minCoeff() > 0) {
                continue;
            }
            for (int n = 0; n < batch_size; ++n) {
                if (beyond(n) > 0) {
                    continue;
                }
                if (!image.contains({x + n, y})) {
                    ++outside;
                    continue;
                }
                quarters[(distances_px(n, 0) > 0 ? 1U : 0U) + (distances_px(n, 1) > 0 ? 2U : 0U)]
                    .push_back({{x + n, y}, grey.at<unsigned char>(y, x + n)});
            }
        }
    }
    std::vector<Sample> samples;
    for (const auto& quarter : quarters) {
        samples.insert(samples.end(), quarter.begin(), quarter.end());
    }
    if (outside * 5 > static_cast<int>(samples.size())) {
        samples.clear();
    }
    return samples;
}

/// What the sensor makes of grey values on the average, noise and both its limits included, and
/// the slope of that.
struct Shown {
    Batch grey;
    Batch slope;
};

/// Beyond a limit a sensor shows the limit: the mean of a normal variate that is cut off there.
Shown shown(const Batch& grey) {
    const auto bright = grey > 0.5F * (darkest + brightest);
    const Batch way = bright.select(Batch::Constant(1), -1);
    const Batch limit = bright.select(Batch::Constant(brightest), darkest);
    const Batch beyond = way * (grey - limit) / usual_noise;
    if (beyond.maxCoeff() < -far_sigmas) {
        return {grey, Batch::Ones()};
    }
    const BlurredStep past = blurred_step(beyond);
    return {grey - way * usual_noise * (beyond * past.value + past.slope), 1 - past.value};
}

/// Gauss-Newton over one set of samples.
class CornerFit {
  public:
    CornerFit(const CornerModel& model, const CornerStart& start)
        : model_(model),
          start_px_(start.pixel),
          corner_px_(start.pixel),
          blur_(model.round_blur(start.blur_px)),
          start_tone_(start.tone) {}

    bool settle(const std::vector<Sample>& samples) {
        if (static_cast<int>(samples.size()) < 4 * unknowns) {
            return false;
        }
        for (int round = 0; round < 20; ++round) {
            const Unknowns step = move_by(solve(samples));
            if (!step.allFinite() || !((corner_px_ - start_px_).norm() < reach_px)) {
                return false;
            }
            if (leaves_little(step)) {
                take_off(step);
                return true;
            }
        }
        return false;
    }

    /// The same once more beside spots on the board, which show the better the less of them is
    /// fitted to.
    bool settle_beside_spots(std::vector<Sample> samples) {
        const auto all = static_cast<double>(samples.size());
        for (int round = 0; round < rounds_of_spots; ++round) {
            const bool none_yet = spotted_ == 0;
            const SpotLimits limits{none_yet ? spot_contrast * (greys_(3) - greys_(0)) : 0,
                                    spot_squares * model_.px_per_square().maxCoeff()};
            if (misfits_.cwiseAbs().maxCoeff() < limits.least_misfit) {
                return true;
            }
            std::vector<Sample> beside =
                samples_beside_spots(samples, {misfits_.data(), samples.size()}, limits);
            const double share = static_cast<double>(beside.size()) / all;
            if (beside.size() == samples.size() || share < least_beside_spots) {
                return true;
            }
            samples.swap(beside);
            spotted_ = 1 - share;
            if (!settle(samples)) {
                return false;
            }
        }
        return true;
    }

    const Eigen::Vector2d& corner_px() const { return corner_px_; }
    const Eigen::Vector2d& blur_px() const { return blur_.px; }

    FittedCorner result() const {
        FittedCorner corner;
        corner.pixel = corner_px_;
        corner.blur_px = blur_.px.maxCoeff();
        corner.black = greys_(0);
        corner.white = greys_(3);
        corner.tone = greys_(6) / (greys_(3) - greys_(0));
        const double freedom = std::max(1.0, used_ - unknowns);
        const double variance = std::max(static_cast<double>(misfits_.squaredNorm()) / freedom,
                                         rounding_noise * rounding_noise);
        corner.noise = std::sqrt(variance);
        corner.unevenness = unevenness(variance);
        corner.spotted = spotted_;
        corner.covariance_px2 = variance * normal_.selfadjointView<Eigen::Lower>()
                                               .ldlt()
                                               .solve(Normal::Identity())
                                               .topLeftCorner<2, 2>() +
                                unmodelled_px * unmodelled_px * Eigen::Matrix2d::Identity();
        return corner;
    }

  private:
    /// Returns the step that was taken: no farther than is sensible. The blur goes by logarithms.
    Unknowns move_by(Unknowns step) {
        step.head<2>() *= std::min(1.0, 1.0 / std::max(step.head<2>().norm(), 1e-12));
        corner_px_ += step.head<2>();
        const Blur before = blur_;
        const Eigen::Vector2d by = step.segment<2>(2).cwiseMax(-0.4).cwiseMin(0.4).array().exp();
        const Eigen::Vector2d most_px = (0.4 * model_.px_per_square()).array() + 0.5;
        blur_.px = blur_.px.cwiseProduct(by).cwiseMin(most_px).cwiseMax(least_blur_px);
        blur_.correlation = std::clamp(blur_.correlation + std::clamp(step(4), -0.3, 0.3),
                                       -most_correlation, most_correlation);
        greys_ += step.tail<7>();
        step.segment<2>(2) = blur_.px.cwiseQuotient(before.px).array().log();
        step(4) = blur_.correlation - before.correlation;
        return step;
    }

    /// A step leaves a fiftieth of itself at most, if the contrast and tone hold that its slopes
    /// were taken with. Where pixels lie beyond the sensor, others do with each step.
    bool leaves_little(const Unknowns& step) const {
        const bool all_shown = used_ > nearly_all * static_cast<double>(samples_);
        const double enough_px = all_shown ? last_step_px : 0.1 * last_step_px;
        const double blur_step = step.segment<2>(2).cwiseAbs().maxCoeff();
        const double contrast_step = std::max(std::abs(step(8) - step(5)), std::abs(step(11)));
        return step.head<2>().norm() < enough_px && blur_step < 5 * enough_px &&
               contrast_step < last_contrast_step * (greys_(3) - greys_(0));
    }

    /// What is left of the misfits after a step.
    void take_off(const Unknowns& step) { misfits_ -= rows_ * step.cast<float>(); }

    /// The grey levels come linearly, so they are solved for at each step; shift and blur are
    /// linearised about the levels of the step before.
    Unknowns solve(const std::vector<Sample>& samples) {
        if (greys_.isZero()) {
            greys_ = first_greys(samples, start_tone_);
        }
        samples_ = std::ssize(samples);
        const Eigen::Index batches = (samples_ + batch_size - 1) / batch_size;
        rows_.resize(batches * batch_size, unknowns);
        misfits_.resize(batches * batch_size);
        from_edges_px_.resize(batches * batch_size, 2);
        used_ = 0;
        const FeltBlur blur(blur_);
        for (Eigen::Index first = 0; first < samples_; first += batch_size) {
            take(samples, first, blur);
        }
        Unknowns right;
        for (int n = 0; n < unknowns; ++n) {
            for (int m = 0; m <= n; ++m) {
                normal_(n, m) = rows_.col(n).dot(rows_.col(m));
            }
            right(n) = rows_.col(n).dot(misfits_);
        }
        expect_usual_greys(right);
        expect_round_blur(right);
        return normal_.selfadjointView<Eigen::Lower>().ldlt().solve(right);
    }

    /// Misfits of a batch of samples and their slopes; zeros beyond the last sample.
    void take(const std::vector<Sample>& samples, Eigen::Index first, const FeltBlur& blur) {
        const Eigen::Vector2i middle = corner_px_.array().round().cast<int>();
        const Eigen::Array2f corner_from_middle =
            (corner_px_ - middle.cast<double>()).cast<float>();
        Eigen::Array<int, batch_size, 2> from_middle = Eigen::Array<int, batch_size, 2>::Zero();
        Eigen::Array<int, batch_size, 1> greys = Eigen::Array<int, batch_size, 1>::Zero();
        Batch present = Batch::Zero();
        const auto count = std::min<Eigen::Index>(batch_size, std::ssize(samples) - first);
        for (Eigen::Index n = 0; n < count; ++n) {
            const Sample& sample = samples[static_cast<std::size_t>(first + n)];
            from_middle.row(n) = sample.pixel - middle;
            greys(n) = sample.grey;
            present(n) = 1;
        }
        const BatchOfPairs offsets_px =
            from_middle.cast<float>().rowwise() - corner_from_middle.transpose();
        const Batch grey = greys.cast<float>();
        const Whiteness white = model_.white(offsets_px, blur);
        const Batch& w = white.value;
        const BatchOfPairs place =
            offsets_px / static_cast<float>(model_.px_per_square().maxCoeff() * arm_squares);
        const Eigen::Array<float, 7, 1> level = greys_.cast<float>();
        const Batch black = level(0) + level(1) * place.col(0) + level(2) * place.col(1);
        const Batch contrast = level(3) + level(4) * place.col(0) + level(5) * place.col(1) - black;
        // A camera's tone curve lifts or lowers what lies between black and white.
        const Batch between = 4 * w * (1 - w);
        const Batch by_white = contrast + level(6) * 4 * (1 - 2 * w);
        const Shown seen = shown(black + contrast * w + level(6) * between);
        const Batch slope = seen.slope * present;
        Eigen::Array<float, batch_size, unknowns> rows;
        rows << white.by_offset.colwise() * -by_white, white.by_log_blur.colwise() * by_white,
            by_white * white.by_correlation, 1 - w, place.colwise() * (1 - w), w,
            place.colwise() * w, between;
        rows_.middleRows<batch_size>(first) = (rows.colwise() * slope).matrix();
        misfits_.segment<batch_size>(first) =
            (present * (grey.max(darkest).min(brightest) - seen.grey)).matrix();
        from_edges_px_.middleRows<batch_size>(first) = white.from_edges_px;
        used_ += slope.sum();
    }

    /// Where all that is white or black lies beyond the sensor its level would have no hold.
    void expect_usual_greys(Unknowns& right) {
        const double weight = usual_noise * usual_noise / (usual_greys * usual_greys);
        for (int n = 0; n < greys_.size(); ++n) {
            const double usual = n == 3 ? brightest : 0;
            normal_(before_greys + n, before_greys + n) += weight;
            right(before_greys + n) += weight * (usual - greys_(n));
        }
    }

    /// A blur of less than a pixel is round, as far as it can be seen.
    void expect_round_blur(Unknowns& right) {
        const double lean = usual_lean * std::min(1.0, blur_.px.prod());
        const double weight = usual_noise * usual_noise / (lean * lean);
        normal_(4, 4) += weight;
        right(4) += weight * (model_.round_blur(1).correlation - blur_.correlation);
    }

    /// One side of one arm: something that covers a part of the corner shows in some of them.
    struct Flank {
        double misfit = 0;
        int count = 0;
    };

    std::array<Flank, 8> flanks() const {
        std::array<Flank, 8> flanks{};
        for (Eigen::Index n = 0; n < samples_; ++n) {
            const float h = from_edges_px_(n, 0);
            const float k = from_edges_px_(n, 1);
            Flank& flank = flanks[(h > 0 ? 1U : 0U) + (k > 0 ? 2U : 0U) +
                                  (std::abs(h) > std::abs(k) ? 4U : 0U)];
            flank.misfit += misfits_(n);
            ++flank.count;
        }
        return flanks;
    }

    double unevenness(double variance) const {
        double sum = 0;
        const auto all = flanks();
        for (const auto& flank : all) {
            const double count = std::max(flank.count, 1);
            const double mean = std::abs(flank.misfit) / count;
            const double beyond = std::max(0.0, mean - rounding_noise);  // alike all along an edge
            sum += beyond * beyond * count / variance;
        }
        return sum / static_cast<double>(all.size());
    }

    static Eigen::Matrix<double, 7, 1> first_greys(const std::vector<Sample>& samples,
                                                   double tone) {
        std::array<std::size_t, 256> counts{};
        for (const auto& sample : samples) {
            ++counts[static_cast<std::size_t>(sample.grey)];
        }
        const auto at_share = [&](std::size_t tenths) {
            std::size_t grey = 0;
            for (std::size_t below = counts[0]; below * 10 <= samples.size() * tenths;) {
                below += counts[++grey];
            }
            return static_cast<double>(grey);
        };
        const double black = at_share(1);
        const double white = at_share(9);
        Eigen::Matrix<double, 7, 1> levels;
        levels << black, 0, 0, white, 0, 0, tone * (white - black);
        return levels;
    }

    const CornerModel& model_;
    Eigen::Vector2d start_px_;
    Eigen::Vector2d corner_px_;
    Blur blur_;
    double start_tone_;
    Eigen::Matrix<double, 7, 1> greys_ = Eigen::Matrix<double, 7, 1>::Zero();
    Normal normal_ = Normal::Zero();  ///< its lower half, with what is expected
    Eigen::Index samples_ = 0;
    Eigen::Matrix<float, Eigen::Dynamic, unknowns> rows_;  ///< of the samples, and zeros after
    Eigen::VectorXf misfits_;                              ///< them to fill up the last batch
    Eigen::ArrayX2f from_edges_px_;
    double used_ = 0;     ///< samples that the sensor could show
    double spotted_ = 0;  ///< share of the samples under spots
};

}  // namespace

std::optional<FittedCorner> fit_corner(const cv::Mat& grey, const BoardView& view,
                                       const PrintedPattern& print, int index,
                                       const CornerStart& start) {
    const auto map = local_map(view, corner_in_target_mm(print.pattern, index),
                               print.pattern.square_mm, arm_squares);
    if (!map) {
        return std::nullopt;
    }
    const CornerModel model(*map, print, index);
    CornerFit fit(model, start);
    std::vector<Sample> samples;
    bool as_expected = false;
    for (int round = 0; round < most_takes && !as_expected; ++round) {
        const Eigen::Vector2d about_px = fit.corner_px();
        const Eigen::Vector2d beside_px = band_px(model, fit.blur_px());
        samples = samples_along_arms(grey, model, about_px, beside_px);
        if (!fit.settle(samples)) {
            return std::nullopt;
        }
        const Eigen::Vector2d wider_px = band_px(model, fit.blur_px()) - beside_px;
        as_expected = (fit.corner_px() - about_px).norm() < as_taken_px &&
                      wider_px.cwiseAbs().maxCoeff() < as_taken_px;
    }
    if (!fit.settle_beside_spots(std::move(samples))) {
        return std::nullopt;
    }
    const FittedCorner corner = fit.result();
    const bool sound = corner.white - corner.black > least_contrast &&
                       corner.covariance_px2.allFinite() && corner.covariance_px2(0, 0) > 0;
    return sound ? std::optional(corner) : std::nullopt;
}

}  // namespace squaresight

#include "sight/corner_model.h"

#include <Eigen/Cholesky>
#include <array>
#include <cmath>

namespace squaresight {
namespace {

constexpr double far = 4.5;                 // blurs beyond which an edge is not felt
constexpr double least_correlation = 1e-4;  // of edges that are not square to one another
constexpr int most_bits = 8;                // a side of a marker of any dictionary, and one

/// A blurred step from 0 to 1, and its slope: the normal distribution and its density.
struct BlurredStep {
    double value = 0;
    double slope = 0;
};

BlurredStep exact_step(double x) {
    return {0.5 * std::erfc(-x / std::sqrt(2.0)), std::exp(-0.5 * x * x) / std::sqrt(2 * M_PI)};
}

/// The same from a table by cubics through values and slopes: within 1e-9, and ten times as fast.
BlurredStep blurred_step(double x) {
    constexpr double reach = 6;
    constexpr int per_unit = 64;
    static const std::vector<BlurredStep> table = [] {
        std::vector<BlurredStep> t;
        for (int n = 0; n <= 2 * static_cast<int>(reach) * per_unit + 1; ++n) {
            t.push_back(exact_step(static_cast<double>(n) / per_unit - reach));
        }
        return t;
    }();
    if (!(x > -reach)) {
        return {0, 0};
    }
    if (x >= reach) {
        return {1, 0};
    }
    const double at = (x + reach) * per_unit;
    const auto n = static_cast<std::size_t>(at);
    const double t = at - static_cast<double>(n);
    const BlurredStep& a = table[n];
    const BlurredStep& b = table[n + 1];
    const double h = 1.0 / per_unit;
    const double x_a = static_cast<double>(n) * h - reach;
    const double blend = t * t * (3 - 2 * t);
    const double from_a = t * (1 - t) * (1 - t) * h;
    const double from_b = t * t * (t - 1) * h;
    return {a.value + blend * (b.value - a.value) + from_a * a.slope + from_b * b.slope,
            a.slope + blend * (b.slope - a.slope) - from_a * x_a * a.slope -
                from_b * (x_a + h) * b.slope};
}

}  // namespace

Eigen::Vector2d LocalMap::squares(const Eigen::Vector2d& d) const {
    Eigen::Matrix<double, 5, 1> basis;
    basis << d.x(), d.y(), d.x() * d.x(), d.x() * d.y(), d.y() * d.y();
    return coefficients * basis;
}

Eigen::Matrix2d LocalMap::slopes(const Eigen::Vector2d& d) const {
    Eigen::Matrix<double, 5, 2> basis;
    basis << 1, 0, 0, 1, 2 * d.x(), 0, d.y(), d.x(), 0, 2 * d.y();
    return coefficients * basis;
}

std::optional<LocalMap> local_map(const BoardView& view, const Eigen::Vector2d& corner_mm,
                                  double square_mm, double reach_squares) {
    const auto centre = view.pixel(corner_mm);
    if (!centre) {
        return std::nullopt;
    }
    Eigen::Matrix<double, 9, 5> pixels;
    Eigen::Matrix<double, 9, 2> squares;
    for (int n = 0; n < 9; ++n) {
        const Eigen::Vector2d place = reach_squares * Eigen::Vector2d(n % 3 - 1, n / 3 - 1);
        const auto pixel = view.pixel(corner_mm + square_mm * place);
        if (!pixel) {
            return std::nullopt;
        }
        const Eigen::Vector2d d = *pixel - *centre;
        pixels.row(n) << d.x(), d.y(), d.x() * d.x(), d.x() * d.y(), d.y() * d.y();
        squares.row(n) = place;
    }
    LocalMap map;
    map.coefficients =
        (pixels.transpose() * pixels).ldlt().solve(pixels.transpose() * squares).transpose();
    return map;
}

/// A row of cell edges as steps from 0 to 1, blurred: values, slopes and slopes by log blur.
struct CornerModel::Steps {
    std::array<double, most_bits + 1> value{}, slope{}, by_log_blur{};
};

CornerModel::CornerModel(const LocalMap& map, const PrintedPattern& print, int index) : map_(map) {
    const Pattern& pattern = print.pattern;
    const int column = index % pattern.corners_across();
    const int row = index / pattern.corners_across();
    sign_ = is_white_square(pattern, column, row) ? 1 : -1;
    const Eigen::Matrix2d slopes = map.slopes({0, 0});
    px_per_square_ = slopes.rowwise().norm().cwiseInverse();
    correlation_ = slopes.row(0).normalized().dot(slopes.row(1).normalized());
    margin_ = print.margin_squares();
    cell_ = print.cell_squares();
    bits_ = print.dictionary.size;
    for (const int lower : {0, 1}) {
        const int right = sign_ > 0 ? lower : 1 - lower;
        const int id = print.id_at(column + right, row + lower);
        if (id >= 0) {
            markers_.push_back({right ? 1.0 : -1.0, lower ? 1.0 : -1.0,
                                &print.dictionary.bits[static_cast<std::size_t>(id)]});
        }
    }
}

Whiteness CornerModel::white(const Eigen::Vector2d& offset_px, double blur_px) const {
    const Eigen::Vector2d hk = distances_px(offset_px) / blur_px;
    const Slope board = squares(hk.x(), hk.y());
    const double half = 0.5 * sign_;
    Slope s{0.5 + half * board.value, half * board.by_h, half * board.by_k,
            -half * (board.by_h * hk.x() + board.by_k * hk.y())};
    for (const auto& marker : markers_) {
        take_black_of(marker, hk.x(), hk.y(), blur_px, s);
        add_white_of(marker, hk.x(), hk.y(), blur_px, s);
    }
    const Eigen::Matrix2d hk_by_offset =
        px_per_square_.asDiagonal() * map_.slopes(offset_px) / blur_px;
    return {s.value, s.by_h * hk_by_offset.row(0) + s.by_k * hk_by_offset.row(1), s.by_log_blur};
}

/// Mean of sign(h + noise) * sign(k + noise): the product of two edges, and what the edges' not
/// being square to one another adds (the integral of the bivariate normal density over its
/// correlation, by three Gauss-Legendre points).
CornerModel::Slope CornerModel::squares(double h, double k) const {
    const BlurredStep step_h = blurred_step(h);
    const BlurredStep step_k = blurred_step(k);
    const double edge_h = 2 * step_h.value - 1;
    const double edge_k = 2 * step_k.value - 1;
    Slope s{edge_h * edge_k, 2 * step_h.slope * edge_k, 2 * step_k.slope * edge_h, 0};
    if (h * h + k * k > far * far * (1 + std::abs(correlation_)) ||
        std::abs(correlation_) < least_correlation) {
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

/// The marker as a black quarter plane: its far sides are out of reach.
void CornerModel::take_black_of(const Marker& marker, double h, double k, double blur_px,
                                Slope& s) const {
    const Eigen::Vector2d margin = margin_ * px_per_square_ / blur_px;
    const double x = marker.right * h - margin.x();
    const double y = marker.down * k - margin.y();
    if (x < -far || y < -far) {
        return;
    }
    const BlurredStep step_x = blurred_step(x);
    const BlurredStep step_y = blurred_step(y);
    const double by_x = step_x.slope * step_y.value;
    const double by_y = step_x.value * step_y.slope;
    s.value -= step_x.value * step_y.value;
    s.by_h -= marker.right * by_x;
    s.by_k -= marker.down * by_y;
    s.by_log_blur += by_x * x + by_y * y;
}

CornerModel::Steps CornerModel::steps(double at, double first, double cell) const {
    Steps steps;
    for (int n = 0; n <= bits_; ++n) {
        const double z = at - (first + n * cell);
        const auto slot = static_cast<std::size_t>(n);
        const BlurredStep step = blurred_step(z);
        steps.value[slot] = step.value;
        steps.slope[slot] = step.slope;
        steps.by_log_blur[slot] = -step.slope * z;
    }
    return steps;
}

/// The white cells inside the marker.
void CornerModel::add_white_of(const Marker& marker, double h, double k, double blur_px,
                               Slope& s) const {
    const Eigen::Vector2d cell = cell_ * px_per_square_ / blur_px;
    const Eigen::Vector2d near = (margin_ + cell_) * px_per_square_ / blur_px;
    if (marker.right * h - near.x() < -far || marker.down * k - near.y() < -far) {
        return;
    }
    const double left = marker.right > 0 ? near.x() : -near.x() - bits_ * cell.x();
    const double top = marker.down > 0 ? near.y() : -near.y() - bits_ * cell.y();
    const Steps across = steps(h, left, cell.x());
    const Steps down = steps(k, top, cell.y());
    for (int row = 0; row < bits_; ++row) {
        const auto r = static_cast<std::size_t>(row);
        const double height = down.value[r] - down.value[r + 1];
        for (int column = 0; column < bits_; ++column) {
            const auto c = static_cast<std::size_t>(column);
            if (!(*marker.bits)[r * static_cast<std::size_t>(bits_) + c]) {
                continue;
            }
            const double width = across.value[c] - across.value[c + 1];
            s.value += width * height;
            s.by_h += (across.slope[c] - across.slope[c + 1]) * height;
            s.by_k += width * (down.slope[r] - down.slope[r + 1]);
            s.by_log_blur += (across.by_log_blur[c] - across.by_log_blur[c + 1]) * height +
                             width * (down.by_log_blur[r] - down.by_log_blur[r + 1]);
        }
    }
}

}  // namespace squaresight

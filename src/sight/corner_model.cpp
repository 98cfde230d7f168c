#include "sight/corner_model.h"

#include <Eigen/Cholesky>
#include <array>
#include <cmath>

#include "units/normal.h"

namespace squaresight {
namespace {

constexpr double far = 4.5;                 // blurs beyond which an edge is not felt
constexpr double least_correlation = 1e-4;  // that is felt
constexpr int most_bits = 8;                // a side of a marker of any dictionary, and one

/// A blurred step from 0 to 1, and its slope: the normal distribution and its density.
struct BlurredStep {
    double value = 0;
    double slope = 0;
};

BlurredStep exact_step(double x) { return {probability_below(x), normal_density(x)}; }

constexpr double table_reach = 6;
constexpr int table_per_unit = 128;

std::vector<BlurredStep> table_of_steps() {
    std::vector<BlurredStep> table;
    for (int n = 0; n <= 2 * static_cast<int>(table_reach) * table_per_unit; ++n) {
        table.push_back(exact_step(static_cast<double>(n) / table_per_unit - table_reach));
    }
    return table;
}

/// The same from a table by Taylor's series about its nearest entry: values within 1e-8, slopes
/// within 4e-6, and ten times as fast.
inline BlurredStep blurred_step(double x) {
    static const std::vector<BlurredStep> table = table_of_steps();
    if (!(x > -table_reach)) {
        return {0, 0};
    }
    if (x >= table_reach) {
        return {1, 0};
    }
    constexpr double to_nearest = 0.5;
    const auto n = static_cast<int>((x + table_reach) * table_per_unit + to_nearest);
    const BlurredStep& nearest = table[static_cast<std::size_t>(n)];
    const double at = static_cast<double>(n) / table_per_unit - table_reach;
    const double d = x - at;
    return {nearest.value + nearest.slope * d * (1 - 0.5 * at * d), nearest.slope * (1 - at * d)};
}

}  // namespace

Eigen::Vector2d LocalMap::squares(const Eigen::Vector2d& d) const {
    return coefficients.col(0) * d.x() + coefficients.col(1) * d.y() +
           d.x() * (coefficients.col(2) * d.x() + coefficients.col(3) * d.y()) +
           d.y() * d.y() * coefficients.col(4);
}

Eigen::Matrix2d LocalMap::slopes(const Eigen::Vector2d& d) const {
    Eigen::Matrix2d slopes;
    slopes.col(0) =
        coefficients.col(0) + 2 * d.x() * coefficients.col(2) + d.y() * coefficients.col(3);
    slopes.col(1) =
        coefficients.col(1) + d.x() * coefficients.col(3) + 2 * d.y() * coefficients.col(4);
    return slopes;
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
    for (int edge = 0; edge < 2; ++edge) {
        const Eigen::Vector2d normal = slopes.row(edge).normalized();
        const auto bent = map.coefficients.row(edge).tail<3>();
        change_per_px_(edge) =
            2 * (bent(0) * normal.x() * normal.x() + bent(1) * normal.x() * normal.y() +
                 bent(2) * normal.y() * normal.y());
    }
    round_correlation_ = slopes.row(0).normalized().dot(slopes.row(1).normalized());
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

Whiteness CornerModel::white(const Eigen::Vector2d& offset_px, const Blur& blur) const {
    const Eigen::Vector2d place = map_.squares(offset_px);
    const Eigen::Matrix2d slopes = map_.slopes(offset_px);
    const Eigen::Vector2d px_per_square = slopes.rowwise().norm().cwiseInverse();
    const Eigen::Vector2d bend_per_px = 0.5 * change_per_px_.cwiseProduct(px_per_square);
    const Eigen::Vector2d blurs_per_px = blur.px.cwiseInverse();
    const Across across{place.x(), px_per_square.x(), bend_per_px.x(), blurs_per_px.x()};
    const Across down{place.y(), px_per_square.y(), bend_per_px.y(), blurs_per_px.y()};
    const Eigen::Vector2d hk(across.from(0), down.from(0));
    const Slope board = squares(hk.x(), hk.y(), blur.correlation);
    const double half = 0.5 * sign_;
    Slope s{0.5 + half * board.value, half * board.by_h, half * board.by_k,
            Eigen::Vector2d(-half * board.by_h * hk.x(), -half * board.by_k * hk.y()),
            half * board.by_correlation};
    for (const auto& marker : markers_) {
        take_black_of(marker, across, down, blur.correlation, s);
        add_white_of(marker, across, down, s);
    }
    const Eigen::Vector2d by_squares =
        Eigen::Vector2d(s.by_h, s.by_k).cwiseProduct(px_per_square).cwiseProduct(blurs_per_px);
    return {s.value, slopes.transpose() * by_squares, s.by_log_blur, s.by_correlation,
            hk.cwiseProduct(blur.px)};
}

/// Mean of sign(h + noise) * sign(k + noise): the product of two edges, and what the correlation of
/// the noises adds (the integral of the bivariate normal density over the correlation, by three
/// Gauss-Legendre points over its angle).
CornerModel::Slope CornerModel::squares(double h, double k, double correlation) {
    const BlurredStep step_h = blurred_step(h);
    const BlurredStep step_k = blurred_step(k);
    const double edge_h = 2 * step_h.value - 1;
    const double edge_k = 2 * step_k.value - 1;
    Slope s{edge_h * edge_k, 2 * step_h.slope * edge_k, 2 * step_k.slope * edge_h};
    if (h * h + k * k > far * far * (1 + std::abs(correlation))) {
        return s;
    }
    const auto density = [=](double sine, double cosine2) {
        return 2 / M_PI * std::exp(-(h * h - 2 * sine * h * k + k * k) / (2 * cosine2));
    };
    const double rest = 1 - correlation * correlation;
    s.by_correlation = density(correlation, rest) / std::sqrt(rest);
    if (std::abs(correlation) < least_correlation) {
        return s;
    }
    constexpr std::array<double, 3> at{0.1127016653792583, 0.5, 0.8872983346207417};
    constexpr std::array<double, 3> weight{5.0 / 18, 8.0 / 18, 5.0 / 18};
    const double angle = std::asin(correlation);
    for (std::size_t n = 0; n < at.size(); ++n) {
        const double sine = std::sin(angle * at[n]);
        const double cosine2 = 1 - sine * sine;
        const double part = angle * weight[n] * density(sine, cosine2);
        s.value += part;
        s.by_h -= part * (h - sine * k) / cosine2;
        s.by_k -= part * (k - sine * h) / cosine2;
    }
    return s;
}

/// The marker as a black quarter plane: its far sides are out of reach.
void CornerModel::take_black_of(const Marker& marker, const Across& h, const Across& k,
                                double correlation, Slope& s) const {
    const double x = marker.right * h.from(marker.right * margin_);
    const double y = marker.down * k.from(marker.down * margin_);
    if (x < -far || y < -far) {
        return;
    }
    // One quarter of four: half of both edges and of their product.
    const BlurredStep step_x = blurred_step(x);
    const BlurredStep step_y = blurred_step(y);
    const double turned = marker.right * marker.down;
    const Slope product = squares(x, y, turned * correlation);
    const double by_x = 0.5 * step_x.slope + 0.25 * product.by_h;
    const double by_y = 0.5 * step_y.slope + 0.25 * product.by_k;
    s.value -= 0.5 * (step_x.value + step_y.value) - 0.25 + 0.25 * product.value;
    s.by_h -= marker.right * by_x;
    s.by_k -= marker.down * by_y;
    s.by_log_blur += Eigen::Vector2d(by_x * x, by_y * y);
    s.by_correlation -= 0.25 * turned * product.by_correlation;
}

CornerModel::Steps CornerModel::steps(const Across& at, double first) const {
    Steps steps;
    for (int n = 0; n <= bits_; ++n) {
        const double z = at.from(first + n * cell_);
        const auto slot = static_cast<std::size_t>(n);
        const BlurredStep step = blurred_step(z);
        steps.value[slot] = step.value;
        steps.slope[slot] = step.slope;
        steps.by_log_blur[slot] = -step.slope * z;
    }
    return steps;
}

/// The white cells inside the marker.
void CornerModel::add_white_of(const Marker& marker, const Across& h, const Across& k,
                               Slope& s) const {
    const double near = margin_ + cell_;
    if (marker.right * h.from(marker.right * near) < -far ||
        marker.down * k.from(marker.down * near) < -far) {
        return;
    }
    const double farther = near + bits_ * cell_;
    const Steps across = steps(h, marker.right > 0 ? near : -farther);
    const Steps down = steps(k, marker.down > 0 ? near : -farther);
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
            s.by_log_blur +=
                Eigen::Vector2d((across.by_log_blur[c] - across.by_log_blur[c + 1]) * height,
                                width * (down.by_log_blur[r] - down.by_log_blur[r + 1]));
        }
    }
}

}  // namespace squaresight

#include "sight/corner_model.h"

#include <Eigen/Cholesky>
#include <array>
#include <cmath>
#include <numbers>

namespace squaresight {
namespace {

constexpr float far = 4.5F;   // blurs beyond which an edge is not felt
constexpr int most_bits = 8;  // a side of a marker of any dictionary

/// The mean of sign(h + noise) * sign(k + noise), with its derivatives.
struct EdgesProduct {
    Batch value;
    Batch by_h;
    Batch by_k;
    Batch by_correlation;
};

/// The product of two edges, and what the correlation of the noises adds: the integral of the
/// bivariate normal density over the correlation. `turned` is -1 where one edge is turned about.
EdgesProduct edges_product(const Batch& h, const BlurredStep& at_h, const Batch& k,
                           const BlurredStep& at_k, const FeltBlur& blur, float turned) {
    const Batch edge_h = 2 * at_h.value - 1;
    const Batch edge_k = 2 * at_k.value - 1;
    EdgesProduct product{edge_h * edge_k, 2 * at_h.slope * edge_k, 2 * at_k.slope * edge_h,
                         Batch::Zero()};
    const Batch squares = h.square() + k.square();
    if (squares.minCoeff() > far * far * (1 + std::abs(blur.correlation()))) {
        return product;
    }
    const Batch twice_hk = 2 * turned * h * k;
    const auto density = [&](float correlation) -> Batch {
        const float halved = -0.5F / (1 - correlation * correlation);
        return (2 * std::numbers::inv_pi_v<float>)*(halved * (squares - correlation * twice_hk))
            .exp();
    };
    product.by_correlation = turned / std::sqrt(1 - blur.correlation() * blur.correlation()) *
                             density(blur.correlation());
    for (const auto& node : blur.nodes()) {
        const Batch part = turned * node.weight * density(node.correlation);
        const float turned_correlation = turned * node.correlation;
        const float rest = 1 / (1 - node.correlation * node.correlation);
        product.value += part;
        product.by_h -= rest * part * (h - turned_correlation * k);
        product.by_k -= rest * part * (k - turned_correlation * h);
    }
    return product;
}

}  // namespace

/// Three Gauss-Legendre points over the angle whose sine is the correlation.
FeltBlur::FeltBlur(const Blur& blur)
    : px_(blur.px.cast<float>()), correlation_(static_cast<float>(blur.correlation)) {
    constexpr std::array<double, 3> at{0.1127016653792583, 0.5, 0.8872983346207417};
    constexpr std::array<double, 3> weight{5.0 / 18, 8.0 / 18, 5.0 / 18};
    const double angle = std::asin(blur.correlation);
    for (std::size_t n = 0; n < at.size(); ++n) {
        nodes_[n] = {static_cast<float>(std::sin(angle * at[n])),
                     static_cast<float>(angle * weight[n])};
    }
}

BatchOfPairs LocalMap::squares(const BatchOfPairs& offsets_px) const {
    const Eigen::Matrix<float, 2, 5> c = coefficients.cast<float>();
    const auto& x = offsets_px.col(0);
    const auto& y = offsets_px.col(1);
    BatchOfPairs squares;
    for (int edge = 0; edge < 2; ++edge) {
        squares.col(edge) =
            x * (c(edge, 0) + c(edge, 2) * x + c(edge, 3) * y) + y * (c(edge, 1) + c(edge, 4) * y);
    }
    return squares;
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

/// Points as seen from the lines of the print that run one way.
struct CornerModel::Across {
    Batch squares;  ///< of the points, from the edge through the corner
    Batch px_per_square;
    Batch bend_per_px;  ///< half the share by which that changes in a pixel
    float blurs_per_px = 1;

    /// How far the photo shows them from such a line, in units of the blur: straight lines stay
    /// straight and blur alike on both sides, though what is farther away looks smaller.
    Batch from(double line_squares) const {
        const Batch flat_px = (squares - static_cast<float>(line_squares)) * px_per_square;
        const Batch bend = bend_per_px * flat_px;
        return flat_px * (1 + bend * (1 + bend)) * blurs_per_px;
    }
};

/// Whiteness and its derivatives by the distances from the two edges, in units of the blur.
struct CornerModel::Felt {
    Batch value;
    Batch by_h;
    Batch by_k;
    BatchOfPairs by_log_blur;
    Batch by_correlation;
};

/// The cells of a marker one way, from the corner outwards: how much of each is felt, and its
/// slopes by the distance outwards and by the logarithm of the blur.
struct CornerModel::Cells {
    int felt = 0;
    std::array<Batch, most_bits> share, slope, by_log_blur;
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
            markers_.push_back({right ? 1.0F : -1.0F, lower ? 1.0F : -1.0F,
                                &print.dictionary.bits[static_cast<std::size_t>(id)]});
        }
    }
}

Whiteness CornerModel::white(const BatchOfPairs& offsets_px, const FeltBlur& blur) const {
    const Eigen::Matrix<float, 2, 5> c = map_.coefficients.cast<float>();
    const Eigen::Array2f change_per_px = change_per_px_.cast<float>();
    const auto& x = offsets_px.col(0);
    const auto& y = offsets_px.col(1);
    const BatchOfPairs squares = map_.squares(offsets_px);
    std::array<BatchOfPairs, 2> slopes;  // of the squares from each edge, by x and y
    std::array<Across, 2> across;
    for (int edge = 0; edge < 2; ++edge) {
        BatchOfPairs& slope = slopes[static_cast<std::size_t>(edge)];
        Across& at = across[static_cast<std::size_t>(edge)];
        slope.col(0) = c(edge, 0) + 2 * c(edge, 2) * x + c(edge, 3) * y;
        slope.col(1) = c(edge, 1) + c(edge, 3) * x + 2 * c(edge, 4) * y;
        at.squares = squares.col(edge);
        at.px_per_square = slope.square().rowwise().sum().rsqrt();
        at.bend_per_px = 0.5F * change_per_px(edge) * at.px_per_square;
        at.blurs_per_px = 1 / blur.px()(edge);
    }
    const auto& [h, k] = across;
    const Felt felt = felt_at(h, k, blur);
    const Batch by_across = felt.by_h * h.px_per_square * h.blurs_per_px;
    const Batch by_down = felt.by_k * k.px_per_square * k.blurs_per_px;
    Whiteness white{felt.value, {}, felt.by_log_blur, felt.by_correlation, {}};
    white.by_offset = slopes[0].colwise() * by_across + slopes[1].colwise() * by_down;
    white.from_edges_px << h.from(0) / h.blurs_per_px, k.from(0) / k.blurs_per_px;
    return white;
}

CornerModel::Felt CornerModel::felt_at(const Across& across, const Across& down,
                                       const FeltBlur& blur) const {
    const Batch h = across.from(0);
    const Batch k = down.from(0);
    const EdgesProduct squares = edges_product(h, blurred_step(h), k, blurred_step(k), blur, 1);
    const float half = 0.5F * sign_;
    Felt felt{0.5F + half * squares.value,
              half * squares.by_h,
              half * squares.by_k,
              {},
              half * squares.by_correlation};
    felt.by_log_blur << -felt.by_h * h, -felt.by_k * k;
    for (const auto& marker : markers_) {
        const Batch inside_x = marker.right * across.from(marker.right * margin_);
        const Batch inside_y = marker.down * down.from(marker.down * margin_);
        if (inside_x.min(inside_y).maxCoeff() > -far) {
            take_black_of(marker, inside_x, inside_y, blur, felt);
            add_white_of(marker, across, down, felt);
        }
    }
    return felt;
}

/// The marker as a black quarter plane, its far sides being out of reach: points lie so many blurs
/// inside the two lines where it begins.
void CornerModel::take_black_of(const Marker& marker, const Batch& inside_x, const Batch& inside_y,
                                const FeltBlur& blur, Felt& felt) {
    // One quarter of four: half of both edges and of their product.
    const BlurredStep at_x = blurred_step(inside_x);
    const BlurredStep at_y = blurred_step(inside_y);
    const float turned = marker.right * marker.down;
    const EdgesProduct product = edges_product(inside_x, at_x, inside_y, at_y, blur, turned);
    const Batch by_x = 0.5F * at_x.slope + 0.25F * product.by_h;
    const Batch by_y = 0.5F * at_y.slope + 0.25F * product.by_k;
    felt.value -= 0.5F * (at_x.value + at_y.value) - 0.25F + 0.25F * product.value;
    felt.by_h -= marker.right * by_x;
    felt.by_k -= marker.down * by_y;
    felt.by_log_blur.col(0) += by_x * inside_x;
    felt.by_log_blur.col(1) += by_y * inside_y;
    felt.by_correlation -= 0.25F * product.by_correlation;
}

/// From the corner outwards, as far as the marker is felt.
void CornerModel::find_cells(const Across& at, double way, Cells& cells) const {
    const auto outwards = [&](int line) -> Batch {
        return static_cast<float>(way) * at.from(way * (margin_ + (line + 1) * cell_));
    };
    Batch z = outwards(0);
    BlurredStep inner = blurred_step(z);
    Batch inner_by_log_blur = -inner.slope * z;
    for (cells.felt = 0; cells.felt < bits_ && z.maxCoeff() > -far; ++cells.felt) {
        const auto cell = static_cast<std::size_t>(cells.felt);
        z = outwards(cells.felt + 1);
        const BlurredStep outer = blurred_step(z);
        const Batch outer_by_log_blur = -outer.slope * z;
        cells.share[cell] = inner.value - outer.value;
        cells.slope[cell] = inner.slope - outer.slope;
        cells.by_log_blur[cell] = inner_by_log_blur - outer_by_log_blur;
        inner = outer;
        inner_by_log_blur = outer_by_log_blur;
    }
}

/// The white cells inside the marker.
void CornerModel::add_white_of(const Marker& marker, const Across& across, const Across& down,
                               Felt& felt) const {
    const double near = margin_ + cell_;
    const Batch x = marker.right * across.from(marker.right * near);
    const Batch y = marker.down * down.from(marker.down * near);
    if (x.min(y).maxCoeff() < -far) {
        return;
    }
    Cells columns;
    Cells rows;
    find_cells(across, marker.right, columns);
    find_cells(down, marker.down, rows);
    for (int row = 0; row < rows.felt; ++row) {
        Batch share = Batch::Zero();
        Batch slope = Batch::Zero();
        Batch by_log_blur = Batch::Zero();
        for (int column = 0; column < columns.felt; ++column) {
            if (is_white_cell(marker, column, row)) {
                const auto c = static_cast<std::size_t>(column);
                share += columns.share[c];
                slope += columns.slope[c];
                by_log_blur += columns.by_log_blur[c];
            }
        }
        const auto r = static_cast<std::size_t>(row);
        felt.value += share * rows.share[r];
        felt.by_h += marker.right * slope * rows.share[r];
        felt.by_k += marker.down * share * rows.slope[r];
        felt.by_log_blur.col(0) += by_log_blur * rows.share[r];
        felt.by_log_blur.col(1) += share * rows.by_log_blur[r];
    }
}

/// Counted from the corner outwards.
bool CornerModel::is_white_cell(const Marker& marker, int column, int row) const {
    const int across = marker.right > 0 ? column : bits_ - 1 - column;
    const int down = marker.down > 0 ? row : bits_ - 1 - row;
    const int bit = down * bits_ + across;
    return (*marker.bits)[static_cast<std::size_t>(bit)] != 0;
}

}  // namespace squaresight

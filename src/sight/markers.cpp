#include "sight/markers.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "units/normal.h"

namespace squaresight {
namespace {

constexpr std::array<double, 4> blurs_in_cells{0.15, 0.45, 0.8, 1.2};
constexpr double as_good_as_round = 0.4;    // logarithm of a blur's length over its width
constexpr float least_rims = 0.2F;          // correlation with a white rim about a black one
constexpr float least_fit = 0.85F;          // correlation with the best marker
constexpr float least_margin = 2.0F;        // unexplained variance: second best over best
constexpr float plain = 0.04F;              // unexplained variance: no other blur need be tried
constexpr float least_spread_greys = 3.0F;  // standard deviation of the samples

/// The grey values about one square, or what is printed there: markers have 8 x 8 bits at most.
constexpr int most_cells = 14;
using Cells =
    Eigen::Matrix<float, Eigen::Dynamic, Eigen::Dynamic, Eigen::ColMajor, most_cells, most_cells>;
using Places =
    Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::ColMajor, most_cells, most_cells>;

/// What a blurred row of cells shows at each place: share of each cell (columns).
Cells shares(const std::vector<double>& at, const std::vector<double>& edges, double sigma) {
    Cells m(at.size(), edges.size() - 1);
    for (Eigen::Index row = 0; row < m.rows(); ++row) {
        for (Eigen::Index c = 0; c < m.cols(); ++c) {
            const double x = at[static_cast<std::size_t>(row)];
            const auto edge = static_cast<std::size_t>(c);
            m(row, c) = static_cast<float>(probability_below((edges[edge + 1] - x) / sigma) -
                                           probability_below((edges[edge] - x) / sigma));
        }
    }
    return m;
}

/// 1 = white for a square with its marker, its white margin and the black squares around it.
Cells whiteness(const std::vector<unsigned char>& bits, int size) {
    const int cells = size + 6;  // border, margin and neighbour on each side
    Cells m = Cells::Zero(cells, cells);
    m.block(1, 1, cells - 2, cells - 2).setOnes();
    m.block(2, 2, cells - 4, cells - 4).setZero();
    for (const int row : {0, cells - 1}) {
        m(row, 0) = m(row, cells - 1) = 1;  // the white squares across the corners
    }
    for (int row = 0; row < size; ++row) {
        for (int column = 0; column < size; ++column) {
            const int bit = row * size + column;
            m(row + 3, column + 3) = bits[static_cast<std::size_t>(bit)];
        }
    }
    return m;
}

Cells seen_through(const Cells& by_columns, const Cells& white, const Cells& by_rows) {
    const Cells columns = by_columns.lazyProduct(white);
    return columns.lazyProduct(by_rows.transpose());
}

/// What a square shows when the marker in it is turned.
Cells turned(const Cells& values, int quarter_turns) {
    Cells m = values;
    for (int n = 0; n < quarter_turns; ++n) {
        m = Cells(m.transpose().rowwise().reverse());
    }
    return m;
}

/// Flattened to mean zero and norm one; nothing without contrast.
std::optional<Eigen::VectorXf> normalised(const Cells& values, float least_spread) {
    Eigen::VectorXf v = values.reshaped();
    v.array() -= v.mean();
    const float norm = v.norm();
    if (!(norm > least_spread * std::sqrt(static_cast<float>(v.size())))) {
        return std::nullopt;
    }
    return Eigen::VectorXf(v / norm);
}

}  // namespace

MarkerReader::MarkerReader(const PrintedPattern& print)
    : dictionary_(print.dictionary),
      cell_(print.cell_squares()),
      drawn_(blurs_in_cells.size() * blurs_in_cells.size()) {
    const int cells = dictionary_.size + 2;
    const double margin = print.margin_squares();
    edges_ = {-1, 0};
    at_.push_back(margin / 2);
    for (int n = 0; n <= cells; ++n) {
        edges_.push_back(margin + n * cell_);
        at_.push_back(margin + (n + 0.5) * cell_);
    }
    at_.back() = 1 - margin / 2;
    edges_.push_back(1);
    edges_.push_back(2);
    const auto side = static_cast<Eigen::Index>(at_.size());
    shares_.resize(side, 3);
    for (Eigen::Index n = 0; n < side; ++n) {
        const double at = at_[static_cast<std::size_t>(n)];
        shares_.row(n) << (1 - at) * (1 - 2 * at), 4 * at * (1 - at), at * (2 * at - 1);
    }
    Cells rims = Cells::Ones(side, side);
    rims.block(1, 1, side - 2, side - 2).setConstant(-1);
    rims.block(2, 2, side - 4, side - 4).setZero();
    rims_ = *normalised(rims, 0);
}

const Eigen::MatrixXf& MarkerReader::templates(const BlurChoice& blur) const {
    Eigen::MatrixXf& drawn = drawn_[blur.along_rows * blurs_in_cells.size() + blur.along_columns];
    if (drawn.size() > 0) {
        return drawn;
    }
    const Cells by_rows = shares(at_, edges_, blurs_in_cells[blur.along_rows] * cell_);
    const Cells by_columns = shares(at_, edges_, blurs_in_cells[blur.along_columns] * cell_);
    const auto side = static_cast<Eigen::Index>(at_.size());
    drawn.resize(side * side, 4 * static_cast<Eigen::Index>(dictionary_.bits.size()));
    Eigen::Index column = 0;
    for (const auto& bits : dictionary_.bits) {
        const Cells white = whiteness(bits, dictionary_.size);
        const Cells upright = seen_through(by_columns, white, by_rows);
        const Cells aside = blur.along_rows == blur.along_columns
                                ? upright
                                : seen_through(by_rows, white, by_columns);
        for (int turns = 0; turns < 4; ++turns) {
            drawn.col(column++) = *normalised(turned(turns % 2 ? aside : upright, turns), 0);
        }
    }
    return drawn;
}

std::optional<MarkerReader::Samples> MarkerReader::samples(const Pyramid& photo,
                                                           const SquareToPixel& pixel_of) const {
    Eigen::Matrix3d x_px, y_px;  // of the square's corners, and half way between
    for (int row = 0; row < 3; ++row) {
        for (int column = 0; column < 3; ++column) {
            const auto pixel = pixel_of({column / 2.0, row / 2.0});
            if (!pixel) {
                return std::nullopt;
            }
            x_px(row, column) = pixel->x();
            y_px(row, column) = pixel->y();
        }
    }
    const double across_px = cell_ * std::hypot(x_px(1, 2) - x_px(1, 0), y_px(1, 2) - y_px(1, 0));
    const double down_px = cell_ * std::hypot(x_px(2, 1) - x_px(0, 1), y_px(2, 1) - y_px(0, 1));
    const int level =
        std::clamp(static_cast<int>(std::floor(std::log2(std::min(across_px, down_px) / 2))),
                   photo.largest(), photo.smallest());
    const cv::Mat& image = photo[level];
    const Places all_x_px = shares_ * x_px * shares_.transpose();
    const Places all_y_px = shares_ * y_px * shares_.transpose();
    Cells values(all_x_px.rows(), all_x_px.cols());
    for (Eigen::Index n = 0; n < values.size(); ++n) {
        const Eigen::Vector2d at = to_level({all_x_px(n), all_y_px(n)}, level);
        if (!lies_inside(image, at, 0)) {
            return std::nullopt;
        }
        values(n) = static_cast<float>(grey_at(image, at));
    }
    const auto flattened = normalised(values, least_spread_greys);
    return flattened ? std::optional(Samples{*flattened, across_px / down_px}) : std::nullopt;
}

MarkerReader::Fit MarkerReader::best_fit(const Eigen::VectorXf& seen,
                                         const BlurChoice& blur) const {
    const Eigen::VectorXf fits = templates(blur).transpose() * seen;
    Eigen::Index closest = 0;
    const float best = fits.maxCoeff(&closest);
    float second = 0;
    for (Eigen::Index n = 0; n < fits.size(); ++n) {
        second = n == closest ? second : std::max(second, fits(n));
    }
    const float unexplained = 1 - best * best;
    const bool sure = best >= least_fit && 1 - second * second >= least_margin * unexplained;
    return {{static_cast<int>(closest / 4), static_cast<int>(closest % 4), sure}, unexplained};
}

std::optional<MarkerReading> MarkerReader::read(const Pyramid& photo,
                                                const SquareToPixel& pixel_of) const {
    const auto seen = samples(photo, pixel_of);
    if (!seen || seen->values.dot(rims_) < least_rims) {
        return std::nullopt;
    }
    // A round blur first: then it is the more cells the shorter they look. Where it fits well, and
    // so does another marker, no other blur would tell.
    Fit best;
    for (const bool round : {true, false}) {
        for (std::size_t along_rows = 0; along_rows < blurs_in_cells.size(); ++along_rows) {
            for (std::size_t along_columns = 0; along_columns < blurs_in_cells.size();
                 ++along_columns) {
                const double squeeze =
                    seen->squeeze * blurs_in_cells[along_rows] / blurs_in_cells[along_columns];
                if ((std::abs(std::log(squeeze)) < as_good_as_round) != round) {
                    continue;
                }
                const Fit fit = best_fit(seen->values, {along_rows, along_columns});
                if (fit.reading.sure && fit.unexplained < plain) {
                    return fit.reading;
                }
                if (fit.unexplained < best.unexplained) {
                    best = fit;
                }
            }
        }
        if (best.reading.sure || best.unexplained < 1 - least_fit * least_fit) {
            break;
        }
    }
    return best.reading;
}

}  // namespace squaresight

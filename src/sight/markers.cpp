#include "sight/markers.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace squaresight {
namespace {

constexpr std::array<double, 3> blurs_in_cells{0.15, 0.45, 0.8};
constexpr float least_fit = 0.85F;          // correlation with the best marker
constexpr float least_margin = 2.0F;        // unexplained variance: second best over best
constexpr float least_spread_greys = 3.0F;  // standard deviation of the samples

double below(double x, double sigma) { return 0.5 * std::erfc(-x / (sigma * std::sqrt(2.0))); }

/// What a blurred row of cells shows at each place: share of each cell (columns).
Eigen::MatrixXd shares(const std::vector<double>& at, const std::vector<double>& edges,
                       double sigma) {
    Eigen::MatrixXd m(at.size(), edges.size() - 1);
    for (Eigen::Index row = 0; row < m.rows(); ++row) {
        for (Eigen::Index c = 0; c < m.cols(); ++c) {
            const double x = at[static_cast<std::size_t>(row)];
            m(row, c) = below(edges[static_cast<std::size_t>(c) + 1] - x, sigma) -
                        below(edges[static_cast<std::size_t>(c)] - x, sigma);
        }
    }
    return m;
}

/// Cell of a marker that lies at (column, row) of the sampled square when the marker is turned.
std::pair<int, int> turned(int column, int row, int quarter_turns, int cells) {
    for (int n = 0; n < quarter_turns; ++n) {
        const int before = column;
        column = row;
        row = cells - 1 - before;
    }
    return {column, row};
}

/// 1 = white for a square with its marker, its white margin and the black squares around it.
Eigen::MatrixXd whiteness(const std::vector<unsigned char>& bits, int size, int quarter_turns) {
    const int cells = size + 6;  // border, margin and neighbour on each side
    Eigen::MatrixXd m = Eigen::MatrixXd::Zero(cells, cells);
    m.block(1, 1, cells - 2, cells - 2).setOnes();
    m.block(2, 2, cells - 4, cells - 4).setZero();
    for (const int row : {0, cells - 1}) {
        m(row, 0) = m(row, cells - 1) = 1;  // the white squares across the corners
    }
    for (int row = 0; row < size; ++row) {
        for (int column = 0; column < size; ++column) {
            const auto [c, r] = turned(column, row, quarter_turns, size);
            const int bit = r * size + c;
            m(row + 3, column + 3) = bits[static_cast<std::size_t>(bit)];
        }
    }
    return m;
}

/// Flattened to mean zero and norm one; nothing without contrast.
std::optional<Eigen::VectorXf> normalised(const Eigen::MatrixXd& values, float least_spread) {
    Eigen::VectorXf v = values.reshaped().cast<float>();
    v.array() -= v.mean();
    const float norm = v.norm();
    if (!(norm > least_spread * std::sqrt(static_cast<float>(v.size())))) {
        return std::nullopt;
    }
    return Eigen::VectorXf(v / norm);
}

}  // namespace

MarkerReader::MarkerReader(const PrintedPattern& print) {
    const Dictionary& dictionary = print.dictionary;
    cells_ = dictionary.size + 2;
    cell_ = print.cell_squares();
    const double margin = print.margin_squares();
    std::vector<double> edges{-1, 0};
    at_.push_back(margin / 2);
    for (int n = 0; n <= cells_; ++n) {
        edges.push_back(margin + n * cell_);
        at_.push_back(margin + (n + 0.5) * cell_);
    }
    at_.back() = 1 - margin / 2;
    edges.push_back(1);
    edges.push_back(2);
    for (const double blur : blurs_in_cells) {
        const Eigen::MatrixXd share = shares(at_, edges, blur * cell_);
        auto& templates = by_blur_.emplace_back();
        for (int id = 0; id < static_cast<int>(dictionary.bits.size()); ++id) {
            for (int turns = 0; turns < 4; ++turns) {
                const Eigen::MatrixXd white = whiteness(
                    dictionary.bits[static_cast<std::size_t>(id)], dictionary.size, turns);
                const auto values = normalised(share * white * share.transpose(), 0);
                templates.push_back({{id, turns}, *values});
            }
        }
    }
}

std::optional<Eigen::VectorXf> MarkerReader::samples(const Pyramid& photo,
                                                     const SquareToPixel& pixel_of) const {
    const auto middle = pixel_of({0.5, 0.5});
    const auto beside = pixel_of({0.5 + cell_, 0.5});
    const auto under = pixel_of({0.5, 0.5 + cell_});
    if (!middle || !beside || !under) {
        return std::nullopt;
    }
    const double cell_px = std::min((*beside - *middle).norm(), (*under - *middle).norm());
    const int level = std::clamp(static_cast<int>(std::floor(std::log2(cell_px / 2))), 0,
                                 static_cast<int>(photo.size()) - 1);
    const cv::Mat& image = photo[static_cast<std::size_t>(level)];
    const auto side = static_cast<Eigen::Index>(at_.size());
    Eigen::MatrixXd values(side, side);
    for (Eigen::Index row = 0; row < side; ++row) {
        for (Eigen::Index column = 0; column < side; ++column) {
            const auto pixel = pixel_of(
                {at_[static_cast<std::size_t>(column)], at_[static_cast<std::size_t>(row)]});
            if (!pixel || !lies_inside(image, to_level(*pixel, level), 0)) {
                return std::nullopt;
            }
            values(row, column) = grey_at(image, to_level(*pixel, level));
        }
    }
    return normalised(values, least_spread_greys);
}

std::optional<Reading> MarkerReader::best_fit(const Eigen::VectorXf& seen,
                                              const std::vector<Template>& templates,
                                              float& unexplained) const {
    float best = 0;
    float second = 0;
    Reading reading;
    for (const auto& marker : templates) {
        const float fit = marker.values.dot(seen);
        if (fit > best) {
            second = best;
            best = fit;
            reading = marker.reading;
        } else if (fit > second) {
            second = fit;
        }
    }
    unexplained = 1 - best * best;
    const bool sure = best >= least_fit && 1 - second * second >= least_margin * unexplained;
    return sure ? std::optional(reading) : std::nullopt;
}

std::optional<Reading> MarkerReader::read(const Pyramid& photo,
                                          const SquareToPixel& pixel_of) const {
    const auto seen = samples(photo, pixel_of);
    if (!seen) {
        return std::nullopt;
    }
    float least_unexplained = 1;
    std::optional<Reading> answer;
    for (const auto& templates : by_blur_) {
        float unexplained = 1;
        const auto reading = best_fit(*seen, templates, unexplained);
        if (unexplained < least_unexplained) {
            least_unexplained = unexplained;
            answer = reading;
        }
    }
    return answer;
}

}  // namespace squaresight

#pragma once
#include <Eigen/Core>
#include <array>
#include <optional>
#include <vector>

#include "sight/batch.h"
#include "sight/board_view.h"
#include "sight/printed_pattern.h"

namespace squaresight {

/// Board places near a corner as quadratics of pixel offsets: squares right and down of it.
struct LocalMap {
    Eigen::Matrix<double, 2, 5> coefficients;  ///< of x, y, x^2, xy, y^2

    BatchOfPairs squares(const BatchOfPairs& offsets_px) const;
    Eigen::Matrix2d slopes(const Eigen::Vector2d& offset_px) const;  ///< d squares / d px
};

/// The map within `reach_squares` of a corner; nothing where the lens does not see it.
std::optional<LocalMap> local_map(const BoardView& view, const Eigen::Vector2d& corner_mm,
                                  double square_mm, double reach_squares);

/// A Gaussian blur as the two edges through a corner feel it: its standard deviations square to the
/// edge that runs down and to the one that runs right, and the correlation between the two. A phone
/// that moves blurs along one direction.
struct Blur {
    Eigen::Vector2d px{1, 1};
    double correlation = 0;
};

/// The same, ready for many pixels.
class FeltBlur {
  public:
    explicit FeltBlur(const Blur& blur);

    /// A place of the integral over the correlation from none to the blur's own.
    struct Node {
        float correlation = 0;
        float weight = 0;
    };
    const Eigen::Array2f& px() const { return px_; }
    float correlation() const { return correlation_; }
    const std::array<Node, 3>& nodes() const { return nodes_; }

  private:
    Eigen::Array2f px_;
    float correlation_;
    std::array<Node, 3> nodes_;
};

/// Whiteness 0..1 of points, its derivatives by the pixel offset from the corner, by the
/// logarithms of the blur and by its correlation, and the points' distances from the two edges.
struct Whiteness {
    Batch value;
    BatchOfPairs by_offset;
    BatchOfPairs by_log_blur;
    Batch by_correlation;
    BatchOfPairs from_edges_px;
};

/// What the print shows about one inner corner through a Gaussian blur: four squares and the two
/// markers, if any, in the white ones.
class CornerModel {
  public:
    CornerModel(const LocalMap& map, const PrintedPattern& print, int index);

    /// Pixels across one square, measured square to the edge that runs down and to the one that
    /// runs right through the corner.
    const Eigen::Vector2d& px_per_square() const { return px_per_square_; }

    /// How far from these two edges the markers in the squares beside them begin.
    Eigen::Vector2d margin_px() const { return margin_ * px_per_square_; }

    /// Distances in px from these two edges, positive right and down.
    BatchOfPairs distances_px(const BatchOfPairs& offsets_px) const {
        return map_.squares(offsets_px).rowwise() *
               px_per_square_.cast<float>().transpose().array();
    }

    /// These distances by the offset alone, as far as they are straight, and by how much (px) they
    /// can be off that within a radius.
    Eigen::Matrix2d flat_distances() const {
        return px_per_square_.asDiagonal() * map_.coefficients.leftCols<2>();
    }
    Eigen::Vector2d most_curved_px(double radius_px) const {
        return radius_px * radius_px *
               map_.coefficients.rightCols<3>().cwiseAbs().rowwise().sum().cwiseProduct(
                   px_per_square_);
    }

    /// The blur that is the same in every direction.
    Blur round_blur(double px) const { return {{px, px}, round_correlation_}; }

    Whiteness white(const BatchOfPairs& offsets_px, const FeltBlur& blur) const;

  private:
    struct Marker {
        float right = 1;  ///< 1: in the square right of the corner, -1: left
        float down = 1;
        const std::vector<unsigned char>* bits = nullptr;
    };
    struct Across;
    struct Felt;
    struct Cells;

    Felt felt_at(const Across& across, const Across& down, const FeltBlur& blur) const;
    static void take_black_of(const Marker& marker, const Batch& inside_x, const Batch& inside_y,
                              const FeltBlur& blur, Felt& felt);
    void find_cells(const Across& at, double way, Cells& cells) const;
    void add_white_of(const Marker& marker, const Across& across, const Across& down,
                      Felt& felt) const;
    bool is_white_cell(const Marker& marker, int column, int row) const;

    LocalMap map_;
    float sign_ = 1;  ///< 1: the square right of and below the corner is white
    Eigen::Vector2d px_per_square_{0, 0};
    Eigen::Vector2d change_per_px_{0, 0};  ///< of the squares in a pixel, square to each edge
    double round_correlation_ = 0;         ///< cosine between the normals of the two edges
    double margin_ = 0;                    ///< of a marker in its square, in squares
    double cell_ = 0;                      ///< of a marker, in squares
    int bits_ = 0;                         ///< of a marker, a side
    std::vector<Marker> markers_;
};

}  // namespace squaresight

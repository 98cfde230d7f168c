#pragma once
#include <Eigen/Core>
#include <array>
#include <optional>
#include <vector>

#include "sight/board_view.h"
#include "sight/printed_pattern.h"

namespace squaresight {

/// Board places near a corner as quadratics of pixel offsets: squares right and down of it.
struct LocalMap {
    Eigen::Matrix<double, 2, 5> coefficients;  ///< of x, y, x^2, xy, y^2

    Eigen::Vector2d squares(const Eigen::Vector2d& offset_px) const;
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

/// Whiteness 0..1 of a point, its derivatives by the pixel offset from the corner, by the
/// logarithms of the blur and by its correlation, and its distances from the two edges.
struct Whiteness {
    double value = 0;
    Eigen::Vector2d by_offset{0, 0};
    Eigen::Vector2d by_log_blur{0, 0};
    double by_correlation = 0;
    Eigen::Vector2d from_edges_px{0, 0};
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
    Eigen::Vector2d distances_px(const Eigen::Vector2d& offset_px) const {
        return map_.squares(offset_px).cwiseProduct(px_per_square_);
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

    Whiteness white(const Eigen::Vector2d& offset_px, const Blur& blur) const;

  private:
    /// A value and its derivatives by the distances from the two edges, all in units of the blur,
    /// by the logarithms of the blur and by its correlation.
    struct Slope {
        double value = 0;
        double by_h = 0;
        double by_k = 0;
        Eigen::Vector2d by_log_blur{0, 0};
        double by_correlation = 0;
    };
    struct Marker {
        double right = 1;  ///< 1: in the square right of the corner, -1: left
        double down = 1;
        const std::vector<unsigned char>* bits = nullptr;
    };
    /// A point as seen from the lines of the print that run one way.
    struct Across {
        double squares = 0;  ///< of the point, from the edge through the corner
        double px_per_square = 0;
        double bend_per_px = 0;  ///< half the share by which that changes in a pixel
        double blurs_per_px = 1;

        /// How far the photo shows it from such a line, in units of the blur: straight lines stay
        /// straight and blur alike on both sides, though what is farther away looks smaller.
        double from(double line_squares) const {
            const double flat_px = (squares - line_squares) * px_per_square;
            const double bend = bend_per_px * flat_px;
            return flat_px * (1 + bend * (1 + bend)) * blurs_per_px;
        }
    };
    struct Steps;

    static Slope squares(double h, double k, double correlation);
    void take_black_of(const Marker& marker, const Across& h, const Across& k, double correlation,
                       Slope& s) const;
    void add_white_of(const Marker& marker, const Across& h, const Across& k, Slope& s) const;
    Steps steps(const Across& at, double first) const;

    LocalMap map_;
    double sign_ = 1;  ///< 1: the square right of and below the corner is white
    Eigen::Vector2d px_per_square_{0, 0};
    Eigen::Vector2d change_per_px_{0, 0};  ///< of the squares in a pixel, square to each edge
    double round_correlation_ = 0;         ///< cosine between the normals of the two edges
    double margin_ = 0;                    ///< of a marker in its square, in squares
    double cell_ = 0;                      ///< of a marker, in squares
    int bits_ = 0;                         ///< of a marker, a side
    std::vector<Marker> markers_;
};

}  // namespace squaresight

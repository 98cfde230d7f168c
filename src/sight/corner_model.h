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

/// Whiteness 0..1 of a point, and its derivatives by the pixel offset from the corner and by the
/// logarithm of the blur.
struct Whiteness {
    double value = 0;
    Eigen::Vector2d by_offset{0, 0};
    double by_log_blur = 0;
};

/// What the print shows about one inner corner through a Gaussian blur: four squares and the two
/// markers, if any, in the white ones.
class CornerModel {
  public:
    CornerModel(const LocalMap& map, const PrintedPattern& print, int index);

    /// Pixels across one square, measured square to the edge that runs down and to the one that
    /// runs right through the corner.
    const Eigen::Vector2d& px_per_square() const { return px_per_square_; }

    /// Distances in px from these two edges, positive right and down.
    Eigen::Vector2d distances_px(const Eigen::Vector2d& offset_px) const {
        return map_.squares(offset_px).cwiseProduct(px_per_square_);
    }

    Whiteness white(const Eigen::Vector2d& offset_px, double blur_px) const;

  private:
    /// A value and its derivatives by the distances from the two edges, all in units of the blur,
    /// and by the logarithm of the blur.
    struct Slope {
        double value = 0;
        double by_h = 0;
        double by_k = 0;
        double by_log_blur = 0;
    };
    struct Marker {
        double right = 1;  ///< 1: in the square right of the corner, -1: left
        double down = 1;
        const std::vector<unsigned char>* bits = nullptr;
    };
    struct Steps;

    Slope squares(double h, double k) const;
    void take_black_of(const Marker& marker, double h, double k, double blur_px, Slope& s) const;
    void add_white_of(const Marker& marker, double h, double k, double blur_px, Slope& s) const;
    Steps steps(double at, double first, double cell) const;

    LocalMap map_;
    double sign_ = 1;  ///< 1: the square right of and below the corner is white
    Eigen::Vector2d px_per_square_{0, 0};
    double correlation_ = 0;  ///< cosine between the normals of the two edges
    double margin_ = 0;       ///< of a marker in its square, in squares
    double cell_ = 0;         ///< of a marker, in squares
    int bits_ = 0;            ///< of a marker, a side
    std::vector<Marker> markers_;
};

}  // namespace squaresight

#pragma once
#include <Eigen/Core>
#include <optional>
#include <vector>

#include "camera/camera.h"

namespace squaresight {

/// A point of the board and where the photo shows it.
struct BoardPoint {
    Eigen::Vector2d on_board{0, 0};
    Eigen::Vector2d pixel{0, 0};
};

/// A flat board as a photo shows it: a plane seen through a lens.
struct BoardView {
    Lens lens;
    Eigen::Matrix3d ray_from_board = Eigen::Matrix3d::Identity();  ///< homography, z > 0 ahead

    /// Nothing for a point that the lens cannot see.
    std::optional<Eigen::Vector2d> pixel(const Eigen::Vector2d& on_board) const;

    /// Pixels for one unit right and one unit down on the board, as columns.
    std::optional<Eigen::Matrix2d> pixels_per_unit(const Eigen::Vector2d& on_board) const;

    /// The length of the shorter one; 0 where the lens does not see the place.
    double least_pixels_per_unit(const Eigen::Vector2d& on_board) const;
};

/// What is usual of the points that a view is fitted to.
struct UsualMisfit {
    double px = 1;       ///< a point is not set aside for less, nor a pose for less by most points
    double bend_px = 1;  ///< a lens is not bent for less
};

/// Least squares, with points that lie off by more than three times what most do set aside; the
/// flags say which were kept. Nothing with fewer than four or from points on one line. Few points
/// are seen by a pose, as far as that suits them; many, or through a lens that is only a guess, by
/// a homography. Where most points lie off and another distortion (k1 k2 p1 p2 about another
/// middle) puts that right, the view's lens has that one: a guessed lens is bent to what the board
/// shows.
std::optional<BoardView> fit_board_robustly(const Lens& lens, const std::vector<BoardPoint>& points,
                                            const UsualMisfit& usual, std::vector<bool>& kept);

}  // namespace squaresight

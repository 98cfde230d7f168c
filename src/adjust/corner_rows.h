#pragma once
#include <Eigen/Core>
#include <Eigen/QR>
#include <array>
#include <optional>
#include <vector>

#include "adjust/pose_chain.h"
#include "camera/camera.h"
#include "sight/sight.h"

/// What the corners of one photo say, as whitened rows with their derivatives. Internal.
namespace squaresight {

/// Scale across and down; bow across and down, twist, S-bend across and down (mm at the sheet's
/// edge); skew (right for each mm down).
inline constexpr int sheet_input_count = 8;
using SheetInputs = std::array<double, sheet_input_count>;

/// Columns of the rows: small turns (rad, about the camera's axes) and displacement (mm) of the
/// board in the camera, terms of the lens, inputs of the sheet, and the residual.
inline constexpr int lens_column = 6;
inline constexpr int sheet_column = lens_column + Lens::term_count;
inline constexpr int residual_column = sheet_column + sheet_input_count;
inline constexpr int corner_columns = residual_column + 1;
using CornerRows = Eigen::Matrix<double, Eigen::Dynamic, corner_columns>;

/// The corners of one photo of a board.
class ViewedBoard {
  public:
    /// `nominal_mm` are the board's corners by index, right and down of the middle of a sheet of
    /// this half size; `noise_factor` multiplies the seen corners' stated standard deviations. With
    /// `robust` each corner's residual is shrunk so that its square is the pseudo-Huber loss.
    ViewedBoard(const std::vector<Eigen::Vector2d>& nominal_mm,
                const Eigen::Vector2d& sheet_half_mm, const std::vector<Corner>& corners,
                double noise_factor, bool robust);

    /// Two rows a corner, predicted minus seen, in standard deviations; nothing where a corner
    /// would lie behind the camera.
    std::optional<CornerRows> rows(const Lens& lens, const Pose<double>& camera_from_target,
                                   const SheetInputs& sheet) const;
    std::optional<double> sum_of_squares(const Lens& lens, const Pose<double>& camera_from_target,
                                         const SheetInputs& sheet) const;
    /// In pixels, predicted minus seen.
    std::optional<std::vector<Eigen::Vector2d>> misfits_px(const Lens& lens,
                                                           const Pose<double>& camera_from_target,
                                                           const SheetInputs& sheet) const;
    std::size_t count() const { return pixels_.size(); }

  private:
    std::vector<Eigen::Vector2d> nominal_mm_;
    std::vector<Eigen::Vector2d> pixels_;
    std::vector<Eigen::Matrix2d> whitening_;
    Eigen::Vector2d half_mm_;
    bool robust_;
};

/// The same sum of squares, gradient and normal matrix in as many rows as there are columns: the
/// triangle of a QR decomposition. The last row holds what no column can change.
template <class Rows>
Rows condensed(const Rows& rows) {
    constexpr int columns = Rows::ColsAtCompileTime;
    if (rows.rows() <= columns) {
        return rows;
    }
    const Eigen::HouseholderQR<Rows> qr(rows);
    return qr.matrixQR().template topRows<columns>().template triangularView<Eigen::Upper>();
}

}  // namespace squaresight

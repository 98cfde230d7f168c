#include "adjust/corner_rows.h"

#include <Eigen/Cholesky>
#include <Eigen/LU>

namespace squaresight {
namespace {

/// A nominal point of the sheet (mm right and down of the centre) as it really lies in T, and its
/// derivatives by the inputs of the sheet.
struct SheetPoint {
    Eigen::Vector3d in_target;
    Eigen::Matrix<double, 3, sheet_input_count> by_sheet;
};

/// A cubic that leaves the mean plane alone: 1 at one edge, -1 at the other.
double s_bend(double from_middle) { return from_middle * (5 * from_middle * from_middle - 3) / 2; }

SheetPoint sheet_point(const Eigen::Vector2d& nominal_mm, const Eigen::Vector2d& half_mm,
                       const SheetInputs& sheet) {
    const double a = nominal_mm.x() / half_mm.x();
    const double b = nominal_mm.y() / half_mm.y();
    const Eigen::Matrix<double, 1, 5> shapes(a * a - 1.0 / 3, b * b - 1.0 / 3, a * b, s_bend(a),
                                             s_bend(b));
    const Eigen::Map<const Eigen::Matrix<double, 5, 1>> depths(sheet.data() + 2);
    SheetPoint point;
    point.in_target = {nominal_mm.x() * sheet[0] + nominal_mm.y() * sheet[7],
                       nominal_mm.y() * sheet[1], shapes * depths};
    point.by_sheet.setZero();
    point.by_sheet(0, 0) = nominal_mm.x();
    point.by_sheet(0, 7) = nominal_mm.y();
    point.by_sheet(1, 1) = nominal_mm.y();
    point.by_sheet.block<1, 5>(2, 2) = shapes;
    return point;
}

/// Pseudo-Huber: the shrunk residual f r with |f r|^2 = rho(|r|^2), and d(f r)/dr.
constexpr double robust_width = 2.5;

Eigen::Matrix2d shrink(Eigen::Ref<Eigen::Vector2d> residual) {
    const double s = residual.squaredNorm();
    const double width2 = robust_width * robust_width;
    if (s < 1e-12 * width2) {
        return Eigen::Matrix2d::Identity();
    }
    const double root = std::sqrt(1 + s / width2);
    const double rho = 2 * width2 * (root - 1);
    const double f = std::sqrt(rho / s);
    const double f_by_s = (s / root - rho) / (2 * f * s * s);
    Eigen::Matrix2d by_residual =
        f * Eigen::Matrix2d::Identity() + 2 * f_by_s * residual * residual.transpose();
    residual *= f;
    return by_residual;
}

Eigen::Matrix2d whitening_of(const Eigen::Matrix2d& covariance_px2) {
    const Eigen::Matrix2d lower = covariance_px2.llt().matrixL();
    return lower.inverse();
}

}  // namespace

ViewedBoard::ViewedBoard(const std::vector<Eigen::Vector2d>& nominal_mm,
                         const Eigen::Vector2d& sheet_half_mm, const std::vector<Corner>& corners,
                         double noise_factor, bool robust)
    : half_mm_(sheet_half_mm), robust_(robust) {
    for (const auto& corner : corners) {
        nominal_mm_.push_back(nominal_mm[static_cast<std::size_t>(corner.index)]);
        pixels_.push_back(corner.pixel);
        whitening_.push_back(whitening_of(corner.covariance_px2) / noise_factor);
    }
}

std::optional<CornerRows> ViewedBoard::rows(const Lens& lens,
                                            const Pose<double>& camera_from_target,
                                            const SheetInputs& sheet) const {
    CornerRows rows(2 * count(), corner_columns);
    for (std::size_t c = 0; c < count(); ++c) {
        const SheetPoint point = sheet_point(nominal_mm_[c], half_mm_, sheet);
        const Eigen::Vector3d arm = camera_from_target.rotation * point.in_target;
        Eigen::Matrix<double, 2, 3> by_point;
        LensJacobian by_lens;
        const auto pixel =
            project(lens, arm + camera_from_target.translation_mm, &by_point, &by_lens);
        if (!pixel) {
            return std::nullopt;
        }
        Eigen::Vector2d residual = whitening_[c] * (*pixel - pixels_[c]);
        Eigen::Matrix2d scale = whitening_[c];
        if (robust_) {
            scale = shrink(residual) * scale;
        }
        auto two = rows.middleRows<2>(2 * static_cast<Eigen::Index>(c));
        two << -by_point * cross_matrix(arm), by_point, by_lens,
            by_point * camera_from_target.rotation * point.by_sheet, Eigen::Vector2d::Zero();
        two = (scale * two).eval();
        two.col(residual_column) = residual;
    }
    return rows;
}

std::optional<double> ViewedBoard::sum_of_squares(const Lens& lens,
                                                  const Pose<double>& camera_from_target,
                                                  const SheetInputs& sheet) const {
    const auto misfits = misfits_px(lens, camera_from_target, sheet);
    if (!misfits) {
        return std::nullopt;
    }
    double sum = 0;
    for (std::size_t c = 0; c < count(); ++c) {
        Eigen::Vector2d residual = whitening_[c] * (*misfits)[c];
        if (robust_) {
            shrink(residual);
        }
        sum += residual.squaredNorm();
    }
    return sum;
}

std::optional<std::vector<Eigen::Vector2d>> ViewedBoard::misfits_px(
    const Lens& lens, const Pose<double>& camera_from_target, const SheetInputs& sheet) const {
    std::vector<Eigen::Vector2d> misfits;
    misfits.reserve(count());
    for (std::size_t c = 0; c < count(); ++c) {
        const SheetPoint point = sheet_point(nominal_mm_[c], half_mm_, sheet);
        const auto pixel = project(lens, camera_from_target.rotation * point.in_target +
                                             camera_from_target.translation_mm);
        if (!pixel) {
            return std::nullopt;
        }
        misfits.emplace_back(*pixel - pixels_[c]);
    }
    return misfits;
}

}  // namespace squaresight

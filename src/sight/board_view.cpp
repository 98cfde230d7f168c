#include "sight/board_view.h"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <Eigen/LU>
#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/calib3d.hpp>

#include "sight/median.h"

namespace squaresight {
namespace {

constexpr std::size_t few = 20;     // points from which a pose is surer than a homography
constexpr double on_a_line = 1e-9;  // of a square's spread, across over along

Eigen::Vector2d mean_of(const std::vector<Eigen::Vector2d>& points) {
    Eigen::Vector2d mean(0, 0);
    for (const auto& point : points) {
        mean += point / static_cast<double>(points.size());
    }
    return mean;
}

/// Moves points to mean zero and a mean square distance of 2.
Eigen::Matrix3d normaliser(const std::vector<Eigen::Vector2d>& points) {
    const Eigen::Vector2d mean = mean_of(points);
    double square = 0;
    for (const auto& p : points) {
        square += (p - mean).squaredNorm() / static_cast<double>(points.size());
    }
    const double scale = square > 0 ? std::sqrt(2 / square) : 1;
    Eigen::Matrix3d m;
    m << scale, 0, -scale * mean.x(), 0, scale, -scale * mean.y(), 0, 0, 1;
    return m;
}

/// Direct linear transform over normalised points.
std::optional<Eigen::Matrix3d> homography(const std::vector<Eigen::Vector2d>& from,
                                          const std::vector<Eigen::Vector2d>& to) {
    const Eigen::Matrix3d from_norm = normaliser(from);
    const Eigen::Matrix3d to_norm = normaliser(to);
    // Of the equations [a 0 -bx a] and [0 a -by a] for the nine entries, row by row.
    std::array<Eigen::Matrix3d, 4> sums;  // of a a^T, times 1, -bx, -by and bx^2 + by^2
    sums.fill(Eigen::Matrix3d::Zero());
    for (std::size_t n = 0; n < from.size(); ++n) {
        const Eigen::Vector3d a = from_norm * from[n].homogeneous();
        const Eigen::Vector3d b = to_norm * to[n].homogeneous();
        const Eigen::Matrix3d square = a * a.transpose();
        sums[0] += square;
        sums[1] -= b.x() * square;
        sums[2] -= b.y() * square;
        sums[3] += b.head<2>().squaredNorm() * square;
    }
    const Eigen::Matrix3d none = Eigen::Matrix3d::Zero();
    Eigen::Matrix<double, 9, 9> normal;
    normal << sums[0], none, sums[1], none, sums[0], sums[2], sums[1], sums[2], sums[3];
    const Eigen::SelfAdjointEigenSolver<Eigen::Matrix<double, 9, 9>> solver(normal);
    if (!(solver.eigenvalues()(1) > 1e-9 * solver.eigenvalues()(8))) {
        return std::nullopt;
    }
    const Eigen::Matrix<double, 9, 1> h = solver.eigenvectors().col(0);
    Eigen::Matrix3d m;
    m << h(0), h(1), h(2), h(3), h(4), h(5), h(6), h(7), h(8);
    return Eigen::Matrix3d(to_norm.inverse() * m * from_norm);
}

/// From places on the board to rays, as a pose: surer than a homography where points are few or
/// nearly all on one line.
std::optional<Eigen::Matrix3d> pose(const std::vector<Eigen::Vector2d>& on_board,
                                    const std::vector<Eigen::Vector2d>& rays) {
    std::vector<cv::Point3d> from;
    std::vector<cv::Point2d> to;
    for (std::size_t n = 0; n < rays.size(); ++n) {
        from.emplace_back(on_board[n].x(), on_board[n].y(), 0);
        to.emplace_back(rays[n].x(), rays[n].y());
    }
    const cv::Matx33d no_lens = cv::Matx33d::eye();
    cv::Vec3d turn;
    cv::Vec3d shift;
    try {
        cv::solvePnP(from, to, no_lens, cv::noArray(), turn, shift, false, cv::SOLVEPNP_SQPNP);
        cv::solvePnPRefineLM(from, to, no_lens, cv::noArray(), turn, shift);
    } catch (const cv::Exception&) {  // points too close together
        return std::nullopt;
    }
    cv::Matx33d turned;
    cv::Rodrigues(turn, turned);
    Eigen::Matrix3d ray_from_board;
    for (int row = 0; row < 3; ++row) {
        ray_from_board.row(row) << turned(row, 0), turned(row, 1), shift(row);
    }
    return ray_from_board;
}

/// Whether points lie so nearly on one line that what is beside it is not known.
bool lie_on_a_line(const std::vector<Eigen::Vector2d>& points) {
    const Eigen::Vector2d mean = mean_of(points);
    Eigen::Matrix2d scatter = Eigen::Matrix2d::Zero();
    for (const auto& point : points) {
        scatter += (point - mean) * (point - mean).transpose();
    }
    return !(scatter.determinant() > on_a_line * scatter.trace() * scatter.trace());
}

double misfit_px(const BoardView& view, const BoardPoint& point) {
    const auto pixel = view.pixel(point.on_board);
    return pixel ? (*pixel - point.pixel).norm() : HUGE_VAL;
}

std::vector<double> misfits_px(const BoardView& view, const std::vector<BoardPoint>& points) {
    std::vector<double> misfits;
    misfits.reserve(points.size());
    for (const auto& point : points) {
        misfits.push_back(misfit_px(view, point));
    }
    return misfits;
}

constexpr std::size_t fewest_to_bend = 24;  // points that show what a lens does
constexpr double better = 0.7;              // misfit with a bent lens over that without
constexpr int bend_unknowns = 14;           // a homography's eight, k1 k2 p1 p2, cx cy
constexpr double centre_px = 30;            // by which the middle of a guessed lens may be off
using Bend = Eigen::Matrix<double, bend_unknowns, 1>;

/// Gauss-Newton step of view and distortion, with points far off the usual misfit held lightly.
std::optional<Bend> bend_step(const BoardView& view, const Lens& guess,
                              const std::vector<BoardPoint>& points, double usual_px) {
    Eigen::Matrix<double, bend_unknowns, bend_unknowns> normal;
    normal.setZero();
    Bend right = Bend::Zero();
    for (const auto& point : points) {
        const Eigen::Vector3d ray = view.ray_from_board * point.on_board.homogeneous();
        Eigen::Matrix<double, 2, 3> by_ray;
        LensJacobian by_lens;
        const auto pixel = project(view.lens, ray, &by_ray, &by_lens);
        if (!pixel) {
            continue;
        }
        Eigen::Matrix<double, 2, bend_unknowns> slopes;
        slopes << by_ray.col(0) * ray.transpose(), by_ray.col(1) * ray.transpose(),
            by_ray.col(2) * ray.head<2>().transpose(), by_lens.middleCols<4>(4),
            by_lens.middleCols<2>(2);
        const Eigen::Vector2d misfit = point.pixel - *pixel;
        const double weight = 1 / (1 + misfit.squaredNorm() / (9 * usual_px * usual_px));
        normal += (weight * slopes.transpose()).lazyProduct(slopes);
        right += weight * slopes.transpose() * misfit;
    }
    const double hold = usual_px * usual_px / (centre_px * centre_px);
    normal(12, 12) += hold;
    normal(13, 13) += hold;
    right(12) += hold * (guess.cx - view.lens.cx);
    right(13) += hold * (guess.cy - view.lens.cy);
    const Bend step = normal.ldlt().solve(right);
    return step.allFinite() ? std::optional(step) : std::nullopt;
}

BoardView moved(const BoardView& view, const Bend& step) {
    Eigen::Matrix3d change = Eigen::Matrix3d::Identity();
    change.row(0) += step.segment<3>(0).transpose();
    change.row(1) += step.segment<3>(3).transpose();
    change.row(2).head<2>() += step.segment<2>(6).transpose();
    BoardView next = view;
    next.ray_from_board = change * view.ray_from_board;
    next.ray_from_board /= next.ray_from_board.norm();
    next.lens.k1 += step(8);
    next.lens.k2 += step(9);
    next.lens.p1 += step(10);
    next.lens.p2 += step(11);
    next.lens.cx += step(12);
    next.lens.cy += step(13);
    return next;
}

/// The view through the same lens with another distortion, where that suits the points far
/// better; else the view itself.
BoardView with_bent_lens(const BoardView& straight, const std::vector<BoardPoint>& points) {
    const double before_px = median(misfits_px(straight, points));
    BoardView best = straight;
    double best_px = before_px;
    for (int round = 0; round < 12; ++round) {
        const auto step = bend_step(best, straight.lens, points, best_px);
        double shorten = 1;
        bool improved = false;
        while (step && shorten > 0.05 && !improved) {
            const BoardView next = moved(best, shorten * *step);
            const double now_px = median(misfits_px(next, points));
            improved = now_px < best_px;
            if (improved) {
                best = next;
                best_px = now_px;
            }
            shorten /= 2;
        }
        if (!improved) {
            break;
        }
    }
    return best_px < better * before_px ? best : straight;
}

std::optional<BoardView> view_of(const Lens& lens, const std::optional<Eigen::Matrix3d>& matrix,
                                 const Eigen::Vector2d& some_place) {
    if (!matrix || !matrix->allFinite()) {
        return std::nullopt;
    }
    const double ahead = (*matrix * some_place.homogeneous()).z();
    BoardView view{lens, *matrix * (ahead < 0 ? -1.0 : 1.0)};
    view.ray_from_board /= view.ray_from_board.norm();
    return view;
}

/// Least squares over all points.
std::optional<BoardView> fit_board(const Lens& lens, const std::vector<BoardPoint>& points,
                                   const UsualMisfit& usual) {
    std::vector<Eigen::Vector2d> on_board;
    std::vector<Eigen::Vector2d> rays;
    for (const auto& point : points) {
        if (const auto ray = ray_of_pixel(lens, point.pixel)) {
            on_board.push_back(point.on_board);
            rays.push_back(*ray);
        }
    }
    if (rays.size() < 4 || lie_on_a_line(on_board)) {
        return std::nullopt;
    }
    if (rays.size() <= few) {
        auto view = view_of(lens, pose(on_board, rays), on_board.front());
        if (view && median(misfits_px(*view, points)) <= usual.px) {
            return view;
        }
    }
    return view_of(lens, homography(on_board, rays), on_board.front());
}

}  // namespace

std::optional<Eigen::Vector2d> BoardView::pixel(const Eigen::Vector2d& on_board) const {
    return project(lens, ray_from_board * on_board.homogeneous());
}

std::optional<Eigen::Matrix2d> BoardView::pixels_per_unit(const Eigen::Vector2d& on_board) const {
    const Eigen::Vector3d point = ray_from_board * on_board.homogeneous();
    Eigen::Matrix<double, 2, 3> by_point;
    if (!project(lens, point, &by_point)) {
        return std::nullopt;
    }
    return Eigen::Matrix2d(by_point * ray_from_board.leftCols<2>());
}

double BoardView::least_pixels_per_unit(const Eigen::Vector2d& on_board) const {
    const auto scale = pixels_per_unit(on_board);
    return scale ? scale->colwise().norm().minCoeff() : 0;
}

std::optional<BoardView> fit_board_robustly(const Lens& lens, const std::vector<BoardPoint>& points,
                                            const UsualMisfit& usual, std::vector<bool>& kept) {
    kept.assign(points.size(), true);
    auto view = fit_board(lens, points, usual);
    if (view && points.size() >= fewest_to_bend &&
        median(misfits_px(*view, points)) > usual.bend_px) {
        view = with_bent_lens(*view, points);
    }
    for (int round = 0; view && round < 5; ++round) {
        const std::vector<double> misfits = misfits_px(*view, points);
        const double limit = std::max(3 * median(misfits), usual.px);
        std::vector<BoardPoint> good;
        std::vector<bool> now(points.size());
        for (std::size_t n = 0; n < points.size(); ++n) {
            now[n] = misfits[n] <= limit;
            if (now[n]) {
                good.push_back(points[n]);
            }
        }
        const auto next = now == kept ? std::nullopt : fit_board(view->lens, good, usual);
        if (!next) {
            break;
        }
        kept = now;
        view = next;
    }
    return view;
}

}  // namespace squaresight

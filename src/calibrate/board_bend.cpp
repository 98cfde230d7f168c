#include "calibrate/board_bend.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

namespace squaresight {
namespace {

constexpr int fewest_photos_of_corner = 3;

/// What all photos of a board say of one of its corners.
struct CornerEvidence {
    int photos = 0;
    double weight = 0;   ///< 1/mm2
    double pull = 0;     ///< 1/mm
    double squares = 0;  ///< of the misfits, whitened
};

void add_view(const CalibratedView& found, const Lens& lens, std::vector<CornerEvidence>& evidence,
              const CalibrationBoard& board) {
    const Pose<double>& pose = found.camera_from_board;
    for (std::size_t c = 0; c < found.corners.size() && c < found.misfits_px.size(); ++c) {
        const Corner& corner = found.corners[c];
        const Eigen::Vector2d& mm = board.corners_mm[static_cast<std::size_t>(corner.index)];
        Eigen::Matrix<double, 2, 3> by_point;
        if (!project(lens, pose.rotation * Eigen::Vector3d(mm.x(), mm.y(), 0) + pose.translation_mm,
                     &by_point)) {
            continue;
        }
        const Eigen::Vector2d by_normal = by_point * pose.rotation.col(2);
        const Eigen::LDLT<Eigen::Matrix2d> covariance(corner.covariance_px2 * found.noise_factor *
                                                      found.noise_factor);
        const Eigen::Vector2d seen_minus_predicted = -found.misfits_px[c];
        CornerEvidence& mine = evidence[static_cast<std::size_t>(corner.index)];
        ++mine.photos;
        mine.weight += by_normal.dot(covariance.solve(by_normal));
        mine.pull += by_normal.dot(covariance.solve(seen_minus_predicted));
        mine.squares += seen_minus_predicted.dot(covariance.solve(seen_minus_predicted));
    }
}

}  // namespace

std::vector<BoardBend> board_bends(const CalibrationData& data,
                                   const CalibrationSolution& solution) {
    std::vector<std::vector<CornerEvidence>> evidence;
    for (const auto& board : data.boards) {
        evidence.emplace_back(board.corners_mm.size());
    }
    for (std::size_t v = 0; v < data.views.size(); ++v) {
        const auto board = static_cast<std::size_t>(data.views[v].board);
        add_view(solution.views[v], solution.lens, evidence[board], data.boards[board]);
    }
    std::vector<BoardBend> bends;
    for (const auto& corners : evidence) {
        BoardBend bend;
        double excess_mm2 = 0;
        double squares = 0;
        for (const auto& corner : corners) {
            if (corner.photos < fewest_photos_of_corner || corner.weight <= 0) {
                continue;
            }
            const double off_mm = corner.pull / corner.weight;
            const double chi2 = off_mm * off_mm * corner.weight;
            ++bend.corners;
            bend.chi_square += chi2;
            bend.largest_mm = std::max(bend.largest_mm, std::abs(off_mm));
            excess_mm2 += off_mm * off_mm - 1 / corner.weight;
            squares += corner.squares;
        }
        if (bend.corners > 0) {
            bend.rms_mm = std::sqrt(std::max(0.0, excess_mm2 / bend.corners));
            bend.explained =
                squares > 0 ? std::max(0.0, bend.chi_square - bend.corners) / squares : 0;
        }
        bends.push_back(bend);
    }
    return bends;
}

}  // namespace squaresight

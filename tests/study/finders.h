#pragma once
#include <apriltag/apriltag.h>
#include <apriltag/tag36h11.h>

#include <Eigen/Cholesky>
#include <array>
#include <cmath>
#include <functional>
#include <map>
#include <memory>
#include <opencv2/aruco.hpp>
#include <opencv2/aruco/charuco.hpp>
#include <opencv2/calib3d.hpp>
#include <opencv2/imgproc.hpp>
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

#include "sight/sight.h"
#include "target/target.h"

/// The finders that are set side by side, each as points of the board with their pixels.
namespace squaresight::study {

/// Places on the board (mm right and down of its centre), where a photo shows them, and how sure
/// the finder is of that. One that does not say so is as sure of each: within a pixel.
struct Points {
    std::vector<cv::Point3d> on_board;
    std::vector<cv::Point2d> pixels;
    std::vector<Eigen::Matrix2d> covariance_px2;

    void add(const Eigen::Vector2d& on_board_mm, const cv::Point2d& pixel,
             const Eigen::Matrix2d& covariance = Eigen::Matrix2d::Identity()) {
        on_board.emplace_back(on_board_mm.x(), on_board_mm.y(), 0);
        pixels.push_back(pixel);
        covariance_px2.push_back(covariance);
    }
    void add_of(const Points& others, std::size_t n) {
        on_board.push_back(others.on_board[n]);
        pixels.push_back(others.pixels[n]);
        covariance_px2.push_back(others.covariance_px2[n]);
    }
};

/// Told of what a finder makes of a photo, one of its ways after another, until it says that this
/// will do. So each photo goes to the way that serves it best.
using WillDo = std::function<bool(const Points&)>;

inline Points our_points(const Sight& sight, const Pattern& pattern) {
    Points points;
    for (const auto& corner : sight.corners) {
        points.add(corner_in_target_mm(pattern, corner.index), {corner.pixel.x(), corner.pixel.y()},
                   corner.covariance_px2);
    }
    return points;
}

/// A marker's corners in mm, clockwise from its top left.
inline std::map<int, std::array<Eigen::Vector2d, 4>> marker_corners_mm(const Pattern& p) {
    std::map<int, std::array<Eigen::Vector2d, 4>> corners;
    for (const auto& place : marker_places(p)) {
        const Eigen::Vector2d centre(p.square_mm * (place.column + 0.5 - p.across / 2.0),
                                     p.square_mm * (place.row + 0.5 - p.down / 2.0));
        const double half = p.marker_mm / 2;
        corners[place.id] = {
            centre + Eigen::Vector2d(-half, -half), centre + Eigen::Vector2d(half, -half),
            centre + Eigen::Vector2d(half, half), centre + Eigen::Vector2d(-half, half)};
    }
    return corners;
}

struct CvLens {
    cv::Matx33d matrix;
    cv::Vec<double, 5> distortion;
};

inline CvLens cv_lens(const Lens& l) {
    return {{l.fx, 0, l.cx, 0, l.fy, l.cy, 0, 0, 1}, {l.k1, l.k2, l.p1, l.p2, l.k3}};
}

struct CvPose {
    cv::Vec3d turn, shift;
    double misfit = 0;  ///< root mean square, in standard deviations of the points
};

inline std::vector<cv::Point2d> projected(const std::vector<cv::Point3d>& on_board,
                                          const CvPose& pose, const Lens& lens,
                                          cv::OutputArray by_pose = cv::noArray()) {
    const CvLens as_cv = cv_lens(lens);
    std::vector<cv::Point2d> pixels;
    cv::projectPoints(on_board, pose.turn, pose.shift, as_cv.matrix, as_cv.distortion, pixels,
                      by_pose);
    return pixels;
}

/// Where each point lies off the projection, in its standard deviations.
inline std::vector<Eigen::Vector2d> misfits(const Points& points,
                                            const std::vector<cv::Point2d>& pixels) {
    std::vector<Eigen::Vector2d> off;
    for (std::size_t n = 0; n < pixels.size(); ++n) {
        const cv::Point2d px = points.pixels[n] - pixels[n];
        off.push_back(points.covariance_px2[n].llt().matrixL().solve(Eigen::Vector2d(px.x, px.y)));
    }
    return off;
}

inline double misfit(const Points& points, const CvPose& pose, const Lens& lens) {
    const auto off = misfits(points, projected(points.on_board, pose, lens));
    double squares = 0;
    for (const auto& one : off) {
        squares += one.squaredNorm();
    }
    return std::sqrt(squares / static_cast<double>(off.size()));
}

/// A step of least squares from a pose, held back by `damping`.
inline CvPose stepped(const Points& points, const CvPose& pose, const Lens& lens, double damping) {
    cv::Mat by_pose;
    const auto off = misfits(points, projected(points.on_board, pose, lens, by_pose));
    Eigen::Matrix<double, 6, 6> normal = Eigen::Matrix<double, 6, 6>::Zero();
    Eigen::Matrix<double, 6, 1> right = Eigen::Matrix<double, 6, 1>::Zero();
    for (std::size_t n = 0; n < off.size(); ++n) {
        Eigen::Matrix<double, 2, 6> rows;
        for (int k = 0; k < 12; ++k) {
            rows(k / 6, k % 6) = by_pose.at<double>(2 * static_cast<int>(n) + k / 6, k % 6);
        }
        rows = points.covariance_px2[n].llt().matrixL().solve(rows).eval();
        normal += rows.transpose() * rows;
        right += rows.transpose() * off[n];
    }
    normal.diagonal() *= 1 + damping;
    const Eigen::Matrix<double, 6, 1> step = normal.ldlt().solve(right);
    CvPose next = pose;
    for (int n = 0; n < 3; ++n) {
        next.turn[n] += step(n);
        next.shift[n] += step(3 + n);
    }
    next.misfit = misfit(points, next, lens);
    return next;
}

/// Least squares (Levenberg-Marquardt) from a pose.
inline CvPose refined(const Points& points, CvPose pose, const Lens& lens) {
    double damping = 1e-3;
    for (int round = 0; round < 40; ++round) {
        const CvPose next = stepped(points, pose, lens, damping);
        const bool better = next.misfit < pose.misfit;
        if (better && pose.misfit - next.misfit < 1e-9 * pose.misfit) {
            return next;
        }
        pose = better ? next : pose;
        damping *= better ? 0.1 : 10;
    }
    return pose;
}

/// solvePnP: both poses of a plane, the one from the homography, and one that needs no homography:
/// points may lie nearly on a line.
inline std::vector<CvPose> possible_poses(const Points& points, const Lens& lens) {
    const CvLens as_cv = cv_lens(lens);
    std::vector<CvPose> poses;
    for (const auto method : {cv::SOLVEPNP_IPPE, cv::SOLVEPNP_ITERATIVE, cv::SOLVEPNP_SQPNP}) {
        try {
            std::vector<cv::Mat> turns, shifts;
            cv::solvePnPGeneric(points.on_board, points.pixels, as_cv.matrix, as_cv.distortion,
                                turns, shifts, false, method);
            for (std::size_t n = 0; n < turns.size(); ++n) {
                CvPose pose{turns[n], shifts[n]};
                pose.misfit = misfit(points, pose, lens);
                if (std::isfinite(pose.misfit)) {
                    poses.push_back(pose);
                }
            }
        } catch (const cv::Exception&) {  // degenerate points
        }
    }
    return poses;
}

/// Those that fit nearly alike are refined by least squares; the one of least misfit.
inline std::optional<CvPose> least_misfit_pose(const Points& points, const Lens& lens) {
    if (points.pixels.size() < 4) {
        return std::nullopt;
    }
    std::vector<CvPose> poses = possible_poses(points, lens);
    const auto by_misfit = [](const CvPose& a, const CvPose& b) { return a.misfit < b.misfit; };
    std::sort(poses.begin(), poses.end(), by_misfit);
    std::vector<CvPose> all;
    for (const CvPose& pose : poses) {
        if (pose.misfit <= 2 * poses.front().misfit) {
            all.push_back(refined(points, pose, lens));
        }
    }
    const auto best = std::min_element(all.begin(), all.end(), by_misfit);
    return best == all.end() ? std::nullopt : std::optional(*best);
}

/// The same, once more without the points that lie off by more than three times the median: any
/// user of a finder would do that, so it is done for each.
inline std::optional<CvPose> pose_of(const Points& points, const Lens& lens) {
    const auto first = least_misfit_pose(points, lens);
    if (!first) {
        return first;
    }
    std::vector<double> off;
    for (const auto& one : misfits(points, projected(points.on_board, *first, lens))) {
        off.push_back(one.norm());
    }
    std::vector<double> sorted = off;
    std::nth_element(sorted.begin(), sorted.begin() + static_cast<long>(sorted.size() / 2),
                     sorted.end());
    const double limit = 3 * sorted[sorted.size() / 2];
    Points kept;
    for (std::size_t n = 0; n < off.size(); ++n) {
        if (off[n] <= limit) {
            kept.add_of(points, n);
        }
    }
    const auto second = least_misfit_pose(kept, lens);
    return second ? second : first;
}

/// OpenCV's markers and board corners, its settings as its documentation has them for small and
/// badly seen markers.
class OpenCvFinder {
  public:
    explicit OpenCvFinder(const Pattern& pattern)
        : pattern_(pattern),
          corners_mm_(marker_corners_mm(pattern)),
          dictionary_(cv::aruco::getPredefinedDictionary(predefined(pattern.dictionary))),
          board_(cv::aruco::CharucoBoard::create(
              pattern.across, pattern.down, static_cast<float>(pattern.square_mm),
              static_cast<float>(pattern.marker_mm), dictionary_)) {
        for (const auto& [id, corners] : corners_mm_) {
            std::vector<cv::Point3f> points;
            for (const auto& corner : corners) {
                points.emplace_back(static_cast<float>(corner.x()), static_cast<float>(corner.y()),
                                    0.0F);
            }
            board_points_.push_back(points);
            ids_.push_back(id);
        }
    }

    static cv::Ptr<cv::aruco::DetectorParameters> settings(int refinement) {
        const auto p = cv::aruco::DetectorParameters::create();
        p->cornerRefinementMethod = refinement;
        p->cornerRefinementMaxIterations = 100;
        p->cornerRefinementMinAccuracy = 0.001;
        p->cornerRefinementWinSize = 3;
        p->adaptiveThreshWinSizeMin = 5;
        p->adaptiveThreshWinSizeMax = 45;
        p->adaptiveThreshWinSizeStep = 10;
        p->minMarkerPerimeterRate = 0.01;
        p->polygonalApproxAccuracyRate = 0.05;
        p->minCornerDistanceRate = 0.02;
        p->minDistanceToBorder = 1;
        p->perspectiveRemovePixelPerCell = 10;
        p->perspectiveRemoveIgnoredMarginPerCell = 0.3;
        p->minOtsuStdDev = 2;
        return p;
    }

    bool try_ways(const cv::Mat& grey, const Lens& lens, const WillDo& will_do) const {
        const auto faint = settings(cv::aruco::CORNER_REFINE_SUBPIX);
        faint->adaptiveThreshConstant = 2;
        return try_settings(grey, lens, settings(cv::aruco::CORNER_REFINE_SUBPIX), will_do) ||
               try_settings(grey, lens, faint, will_do) ||
               try_settings(grey, lens, settings(cv::aruco::CORNER_REFINE_APRILTAG), will_do);
    }

  private:
    /// What OpenCV 4.6.0 adds to board corners that it interpolates, and to marker corners that its
    /// AprilTag refinement finds; taken off again, in its favour.
    inline static const cv::Point2f half_a_pixel{0.5F, 0.5F};

    static cv::aruco::PREDEFINED_DICTIONARY_NAME predefined(const std::string& name) {
        if (name == "DICT_4X4_100") {
            return cv::aruco::DICT_4X4_100;
        }
        if (name == "DICT_APRILTAG_36h11") {
            return cv::aruco::DICT_APRILTAG_36h11;
        }
        throw std::invalid_argument("no finder is set up for " + name);
    }

    /// The marker corners themselves, the board corners interpolated between them, and those
    /// predicted from them.
    bool try_settings(const cv::Mat& grey, const Lens& lens,
                      const cv::Ptr<cv::aruco::DetectorParameters>& p,
                      const WillDo& will_do) const {
        std::vector<std::vector<cv::Point2f>> corners, rejected;
        std::vector<int> ids;
        cv::aruco::detectMarkers(grey, dictionary_, corners, ids, p, rejected);
        if (ids.empty()) {
            return false;
        }
        const CvLens as_cv = cv_lens(lens);
        const auto all = cv::aruco::Board::create(board_points_, dictionary_, ids_);
        cv::aruco::refineDetectedMarkers(grey, all, corners, ids, rejected, as_cv.matrix,
                                         as_cv.distortion, 10, 3, true, cv::noArray(), p);
        const bool at_halves = p->cornerRefinementMethod == cv::aruco::CORNER_REFINE_APRILTAG;
        const cv::Point2f back = at_halves ? half_a_pixel : cv::Point2f(0, 0);
        Points markers;
        for (std::size_t n = 0; n < ids.size(); ++n) {
            const auto place = corners_mm_.find(ids[n]);
            for (std::size_t k = 0; k < 4 && place != corners_mm_.end(); ++k) {
                markers.add(place->second[k], corners[n][k] - back);
            }
        }
        return will_do(predicted(grey, lens, markers)) || will_do(markers) ||
               will_do(interpolated(grey, as_cv, corners, ids));
    }

    /// interpolateCornersCharuco. Its board counts rows upward from below, y up.
    Points interpolated(const cv::Mat& grey, const CvLens& lens,
                        const std::vector<std::vector<cv::Point2f>>& corners,
                        const std::vector<int>& ids) const {
        Points points;
        cv::Mat pixels, numbers;
        cv::aruco::interpolateCornersCharuco(corners, ids, grey, board_, pixels, numbers,
                                             lens.matrix, lens.distortion);
        const bool upward = board_->objPoints[0][0].y > pattern_.square_mm * pattern_.down / 2.0;
        for (int n = 0; n < numbers.rows; ++n) {
            const cv::Point3f at =
                board_->chessboardCorners[static_cast<std::size_t>(numbers.at<int>(n))];
            const double down = at.y - pattern_.square_mm * pattern_.down / 2.0;
            points.add({at.x - pattern_.square_mm * pattern_.across / 2.0, upward ? -down : down},
                       pixels.at<cv::Point2f>(n) - half_a_pixel);
        }
        return points;
    }

    /// The board's corners from the markers' pose, then cornerSubPix in the largest window that
    /// holds no marker.
    Points predicted(const cv::Mat& grey, const Lens& lens, const Points& markers) const {
        Points points;
        const auto pose = pose_of(markers, lens);
        if (!pose) {
            return points;
        }
        std::vector<cv::Point3d> on_board;
        for (const auto& at : corners_in_target_mm(pattern_)) {
            on_board.emplace_back(at.x(), at.y(), 0);
        }
        const auto start = projected(on_board, *pose, lens);
        const double square_px = cv::norm(start[1] - start[0]);
        const double gap = (pattern_.square_mm - pattern_.marker_mm) / 2 / pattern_.square_mm;
        const int half = std::max(2, static_cast<int>(gap * square_px));
        std::vector<cv::Point3d> inside;
        std::vector<cv::Point2f> pixels;
        for (std::size_t n = 0; n < start.size(); ++n) {
            const cv::Point2d p = start[n];
            if (p.x > half + 1 && p.y > half + 1 && p.x < grey.cols - half - 2 &&
                p.y < grey.rows - half - 2) {
                inside.push_back(on_board[n]);
                pixels.emplace_back(p);
            }
        }
        if (!pixels.empty()) {
            cv::cornerSubPix(
                grey, pixels, {half, half}, {-1, -1},
                cv::TermCriteria(cv::TermCriteria::COUNT | cv::TermCriteria::EPS, 100, 1e-4));
        }
        for (std::size_t n = 0; n < pixels.size(); ++n) {
            points.add({inside[n].x, inside[n].y}, pixels[n]);
        }
        return points;
    }

    Pattern pattern_;
    std::map<int, std::array<Eigen::Vector2d, 4>> corners_mm_;
    cv::Ptr<cv::aruco::Dictionary> dictionary_;
    cv::Ptr<cv::aruco::CharucoBoard> board_;
    std::vector<std::vector<cv::Point3f>> board_points_;
    std::vector<int> ids_;
};

/// libapriltag 3 on boards of DICT_APRILTAG_36h11. Not for two threads at once.
class AprilTagFinder {
  public:
    explicit AprilTagFinder(const Pattern& pattern)
        : corners_mm_(marker_corners_mm(pattern)),
          family_(tag36h11_create()),
          detector_(apriltag_detector_create()) {
        apriltag_detector_add_family(detector_, family_);
        detector_->nthreads = 1;
        detector_->quad_decimate = 1;
        detector_->refine_edges = true;
    }
    AprilTagFinder(const AprilTagFinder&) = delete;
    AprilTagFinder& operator=(const AprilTagFinder&) = delete;
    ~AprilTagFinder() {
        apriltag_detector_destroy(detector_);
        tag36h11_destroy(family_);
    }

    bool try_ways(const cv::Mat& grey, const WillDo& will_do) {
        return will_do(points(grey, 0)) || will_do(points(grey, 0.8F));
    }

    /// Its pixel centres lie at halves, and its corners run the other way round from the marker's
    /// bottom left as that family draws it: half a turn from OpenCV's drawing.
    Points points(const cv::Mat& grey, float smoothing_px) {
        detector_->quad_sigma = smoothing_px;
        cv::Mat copy = grey.clone();
        image_u8_t image = {copy.cols, copy.rows, static_cast<int>(copy.step), copy.data};
        zarray_t* tags = apriltag_detector_detect(detector_, &image);
        Points points;
        for (int n = 0; n < zarray_size(tags); ++n) {
            apriltag_detection_t* tag = nullptr;
            zarray_get(tags, n, &tag);
            const auto place = corners_mm_.find(tag->id);
            for (std::size_t k = 0; k < 4 && place != corners_mm_.end(); ++k) {
                points.add(place->second[corner_of_tag[k]],
                           {tag->p[k][0] - 0.5, tag->p[k][1] - 0.5});
            }
        }
        apriltag_detections_destroy(tags);
        return points;
    }

    static constexpr std::array<std::size_t, 4> corner_of_tag{1, 0, 3, 2};

  private:
    std::map<int, std::array<Eigen::Vector2d, 4>> corners_mm_;
    apriltag_family_t* family_;
    apriltag_detector_t* detector_;
};

}  // namespace squaresight::study

#pragma once
#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "adjust/corner_rows.h"
#include "camera/camera.h"
#include "sight/sight.h"
#include "target/target.h"

/// A camera from photos of flat boards, as one least-squares adjustment.
namespace squaresight {

/// A flat board as it was printed.
struct CalibrationBoard {
    std::string name;
    std::vector<Eigen::Vector2d> corners_mm;  ///< by index: right and down of its middle, nominal
    Eigen::Vector2d half_mm{1, 1};            ///< half its size
    Eigen::Vector2d printed{1, 1};            ///< scale across and down
    bool print_checked = false;
    double flatness_mm = 2;  ///< limit of the departure from a plane
};
CalibrationBoard calibration_board(const Target& target);

/// A photo of a board in which the board was found.
struct BoardView {
    std::string file;
    int board = 0;  ///< index into CalibrationData::boards
    std::vector<Corner> corners;
    int tape = -1;  ///< index into CalibrationData::tapes; -1 where no tape was read
    /// Which way is down in the sensor-native image as the phone felt it: a unit vector, px.
    std::optional<Eigen::Vector2d> down;
};

/// From the phone's lens to the middle of a board's pattern; one reading for all photos of it.
struct TapedDistance {
    double length_mm = 0;
    double standard_uncertainty_mm = 0;
};

/// What was known of a lens before.
struct KnownLens {
    Lens lens;
    Eigen::Matrix<double, 9, 9> covariance = Eigen::Matrix<double, 9, 9>::Zero();
    FocusBreathing focus;
};

struct CalibrationData {
    int width_px = 0;  ///< of the sensor-native image
    int height_px = 0;
    std::vector<CalibrationBoard> boards;
    std::vector<BoardView> views;
    std::vector<TapedDistance> tapes;
    std::optional<double> lens_mm;   ///< focal length that the photos state
    std::optional<KnownLens> known;  ///< counts as an observation of the lens and its focus
};

/// Which terms are estimated; the others are held at zero, a board's shape at what its file says.
struct CalibrationModel {
    bool tangential = true;
    int radial_terms = 3;        ///< k1, k2, k3
    bool further_terms = false;  ///< k4 k5 k6
    bool skew = false;
    bool focus = true;        ///< each photo has a focal length of its own, as its focus was
    bool sag = true;          ///< principal point moves with the way that the phone is held
    bool board_shape = true;  ///< print scale, bow and twist
    /// Noise is found from each photo and corners that do not fit are dropped; else all corners
    /// count as stated, as in the published calibrations.
    bool weighted = true;
};

/// Where a photo was taken from, and how well it fits.
struct CalibratedView {
    std::vector<Corner> corners;  ///< in use
    Pose<double> camera_from_board{Eigen::Matrix3d::Identity(), Eigen::Vector3d::Zero()};
    double focal_scale = 1;                   ///< its focal length over that of the lens
    double noise_factor = 1;                  ///< on the corners' stated standard deviations
    std::vector<Eigen::Vector2d> misfits_px;  ///< predicted minus seen, one a corner in use
    double rms_px() const;                    ///< per axis
};

using LensCovariance = Eigen::Matrix<double, Lens::term_count, Lens::term_count>;

struct CalibrationSolution {
    bool solved = false;
    Lens lens;                                           ///< at the distance of `focus`
    LensCovariance covariance = LensCovariance::Zero();  ///< of the lens's terms
    FocusBreathing focus;
    std::vector<CalibratedView> views;    ///< as the data's
    std::vector<SheetInputs> sheets;      ///< as the data's boards
    std::vector<double> tape_misfits_mm;  ///< distance found minus taped, as the data's tapes
    std::optional<double> sag_deg;  ///< where photos held in different ways tell it; + as the axis
    double sag_u_deg = 0;           ///< its standard uncertainty
    double rms_px() const;          ///< of all corners in use, per axis
};

/// Standard uncertainty of how a phone repeats its focus, as a share of the focal length (common
/// practice, no source: a twentieth of the way between two sharp distances of a phone's lens).
inline constexpr double focus_repeats_share = 0.0005;
/// Where no taped photos tell the focal length at the working distance.
inline constexpr double focal_share_untaped = 0.01;

/// Solves all photos together. A corner that does not fit its photo is dropped; no photo is. Not
/// solved where a photo has too few corners, or the photos do not determine the lens.
CalibrationSolution solve_calibration(const CalibrationData& data, const CalibrationModel& model);

/// The same, from a solution of the same views (by another model, or among more photos) near the
/// answer: quicker.
CalibrationSolution solve_again(const CalibrationData& data, const CalibrationModel& model,
                                const CalibrationSolution& start);

/// A lens known already, and new photos: solves where they were taken from and each one's focal
/// scale, nothing else.
CalibrationSolution solve_views(const CalibrationData& data, const CalibrationSolution& known,
                                const CalibrationModel& model);

}  // namespace squaresight

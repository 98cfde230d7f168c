#pragma once
#include <optional>
#include <string>
#include <vector>

#include "calibrate/board_photos.h"
#include "calibrate/still.h"
#include "plan/planned_bay.h"

/// A phone calibrated: from photos of boards to a camera file with all that a person should know.
namespace squaresight {

struct PhoneCheckWish {
    std::string name;  ///< of the camera
    /// As 2026-03-05; empty: that of the newest photo, so far as photos tell theirs.
    std::string date;
    std::vector<Target> boards;
    std::vector<BoardPhotoFile> photos;
    std::vector<TapedDistance> tapes;
    std::vector<BoardPhotoFile> still;  ///< photos of a still target, for the pointing jitter
    double lens_sag_deg = usual_lens_sag_deg;
    PlannedBay bay;  ///< what the camera is for; its own camera is not used
};

/// What became of one photo.
struct PhotoUse {
    std::string file;
    std::string left_out;    ///< why, and what to do; empty where it is used
    int board = -1;          ///< index into the boards; -1 where none was found
    int solution_view = -1;  ///< index into the solution's views; -1 where left out
    int corners = 0;         ///< in use
    bool taped = false;
    double distance_mm = 0;      ///< to the middle of the board
    double tilt_deg = 0;         ///< of the board against square-on to the line of sight
    double rms_px = 0;           ///< per axis
    double held_out_rms_px = 0;  ///< per axis, by the lens that was found without it
};

/// How a photo should be taken that would tell most.
struct NextPhoto {
    std::string words;   ///< one sentence: what to do
    bool taped = false;  ///< of the board at working distance
    double gain = 0;     ///< share by which the uncertainty of pointing falls
    /// How the board then lies before the lens; as it comes where `taped`.
    Pose<double> camera_from_board{Eigen::Matrix3d::Identity(), Eigen::Vector3d::Zero()};
};

/// What the camera is good for, in the bay that it is meant for.
struct PhoneVerdict {
    bool fit = false;
    double distance_mm = 0;       ///< of the board in that bay
    PredictedAim aim;             ///< of a full measurement with this camera
    PredictedAim from_lens;       ///< the share of the lens and its sag in it
    PredictedAim limit;           ///< what that share may be: a quarter of what still decides
    std::string cost_of_no_tape;  ///< what the missing taped photos cost, in words; else empty
    std::string words;            ///< "fit for use: ..." or "not yet: ..."
};

struct PhoneCheck {
    LengthUnit unit = LengthUnit::mm;  ///< of the bay, in which lengths are told
    Camera camera;
    std::vector<Target> boards;
    CalibrationData data;  ///< of the photos in use
    CalibrationModel model;
    CalibrationSolution solution;
    std::vector<PhotoUse> photos;
    double held_out_rms_px = 0;  ///< per axis, of every fifth photo left out in turn
    double seen_share = 0;       ///< of the picture that corners cover
    std::optional<StillScatter> still;
    std::optional<NextPhoto> next;  ///< nothing where no photo would tell much more
    PhoneVerdict verdict;
    Findings findings;  ///< about boards and photos; levels as everywhere
};

/// InputError where nothing can be said: too few photos, all from one place, mixed phones, no
/// board found.
PhoneCheck check_phone(const PhoneCheckWish& wish, const PhotoProgress& begin);

/// Standard uncertainty of pointing over the picture: rows from the top, columns from the left, in
/// the middles of equal fields; not a number where the lens has no ray.
Eigen::MatrixXd pointing_map_deg(const PhoneCheck& check, int columns, int rows);

/// The figures (schema squaresight/phone-check/1); ends in a newline.
std::string phone_check_json(const PhoneCheck& check);

}  // namespace squaresight

#pragma once
#include "job/corners_file.h"
#include "simulate/practice_truth.h"

namespace squaresight {

inline constexpr int seconds_between_photos = 20;
inline constexpr int seconds_between_stages = 15 * 60;

/// Error that the corners of a photo share with their neighbours on the board: either axis by
/// itself, Gaussian, correlated by exp(-d^2 / (2 L^2)) over a distance d, L = corner_field_mm.
class SharedCornerError {
  public:
    SharedCornerError(const Pattern& pattern, double standard_px);
    /// Of one photo: right and down in the picture, a row for each corner.
    Eigen::MatrixX2d drawn(Draw& draw) const;

  private:
    Eigen::MatrixXd root_px_;  ///< times its transpose: covariance of all corners
};

/// The corners that the phone sees, each coordinate with the shared error and with Gaussian noise
/// of its own of this standard deviation; corners outside the picture are left out. Coordinates are
/// whole 0.0001 px.
std::vector<Corner> practice_corners(const PracticeTruth& truth, const PoseValues& pose,
                                     const Camera& camera, const Target& target, double noise_px,
                                     const SharedCornerError& shared, Draw& draw);

/// What an honest phone writes into a photo: `seconds` after nine o'clock of a day soon after its
/// check, orientation by its roll.
PhotoFacts practice_facts(const Camera& camera, double phone_turn_deg, int seconds);

}  // namespace squaresight

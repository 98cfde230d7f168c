#pragma once
#include "job/corners_file.h"
#include "simulate/practice_truth.h"

namespace squaresight {

inline constexpr int seconds_between_photos = 20;
inline constexpr int seconds_between_stages = 15 * 60;

/// The corners that the phone sees, each coordinate with Gaussian noise of this standard deviation;
/// corners outside the picture are left out. Coordinates are whole 0.0001 px.
std::vector<Corner> practice_corners(const PracticeTruth& truth, const PoseValues& pose,
                                     const Camera& camera, const Target& target, double noise_px,
                                     Draw& draw);

/// What an honest phone writes into a photo: `seconds` after nine o'clock of a day soon after its
/// check, orientation by its roll.
PhotoFacts practice_facts(const Camera& camera, double phone_turn_deg, int seconds);

}  // namespace squaresight

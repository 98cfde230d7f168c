#pragma once
#include <Eigen/Core>
#include <opencv2/core.hpp>
#include <string>
#include <vector>

namespace squaresight {

/// What became of places of the board that were not seen.
enum class Unseen { hidden, burnt_out, outside };

/// The commonest fate of places in a grey photo (CV_8UC1); `places_px` is not empty.
Unseen why_unseen(const cv::Mat& grey, const std::vector<Eigen::Vector2d>& places_px);

/// The part of a picture that is burnt out: "upper left", "middle", "right"; "whole" when most of
/// it is; empty when no ninth of it is for the greater part.
std::string burnt_out_part(const cv::Mat& grey);

/// How far the sharpest edges of a grey picture are smeared, as the standard deviation of the blur
/// in pixels: rather too little than too much. A sharp photo has some 1 to 2; 0 where no edges
/// tell.
double smear_px(const cv::Mat& grey);

/// Whether edges in one direction are much softer than across it: a camera that moved rather than
/// one out of focus. Judged about corners where as many edges run one way as the other, within
/// `reach_px` of each.
bool smeared_one_way(const cv::Mat& grey, const std::vector<Eigen::Vector2d>& corners_px,
                     double reach_px);

}  // namespace squaresight

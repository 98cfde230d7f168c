#pragma once
#include <Eigen/Core>
#include <string>
#include <vector>

#include "adjust/adjustment.h"
#include "calibrate/phone_check.h"

/// The pictures of a phone check. Left, right, up and down are those of the picture as the sensor
/// has it. A photo is named by its number, which is its place in PhoneCheck::photos, from 1.
namespace squaresight {

/// The picture in equal fields: rows from the top, columns from the left.
struct PictureFields {
    Eigen::MatrixXi corners;        ///< in use
    Eigen::MatrixXd rms_px;         ///< of their misfits, per axis; not a number without any
    Eigen::MatrixXd mean_right_px;  ///< of their misfits (predicted minus seen)
    Eigen::MatrixXd mean_down_px;
};
PictureFields fields_of(const PhoneCheck& check, int columns, int rows);

/// Fields of the figures: those of the coverage are the ones that PhoneCheck::seen_share counts.
inline constexpr int coverage_columns = 12, coverage_rows = 9;
inline constexpr int map_columns = 8, map_rows = 6;

/// Every part of the picture (a ninth of it) with fields that no corner reached: "lower left: 4 of
/// 12 fields".
std::vector<std::string> bare_parts(const PhoneCheck& check);

/// Every corner in use, with the outline and number of its photo; fields without any hatched.
std::string coverage_svg(const PhoneCheck& check);

/// How far one corner lies off.
struct Misfit {
    std::size_t photo = 0;  ///< its number
    int corner = 0;         ///< its index on the board
    Eigen::Vector2d at_px{0, 0};
    Eigen::Vector2d off_px{0, 0};  ///< from where it was seen to where the lens found puts it
};
/// Of all corners in use, the largest first.
std::vector<Misfit> misfits_of(const PhoneCheck& check);

/// How the misfits are drawn.
struct MisfitScale {
    double bar_px = 0;       ///< a round misfit, for the bar beneath
    double enlarged = 0;     ///< times the scale of the picture
    double longest_px = 0;   ///< longer ones are cut there and ringed
    std::size_t longer = 0;  ///< how many are
};
MisfitScale misfit_scale(const PhoneCheck& check);

std::string misfits_svg(const PhoneCheck& check);

/// Give or take of pointing (twice the standard uncertainty) in every field, with the outline of
/// all corners in use.
std::string pointing_svg(const PhoneCheck& check);

/// The lens's share of one angle's give or take against its limit, beside the whole measurement's;
/// where that could be predicted.
std::string lens_share_svg(const PhoneVerdict& verdict, Axis axis);

}  // namespace squaresight

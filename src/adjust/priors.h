#pragma once

/// What the adjustment supposes where no file tells: standard uncertainties, and limits where the
/// name says so (design figures).
namespace squaresight {

inline constexpr double cradle_offset_prior_deg = 2;
inline constexpr double lens_ahead_prior_mm = 15;
inline constexpr double lens_ahead_limit_mm = 20;
inline constexpr double lens_side_limit_mm = 80;
inline constexpr double print_scale_checked = 0.0005;
inline constexpr double print_scale_unchecked = 0.01;
inline constexpr double face_ahead_limit_mm = 5;
/// Skew of a print, standard: both diagonals measured, or not. Assumptions, no source.
inline constexpr double print_skew_checked = 0.0002;
inline constexpr double print_skew_unchecked = 0.0006;
/// Over how much of the board corners share an error; assumption, no source.
inline constexpr double corner_field_mm = 200;
/// Of a face whose height was not measured, above the floor: within this of this.
inline constexpr double unknown_height_mm = 800;

}  // namespace squaresight

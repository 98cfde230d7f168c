#pragma once
#include <Eigen/Core>
#include <optional>
#include <string>

#include "target/target.h"

namespace squaresight {

/// What a sheet is wanted for.
struct TargetWish {
    std::string name;
    double sheet_width_mm = 0;
    double sheet_height_mm = 0;
    bool checkerboard = false;        ///< plain, without markers, for calibrating a camera
    std::optional<double> square_mm;  ///< otherwise as large as fits, whole millimetres
};

/// The target whose pattern fills the sheet, leaving room for a quiet zone and the words around
/// it: eight squares along the short side unless `square_mm` says otherwise. InputError (where:
/// "--square") if fewer than 6 x 4 squares fit or no dictionary holds the markers.
Target design_target(const TargetWish& wish);

/// Bands around the pattern for bars, marks and words, outside the quiet zone.
struct Margins {
    double unprintable_mm = 5;  ///< common to many plotters: nothing needed is printed there
    double words = 1;           ///< size of words and ticks; 1 on a sheet of 594 mm, short side
    double side_mm = 0;         ///< band left and right
    double end_mm = 0;          ///< band above and below
};
Margins margins_of(double sheet_width_mm, double sheet_height_mm);

/// White around the pattern that holds nothing: a quarter of a square.
double quiet_zone_mm(const Pattern& pattern);

/// Nominal lengths of the check bars of a sheet: across and down.
Eigen::Vector2d check_bar_mm(const Target& target);

/// A second mark on bars from 700 mm, for a rule of 600 mm or 24 in; nothing on shorter ones. No
/// print scale that `print_scale` takes confuses the two.
std::optional<double> short_check_mm(double bar_mm);

/// Scale (measured / nominal, to a millionth) of a bar that reads `measured_mm`, from its end or
/// its second mark; nothing if it is neither within 10 %.
std::optional<double> print_scale(double measured_mm, double bar_mm);

}  // namespace squaresight

#pragma once
#include "sight/sight.h"

namespace squaresight {

/// A plain checkerboard in a photo. All of it must be in the picture: each of its rows and columns
/// must be seen, and nine of ten inner corners (the others may lie under glare or a finger).
struct CheckerboardSight {
    /// Corners row by row from the pattern's top left. Where a turn of the pattern looks the same
    /// (across + down even, or as many rows as columns), the one nearest to upright in the photo
    /// is taken: nothing in the photo tells them apart. Where across + down is odd, `first_square`
    /// says no more than which way up the sheet is held, and cannot be wrong.
    Sight sight;
    int across_seen = 0;  ///< inner corners of the checkerboard that was seen, whatever the file
    int down_seen = 0;    ///< says: the longer run first; 0 where none was
    /// The size is right but the colours of the corner squares contradict `first_square`: another
    /// print, of which no corner is told.
    bool layout_differs = false;
};

/// Finds a plain checkerboard (a pattern without dictionary) in a grey photo (CV_8UC1) through any
/// lens, and measures its inner corners. Never returns a corner whose identity is in doubt; an
/// absent board, one of another size or one with markers is a result, not an error.
CheckerboardSight find_checkerboard(const cv::Mat& grey, const Pattern& pattern);

}  // namespace squaresight

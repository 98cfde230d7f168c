#include "sight/checkerboard.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>

#include "sight/identity.h"
#include "sight/judgement.h"
#include "sight/lattice_block.h"
#include "sight/measured_corners.h"
#include "sight/other_board.h"
#include "sight/plain_squares.h"

namespace squaresight {
namespace {

constexpr double least_seen_share = 0.6;    // of all corners, to begin with
constexpr double least_share = 0.9;         // of all corners, in the end
constexpr double usual_focal_length = 0.8;  // of the photo's longer side
constexpr int fewest_across = 3;            // inner corners of the smallest checkerboard
constexpr int fewest_down = 2;
constexpr int fewest_told = 12;  // inner corners of another checkerboard that is worth telling of

/// How a pattern may lie in a block, whatever its colours.
std::vector<Placement> placements(const Block& block, const Pattern& pattern) {
    std::vector<Placement> fits;
    const int right = block.left + block.across - 1;
    const int bottom = block.top + block.down - 1;
    const Placement turns[] = {{0, block.left, block.top},
                               {1, right, block.top},
                               {2, right, bottom},
                               {3, block.left, bottom}};
    for (const auto& turn : turns) {
        const bool lying = turn.quarter_turns % 2;
        if ((lying ? block.down : block.across) == pattern.corners_across() &&
            (lying ? block.across : block.down) == pattern.corners_down()) {
            fits.push_back(turn);
        }
    }
    return fits;
}

bool colours_agree(const Placement& placement, const Pattern& pattern) {
    const Eigen::Vector2d middle = lattice_from_pattern(placement, {0.5, 0.5});
    return Lattice::is_white(static_cast<int>(std::floor(middle.x())),
                             static_cast<int>(std::floor(middle.y()))) ==
           is_white_square(pattern, 1, 1);
}

double uprightness(const BoardView& view) {
    const auto scale = view.pixels_per_unit({0, 0});
    return scale ? scale->col(0).normalized().x() + scale->col(1).normalized().y() : -2;
}

Pattern with_other_colours(Pattern pattern) {
    const bool black = pattern.first_square == SquareColour::black;
    pattern.first_square = black ? SquareColour::white : SquareColour::black;
    return pattern;
}

/// The checkerboard in a photo that shows most, where it is not the one that was looked for.
struct OtherBoard {
    int corners = 0;
    int longer = 0;
    int shorter = 0;
    bool marked = false;
};

class Finder {
  public:
    Finder(const cv::Mat& grey, const Pattern& pattern)
        : grey_(grey), pattern_(pattern), photo_(searched_levels(grey)) {
        lens_.fx = lens_.fy = usual_focal_length * std::max(grey.cols, grey.rows);
        lens_.cx = (grey.cols - 1) / 2.0;
        lens_.cy = (grey.rows - 1) / 2.0;
    }

    CheckerboardSight find() {
        for (int level = photo_.smallest(); level >= photo_.largest(); --level) {
            for (const auto& lattice : LatticeSearch(photo_, level).boards()) {
                const Block block = seen_block(lattice);
                if (std::max(block.across, block.down) < fewest_across ||
                    std::min(block.across, block.down) < fewest_down ||
                    corners_in(block, lattice) < least_seen_share * block.across * block.down) {
                    continue;
                }
                if (auto found = as_expected(lattice, level, block)) {
                    return *found;
                }
                remember(lattice, level, block);
            }
        }
        return nothing_found();
    }

  private:
    /// Nothing unless the lattice holds a board of the pattern's size.
    std::optional<CheckerboardSight> as_expected(const Lattice& lattice, int level,
                                                 const Block& block) const {
        const auto fits = placements(block, pattern_);
        if (fits.empty()) {
            return std::nullopt;
        }
        auto right_way = upright(lattice, level, fits, pattern_);
        const bool differs = !right_way;
        const Pattern pattern = differs ? with_other_colours(pattern_) : pattern_;
        if (differs) {
            right_way = upright(lattice, level, fits, pattern);
        }
        const auto board =
            right_way ? follow(*right_way, level, photo_, pattern, lens_) : std::nullopt;
        if (!board || squares_seen(board->view, photo_, pattern) != SquaresSeen::plain ||
            goes_on_beyond(board->view, photo_, pattern).anywhere()) {
            return std::nullopt;
        }
        CheckerboardSight result = differs ? of_other_layout() : measured(*board);
        result.across_seen = std::max(block.across, block.down);
        result.down_seen = std::min(block.across, block.down);
        return result;
    }

    /// The pattern placed with its colours where the lattice has them, as upright as may be.
    std::optional<FoundBoard> upright(const Lattice& lattice, int level,
                                      const std::vector<Placement>& fits,
                                      const Pattern& pattern) const {
        std::optional<FoundBoard> best;
        for (const auto& placement : fits) {
            if (!colours_agree(placement, pattern)) {
                continue;
            }
            auto board = placed_board(lattice, level, placement, pattern, lens_);
            if (board && (!best || uprightness(board->view) > uprightness(best->view))) {
                best = std::move(board);
            }
        }
        return best;
    }

    CheckerboardSight measured(const FollowedBoard& board) const {
        CheckerboardSight result;
        result.sight = judged(grey_, measured_corners(grey_, board, plain_print(pattern_)),
                              board.view, 0, pattern_);
        const auto seen = static_cast<double>(board.corners_px.size());
        if (result.sight.problem == SightProblem::none &&
            seen < least_share * pattern_.corner_count()) {
            result.sight.problem = SightProblem::few_corners;
            result.sight.advice = fmt::format(
                "only {} of {} corners of the board can be seen; clear what hides it, avoid glare "
                "and take the photo again",
                board.corners_px.size(), pattern_.corner_count());
        }
        return result;
    }

    CheckerboardSight of_other_layout() const {
        CheckerboardSight result;
        result.layout_differs = true;
        result.sight.advice = other_colours_advice(pattern_.first_square);
        return result;
    }

    void remember(const Lattice& lattice, int level, const Block& block) {
        const int corners = corners_in(block, lattice);
        if (corners < fewest_told || corners <= other_.corners) {
            return;
        }
        const Pattern pattern = pattern_of(block);
        const auto board = placed_board(lattice, level, {0, block.left, block.top}, pattern, lens_);
        const auto seen =
            board ? squares_seen(board->view, photo_, pattern) : SquaresSeen::otherwise;
        if (seen == SquaresSeen::otherwise) {
            return;
        }
        const Beyond beyond = goes_on_beyond(board->view, photo_, pattern);
        const int across = block.across + beyond.left_or_right;
        const int down = block.down + beyond.above_or_below;
        other_ = {corners, std::max(across, down), std::min(across, down),
                  seen == SquaresSeen::marked};
    }

    CheckerboardSight nothing_found() const {
        CheckerboardSight result;
        result.sight = not_found(grey_);
        result.across_seen = other_.longer;
        result.down_seen = other_.shorter;
        if (other_.corners > 0) {
            result.sight.problem = SightProblem::not_found;
            result.sight.advice = advice_on_other();
        } else if (result.sight.problem == SightProblem::not_found) {
            result.sight.advice =
                "no checkerboard was found; take the photo with all of the board in the picture, "
                "sharp and evenly lit, and go nearer if it looks small";
        }
        return result;
    }

    std::string advice_on_other() const {
        const int longer = std::max(pattern_.corners_across(), pattern_.corners_down());
        const int shorter = std::min(pattern_.corners_across(), pattern_.corners_down());
        const std::string sizes =
            fmt::format("the photo shows {} x {} inner corners, the board file says {} x {}",
                        other_.longer, other_.shorter, longer, shorter);
        if (other_.marked) {
            return "the checkerboard in the photo has markers in its squares, the board file says "
                   "that it is plain; name the file of the board in the photo";
        }
        if (other_.longer > longer || other_.shorter > shorter) {
            return sizes + "; name the file of the board in the photo";
        }
        if (other_.longer == longer && other_.shorter == shorter) {
            return "the checkerboard is not clearly seen; clear what hides it, avoid glare and "
                   "retake the photo, sharper or from nearer";
        }
        return sizes +
               "; take the photo with all of the board in the picture and nothing over it, or "
               "name the file of the board in the photo";
    }

    const cv::Mat& grey_;
    const Pattern& pattern_;
    Pyramid photo_;
    Lens lens_;
    OtherBoard other_;
};

}  // namespace

CheckerboardSight find_checkerboard(const cv::Mat& grey, const Pattern& pattern) {
    if (grey.empty() || grey.type() != CV_8UC1) {
        return {not_found(grey)};
    }
    return Finder(grey, pattern).find();
}

}  // namespace squaresight

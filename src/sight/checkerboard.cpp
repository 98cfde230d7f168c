#include "sight/checkerboard.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "sight/identity.h"
#include "sight/judgement.h"
#include "sight/measured_corners.h"

namespace squaresight {
namespace {

constexpr double least_line_share = 0.34;   // of the corners of a row or column that counts as seen
constexpr double least_seen_share = 0.6;    // of all corners, to begin with
constexpr double usual_focal_length = 0.8;  // of the photo's longer side
constexpr int fewest_across = 3;            // inner corners of a checkerboard worth telling of
constexpr int fewest_down = 2;

/// A block of lattice places.
struct Block {
    int left = 0;
    int top = 0;
    int across = 0;
    int down = 0;
};

int corners_in(const Lattice& lattice, const Block& block) {
    int count = 0;
    for (const auto& [place, pixel] : lattice.corners_px) {
        count += place.first >= block.left && place.first < block.left + block.across &&
                 place.second >= block.top && place.second < block.top + block.down;
    }
    return count;
}

Block bounds(const Lattice& lattice) {
    const auto& [first, pixel] = *lattice.corners_px.begin();
    int left = first.first, right = left, top = first.second, bottom = top;
    for (const auto& [place, at_px] : lattice.corners_px) {
        left = std::min(left, place.first);
        right = std::max(right, place.first);
        top = std::min(top, place.second);
        bottom = std::max(bottom, place.second);
    }
    return {left, top, right - left + 1, bottom - top + 1};
}

/// The lattice without outer rows and columns that hold hardly any corner.
Block seen_block(const Lattice& lattice) {
    Block block = bounds(lattice);
    const auto line_share = [&](const Block& line) {
        return static_cast<double>(corners_in(lattice, line)) / (line.across * line.down);
    };
    while (block.across > 1 && block.down > 1) {
        const Block lines[] = {{block.left, block.top, 1, block.down},
                               {block.left + block.across - 1, block.top, 1, block.down},
                               {block.left, block.top, block.across, 1},
                               {block.left, block.top + block.down - 1, block.across, 1}};
        const auto* poorest = std::min_element(
            std::begin(lines), std::end(lines),
            [&](const Block& a, const Block& b) { return line_share(a) < line_share(b); });
        if (line_share(*poorest) >= least_line_share) {
            break;
        }
        const bool column = poorest->across == 1;
        block.left += column && poorest->left == block.left;
        block.top += !column && poorest->top == block.top;
        block.across -= column;
        block.down -= !column;
    }
    return block;
}

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

class Finder {
  public:
    Finder(const cv::Mat& grey, const Pattern& pattern)
        : grey_(grey), pattern_(pattern), photo_(searched_levels(grey)) {
        lens_.fx = lens_.fy = usual_focal_length * std::max(grey.cols, grey.rows);
        lens_.cx = (grey.cols - 1) / 2.0;
        lens_.cy = (grey.rows - 1) / 2.0;
    }

    CheckerboardSight find() {
        for (int level = static_cast<int>(photo_.size()) - 1; level >= 0; --level) {
            for (const auto& lattice : find_lattices(photo_, level)) {
                if (look_at(lattice, level)) {
                    return result_;
                }
            }
        }
        result_.sight = not_found(grey_, false);
        return result_;
    }

  private:
    /// True if this settles the matter.
    bool look_at(const Lattice& lattice, int level) {
        const Block block = seen_block(lattice);
        const int all = block.across * block.down;
        if (std::max(block.across, block.down) < fewest_across ||
            std::min(block.across, block.down) < fewest_down ||
            corners_in(lattice, block) < least_seen_share * all) {
            return false;
        }
        const auto fits = placements(block, pattern_);
        std::vector<FollowedBoard> boards;
        for (const auto& placement : fits) {
            if (colours_agree(placement, pattern_)) {
                if (auto board = followed(lattice, level, placement, pattern_)) {
                    boards.push_back(std::move(*board));
                }
            }
        }
        if (boards.empty()) {
            return false;
        }
        const auto upright = std::max_element(boards.begin(), boards.end(),
                                              [](const FollowedBoard& a, const FollowedBoard& b) {
                                                  return uprightness(a.view) < uprightness(b.view);
                                              });
        result_.sight = judged(measured_corners(grey_, *upright, plain_print(pattern_)),
                               upright->view, 0, pattern_);
        result_.across_seen = std::max(block.across, block.down);
        result_.down_seen = std::min(block.across, block.down);
        return true;
    }

    std::optional<FollowedBoard> followed(const Lattice& lattice, int level,
                                          const Placement& placement,
                                          const Pattern& pattern) const {
        const auto found = placed_board(lattice, level, placement, pattern, lens_);
        return found ? follow(*found, level, photo_, pattern) : std::nullopt;
    }

    const cv::Mat& grey_;
    const Pattern& pattern_;
    Pyramid photo_;
    Lens lens_;
    CheckerboardSight result_;
};

}  // namespace

CheckerboardSight find_checkerboard(const cv::Mat& grey, const Pattern& pattern) {
    if (grey.empty() || grey.type() != CV_8UC1) {
        return {not_found(grey, false)};
    }
    return Finder(grey, pattern).find();
}

}  // namespace squaresight

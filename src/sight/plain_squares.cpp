#include "sight/plain_squares.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include "sight/corner_search.h"
#include "sight/median.h"
#include "sight/saddles.h"

namespace squaresight {
namespace {

constexpr double usual_side_px = 16;     // of a square on the level where it is looked at
constexpr double least_contrast = 6;     // grey values between neighbours
constexpr double least_step = 0.3;       // between neighbours, of the usual
constexpr double most_spread = 0.22;     // within a square, of the usual step
constexpr double agreeing_share = 0.9;   // of neighbours, and of squares: some may be hidden
constexpr double marked_share = 0.6;     // of white squares that are not plain
constexpr double beyond_share = 0.34;    // of a further line's corners
constexpr double beyond_strength = 0.7;  // of the usual saddle: the corner of one square has half

/// Mean grey value of a square and the standard deviation within it.
struct Square {
    double mean = 0;
    double spread = 0;
};

/// Places across one square; of the outermost squares only the inner half: their rim may be cut.
std::vector<double> places_across(int square, int squares) {
    const double first = square == 0 ? 0.5 : 0.2;
    const double last = square == squares - 1 ? 0.5 : 0.8;
    constexpr int count = 5;
    std::vector<double> places;
    for (int n = 0; n < count; ++n) {
        places.push_back(square + first + (last - first) * n / (count - 1));
    }
    return places;
}

double shortest_side_px(const BoardView& view, double square_mm) {
    const double side_px = square_mm * view.least_pixels_per_unit({0, 0});
    return side_px > 0 ? side_px : usual_side_px;
}

/// Looks at points of the board, counted in squares from the pattern's top left.
class BoardLook {
  public:
    BoardLook(const BoardView& view, const Pyramid& photo, const Pattern& pattern)
        : view_(view), pattern_(pattern) {
        const double ratio = shortest_side_px(view, pattern.square_mm) / usual_side_px;
        level_ = std::clamp(static_cast<int>(std::floor(std::log2(ratio))), photo.largest(),
                            photo.smallest());
        image_ = photo[level_];
    }

    const cv::Mat& image() const { return image_; }
    int level() const { return level_; }

    Eigen::Vector2d on_board(double column, double row) const {
        return pattern_.square_mm *
               Eigen::Vector2d(column - pattern_.across / 2.0, row - pattern_.down / 2.0);
    }

    /// On this level; nothing outside the photo.
    std::optional<Eigen::Vector2d> pixel(double column, double row) const {
        const auto pixel = view_.pixel(on_board(column, row));
        if (!pixel || !lies_inside(image_, to_level(*pixel, level_), 0)) {
            return std::nullopt;
        }
        return to_level(*pixel, level_);
    }

    std::optional<Square> square(int column, int row) const {
        std::vector<double> greys;
        for (const double down : places_across(row, pattern_.down)) {
            for (const double right : places_across(column, pattern_.across)) {
                const auto at = pixel(right, down);
                if (!at) {
                    return std::nullopt;
                }
                greys.push_back(grey_at(image_, *at));
            }
        }
        Square seen;
        for (const double grey : greys) {
            seen.mean += grey / static_cast<double>(greys.size());
        }
        for (const double grey : greys) {
            seen.spread += (grey - seen.mean) * (grey - seen.mean);
        }
        seen.spread = std::sqrt(seen.spread / static_cast<double>(greys.size()));
        return seen;
    }

  private:
    const BoardView& view_;
    const Pattern& pattern_;
    int level_ = 0;
    cv::Mat image_;
};

using Squares = std::vector<std::optional<Square>>;  // row by row

Squares all_squares(const BoardLook& look, const Pattern& pattern) {
    Squares squares;
    for (int row = 0; row < pattern.down; ++row) {
        for (int column = 0; column < pattern.across; ++column) {
            squares.push_back(look.square(column, row));
        }
    }
    return squares;
}

/// Grey values from each black square to each white neighbour.
std::vector<double> steps_to_white(const Squares& squares, const Pattern& pattern) {
    std::vector<double> steps;
    const auto at = [&](int column, int row) {
        const auto at_row = squares.begin() + static_cast<std::ptrdiff_t>(row) * pattern.across;
        return at_row[column];
    };
    for (int row = 0; row < pattern.down; ++row) {
        for (int column = 0; column < pattern.across; ++column) {
            const double sign = is_white_square(pattern, column, row) ? 1 : -1;
            const auto here = at(column, row);
            const auto right = column + 1 < pattern.across ? at(column + 1, row) : std::nullopt;
            const auto under = row + 1 < pattern.down ? at(column, row + 1) : std::nullopt;
            for (const auto& other : {right, under}) {
                if (here && other) {
                    steps.push_back(sign * (here->mean - other->mean));
                }
            }
        }
    }
    return steps;
}

/// Whether at least `share` of a number of trials came out.
bool mostly(long good, long all, double share) {
    return static_cast<double>(good) >= share * static_cast<double>(all);
}

/// Whether corners stand along a line beyond the pattern, one of each (column, row) of squares.
bool line_goes_on(const BoardLook& look, const BoardView& view, const Pattern& pattern,
                  const std::vector<Eigen::Vector2i>& corners, double usual_strength) {
    int expected = 0;
    int seen = 0;
    for (const auto& corner : corners) {
        const auto at = look.pixel(corner.x() + 1, corner.y() + 1);
        const auto scale = view.pixels_per_unit(look.on_board(corner.x() + 1, corner.y() + 1));
        if (!at || !scale) {
            continue;
        }
        ++expected;
        const double reach_px = std::max(1.5, 0.1 * usual_side_px);
        const auto saddle = saddle_near(look.image(), *at, reach_px);
        const bool white = is_white_square(pattern, corner.x(), corner.y());
        seen += saddle && saddle->strength > beyond_strength * usual_strength &&
                std::abs(saddle->bright.dot(bright_diagonal(white, *scale))) > 0.8;
    }
    return seen >= 2 && mostly(seen, expected, beyond_share);
}

double usual_strength(const BoardLook& look, const Pattern& pattern) {
    std::vector<double> strengths{0};
    for (int row = 1; row < pattern.down; ++row) {
        for (int column = 1; column < pattern.across; ++column) {
            const auto at = look.pixel(column, row);
            const auto saddle = at ? saddle_near(look.image(), *at, 2) : std::nullopt;
            if (saddle) {
                strengths.push_back(saddle->strength);
            }
        }
    }
    return median(strengths);
}

}  // namespace

SquaresSeen squares_seen(const BoardView& view, const Pyramid& photo, const Pattern& pattern) {
    const BoardLook look(view, photo, pattern);
    const Squares squares = all_squares(look, pattern);
    const std::vector<double> steps = steps_to_white(squares, pattern);
    const double usual_step = steps.empty() ? 0 : median(steps);
    if (usual_step < least_contrast) {
        return SquaresSeen::otherwise;
    }
    long seen[2] = {0, 0};  // of black squares, of white ones
    long plain[2] = {0, 0};
    for (std::size_t n = 0; n < squares.size(); ++n) {
        if (squares[n]) {
            const int column = static_cast<int>(n) % pattern.across;
            const bool white =
                is_white_square(pattern, column, static_cast<int>(n) / pattern.across);
            ++seen[white];
            plain[white] += squares[n]->spread < most_spread * usual_step;
        }
    }
    if (mostly(plain[0], seen[0], agreeing_share) &&
        mostly(seen[1] - plain[1], seen[1], marked_share)) {
        return SquaresSeen::marked;
    }
    const long agreeing = std::count_if(
        steps.begin(), steps.end(), [&](double step) { return step > least_step * usual_step; });
    const bool in_turn = mostly(agreeing, static_cast<long>(steps.size()), agreeing_share);
    const bool clean = mostly(plain[0] + plain[1], seen[0] + seen[1], agreeing_share);
    return in_turn && clean ? SquaresSeen::plain : SquaresSeen::otherwise;
}

Beyond goes_on_beyond(const BoardView& view, const Pyramid& photo, const Pattern& pattern) {
    const BoardLook look(view, photo, pattern);
    const double strength = usual_strength(look, pattern);
    const auto goes_on = [&](int outside, bool beside) {
        std::vector<Eigen::Vector2i> corners;
        const int count = beside ? pattern.corners_down() : pattern.corners_across();
        for (int n = 0; n < count; ++n) {
            corners.push_back(beside ? Eigen::Vector2i(outside, n) : Eigen::Vector2i(n, outside));
        }
        return line_goes_on(look, view, pattern, corners, strength);
    };
    return {goes_on(-1, true) || goes_on(pattern.corners_across(), true),
            goes_on(-1, false) || goes_on(pattern.corners_down(), false)};
}

}  // namespace squaresight

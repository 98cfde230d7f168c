#include <algorithm>
#include <cmath>
#include <utility>

#include "sight/consistency.h"
#include "sight/corner_search.h"
#include "sight/judgement.h"
#include "sight/sight.h"

namespace squaresight {
namespace {

constexpr int smallest_level_px = 180;    // shorter side of the smallest level searched
constexpr double largest_square_px = 64;  // on a level; larger squares are found on smaller ones
constexpr double largest_square_share = 0.6;  // of the smallest level's shorter side
constexpr std::size_t most_saddles = 12000;

std::optional<FollowedBoard> board_on_level(const Pyramid& photo, int level,
                                            const MarkerReader& reader, const Target& target,
                                            const Lens& lens) {
    const cv::Mat& image = photo[static_cast<std::size_t>(level)];
    const bool smallest = level + 1 == static_cast<int>(photo.size());
    const double largest_px =
        smallest ? largest_square_share * std::min(image.cols, image.rows) : largest_square_px;
    const auto saddles = find_saddles(image, most_saddles);
    for (const auto& lattice : find_lattices(image, saddles, largest_px)) {
        const auto found = identify(lattice, level, photo, reader, target.pattern, lens);
        auto board = found ? follow(*found, level, photo, target.pattern) : std::nullopt;
        if (board && count_markers(board->view, photo, reader, target.pattern).convincing()) {
            return board;
        }
    }
    return std::nullopt;
}

std::optional<FollowedBoard> locate(const Pyramid& photo, const MarkerReader& reader,
                                    const Target& target, const Lens& lens) {
    for (int level = static_cast<int>(photo.size()) - 1; level >= 0; --level) {
        if (auto board = board_on_level(photo, level, reader, target, lens)) {
            return board;
        }
    }
    return std::nullopt;
}

FittedCorners measured_corners(const cv::Mat& grey, const FollowedBoard& board,
                               const PrintedPattern& print) {
    FittedCorners corners;
    for (const auto& [index, pixel] : board.corners_px) {
        if (const auto corner = fit_corner(grey, board.view, print, index, pixel)) {
            corners.emplace(index, *corner);
        }
    }
    return consistent_corners(corners, board.view.lens, print.pattern);
}

}  // namespace

Sight find_target(const cv::Mat& grey, const Target& target, const Lens& lens) {
    if (grey.empty() || grey.type() != CV_8UC1) {
        return not_found(grey);
    }
    const Pyramid photo = halved_photo(grey, smallest_level_px);
    const PrintedPattern print = printed_pattern(target);
    const MarkerReader reader(print);
    const auto board = locate(photo, reader, target, lens);
    if (!board) {
        return not_found(grey);
    }
    const FittedCorners corners = measured_corners(grey, *board, print);
    const int markers = count_markers(board->view, photo, reader, target.pattern).agreeing;
    return judged(corners, board->view, markers, target.pattern);
}

}  // namespace squaresight

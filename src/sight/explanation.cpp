#include "sight/explanation.h"

#include <algorithm>

#include "sight/corner_fit.h"
#include "sight/lattice.h"

namespace squaresight {
namespace {

constexpr double same_px = 3;           // a lattice's corner that is one of the target's
constexpr double margin_px = 3;         // of the photo's rim
constexpr UsualMisfit usual{0.3, 0.1};  // of measured corners

const Corner* corner_with(const Sight& sight, int index) {
    const auto found =
        std::lower_bound(sight.corners.begin(), sight.corners.end(), index,
                         [](const Corner& corner, int wanted) { return corner.index < wanted; });
    return found != sight.corners.end() && found->index == index ? &*found : nullptr;
}

std::optional<BoardView> view_of(const Sight& sight, const Pattern& pattern, const Lens& lens) {
    std::vector<BoardPoint> points;
    for (const auto& corner : sight.corners) {
        points.push_back({corner_in_target_mm(pattern, corner.index), corner.pixel});
    }
    std::vector<bool> kept;
    return fit_board_robustly(lens, points, usual, kept);
}

std::vector<ExplainedCorner> fates(const cv::Mat& grey, const Sight& sight,
                                   const PrintedPattern& print, const BoardView& view) {
    std::vector<ExplainedCorner> corners;
    for (int index = 0; index < print.pattern.corner_count(); ++index) {
        if (const Corner* seen = corner_with(sight, index)) {
            corners.push_back({index, seen->pixel, CornerFate::used});
            continue;
        }
        const auto pixel = view.pixel(corner_in_target_mm(print.pattern, index));
        if (pixel && lies_inside(grey, *pixel, margin_px)) {
            const bool measured = fit_corner(grey, view, print, index, {*pixel}).has_value();
            corners.push_back(
                {index, *pixel, measured ? CornerFate::set_aside : CornerFate::not_measured});
        }
    }
    return corners;
}

/// Whether most of a lattice's corners are those of the target.
bool is_target(const std::vector<Eigen::Vector2d>& lattice,
               const std::vector<ExplainedCorner>& corners, double reach_px) {
    const auto near = std::count_if(lattice.begin(), lattice.end(), [&](const auto& pixel) {
        return std::any_of(corners.begin(), corners.end(), [&](const auto& corner) {
            return (corner.pixel - pixel).norm() < reach_px;
        });
    });
    return 2 * static_cast<std::size_t>(near) > lattice.size();
}

}  // namespace

Explanation explain_target(const cv::Mat& grey, const Target& target, const Lens& lens) {
    Explanation told;
    told.sight = find_target(grey, target, lens);
    if (grey.empty() || grey.type() != CV_8UC1) {
        return told;
    }
    const PrintedPattern print = printed_pattern(target);
    if (const auto view = view_of(told.sight, print.pattern, lens)) {
        told.corners = fates(grey, told.sight, print, *view);
    }
    const Pyramid photo = searched_levels(grey);
    for (int level = photo.smallest(); level >= photo.largest(); --level) {
        for (const auto& lattice : LatticeSearch(photo, level).boards()) {
            std::vector<Eigen::Vector2d> pixels;
            for (const auto& [place, saddle] : lattice.corners) {
                pixels.push_back(from_level(saddle.at_px, level));
            }
            if (!is_target(pixels, told.corners, same_px * level_px(level))) {
                told.other_boards.push_back(std::move(pixels));
            }
        }
        if (!told.corners.empty()) {
            break;  // the search went no further down
        }
    }
    return told;
}

}  // namespace squaresight

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>
#include <utility>
#include <vector>

#include "sight/judgement.h"
#include "sight/measured_corners.h"
#include "sight/median.h"
#include "sight/other_board.h"
#include "sight/sight.h"

namespace squaresight {
namespace {

constexpr int plenty = 16;  // corners: with these no larger level is searched

/// The target as it was seen from one level on.
struct SeenTarget {
    BoardView view;
    FittedCorners corners;
    int markers_read = 0;
};

/// What a search through the levels of a photo came to.
struct Search {
    std::optional<SeenTarget> target;
    std::optional<Lattice> checkerboard;  ///< the largest of about the pattern's size, whatever its
    int level = 0;                        ///< markers say, and where it was seen
};

class Searcher {
  public:
    Searcher(const cv::Mat& grey, const Pyramid& photo, const PrintedPattern& print,
             const Lens& lens)
        : grey_(grey), photo_(photo), print_(print), reader_(print), lens_(lens) {}

    Search search() const {
        Search result;
        std::map<int, LatticeSearch, std::greater<>> searched;  // the smallest level first
        for (int level = photo_.smallest(); level >= photo_.largest() && !is_over(result);
             --level) {
            LatticeSearch& lattices = searched.try_emplace(level, photo_, level).first->second;
            search_among(lattices.boards(), level, result);
        }
        for (auto& [level, lattices] : searched) {
            if (!result.target) {
                search_among(lattices.parts(), level, result);
            }
        }
        return result;
    }

  private:
    bool is_over(const Search& result) const {
        const int enough = std::min(plenty, print_.pattern.corner_count());
        return result.target && static_cast<int>(result.target->corners.size()) >= enough;
    }

    void search_among(const std::vector<Lattice>& lattices, int level, Search& result) const {
        const auto all = static_cast<std::size_t>(print_.pattern.corner_count());
        for (const auto& lattice : lattices) {
            const std::size_t corners = lattice.corners.size();
            const bool alike = corners * 4 >= all && corners <= all * 4;
            if (alike && (!result.checkerboard || corners > result.checkerboard->corners.size())) {
                result.checkerboard = lattice;
                result.level = level;
            }
            follow_up(lattice, level, result);
            if (is_over(result)) {
                return;
            }
        }
    }

    /// A board whose markers agree with the lattice, and again when all corners are known. Where a
    /// small level shows too few, a larger one may show more.
    void follow_up(const Lattice& lattice, int level, Search& result) const {
        const auto found = identify(lattice, level, photo_, reader_, print_.pattern, lens_);
        const auto board =
            found ? follow(*found, level, photo_, print_.pattern, lens_) : std::nullopt;
        if (!board) {
            return;
        }
        const auto markers = count_markers(board->view, photo_, reader_, print_.pattern);
        if (!markers.convincing()) {
            return;
        }
        FittedCorners corners = measured_corners(grey_, *board, print_);
        if (!result.target || corners.size() > result.target->corners.size()) {
            result.target = {board->view, std::move(corners), markers.agreeing};
        }
    }

    const cv::Mat& grey_;
    const Pyramid& photo_;
    const PrintedPattern& print_;
    MarkerReader reader_;
    Lens lens_;
};

SeenCheckerboard seen(const Lattice& board, int level) {
    SeenCheckerboard seen;
    std::vector<double> steps_px;
    for (const auto& [place, saddle] : board.corners) {
        seen.corners_px.push_back(from_level(saddle.at_px, level));
        const auto next = board.corners.find({place.first + 1, place.second});
        if (next != board.corners.end()) {
            const Eigen::Vector2d next_px = from_level(next->second.at_px, level);
            steps_px.push_back((next_px - seen.corners_px.back()).norm());
        }
    }
    seen.square_px = steps_px.empty() ? 0 : median(steps_px);
    return seen;
}

}  // namespace

Sight find_target(const cv::Mat& grey, const Target& target, const Lens& lens) {
    if (grey.empty() || grey.type() != CV_8UC1) {
        return not_found(grey);
    }
    const Pyramid photo = searched_levels(grey);
    const PrintedPattern print = printed_pattern(target);
    const Searcher searcher(grey, photo, print, lens);
    const Search found = searcher.search();
    if (!found.target) {
        Sight sight = not_found(
            grey, found.checkerboard ? seen(*found.checkerboard, found.level) : SeenCheckerboard{});
        const std::string difference =
            found.checkerboard
                ? difference_from_target(*found.checkerboard, found.level, photo, print, lens)
                : "";
        if (!difference.empty() && sight.problem != SightProblem::blurred) {
            sight.advice = difference;
        }
        return sight;
    }
    const SeenTarget& target_seen = *found.target;
    return judged(grey, target_seen.corners, target_seen.view, target_seen.markers_read,
                  print.pattern);
}

}  // namespace squaresight

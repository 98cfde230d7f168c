#include <algorithm>
#include <cmath>
#include <utility>

#include "sight/judgement.h"
#include "sight/measured_corners.h"
#include "sight/median.h"
#include "sight/other_board.h"
#include "sight/sight.h"

namespace squaresight {
namespace {

/// What a search through the levels of a photo came to.
struct Search {
    std::optional<FollowedBoard> board;
    int markers_read = 0;                 ///< of it
    std::optional<Lattice> checkerboard;  ///< the largest of about the pattern's size, whatever its
    int level = 0;                        ///< markers say, and where it was seen
};

class Searcher {
  public:
    Searcher(const Pyramid& photo, const PrintedPattern& print, const Lens& lens)
        : photo_(photo), print_(print), reader_(print), lens_(lens) {}

    Search search() const {
        Search result;
        for (int level = photo_.smallest(); level >= photo_.largest() && !result.board; --level) {
            search_level(level, result);
        }
        return result;
    }

  private:
    void search_level(int level, Search& result) const {
        const auto all = static_cast<std::size_t>(print_.pattern.corner_count());
        for (const auto& lattice : find_lattices(photo_, level)) {
            const std::size_t corners = lattice.corners.size();
            const bool alike = corners * 4 >= all && corners <= all * 4;
            if (alike && (!result.checkerboard || corners > result.checkerboard->corners.size())) {
                result.checkerboard = lattice;
                result.level = level;
            }
            follow_up(lattice, level, result);
            if (result.board) {
                return;
            }
        }
    }

    /// A board whose markers agree with the lattice, and again when all corners are known.
    void follow_up(const Lattice& lattice, int level, Search& result) const {
        const auto found = identify(lattice, level, photo_, reader_, print_.pattern, lens_);
        auto board = found ? follow(*found, level, photo_, print_.pattern, lens_) : std::nullopt;
        if (!board) {
            return;
        }
        const auto markers = count_markers(board->view, photo_, reader_, print_.pattern);
        if (markers.convincing()) {
            result.board = std::move(board);
            result.markers_read = markers.agreeing;
        }
    }

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
    const Searcher searcher(photo, print, lens);
    const Search found = searcher.search();
    if (!found.board) {
        Sight sight = not_found(
            grey, found.checkerboard ? seen(*found.checkerboard, found.level) : SeenCheckerboard{});
        const std::string difference =
            found.checkerboard
                ? difference_from_target(*found.checkerboard, found.level, photo, print, lens)
                : "";
        sight.advice = difference.empty() ? sight.advice : difference;
        return sight;
    }
    return judged(grey, measured_corners(grey, *found.board, print), found.board->view,
                  found.markers_read, print.pattern);
}

}  // namespace squaresight

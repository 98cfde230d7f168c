#include "sight/corner_search.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "sight/median.h"
#include "sight/saddles.h"

namespace squaresight {
namespace {

constexpr double faintest = 2;           // strength, grey values: what noise alone may show
constexpr double ample = 5;              // strength that is asked for where the board has more
constexpr double least_share = 0.4;      // of the board's usual strength, where that is less
constexpr double least_alignment = 0.8;  // of the bright quarters, as a cosine
constexpr int most_refusals = 3;         // the view grows better as corners are added
constexpr int neighbours_reach = 2;      // squares over which the misfit of the view is alike

class Follower {
  public:
    Follower(const BoardView& view, const Pyramid& photo, const Pattern& pattern, const Lens& lens)
        : photo_(photo), pattern_(pattern), lens_(lens), board_{view, {}} {}

    bool start(const std::map<int, Eigen::Vector2d>& corners_px, int level) {
        board_.corners_px = corners_px;
        std::vector<double> strengths;
        for (auto& [index, pixel] : board_.corners_px) {
            if (const auto saddle = saddle_at(index, pixel, level)) {
                pixel = from_level(saddle->at_px, level);
                strengths.push_back(saddle->strength);
            }
        }
        if (!strengths.empty()) {
            least_strength_ = std::clamp(least_share * median(strengths), faintest, ample);
        }
        return refit(level);
    }

    bool search(int level) {
        refusals_.clear();
        while (spread(level)) {
            if (!refit(level)) {
                return false;
            }
        }
        return true;
    }

    /// Corners that a larger level does not show as saddles keep their place: they may be blurred.
    bool sharpen(int level) {
        for (auto& [index, pixel] : board_.corners_px) {
            const auto sharper = saddle_at(index, pixel, level);
            pixel = sharper ? from_level(sharper->at_px, level) : pixel;
        }
        return refit(level);
    }

    const FollowedBoard& board() const { return board_; }

  private:
    /// Adds what is seen next to known corners, then anywhere; true if anything was added.
    bool spread(int level) {
        const std::size_t before = board_.corners_px.size();
        for (const bool anywhere : {false, true}) {
            for (int index = 0; index < pattern_.corner_count(); ++index) {
                if (!board_.corners_px.count(index) && (anywhere || misfit_around(index))) {
                    look_for(index, level);
                }
            }
            if (board_.corners_px.size() > before) {
                return true;
            }
        }
        return false;
    }

    void look_for(int index, int level) {
        const auto predicted = board_.view.pixel(corner_in_target_mm(pattern_, index));
        if (!predicted || refusals_[index] >= most_refusals) {
            return;
        }
        const auto misfit = misfit_around(index);
        const auto seen =
            saddle_at(index, *predicted + misfit.value_or(Eigen::Vector2d(0, 0)), level);
        if (seen) {
            board_.corners_px[index] = from_level(seen->at_px, level);
        }
    }

    /// On that level.
    std::optional<Saddle> saddle_at(int index, const Eigen::Vector2d& near_px, int level) const {
        const Eigen::Vector2d corner_mm = corner_in_target_mm(pattern_, index);
        const auto scale = board_.view.pixels_per_unit(corner_mm);
        if (!scale) {
            return std::nullopt;
        }
        const double shortest_px =
            pattern_.square_mm * board_.view.least_pixels_per_unit(corner_mm) / level_px(level);
        const bool white_upper_left = is_white_square(pattern_, index % pattern_.corners_across(),
                                                      index / pattern_.corners_across());
        const double reach_px = std::clamp(0.15 * shortest_px, 1.5, 6.0);
        auto saddle = saddle_near(photo_[level], to_level(near_px, level), reach_px);
        if (!saddle || saddle->strength < least_strength_ ||
            std::abs(saddle->bright.dot(bright_diagonal(white_upper_left, *scale))) <
                least_alignment) {
            return std::nullopt;
        }
        return saddle;
    }

    /// Mean misfit of the known corners around a corner; nothing if there are none.
    std::optional<Eigen::Vector2d> misfit_around(int index) const {
        const int across = pattern_.corners_across();
        Eigen::Vector2d sum(0, 0);
        int count = 0;
        for (const auto& [other, pixel] : board_.corners_px) {
            if (std::abs(other % across - index % across) > neighbours_reach ||
                std::abs(other / across - index / across) > neighbours_reach) {
                continue;
            }
            if (const auto fitted = board_.view.pixel(corner_in_target_mm(pattern_, other))) {
                sum += pixel - *fitted;
                ++count;
            }
        }
        return count ? std::optional<Eigen::Vector2d>(sum / count) : std::nullopt;
    }

    bool refit(int level) {
        std::vector<BoardPoint> points;
        std::vector<int> indices;
        for (const auto& [index, pixel] : board_.corners_px) {
            points.push_back({corner_in_target_mm(pattern_, index), pixel});
            indices.push_back(index);
        }
        std::vector<bool> kept;
        const double usual_px = std::max(1.0, level_px(level));
        const UsualMisfit usual{1 + usual_px, 0.3 * usual_px};
        const auto view = fit_board_robustly(lens_, points, usual, kept);
        if (!view) {
            return false;
        }
        board_.view = *view;
        for (std::size_t n = 0; n < kept.size(); ++n) {
            if (!kept[n]) {
                board_.corners_px.erase(indices[n]);
                ++refusals_[indices[n]];
            }
        }
        return true;
    }

    const Pyramid& photo_;
    const Pattern& pattern_;
    const Lens& lens_;  ///< as given: one that a small level bent is not to stay bent
    FollowedBoard board_;
    double least_strength_ = faintest;
    std::map<int, int> refusals_;  ///< on this level, of corners that did not fit the view
};

}  // namespace

Eigen::Vector2d bright_diagonal(bool white_upper_left, const Eigen::Matrix2d& pixels_per_mm) {
    const Eigen::Vector2d right = pixels_per_mm.col(0).normalized();
    const Eigen::Vector2d down = pixels_per_mm.col(1).normalized();
    return (right + (white_upper_left ? 1.0 : -1.0) * down).normalized();
}

std::optional<FollowedBoard> follow(const FoundBoard& found, int level, const Pyramid& photo,
                                    const Pattern& pattern, const Lens& lens) {
    Follower follower(found.view, photo, pattern, lens);
    if (!follower.start(found.corners_px, level)) {
        return std::nullopt;
    }
    for (int l = level; l >= photo.largest(); --l) {
        const bool shows_more = l < level && l >= 0;
        if ((shows_more && !follower.sharpen(l)) || !follower.search(l)) {
            return std::nullopt;
        }
    }
    return follower.board();
}

}  // namespace squaresight

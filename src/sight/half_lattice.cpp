#include "sight/half_lattice.h"

#include <algorithm>
#include <optional>
#include <utility>

#include "sight/growth.h"
#include "sight/neighbourhood.h"
#include "sight/way.h"

namespace squaresight {
namespace {

constexpr std::size_t fewest_corners = 6;
constexpr std::size_t most_seeds = 1000;  // the strongest saddles
// Sines of the angle between a step and the line it keeps to, at most: over a black square, that
// may look as slanted as this, and over a white one.
constexpr float dark_off_line = 0.9F;
constexpr float bright_off_line = 0.25F;
constexpr float nearest_px = 4;
constexpr double longest_side = 1.5;  // diagonal of a square over its side

class HalfLatticeFinder {
  public:
    HalfLatticeFinder(const cv::Mat& image, const std::vector<Saddle>& saddles, double largest_px)
        : image_(image),
          saddles_(saddles),
          near_(image, saddles),
          largest_px_(largest_px),
          taken_(saddles.size(), false) {}

    std::vector<Lattice> found() {
        const NextSaddle next = [this](const Step& step) { return next_across_square(step); };
        std::vector<Lattice> lattices;
        const int end = static_cast<int>(std::min(most_seeds, saddles_.size()));
        for (int n = 0; n < end; ++n) {
            const auto first = taken(n) ? std::nullopt : seed(n);
            const Places places = first ? grown(*first, saddles_, taken_, next) : Places{};
            if (places.size() >= fewest_corners) {
                lattices.push_back(lattice_of(corners_of(places), saddles_));
            }
        }
        return lattices;
    }

  private:
    const Saddle& saddle(int n) const { return saddles_[static_cast<std::size_t>(n)]; }
    bool taken(int n) const { return taken_[static_cast<std::size_t>(n)]; }

    /// Here i counts black squares and j white ones, each from tip to tip one way or the other: in
    /// the lattice of all corners these are steps along the diagonals.
    static Places corners_of(const Places& places) {
        Places corners;
        for (const auto& [place, n] : places) {
            corners[{place.second - place.first, place.second + place.first}] = n;
        }
        return corners;
    }

    /// Across a square from n, near a line.
    Nearest nearest_ahead(int n, const Eigen::Vector2d& ahead, float most_off_line) {
        Nearest nearest;
        Wanted wanted{seen(saddle(n)), Kin::across_square};
        wanted.centre_px = wanted.with.at_px;
        wanted.within_px = static_cast<float>(largest_px_);
        wanted.beyond2 = nearest_px * nearest_px;
        wanted.ahead = ahead.cast<float>();
        wanted.most_off_line = most_off_line;
        near_.visit(wanted, [&](int m, float away2) {
            if (!taken(m)) {
                nearest.add(away2, m);
            }
        });
        return nearest;
    }

    bool is_dark_between(int a, int b) const {
        return Way(image_, saddle(a).at_px, saddle(b).at_px,
                   least_contrast_between(saddle(a), saddle(b)))
            .is_dark();
    }

    /// Two black squares that face each other across the corner of a white one.
    std::optional<Places> seed(int n) {
        const Eigen::Vector2d bright = saddle(n).bright;
        const Eigen::Vector2d dark(-bright.y(), bright.x());
        const auto across_black = nearest_ahead(n, dark, dark_off_line).those_that([&](int m) {
            return is_dark_between(n, m);
        });
        if (across_black.empty()) {
            return std::nullopt;
        }
        const Nearest across_white = nearest_ahead(n, bright, bright_off_line);
        for (const int m : across_black) {
            const Eigen::Vector2d over_black = saddle(m).at_px - saddle(n).at_px;
            for (const int beside : across_white.those_that([&](int k) {
                     return is_black_square(n, m, saddle(k).at_px - saddle(n).at_px);
                 })) {
                const Eigen::Vector2d over_white = saddle(beside).at_px - saddle(n).at_px;
                const auto last = nearest_across(saddle(n).at_px + over_black + over_white,
                                                 reach_px(over_black, over_white), n);
                if (last && is_dark_between(beside, *last)) {
                    return Places{{{0, 0}, n}, {{1, 0}, m}, {{0, 1}, beside}, {{1, 1}, *last}};
                }
            }
        }
        return std::nullopt;
    }

    /// Whether the four sides of the square between two opposite corners are edges, its other
    /// diagonal being like that of the white square beside it.
    bool is_black_square(int n, int m, const Eigen::Vector2d& over_white) const {
        const Eigen::Vector2d first = saddle(n).at_px;
        const Eigen::Vector2d last = saddle(m).at_px;
        const Eigen::Vector2d one = (first + last + over_white) / 2;
        const Eigen::Vector2d other = (first + last - over_white) / 2;
        const double contrast = least_contrast_between(saddle(n), saddle(m));
        const auto is_edge = [&](const Eigen::Vector2d& from, const Eigen::Vector2d& to) {
            return Way(image_, from, to, contrast).is_edge_on_the_whole();
        };
        return is_edge(one, first) && is_edge(last, one) && is_edge(other, last) &&
               is_edge(first, other);
    }

    /// The nearest free saddle about a predicted place that may lie across a square from `other`.
    std::optional<int> nearest_across(const Eigen::Vector2d& at_px, double reach_px, int other) {
        return near_.nearest({seen(saddle(other)), Kin::across_square, at_px.cast<float>(),
                              static_cast<float>(reach_px)},
                             [&](int n) { return n != other && !taken(n); });
    }

    std::optional<int> next_across_square(const Step& step) {
        const auto next = nearest_across(step.to_px, step.reach_px, step.n);
        return next && (step.di == 0 || is_dark_between(step.n, *next)) ? next : std::nullopt;
    }

    const cv::Mat& image_;
    const std::vector<Saddle>& saddles_;
    Neighbourhood near_;
    double largest_px_;  ///< diagonal of a square
    std::vector<bool> taken_;
};

}  // namespace

std::vector<Lattice> find_half_lattices(const cv::Mat& image, const std::vector<Saddle>& saddles,
                                        double largest_square_px) {
    return HalfLatticeFinder(image, saddles, longest_side * largest_square_px).found();
}

}  // namespace squaresight

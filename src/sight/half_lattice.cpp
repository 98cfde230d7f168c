#include "sight/half_lattice.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

#include "sight/growth.h"
#include "sight/neighbourhood.h"
#include "sight/way.h"

namespace squaresight {
namespace {

constexpr std::size_t fewest_corners = 6;
constexpr std::size_t most_seeds = 1000;  // the strongest saddles
constexpr float dark_off_line = 0.9F;     // sine of the angle to the dark line, at most
constexpr float bright_off_line = 0.25F;  // the same to the bright line
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

    /// Here i counts black squares, tip to tip, and j white ones: in the lattice of all corners
    /// these are steps along the diagonals.
    static Places corners_of(const Places& places) {
        Places corners;
        for (const auto& [place, n] : places) {
            corners[{place.second - place.first, place.second + place.first}] = n;
        }
        return corners;
    }

    std::vector<int> nearest_ahead(int n, const Eigen::Vector2d& ahead, float most_off_line) {
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
        return nearest.those_that([](int) { return true; });
    }

    bool is_dark_between(int a, int b) const {
        return Way(image_, saddle(a).at_px, saddle(b).at_px,
                   least_contrast_between(saddle(a), saddle(b)))
            .is_dark();
    }

    /// Two black squares side by side, each from tip to tip.
    std::optional<Places> seed(int n) {
        const Eigen::Vector2d bright = saddle(n).bright;
        const Eigen::Vector2d dark(-bright.y(), bright.x());
        std::vector<int> bright_ahead;
        for (const int tip : nearest_ahead(n, dark, dark_off_line)) {
            if (!is_dark_between(n, tip)) {
                continue;
            }
            if (bright_ahead.empty()) {
                bright_ahead = nearest_ahead(n, bright, bright_off_line);
            }
            for (const int beside : bright_ahead) {
                const Eigen::Vector2d along = saddle(tip).at_px - saddle(n).at_px;
                const Eigen::Vector2d across = saddle(beside).at_px - saddle(n).at_px;
                if (!is_black_square(n, tip, across)) {
                    continue;
                }
                const auto last =
                    nearest_across(saddle(n).at_px + along + across, reach_px(along, across), n);
                if (last && is_dark_between(beside, *last)) {
                    return Places{{{0, 0}, n}, {{1, 0}, tip}, {{0, 1}, beside}, {{1, 1}, *last}};
                }
            }
        }
        return std::nullopt;
    }

    /// Whether the four sides of the square between two tips are edges, where its other diagonal is
    /// as long as the step beside it.
    bool is_black_square(int n, int tip, const Eigen::Vector2d& across) const {
        const Eigen::Vector2d first = saddle(n).at_px;
        const Eigen::Vector2d last = saddle(tip).at_px;
        const Eigen::Vector2d one = (first + last + across) / 2;
        const Eigen::Vector2d other = (first + last - across) / 2;
        const double contrast = least_contrast_between(saddle(n), saddle(tip));
        const auto is_edge = [&](const Eigen::Vector2d& from, const Eigen::Vector2d& to) {
            return Way(image_, from, to, contrast).is_edge_on_the_whole();
        };
        return is_edge(one, first) && is_edge(last, one) && is_edge(other, last) &&
               is_edge(first, other);
    }

    std::optional<int> nearest_across(const Eigen::Vector2d& at_px, double reach_px, int other) {
        std::optional<int> best;
        const Wanted about{seen(saddle(other)), Kin::across_square, at_px.cast<float>(),
                           static_cast<float>(reach_px)};
        float nearest2 = HUGE_VALF;
        near_.visit(about, [&](int n, float away2) {
            if (away2 < nearest2 && n != other && !taken(n)) {
                nearest2 = away2;
                best = n;
            }
        });
        return best;
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

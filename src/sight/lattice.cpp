#include "sight/lattice.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <deque>
#include <numeric>
#include <optional>

namespace squaresight {
namespace {

constexpr std::size_t fewest_corners = 6;
constexpr double longest_over_shortest = 5;  // sides of a square: a tilt of 75 deg and more
constexpr double least_off_line = 0.2;       // sine of an edge to the bright line of its saddle
constexpr double most_off_line = 0.98;
constexpr double least_edge = 0.25;  // contrast across an edge over a saddle's strength
constexpr double drift = 0.25;       // from the predicted place, in heights of a square
constexpr double nearest_px = 4;     // between corners
constexpr std::size_t few = 3;       // nearest saddles tried in each direction
constexpr std::size_t crowd = 100;   // saddles about one among which its neighbours are looked for
constexpr int smallest_level_px = 180;        // shorter side
constexpr double usual_square_px = 64;        // at most; larger ones are left to smaller levels
constexpr double doubled_square_px = 128;     // the same on a doubled photo, which is small
constexpr double smallest_level_share = 0.6;  // largest square there, of its shorter side
constexpr std::size_t most_saddles = 12000;
constexpr std::size_t most_searched_pixels = 6200000;  // a board shows on a smaller level, too

/// Saddles sorted into bins, row by row, for questions about neighbourhoods.
class Neighbourhood {
  public:
    Neighbourhood(const cv::Mat& image, const std::vector<Saddle>& saddles)
        : across_(image.cols / bin_px + 1), down_(image.rows / bin_px + 1) {
        std::vector<std::size_t> bins;
        first_.assign(bin(0, down_) + 1, 0);
        for (const auto& saddle : saddles) {
            bins.push_back(bin(column(saddle.at_px.x()), row(saddle.at_px.y())));
            ++first_[bins.back() + 1];
        }
        std::partial_sum(first_.begin(), first_.end(), first_.begin());
        std::vector<std::size_t> next = first_;
        sorted_.resize(saddles.size());
        for (std::size_t n = 0; n < saddles.size(); ++n) {
            sorted_[next[bins[n]]++] = {saddles[n].at_px, static_cast<int>(n)};
        }
    }

    template <class Visit>
    void visit(const Eigen::Vector2d& centre_px, double radius_px, Visit&& visit_saddle) const {
        const double radius2 = radius_px * radius_px;
        const int left = column(centre_px.x() - radius_px);
        const int right = column(centre_px.x() + radius_px);
        for (int r = row(centre_px.y() - radius_px); r <= row(centre_px.y() + radius_px); ++r) {
            for (std::size_t k = first_[bin(left, r)]; k < first_[bin(right, r) + 1]; ++k) {
                const double away2 = (sorted_[k].at_px - centre_px).squaredNorm();
                if (away2 <= radius2) {
                    visit_saddle(sorted_[k].index, away2);
                }
            }
        }
    }

  private:
    struct Place {
        Eigen::Vector2d at_px{0, 0};
        int index = 0;
    };

    static constexpr int bin_px = 24;
    int column(double x) const { return std::clamp(static_cast<int>(x) / bin_px, 0, across_ - 1); }
    int row(double y) const { return std::clamp(static_cast<int>(y) / bin_px, 0, down_ - 1); }
    std::size_t bin(int c, int r) const {
        return static_cast<std::size_t>(r) * static_cast<std::size_t>(across_) +
               static_cast<std::size_t>(c);
    }

    int across_;
    int down_;
    std::vector<std::size_t> first_;  ///< of each bin among the sorted ones, and where they end
    std::vector<Place> sorted_;
};

double cross(const Eigen::Vector2d& a, const Eigen::Vector2d& b) {
    return a.x() * b.y() - a.y() * b.x();
}

/// Of a slanted square, over its longer side.
double height_px(const Eigen::Vector2d& side, const Eigen::Vector2d& other) {
    return std::abs(cross(side, other)) / std::max(side.norm(), other.norm());
}

class LatticeFinder {
  public:
    LatticeFinder(const cv::Mat& image, const std::vector<Saddle>& saddles, double largest_px)
        : image_(image),
          saddles_(saddles),
          near_(image, saddles),
          largest_px_(largest_px),
          taken_(saddles.size(), false) {}

    std::vector<Lattice> all() {
        std::vector<Lattice> lattices;
        for (int n = 0; n < static_cast<int>(saddles_.size()); ++n) {
            const auto square = taken(n) ? std::nullopt : seed(n);
            if (!square) {
                continue;
            }
            const Places places = grown(*square);
            if (places.size() >= fewest_corners) {
                lattices.push_back(as_lattice(places));
            }
        }
        std::sort(lattices.begin(), lattices.end(), [](const Lattice& a, const Lattice& b) {
            return a.corners.size() > b.corners.size();
        });
        return lattices;
    }

  private:
    using Places = std::map<Lattice::Place, int>;

    const Saddle& saddle(int n) const { return saddles_[static_cast<std::size_t>(n)]; }
    bool taken(int n) const { return taken_[static_cast<std::size_t>(n)]; }

    /// Next to one another along an edge: quarters swapped, alike in strength.
    bool alternate(int a, int b) const {
        const double strength_a = saddle(a).strength;
        const double strength_b = saddle(b).strength;
        return std::abs(saddle(a).bright.dot(saddle(b).bright)) < 0.5 &&
               strength_a < 4 * strength_b && strength_b < 4 * strength_a;
    }

    /// How much brighter it is on the right hand of the way from a to b (x right, y down) than on
    /// the left, at three places of the way; nothing if it leaves the image.
    std::optional<Eigen::Vector3d> contrast_along(int a, int b) const {
        const Eigen::Vector2d from = saddle(a).at_px;
        const Eigen::Vector2d step = saddle(b).at_px - from;
        const Eigen::Vector2d right = Eigen::Vector2d(-step.y(), step.x()) / step.norm();
        const double reach_px = std::clamp(0.08 * step.norm(), 1.0, 3.0);
        Eigen::Vector3d contrast;
        for (int n = 0; n < 3; ++n) {
            const Eigen::Vector2d at = from + (0.3 + 0.2 * n) * step;
            const Eigen::Vector2d bright = at + reach_px * right;
            const Eigen::Vector2d dark = at - reach_px * right;
            if (!lies_inside(image_, bright, 0) || !lies_inside(image_, dark, 0)) {
                return std::nullopt;
            }
            contrast(n) = grey_at(image_, bright) - grey_at(image_, dark);
        }
        return contrast;
    }

    double least_contrast(int a, int b) const {
        return least_edge * std::min(saddle(a).strength, saddle(b).strength);
    }

    /// Bright on the right hand all along.
    bool edge_between(int a, int b) const {
        const auto contrast = contrast_along(a, b);
        return contrast && contrast->minCoeff() >= least_contrast(a, b);
    }

    /// Bright on the right hand on the whole: a spot of dirt may lie there.
    bool edge_on_the_whole(int a, int b) const {
        const auto contrast = contrast_along(a, b);
        return contrast && contrast->mean() >= least_contrast(a, b);
    }

    /// The saddles that may follow n along an edge, nearest first, by the quarter they lie in:
    /// 0 and 1 left and right of n's bright line (x right, y down), 2 and 3 the same behind n.
    using Quarters = std::array<std::vector<std::pair<double, int>>, 4>;

    Quarters neighbours(int n) const {
        Quarters quarters;
        const Eigen::Vector2d bright = saddle(n).bright;
        double beyond2 = nearest_px * nearest_px;
        std::size_t passed = 0;
        for (double radius_px = 16;; radius_px *= 2) {
            const double within_px = std::min(radius_px, largest_px_);
            near_.visit(saddle(n).at_px, within_px, [&](int m, double away2) {
                if (away2 < beyond2 || taken(m)) {
                    return;
                }
                ++passed;
                if (!alternate(n, m)) {
                    return;
                }
                const double away = std::sqrt(away2);
                const Eigen::Vector2d way = (saddle(m).at_px - saddle(n).at_px) / away;
                const double off_line = cross(bright, way);
                if (std::abs(off_line) > least_off_line && std::abs(off_line) < most_off_line) {
                    const bool ahead = bright.dot(way) > 0;
                    const bool right = (off_line > 0) == ahead;
                    quarters[(ahead ? 0U : 2U) + (right ? 1U : 0U)].emplace_back(away, m);
                }
            });
            const bool enough = std::all_of(quarters.begin(), quarters.end(),
                                            [](const auto& q) { return q.size() >= few; });
            if (enough || passed >= crowd || radius_px >= largest_px_) {
                break;
            }
            beyond2 = std::nextafter(within_px * within_px, HUGE_VAL);
        }
        for (auto& quarter : quarters) {
            std::sort(quarter.begin(), quarter.end());
            quarter.resize(std::min(quarter.size(), few));
        }
        return quarters;
    }

    /// A white square with a corner at n: the corners in the order (0,0) (1,0) (1,1) (0,1).
    std::optional<std::array<int, 4>> seed(int n) const {
        Quarters quarters = neighbours(n);
        for (const std::size_t side : {0U, 2U}) {
            std::erase_if(quarters[side],
                          [&](const auto& m) { return !edge_between(n, m.second); });
            std::erase_if(quarters[side + 1],
                          [&](const auto& m) { return !edge_between(m.second, n); });
            for (const auto& [first_px, first] : quarters[side]) {
                for (const auto& [second_px, second] : quarters[side + 1]) {
                    const auto square = closed_square(n, first, second);
                    if (square) {
                        return square;
                    }
                }
            }
        }
        return std::nullopt;
    }

    std::optional<std::array<int, 4>> closed_square(int n, int first, int second) const {
        const Eigen::Vector2d along = saddle(first).at_px - saddle(n).at_px;
        const Eigen::Vector2d down = saddle(second).at_px - saddle(n).at_px;
        const double ratio = along.norm() / down.norm();
        if (ratio > longest_over_shortest || ratio * longest_over_shortest < 1) {
            return std::nullopt;
        }
        const double reach = drift * height_px(along, down);
        const auto last = nearest_alternate(saddle(n).at_px + along + down, reach, first);
        if (!last || !edge_between(first, *last) || !edge_between(*last, second)) {
            return std::nullopt;
        }
        return std::array<int, 4>{n, first, *last, second};
    }

    /// The nearest free saddle about a predicted place whose quarters are those next to `other`.
    std::optional<int> nearest_alternate(const Eigen::Vector2d& at_px, double reach_px,
                                         int other) const {
        std::optional<int> best;
        double nearest2 = reach_px * reach_px;
        near_.visit(at_px, reach_px, [&](int n, double away2) {
            if (away2 <= nearest2 && n != other && !taken(n) && alternate(n, other)) {
                nearest2 = away2;
                best = n;
            }
        });
        return best;
    }

    Places grown(const std::array<int, 4>& square) {
        Places places{
            {{0, 0}, square[0]}, {{1, 0}, square[1]}, {{1, 1}, square[2]}, {{0, 1}, square[3]}};
        std::deque<Lattice::Place> fresh;
        for (const auto& [place, n] : places) {
            taken_[static_cast<std::size_t>(n)] = true;
            fresh.push_back(place);
        }
        while (!fresh.empty()) {
            const auto [i, j] = fresh.front();
            fresh.pop_front();
            for (const auto& [di, dj] : {std::pair{1, 0}, {0, 1}, {-1, 0}, {0, -1}}) {
                const Lattice::Place next{i + di, j + dj};
                const auto n =
                    places.count(next) ? std::nullopt : neighbour(places, {i, j}, di, dj);
                if (n) {
                    taken_[static_cast<std::size_t>(*n)] = true;
                    places[next] = *n;
                    fresh.push_back(next);
                    requeue_around(places, next, fresh);
                }
            }
        }
        return places;
    }

    /// A new corner may let its neighbours predict what they could not before.
    static void requeue_around(const Places& places, const Lattice::Place& place,
                               std::deque<Lattice::Place>& fresh) {
        for (int di = -1; di <= 1; ++di) {
            for (int dj = -1; dj <= 1; ++dj) {
                const Lattice::Place other{place.first + di, place.second + dj};
                if (other != place && places.count(other)) {
                    fresh.push_back(other);
                }
            }
        }
    }

    /// The step to the neighbour of a corner, from the corner behind it and the steps beside it.
    std::optional<Eigen::Vector2d> predicted_step(const Places& places, const Lattice::Place& from,
                                                  int di, int dj) const {
        const auto at = [&](int i, int j) -> const Eigen::Vector2d* {
            const auto found = places.find({i, j});
            return found == places.end() ? nullptr : &saddle(found->second).at_px;
        };
        const auto [i, j] = from;
        Eigen::Vector2d sum(0, 0);
        int count = 0;
        if (const auto* behind = at(i - di, j - dj)) {
            sum += *at(i, j) - *behind;
            ++count;
        }
        for (const int side : {1, -1}) {
            const auto* beside = at(i + side * dj, j + side * di);
            const auto* ahead = at(i + side * dj + di, j + side * di + dj);
            if (beside && ahead) {
                sum += *ahead - *beside;
                ++count;
            }
        }
        return count ? std::optional<Eigen::Vector2d>(sum / count) : std::nullopt;
    }

    std::optional<int> neighbour(const Places& places, const Lattice::Place& from, int di,
                                 int dj) const {
        const auto step = predicted_step(places, from, di, dj);
        if (!step) {
            return std::nullopt;
        }
        const int n = places.at(from);
        double narrowest_px = step->norm();
        for (const int side : {1, -1}) {
            const auto beside = places.find({from.first + side * dj, from.second + side * di});
            if (beside != places.end()) {
                const Eigen::Vector2d aside = saddle(beside->second).at_px - saddle(n).at_px;
                narrowest_px = std::min(narrowest_px, height_px(*step, aside));
            }
        }
        const auto next = nearest_alternate(saddle(n).at_px + *step, drift * narrowest_px, n);
        const auto [i, j] = from;
        const bool white_right = Lattice::is_white(i + (di - dj - 1) / 2, j + (di + dj - 1) / 2);
        const bool edge =
            next && (white_right ? edge_on_the_whole(n, *next) : edge_on_the_whole(*next, n));
        return edge ? next : std::nullopt;
    }

    Lattice as_lattice(const Places& places) const {
        Lattice lattice;
        for (const auto& [place, n] : places) {
            lattice.corners[place] = saddle(n);
        }
        return lattice;
    }

    const cv::Mat& image_;
    const std::vector<Saddle>& saddles_;
    Neighbourhood near_;
    double largest_px_;
    std::vector<bool> taken_;
};

}  // namespace

Pyramid searched_levels(const cv::Mat& grey) { return {grey, smallest_level_px}; }

std::vector<Lattice> find_lattices(const Pyramid& photo, int level) {
    const cv::Mat& image = photo[level];
    if (image.total() > most_searched_pixels) {
        return {};
    }
    const double largest_square_px = level == photo.smallest()
                                         ? smallest_level_share * std::min(image.cols, image.rows)
                                         : (level < 0 ? doubled_square_px : usual_square_px);
    const auto saddles = find_saddles(image, most_saddles);
    return LatticeFinder(image, saddles, largest_square_px).all();
}

}  // namespace squaresight

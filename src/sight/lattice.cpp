#include "sight/lattice.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <deque>
#include <iterator>
#include <numeric>
#include <optional>
#include <span>
#include <utility>

namespace squaresight {
namespace {

constexpr std::size_t fewest_corners = 6;
constexpr std::size_t fewest_of_part = 4;
constexpr double longest_over_shortest = 5;  // sides of a square: a tilt of 75 deg and more
constexpr float least_off_line = 0.2F;       // sine of an edge to the bright line of its saddle
constexpr float most_off_line = 0.98F;
constexpr double least_edge = 0.25;  // contrast across an edge over a saddle's strength
constexpr double drift = 0.25;       // from the predicted place, in heights of a square
constexpr float nearest_px = 4;      // between corners
constexpr int few = 3;               // nearest saddles tried in each direction
constexpr std::size_t crowd = 100;   // saddles about one among which its neighbours are looked for
constexpr int smallest_level_px = 180;        // shorter side
constexpr double usual_square_px = 48;        // at most; larger ones are left to smaller levels
constexpr double doubled_square_px = 128;     // the same on a doubled photo, which is small
constexpr double smallest_level_share = 0.6;  // largest square there, of its shorter side
constexpr std::size_t most_saddles = 12000;
constexpr std::size_t most_searched_pixels = 6200000;  // a board shows on a smaller level, too
constexpr std::size_t most_pixels_of_parts = 2000000;  // parts show among more clutter
constexpr std::size_t most_parts = 4;                  // of a level

/// A saddle among its neighbours.
struct Seen {
    Eigen::Vector2f at_px{0, 0};
    Eigen::Vector2f bright{1, 0};
    float strength = 0;
};

Seen seen(const Saddle& saddle) {
    return {saddle.at_px.cast<float>(), saddle.bright.cast<float>(),
            static_cast<float>(saddle.strength)};
}

/// About a place, without what is no farther than the root of `beyond2`; ahead of it only, and off
/// the line ahead, unless there is none.
struct Ring {
    Eigen::Vector2f centre_px{0, 0};
    float within_px = 0;
    float beyond2 = -1;
    Eigen::Vector2f ahead{0, 0};  ///< of length one, or zero
};

/// Saddles sorted into bins, row by row, for questions about neighbourhoods.
class Neighbourhood {
  public:
    Neighbourhood(const cv::Mat& image, const std::vector<Saddle>& saddles)
        : across_(image.cols / bin_px + 1), down_(image.rows / bin_px + 1) {
        std::vector<std::size_t> bins;
        first_.assign(bin(0, down_) + 1, 0);
        for (const auto& saddle : saddles) {
            const Seen one = seen(saddle);
            bins.push_back(bin(column(one.at_px.x()), row(one.at_px.y())));
            ++first_[bins.back() + 1];
        }
        std::partial_sum(first_.begin(), first_.end(), first_.begin());
        std::vector<std::size_t> next = first_;
        index_.resize(saddles.size());
        for (auto* sorted : {&x_px_, &y_px_, &bright_x_, &bright_y_, &strength_}) {
            sorted->resize(saddles.size());
        }
        for (std::size_t n = 0; n < saddles.size(); ++n) {
            put(seen(saddles[n]), static_cast<int>(n), next[bins[n]]++);
        }
    }

    /// Visits the saddles in a ring that alternate with a given one, as they do along an edge:
    /// quarters swapped, alike in strength. Returns how many others lie in the ring, whatever they
    /// are.
    template <class Visit>
    std::size_t visit_alternate(const Seen& with, const Ring& ring, Visit&& visit_index) {
        const float within2 = ring.within_px * ring.within_px;
        const int last = row(ring.centre_px.y() + ring.within_px);
        std::size_t others = 0;
        for (int r = row(ring.centre_px.y() - ring.within_px); r <= last; ++r) {
            const float half_px = std::sqrt(std::max(0.0F, within2 - away2_of_row(ring, r)));
            const std::size_t first = first_[bin(column(ring.centre_px.x() - half_px), r)];
            const std::size_t end = first_[bin(column(ring.centre_px.x() + half_px), r) + 1];
            others += mark(with, ring, first, end);
            for (std::size_t k = first; k < end; ++k) {
                if (marked_[k - first] != 0) {
                    visit_index(index_[k], away2_[k - first]);
                }
            }
        }
        return others;
    }

  private:
    static constexpr int bin_px = 24;
    int column(float x) const { return std::clamp(static_cast<int>(x) / bin_px, 0, across_ - 1); }
    int row(float y) const { return std::clamp(static_cast<int>(y) / bin_px, 0, down_ - 1); }
    std::size_t bin(int c, int r) const {
        return static_cast<std::size_t>(r) * static_cast<std::size_t>(across_) +
               static_cast<std::size_t>(c);
    }

    /// Of the nearest that a row of bins comes to a ring's centre.
    static float away2_of_row(const Ring& ring, int r) {
        const auto top_px = static_cast<float>(r * bin_px);
        const float away =
            std::max({0.0F, top_px - ring.centre_px.y(), ring.centre_px.y() - (top_px + bin_px)});
        return away * away;
    }

    void put(const Seen& one, int index, std::size_t place) {
        x_px_[place] = one.at_px.x();
        y_px_[place] = one.at_px.y();
        bright_x_[place] = one.bright.x();
        bright_y_[place] = one.bright.y();
        strength_[place] = one.strength;
        index_[place] = index;
    }

    /// Marks those of a row that are to be visited; how many of it lie in the ring. Without a
    /// branch, so that a processor does several at once.
    std::size_t mark(const Seen& with, const Ring& ring, std::size_t first, std::size_t end) {
        if (end - first > marked_.size()) {
            marked_.resize(end - first);
            away2_.resize(end - first);
        }
        const float within2 = ring.within_px * ring.within_px;
        const float nearest2 = least_off_line * least_off_line * ring.ahead.squaredNorm();
        constexpr float farthest2 = most_off_line * most_off_line;
        int others = 0;
        for (std::size_t k = first; k < end; ++k) {
            const float dx = x_px_[k] - ring.centre_px.x();
            const float dy = y_px_[k] - ring.centre_px.y();
            const float away2 = dx * dx + dy * dy;
            const float alike = bright_x_[k] * with.bright.x() + bright_y_[k] * with.bright.y();
            const int inside =
                static_cast<int>(away2 > ring.beyond2) & static_cast<int>(away2 <= within2);
            const float along = ring.ahead.x() * dx + ring.ahead.y() * dy;
            const float aside = ring.ahead.x() * dy - ring.ahead.y() * dx;
            const float off_line2 = aside * aside;
            others += inside;
            away2_[k - first] = away2;
            marked_[k - first] = inside & static_cast<int>(along >= 0) &
                                 static_cast<int>(off_line2 >= nearest2 * away2) &
                                 static_cast<int>(off_line2 <= farthest2 * away2) &
                                 static_cast<int>(std::abs(alike) < 0.5F) &
                                 static_cast<int>(strength_[k] < 4 * with.strength) &
                                 static_cast<int>(with.strength < 4 * strength_[k]);
        }
        return static_cast<std::size_t>(others);
    }

    int across_;
    int down_;
    std::vector<std::size_t> first_;  ///< of each bin among the sorted ones, and where they end
    std::vector<float> x_px_, y_px_, bright_x_, bright_y_, strength_;  ///< sorted
    std::vector<int> index_;    ///< of the sorted ones among all saddles
    std::vector<int> marked_;   ///< of a row: whether to visit
    std::vector<float> away2_;  ///< of a row
};

double cross(const Eigen::Vector2d& a, const Eigen::Vector2d& b) {
    return a.x() * b.y() - a.y() * b.x();
}

/// Of a slanted square, over its longer side.
double height_px(const Eigen::Vector2d& side, const Eigen::Vector2d& other) {
    return std::abs(cross(side, other)) / std::max(side.norm(), other.norm());
}

/// The nearest few of many, nearest first.
class Nearest {
  public:
    void add(float away2, int index) {
        const std::pair one{away2, index};
        if (is_full() && !(one < found_.back())) {
            return;
        }
        count_ += is_full() ? 0 : 1;
        auto place = found_.begin() + count_ - 1;
        for (; place != found_.begin() && one < *(place - 1); --place) {
            *place = *(place - 1);
        }
        *place = one;
    }
    bool is_full() const { return count_ == few; }

    /// Indices of those for which this holds.
    template <class Holds>
    std::vector<int> those_that(const Holds& holds) const {
        std::vector<int> those;
        for (int k = 0; k < count_; ++k) {
            if (holds(found_[static_cast<std::size_t>(k)].second)) {
                those.push_back(found_[static_cast<std::size_t>(k)].second);
            }
        }
        return those;
    }

  private:
    std::array<std::pair<float, int>, few> found_{};
    int count_ = 0;
};

/// The way from a saddle to another, looked at in three places between them.
class Way {
  public:
    Way(const cv::Mat& image, const Saddle& from, const Saddle& to)
        : image_(image),
          from_px_(from.at_px),
          step_px_(to.at_px - from.at_px),
          least_contrast_(least_edge * std::min(from.strength, to.strength)) {
        const double length_px = step_px_.norm();
        right_px_ = Eigen::Vector2d(-step_px_.y(), step_px_.x()) *
                    (std::clamp(0.08 * length_px, 1.0, 3.0) / length_px);
    }

    /// Bright on the right hand (x right, y down) all along.
    bool is_edge() const {
        return std::ranges::all_of(places, [this](double share) {
            const auto contrast = contrast_at(share);
            return contrast && *contrast >= least_contrast_;
        });
    }

    /// Bright on the right hand on the whole: a spot of dirt may lie there.
    bool is_edge_on_the_whole() const {
        double sum = 0;
        for (const double share : places) {
            const auto contrast = contrast_at(share);
            if (!contrast) {
                return false;
            }
            sum += *contrast;
        }
        return sum >= least_contrast_ * places.size();
    }

  private:
    static constexpr std::array<double, 3> places{0.3, 0.5, 0.7};

    /// How much brighter it is on the right hand than on the left; nothing outside the image.
    std::optional<double> contrast_at(double share) const {
        const Eigen::Vector2d at = from_px_ + share * step_px_;
        const Eigen::Vector2d bright = at + right_px_;
        const Eigen::Vector2d dark = at - right_px_;
        if (!lies_inside(image_, bright, 0) || !lies_inside(image_, dark, 0)) {
            return std::nullopt;
        }
        return grey_at(image_, bright) - grey_at(image_, dark);
    }

    const cv::Mat& image_;
    Eigen::Vector2d from_px_;
    Eigen::Vector2d step_px_;
    Eigen::Vector2d right_px_;
    double least_contrast_;
};

class LatticeFinder {
  public:
    LatticeFinder(const cv::Mat& image, const std::vector<Saddle>& saddles, double largest_px)
        : image_(image),
          saddles_(saddles),
          near_(image, saddles),
          largest_px_(largest_px),
          taken_(saddles.size(), false),
          halves_(2 * saddles.size()) {}

    /// Boards are about a whole white square. Of what is left, whole squares come first: three
    /// corners alone may mislead.
    Lattices found(bool with_parts) {
        Lattices found;
        for (auto& lattice : grown_from(Seed::white_square)) {
            const bool large = lattice.corners.size() >= fewest_corners;
            (large ? found.boards : found.parts).push_back(std::move(lattice));
        }
        if (with_parts) {
            std::ranges::move(grown_from(Seed::black_square), std::back_inserter(found.parts));
            std::ranges::move(grown_from(Seed::three_corners), std::back_inserter(found.parts));
        }
        return found;
    }

  private:
    using Places = std::map<Lattice::Place, int>;

    /// What a lattice grows from: all corners of a square, or three of either colour.
    enum class Seed { white_square, black_square, three_corners };

    /// Lattices of at least four corners.
    std::vector<Lattice> grown_from(Seed kind) {
        std::vector<Lattice> lattices;
        for (int n = 0; n < static_cast<int>(saddles_.size()); ++n) {
            const auto first = taken(n) ? std::nullopt : seed(n, kind);
            const Places places = first ? grown(*first) : Places{};
            if (places.size() >= fewest_of_part) {
                lattices.push_back(as_lattice(places));
            }
        }
        return lattices;
    }

    const Saddle& saddle(int n) const { return saddles_[static_cast<std::size_t>(n)]; }
    bool taken(int n) const { return taken_[static_cast<std::size_t>(n)]; }

    /// With the white side on its right hand.
    Way way(int a, int b, bool white_right) const {
        return white_right ? Way{image_, saddle(a), saddle(b)} : Way{image_, saddle(b), saddle(a)};
    }

    /// The nearest few saddles that may follow n along an edge, by the quarter they lie in: left of
    /// n's bright line (x right, y down), right of it, right and left of it behind n. The squares
    /// between the first two and the last two are white, the others black.
    const Nearest& neighbours(int n, std::size_t quarter) {
        auto& known = halves_[2 * static_cast<std::size_t>(n) + quarter / 2];
        if (!known) {
            known = found_neighbours(n, quarter < 2);
        }
        return (*known)[quarter % 2];
    }

    /// Two quarters, ahead along the bright line or behind.
    using Half = std::array<Nearest, 2>;

    Half found_neighbours(int n, bool ahead) {
        Half half;
        const Seen self = seen(saddle(n));
        const Eigen::Vector2f forward = ahead ? self.bright : -self.bright;
        const auto largest_px = static_cast<float>(largest_px_);
        std::size_t passed = 0;
        Ring ring{self.at_px, 0, nearest_px * nearest_px, forward};
        for (float radius_px = 24;; radius_px *= 2) {
            ring.within_px = std::min(radius_px, largest_px);
            passed += near_.visit_alternate(self, ring, [&](int m, float away2) {
                if (!taken(m)) {
                    const Eigen::Vector2f way = seen(saddle(m)).at_px - self.at_px;
                    const bool right = forward.x() * way.y() > forward.y() * way.x();
                    half[right ? 1 : 0].add(away2, m);
                }
            });
            const bool enough = half[0].is_full() && half[1].is_full();
            if (enough || passed >= crowd || radius_px >= largest_px) {
                return half;
            }
            ring.beyond2 = ring.within_px * ring.within_px;
        }
    }

    /// The quarters in which a seed's first side is looked for, the second being a quarter on. A
    /// whole square needs to be seen from one of its corners only.
    static std::span<const std::size_t> turns_of(Seed kind) {
        static constexpr std::array<std::size_t, 4> turns{0, 1, 2, 3};
        const std::span all(turns);
        return kind == Seed::white_square   ? all.first(1)
               : kind == Seed::black_square ? all.subspan(1, 1)
                                            : all;
    }

    std::optional<Places> seed(int n, Seed kind) {
        for (const std::size_t turn : turns_of(kind)) {
            const bool white = turn % 2 == 0;
            const auto firsts = neighbours(n, turn).those_that(
                [&](int m) { return !taken(m) && way(n, m, white).is_edge(); });
            if (firsts.empty()) {
                continue;
            }
            const auto seconds = neighbours(n, (turn + 1) % 4).those_that([&](int m) {
                return !taken(m) && way(m, n, white).is_edge();
            });
            for (const int first : firsts) {
                for (const int second : seconds) {
                    auto places = corners_of_square({n, first, second, white}, kind);
                    if (places) {
                        return places;
                    }
                }
            }
        }
        return std::nullopt;
    }

    /// Two sides of a square that meet in n, the second a right turn from the first.
    struct Sides {
        int n = 0;
        int first = 0;
        int second = 0;
        bool white = true;
    };

    std::optional<Places> corners_of_square(const Sides& of, Seed kind) {
        const Eigen::Vector2d along = saddle(of.first).at_px - saddle(of.n).at_px;
        const Eigen::Vector2d down = saddle(of.second).at_px - saddle(of.n).at_px;
        const double ratio = along.norm() / down.norm();
        if (ratio > longest_over_shortest || ratio * longest_over_shortest < 1) {
            return std::nullopt;
        }
        const int i = of.white ? 0 : 1;
        Places places{{{i, 0}, of.n}, {{i + 1, 0}, of.first}, {{i, 1}, of.second}};
        if (kind == Seed::three_corners) {
            return places;
        }
        const double reach = drift * height_px(along, down);
        const auto last = nearest_alternate(saddle(of.n).at_px + along + down, reach, of.first);
        if (!last || !way(of.first, *last, of.white).is_edge() ||
            !way(*last, of.second, of.white).is_edge()) {
            return std::nullopt;
        }
        places[{i + 1, 1}] = *last;
        return places;
    }

    /// The nearest free saddle about a predicted place whose quarters are those next to `other`.
    std::optional<int> nearest_alternate(const Eigen::Vector2d& at_px, double reach_px, int other) {
        std::optional<int> best;
        const Ring about{at_px.cast<float>(), static_cast<float>(reach_px)};
        float nearest2 = HUGE_VALF;
        near_.visit_alternate(seen(saddle(other)), about, [&](int n, float away2) {
            if (away2 < nearest2 && n != other && !taken(n)) {
                nearest2 = away2;
                best = n;
            }
        });
        return best;
    }

    Places grown(Places places) {
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

    std::optional<int> neighbour(const Places& places, const Lattice::Place& from, int di, int dj) {
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
        return next && way(n, *next, white_right).is_edge_on_the_whole() ? next : std::nullopt;
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
    std::vector<std::optional<Half>> halves_;  ///< of each saddle: ahead and behind, if asked for
};

bool larger(const Lattice& a, const Lattice& b) { return a.corners.size() > b.corners.size(); }

double largest_square_px(const Pyramid& photo, int level) {
    const cv::Mat& image = photo[level];
    if (level == photo.smallest()) {
        return smallest_level_share * std::min(image.cols, image.rows);
    }
    return level < 0 ? doubled_square_px : usual_square_px;
}

}  // namespace

Pyramid searched_levels(const cv::Mat& grey) { return {grey, smallest_level_px}; }

Lattices find_lattices(const Pyramid& photo, int level) {
    const cv::Mat& image = photo[level];
    if (image.total() > most_searched_pixels) {
        return {};
    }
    const auto saddles = find_saddles(image, most_saddles);
    LatticeFinder finder(image, saddles, largest_square_px(photo, level));
    Lattices found = finder.found(image.total() <= most_pixels_of_parts);
    std::ranges::stable_sort(found.boards, larger);
    std::ranges::stable_sort(found.parts, larger);
    found.parts.resize(std::min(found.parts.size(), most_parts));
    return found;
}

}  // namespace squaresight

#include "sight/lattice.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <iterator>
#include <optional>
#include <span>
#include <utility>

#include "sight/growth.h"
#include "sight/half_lattice.h"
#include "sight/neighbourhood.h"
#include "sight/way.h"

namespace squaresight {
namespace {

constexpr std::size_t fewest_corners = 6;
constexpr std::size_t fewest_of_part = 4;
constexpr double longest_over_shortest = 5;  // sides of a square: a tilt of 75 deg and more
constexpr float least_off_line = 0.2F;       // sine of an edge to the bright line of its saddle
constexpr float most_off_line = 0.98F;
constexpr float nearest_px = 4;     // between corners
constexpr std::size_t crowd = 100;  // saddles about one among which its neighbours are looked for
constexpr int smallest_level_px = 180;        // shorter side
constexpr double usual_square_px = 48;        // at most; larger ones are left to smaller levels
constexpr double doubled_square_px = 128;     // the same on a doubled photo, which is small
constexpr double smallest_level_share = 0.6;  // largest square there, of its shorter side
constexpr std::size_t most_saddles = 12000;
constexpr std::size_t most_searched_pixels = 6200000;  // a board shows on a smaller level, too
constexpr std::size_t most_pixels_of_parts = 2000000;  // parts show among more clutter
constexpr std::size_t most_seeds_of_parts = 1000;      // the strongest saddles
constexpr std::size_t most_parts = 4;                  // of a level
constexpr std::size_t most_halves = 2;                 // of a level

/// The largest of them, the largest first.
std::vector<Lattice> largest(std::vector<Lattice> lattices, std::size_t most = SIZE_MAX) {
    std::ranges::stable_sort(lattices, [](const Lattice& a, const Lattice& b) {
        return a.corners.size() > b.corners.size();
    });
    lattices.resize(std::min(lattices.size(), most));
    return lattices;
}

double largest_square_px(const Pyramid& photo, int level) {
    const cv::Mat& image = photo[level];
    if (level == photo.smallest()) {
        return smallest_level_share * std::min(image.cols, image.rows);
    }
    return level < 0 ? doubled_square_px : usual_square_px;
}

std::vector<Saddle> searched_saddles(const cv::Mat& image) {
    return image.total() > most_searched_pixels ? std::vector<Saddle>{}
                                                : find_saddles(image, most_saddles);
}

}  // namespace

class LatticeSearch::Finder {
  public:
    Finder(const Pyramid& photo, int level)
        : image_(photo[level]),
          saddles_(searched_saddles(image_)),
          near_(image_, saddles_),
          largest_px_(largest_square_px(photo, level)),
          with_parts_(image_.total() <= most_pixels_of_parts),
          with_halves_(with_parts_ && level >= 0),
          taken_(saddles_.size(), false),
          halves_(2 * saddles_.size()) {}

    /// Boards are about a whole white square.
    std::vector<Lattice> boards() {
        std::vector<Lattice> boards;
        for (auto& lattice : grown_from(Seed::white_square)) {
            const bool large = lattice.corners.size() >= fewest_corners;
            (large ? boards : small_).push_back(std::move(lattice));
        }
        return largest(std::move(boards));
    }

    /// Of what is left, whole squares come first: three corners alone may mislead.
    std::vector<Lattice> parts() {
        std::vector<Lattice> parts = std::move(small_);
        if (with_parts_) {
            std::ranges::move(grown_from(Seed::black_square), std::back_inserter(parts));
            std::ranges::move(grown_from(Seed::three_corners), std::back_inserter(parts));
        }
        parts = largest(std::move(parts), most_parts);
        if (with_halves_) {
            std::ranges::move(
                largest(find_half_lattices(image_, saddles_, largest_px_), most_halves),
                std::back_inserter(parts));
        }
        return parts;
    }

  private:
    /// What a lattice grows from: all corners of a square, or three of either colour.
    enum class Seed { white_square, black_square, three_corners };

    /// Lattices of at least four corners.
    std::vector<Lattice> grown_from(Seed kind) {
        const NextSaddle next = [this](const Step& step) { return next_along_edge(step); };
        std::vector<Lattice> lattices;
        const std::size_t most = kind == Seed::white_square ? most_saddles : most_seeds_of_parts;
        const int end = static_cast<int>(std::min(most, saddles_.size()));
        for (int n = 0; n < end; ++n) {
            const auto first = taken(n) ? std::nullopt : seed(n, kind);
            const Places places = first ? grown(*first, saddles_, taken_, next) : Places{};
            if (places.size() >= fewest_of_part) {
                lattices.push_back(lattice_of(places, saddles_));
            }
        }
        return lattices;
    }

    const Saddle& saddle(int n) const { return saddles_[static_cast<std::size_t>(n)]; }
    bool taken(int n) const { return taken_[static_cast<std::size_t>(n)]; }

    /// With the white side on its right hand.
    Way way(int a, int b, bool white_right) const {
        const auto& from = saddle(white_right ? a : b);
        const auto& to = saddle(white_right ? b : a);
        return {image_, from.at_px, to.at_px, least_contrast_between(from, to)};
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
        Wanted wanted{self,    Kin::along_edge, self.at_px,   0, nearest_px * nearest_px,
                      forward, least_off_line,  most_off_line};
        for (float radius_px = 48;; radius_px *= 2) {
            wanted.within_px = std::min(radius_px, largest_px);
            passed += near_.visit(wanted, [&](int m, float away2) {
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
            wanted.beyond2 = wanted.within_px * wanted.within_px;
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
        const auto last =
            nearest_along_edge(saddle(of.n).at_px + along + down, reach_px(along, down), of.first);
        if (!last || !way(of.first, *last, of.white).is_edge() ||
            !way(*last, of.second, of.white).is_edge()) {
            return std::nullopt;
        }
        places[{i + 1, 1}] = *last;
        return places;
    }

    /// The nearest free saddle about a predicted place that may be joined to `other`.
    std::optional<int> nearest_along_edge(const Eigen::Vector2d& at_px, double reach_px,
                                          int other) {
        return near_.nearest({seen(saddle(other)), Kin::along_edge, at_px.cast<float>(),
                              static_cast<float>(reach_px)},
                             [&](int n) { return n != other && !taken(n); });
    }

    std::optional<int> next_along_edge(const Step& step) {
        const auto next = nearest_along_edge(step.to_px, step.reach_px, step.n);
        const auto [i, j] = step.from;
        const bool white_right =
            Lattice::is_white(i + (step.di - step.dj - 1) / 2, j + (step.di + step.dj - 1) / 2);
        return next && way(step.n, *next, white_right).is_edge_on_the_whole() ? next : std::nullopt;
    }

    const cv::Mat& image_;
    std::vector<Saddle> saddles_;
    Neighbourhood near_;
    double largest_px_;
    bool with_parts_;
    bool with_halves_;
    std::vector<Lattice> small_;  ///< lattices about a white square that are too small for a board
    std::vector<bool> taken_;
    std::vector<std::optional<Half>> halves_;  ///< of each saddle: ahead and behind, if asked for
};

Pyramid searched_levels(const cv::Mat& grey) { return {grey, smallest_level_px}; }

LatticeSearch::LatticeSearch(const Pyramid& photo, int level)
    : finder_(std::make_unique<Finder>(photo, level)) {}
LatticeSearch::LatticeSearch(LatticeSearch&& other) noexcept = default;
LatticeSearch::~LatticeSearch() = default;

std::vector<Lattice> LatticeSearch::boards() { return finder_->boards(); }

std::vector<Lattice> LatticeSearch::parts() { return finder_->parts(); }

}  // namespace squaresight

#pragma once
#include <Eigen/Core>
#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/core.hpp>
#include <optional>
#include <utility>
#include <vector>

#include "sight/saddles.h"

namespace squaresight {

/// A saddle among its neighbours.
struct Seen {
    Eigen::Vector2f at_px{0, 0};
    Eigen::Vector2f bright{1, 0};
    float strength = 0;
};

inline Seen seen(const Saddle& saddle) {
    return {saddle.at_px.cast<float>(), saddle.bright.cast<float>(),
            static_cast<float>(saddle.strength)};
}

/// Of two saddles of one board: joined by an edge, along which bright and dark quarters take
/// turns, or across a square from one another.
enum class Kin { along_edge, across_square };

/// Which saddles are wanted: of a kin with a given one and alike in strength, and lying in a ring
/// about a place. They may have to lie ahead of that place, and off the line ahead by an angle
/// within limits.
struct Wanted {
    Seen with;
    Kin kin = Kin::along_edge;
    Eigen::Vector2f centre_px{0, 0};
    float within_px = 0;
    float beyond2 = -1;           ///< the square of what they are farther away than
    Eigen::Vector2f ahead{0, 0};  ///< of length one, or zero: anywhere
    float least_off_line = 0;     ///< sine of the angle
    float most_off_line = 1;
};

/// Saddles sorted into bins, row by row, for questions about neighbourhoods.
class Neighbourhood {
  public:
    Neighbourhood(const cv::Mat& image, const std::vector<Saddle>& saddles);

    /// Visits those that are wanted with their index and the square of their distance. Returns how
    /// many others lie in the ring, whatever they are.
    template <class Visit>
    std::size_t visit(const Wanted& wanted, Visit&& visit_index) {
        const float within2 = wanted.within_px * wanted.within_px;
        const int last = row(wanted.centre_px.y() + wanted.within_px);
        std::size_t others = 0;
        for (int r = row(wanted.centre_px.y() - wanted.within_px); r <= last; ++r) {
            const float half_px = std::sqrt(std::max(0.0F, within2 - away2_of_row(wanted, r)));
            const std::size_t first = first_[bin(column(wanted.centre_px.x() - half_px), r)];
            const std::size_t end = first_[bin(column(wanted.centre_px.x() + half_px), r) + 1];
            others += mark(wanted, first, end);
            for (std::size_t k = first; k < end; ++k) {
                if (marked_[k - first] != 0) {
                    visit_index(index_[k], away2_[k - first]);
                }
            }
        }
        return others;
    }

    /// The nearest that is wanted and for whose index this holds.
    template <class Holds>
    std::optional<int> nearest(const Wanted& wanted, const Holds& holds) {
        std::optional<int> best;
        float nearest2 = HUGE_VALF;
        visit(wanted, [&](int n, float away2) {
            if (away2 < nearest2 && holds(n)) {
                nearest2 = away2;
                best = n;
            }
        });
        return best;
    }

  private:
    static constexpr int bin_px = 48;
    int column(float x) const { return std::clamp(static_cast<int>(x) / bin_px, 0, across_ - 1); }
    int row(float y) const { return std::clamp(static_cast<int>(y) / bin_px, 0, down_ - 1); }
    std::size_t bin(int c, int r) const {
        return static_cast<std::size_t>(r) * static_cast<std::size_t>(across_) +
               static_cast<std::size_t>(c);
    }

    /// Of the nearest that a row of bins comes to the middle of a ring.
    static float away2_of_row(const Wanted& wanted, int r) {
        const auto top_px = static_cast<float>(r * bin_px);
        const float away = std::max(
            {0.0F, top_px - wanted.centre_px.y(), wanted.centre_px.y() - (top_px + bin_px)});
        return away * away;
    }

    void put(const Seen& one, int index, std::size_t place);
    std::size_t mark(const Wanted& wanted, std::size_t first, std::size_t end);

    int across_;
    int down_;
    std::vector<std::size_t> first_;  ///< of each bin among the sorted ones, and where they end
    std::vector<float> x_px_, y_px_, bright_x_, bright_y_, strength_;  ///< sorted
    std::vector<int> index_;    ///< of the sorted ones among all saddles
    std::vector<int> marked_;   ///< of a row: whether to visit
    std::vector<float> away2_;  ///< of a row
};

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
    static constexpr int few = 3;
    std::array<std::pair<float, int>, few> found_{};
    int count_ = 0;
};

}  // namespace squaresight

#include "sight/growth.h"

#include <algorithm>
#include <cmath>
#include <deque>
#include <utility>

namespace squaresight {
namespace {

constexpr double drift = 0.25;  // from the predicted place, in heights of a cell

class Growth {
  public:
    Growth(Places places, const std::vector<Saddle>& saddles, std::vector<bool>& taken)
        : places_(std::move(places)), saddles_(saddles), taken_(taken) {}

    Places grown(const NextSaddle& next_saddle) {
        for (const auto& [place, n] : places_) {
            taken_[static_cast<std::size_t>(n)] = true;
            fresh_.push_back(place);
        }
        while (!fresh_.empty()) {
            const Lattice::Place from = fresh_.front();
            fresh_.pop_front();
            for (const auto& [di, dj] : {std::pair{1, 0}, {0, 1}, {-1, 0}, {0, -1}}) {
                const Lattice::Place next{from.first + di, from.second + dj};
                const auto step = places_.count(next) ? std::nullopt : predicted(from, di, dj);
                const auto n = step ? next_saddle(*step) : std::nullopt;
                if (n) {
                    taken_[static_cast<std::size_t>(*n)] = true;
                    places_[next] = *n;
                    fresh_.push_back(next);
                    requeue_around(next);
                }
            }
        }
        return places_;
    }

  private:
    const Eigen::Vector2d* at(int i, int j) const {
        const auto found = places_.find({i, j});
        return found == places_.end() ? nullptr
                                      : &saddles_[static_cast<std::size_t>(found->second)].at_px;
    }

    /// A new corner may let its neighbours predict what they could not before.
    void requeue_around(const Lattice::Place& place) {
        for (int di = -1; di <= 1; ++di) {
            for (int dj = -1; dj <= 1; ++dj) {
                const Lattice::Place other{place.first + di, place.second + dj};
                if (other != place && places_.count(other)) {
                    fresh_.push_back(other);
                }
            }
        }
    }

    /// From the corner behind and the steps beside.
    std::optional<Step> predicted(const Lattice::Place& from, int di, int dj) const {
        const auto [i, j] = from;
        const Eigen::Vector2d start_px = *at(i, j);
        Eigen::Vector2d sum(0, 0);
        int count = 0;
        if (const auto* behind = at(i - di, j - dj)) {
            sum += start_px - *behind;
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
        if (count == 0) {
            return std::nullopt;
        }
        const Eigen::Vector2d step_px = sum / count;
        double reach = drift * step_px.norm();
        for (const int side : {1, -1}) {
            if (const auto* beside = at(i + side * dj, j + side * di)) {
                reach = std::min(reach, reach_px(step_px, *beside - start_px));
            }
        }
        return Step{from, di, dj, places_.at(from), start_px + step_px, reach};
    }

    Places places_;
    const std::vector<Saddle>& saddles_;
    std::vector<bool>& taken_;
    std::deque<Lattice::Place> fresh_;
};

}  // namespace

Places grown(Places places, const std::vector<Saddle>& saddles, std::vector<bool>& taken,
             const NextSaddle& next_saddle) {
    return Growth(std::move(places), saddles, taken).grown(next_saddle);
}

Lattice lattice_of(const Places& places, const std::vector<Saddle>& saddles) {
    Lattice lattice;
    for (const auto& [place, n] : places) {
        lattice.corners[place] = saddles[static_cast<std::size_t>(n)];
    }
    return lattice;
}

double reach_px(const Eigen::Vector2d& side, const Eigen::Vector2d& other) {
    const double area = std::abs(side.x() * other.y() - side.y() * other.x());
    return drift * area / std::max(side.norm(), other.norm());
}

}  // namespace squaresight

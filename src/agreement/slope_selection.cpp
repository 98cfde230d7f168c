#include "agreement/slope_selection.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <random>
#include <utility>

namespace squaresight {
namespace {

using Order = std::vector<std::uint32_t>;
using Pair = std::pair<std::uint32_t, std::uint32_t>;

/// Values that follow each other within rounding become one.
void join_equal(std::vector<Point>& points, double Point::*coordinate) {
    Order by_value(points.size());
    std::iota(by_value.begin(), by_value.end(), 0U);
    std::sort(by_value.begin(), by_value.end(), [&](std::uint32_t a, std::uint32_t b) {
        return points[a].*coordinate < points[b].*coordinate;
    });
    constexpr double rounding = 4 * std::numeric_limits<double>::epsilon();
    for (std::size_t i = 1; i < by_value.size(); ++i) {
        const double before = points[by_value[i - 1]].*coordinate;
        double& value = points[by_value[i]].*coordinate;
        if (value - before <= rounding * std::max(std::abs(value), std::abs(before))) {
            value = before;
        }
    }
}

/// Points as a falling line of this slope meets them, just after those of equal slope have changed
/// places: a pair stands the other way round than by x exactly where its slope is at most this.
Order order_at(const std::vector<Point>& points, double slope) {
    struct Key {
        double height;
        std::uint32_t point;
    };
    std::vector<Key> keys(points.size());
    for (std::size_t i = 0; i < points.size(); ++i) {
        keys[i] = {points[i].y - slope * points[i].x, static_cast<std::uint32_t>(i)};
    }
    std::sort(keys.begin(), keys.end(), [&](const Key& a, const Key& b) {
        if (a.height != b.height) {
            return a.height < b.height;
        }
        const double x_a = points[a.point].x;
        const double x_b = points[b.point].x;
        return x_a != x_b ? x_a > x_b : a.point < b.point;
    });
    Order order(points.size());
    std::transform(keys.begin(), keys.end(), order.begin(),
                   [](const Key& key) { return key.point; });
    return order;
}

Order first_order(std::size_t count) {
    Order order(count);
    std::iota(order.begin(), order.end(), 0U);
    return order;
}

/// By falling x, points of one x as they were.
Order last_order(const std::vector<Point>& points) {
    Order order = first_order(points.size());
    std::stable_sort(order.begin(), order.end(),
                     [&](std::uint32_t a, std::uint32_t b) { return points[a].x > points[b].x; });
    return order;
}

/// Pairs that stand one way in one order and the other way in the other: counts all, and picks
/// those of the given places in the order in which they are met.
class Inversions {
  public:
    Inversions(const Order& from, const Order& to) : to_(to), places_(from.size()) {
        std::vector<std::uint32_t> place_of(from.size());
        for (std::size_t i = 0; i < to.size(); ++i) {
            place_of[to[i]] = static_cast<std::uint32_t>(i);
        }
        for (std::size_t i = 0; i < from.size(); ++i) {
            places_[i] = place_of[from[i]];
        }
    }

    std::int64_t count() const { return walk(nullptr, nullptr); }

    /// `wanted` rises.
    std::vector<Pair> pairs(const std::vector<std::int64_t>& wanted) const {
        std::vector<Pair> found;
        found.reserve(wanted.size());
        walk(&wanted, &found);
        return found;
    }

  private:
    std::int64_t walk(const std::vector<std::int64_t>* wanted, std::vector<Pair>* found) const {
        std::vector<std::uint32_t> now = places_;
        std::vector<std::uint32_t> merged(now.size());
        std::int64_t met = 0;
        std::size_t next = 0;
        for (std::size_t width = 1; width < now.size(); width *= 2) {
            for (std::size_t begin = 0; begin < now.size(); begin += 2 * width) {
                const std::size_t middle = std::min(begin + width, now.size());
                const std::size_t end = std::min(begin + 2 * width, now.size());
                std::size_t left = begin, right = middle;
                for (std::size_t out = begin; out < end; ++out) {
                    if (left < middle && (right == end || now[left] < now[right])) {
                        merged[out] = now[left++];
                        continue;
                    }
                    // All that is left on the left stands before this one, and after it in `to`.
                    const auto passed = static_cast<std::int64_t>(middle - left);
                    while (wanted && next < wanted->size() && (*wanted)[next] < met + passed) {
                        const auto offset = static_cast<std::size_t>((*wanted)[next] - met);
                        found->emplace_back(to_[now[left + offset]], to_[now[right]]);
                        ++next;
                    }
                    met += passed;
                    merged[out] = now[right++];
                }
            }
            now.swap(merged);
        }
        return met;
    }

    const Order& to_;
    std::vector<std::uint32_t> places_;  ///< in `to`, in the order of `from`
};

std::vector<double> slopes_of(const std::vector<Point>& points, const std::vector<Pair>& pairs) {
    std::vector<double> slopes;
    slopes.reserve(pairs.size());
    for (const auto& [a, b] : pairs) {
        slopes.push_back((points[b].y - points[a].y) / (points[b].x - points[a].x));
    }
    return slopes;
}

enum class Side { below, above, both };

/// The pairs among which the wanted slopes are: those whose order changes from `low_` to `high_`.
class Range {
  public:
    /// `wanted` slopes from `rank` on, of `count` in all.
    Range(const std::vector<Point>& points, std::int64_t rank, std::int64_t wanted,
          std::int64_t count)
        : points_(points),
          low_(first_order(points.size())),
          high_(last_order(points)),
          rank_(rank),
          wanted_(wanted),
          inside_(count) {}

    std::int64_t inside() const { return inside_; }
    double share() const { return static_cast<double>(rank_) / static_cast<double>(inside_); }

    /// Leaves out what lies on the other side of `slope` than the wanted ones; nothing where they
    /// lie on both. Where they lie.
    Side narrow(double slope) {
        Order at = order_at(points_, slope);
        const std::int64_t up_to = Inversions(low_, at).count();
        if (rank_ + wanted_ - 1 <= up_to) {
            high_ = std::move(at);
            inside_ = up_to;
            return Side::below;
        }
        if (rank_ <= up_to) {
            return Side::both;
        }
        low_ = std::move(at);
        rank_ -= up_to;
        inside_ -= up_to;
        return Side::above;
    }

    /// Slopes of pairs drawn at random, rising.
    std::vector<double> drawn(std::size_t how_many, std::mt19937_64& engine) const {
        std::vector<std::int64_t> places(how_many);
        for (auto& place : places) {
            place = static_cast<std::int64_t>(engine() % static_cast<std::uint64_t>(inside_));
        }
        std::sort(places.begin(), places.end());
        std::vector<double> slopes = slopes_of(points_, Inversions(low_, high_).pairs(places));
        std::sort(slopes.begin(), slopes.end());
        return slopes;
    }

    /// The wanted slopes, all in the range written down.
    std::vector<double> listed() const {
        std::vector<std::int64_t> all(static_cast<std::size_t>(inside_));
        std::iota(all.begin(), all.end(), std::int64_t{0});
        std::vector<double> slopes = slopes_of(points_, Inversions(low_, high_).pairs(all));
        const auto from = slopes.begin() + static_cast<std::ptrdiff_t>(rank_ - 1);
        const auto to = from + static_cast<std::ptrdiff_t>(wanted_);
        std::nth_element(slopes.begin(), from, slopes.end());
        std::partial_sort(from, to, slopes.end());
        return {from, to};
    }

  private:
    const std::vector<Point>& points_;
    Order low_, high_;
    std::int64_t rank_ = 1;  ///< of the first wanted among those inside
    std::int64_t wanted_ = 1;
    std::int64_t inside_ = 0;
};

/// Narrows the range until it can be listed. Empty where it cannot without parting the wanted.
std::vector<double> found(Range& range, double scale) {
    constexpr std::size_t most_drawn = 50'000;
    constexpr double relative_precision = 1e-13;
    std::mt19937_64 engine(1991);
    while (range.inside() > SlopesInOrder::most_slopes_listed) {
        const std::int64_t inside_before = range.inside();
        const std::vector<double> sample = range.drawn(most_drawn, engine);
        const auto count = static_cast<double>(sample.size());
        const double share = range.share();
        const double spread = 3 * std::sqrt(count * std::max(share * (1 - share), 1 / count));
        const auto at_place = [&](double place) {
            return sample[static_cast<std::size_t>(std::clamp(place, 0.0, count - 1))];
        };
        const double from = at_place(share * count - spread);
        const double to = at_place(share * count + spread);
        const double margin = relative_precision * (scale + std::max(std::abs(from), std::abs(to)));
        const Side of_from = range.narrow(from - margin);
        const Side of_to = range.narrow(to + margin);
        if (of_from == Side::above && of_to == Side::below && to - from <= margin) {
            const double slope = at_place(share * count);
            return {slope, slope};
        }
        // Where few slopes stand for many pairs each, the drawn ones part nothing: halve instead.
        const bool parted =
            of_from == Side::both || of_to == Side::both ||
            (range.inside() > inside_before / 2 && range.narrow(from / 2 + to / 2) == Side::both);
        if (parted) {
            return {};
        }
    }
    return range.listed();
}

}  // namespace

SlopesInOrder::SlopesInOrder(std::vector<Point> points) : points_(std::move(points)) {
    join_equal(points_, &Point::x);
    join_equal(points_, &Point::y);
    std::sort(points_.begin(), points_.end(),
              [](const Point& a, const Point& b) { return a.x != b.x ? a.x < b.x : a.y < b.y; });
    const Order first = first_order(points_.size());
    const Order last = last_order(points_);
    count_ = Inversions(first, last).count();
    if (count_ > 0) {
        const auto [low, high] =
            std::minmax_element(points_.begin(), points_.end(),
                                [](const Point& a, const Point& b) { return a.y < b.y; });
        scale_ = (high->y - low->y) / (points_.back().x - points_.front().x);
    }
}

double SlopesInOrder::at(std::int64_t rank) const {
    Range range(points_, rank, 1, count_);
    return found(range, scale_)[0];
}

std::pair<double, double> SlopesInOrder::two_from(std::int64_t rank) const {
    Range range(points_, rank, 2, count_);
    const std::vector<double> slopes = found(range, scale_);
    if (slopes.empty()) {
        return {at(rank), at(rank + 1)};
    }
    return {slopes[0], slopes[1]};
}

}  // namespace squaresight

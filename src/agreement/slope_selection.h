#pragma once
#include <cstdint>
#include <utility>
#include <vector>

namespace squaresight {

struct Point {
    double x = 0, y = 0;
};

/// The slopes of all pairs of points that differ in x, in order: picked by rank without being all
/// written down. Up to `most_slopes_listed` pairs in question are listed and the rank picked; above
/// that, slopes of pairs drawn at random narrow the range, and the pairs within it are counted as
/// inversions (Matousek 1991, Information Processing Letters 39: 183-187): n log n steps. The
/// drawing is seeded, so that the answer is always the same; it is right to 1e-12 of the slope.
class SlopesInOrder {
  public:
    static constexpr std::int64_t most_slopes_listed = 2'000'000;

    /// Finite points. Coordinates that differ by no more than rounding count as equal.
    explicit SlopesInOrder(std::vector<Point> points);

    std::int64_t count() const { return count_; }
    /// rank from 1 to count().
    double at(std::int64_t rank) const;
    /// That of `rank` and the next, rank below count().
    std::pair<double, double> two_from(std::int64_t rank) const;

  private:
    std::vector<Point> points_;  ///< by x, then y
    std::int64_t count_ = 0;
    double scale_ = 1;  ///< range of y over range of x
};

}  // namespace squaresight

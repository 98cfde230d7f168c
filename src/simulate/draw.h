#pragma once
#include <Eigen/Core>
#include <cstdint>
#include <random>
#include <vector>

namespace squaresight {

/// Random draws that are the same on every machine: the generator is the standard's own
/// (64-bit Mersenne twister), and the distributions are made from its bits here, since those of
/// the standard library differ between libraries. Copying it copies its place in the sequence.
class Draw {
  public:
    /// Each pair of numbers has a sequence of its own: job `stream` of a study never depends on
    /// how much the jobs before it drew.
    explicit Draw(std::uint64_t seed, std::uint64_t stream = 0);

    /// Mean zero. Zero where the standard uncertainty is zero.
    double normal(double standard_uncertainty);
    /// Anywhere within +/- limit, all alike.
    double rectangular(double limit);
    double uniform(double low, double high);
    /// A whole number from low to high, both included.
    int whole(int low, int high);
    /// True with this probability.
    bool chance(double probability);
    /// Normal with mean zero and this covariance, which may be singular: what is known exactly, or
    /// follows from the others, stays so.
    Eigen::VectorXd jointly(const Eigen::MatrixXd& covariance);

  private:
    double unit();  ///< from 0, included, to 1, not included

    std::mt19937_64 random_;
};

/// What a sample of values says of their distribution. `low` and `high` leave the same probability
/// on either side (JCGM 101:2008, 7.7.2).
struct Spread {
    double mean = 0;
    double standard_deviation = 0;
    double low = 0;
    double high = 0;
};

/// `coverage` is a probability, such as 0.95. Throws std::invalid_argument where it is not between
/// 0 and 1, the values are too few to leave one on either side, or one of them is not finite.
Spread spread_of(std::vector<double> values, double coverage);

/// The shortest interval that holds this part of the values (JCGM 101:2008, 7.7.4) in the place of
/// the one above: what to state of a one-sided distribution. Throws as `spread_of` does.
Spread shortest_spread_of(std::vector<double> values, double coverage);

}  // namespace squaresight

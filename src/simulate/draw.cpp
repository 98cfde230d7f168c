#include "simulate/draw.h"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>
#include <stdexcept>

namespace squaresight {
namespace {

std::mt19937_64 generator(std::uint64_t seed, std::uint64_t stream) {
    // seed_seq takes 32 bits of each number.
    std::seed_seq mixed{seed & 0xffffffff, seed >> 32, stream & 0xffffffff, stream >> 32};
    return std::mt19937_64(mixed);
}

/// How many of the sorted values an interval spans (JCGM 101:2008, 7.7.1): it runs from one value
/// to the one this many further on.
std::size_t span_of(std::size_t count, double coverage) {
    const auto span = std::floor(coverage * static_cast<double>(count) + 0.5);
    if (!(coverage > 0 && coverage < 1) || span + 2 > static_cast<double>(count)) {
        throw std::invalid_argument("too few values for an interval of this coverage");
    }
    return static_cast<std::size_t>(span);
}

std::vector<double> sorted(std::vector<double> values) {
    if (!std::all_of(values.begin(), values.end(), [](double x) { return std::isfinite(x); })) {
        throw std::invalid_argument("a value is no number");
    }
    std::sort(values.begin(), values.end());
    return values;
}

/// Mean and standard deviation; the interval starts at the `first` of the sorted values.
Spread spread_from(const std::vector<double>& values, std::size_t first, std::size_t span) {
    const auto count = static_cast<double>(values.size());
    const double mean = std::accumulate(values.begin(), values.end(), 0.0) / count;
    double squares = 0;
    for (const double value : values) {
        squares += (value - mean) * (value - mean);
    }
    return {mean, std::sqrt(squares / (count - 1)), values[first], values[first + span]};
}

}  // namespace

Draw::Draw(std::uint64_t seed, std::uint64_t stream) : random_(generator(seed, stream)) {}

double Draw::unit() { return static_cast<double>(random_() >> 11) * 0x1p-53; }

double Draw::normal(double standard_uncertainty) {
    // Box GEP, Muller ME (1958), A note on the generation of random normal deviates.
    const double radius = std::sqrt(-2 * std::log(1 - unit()));
    return standard_uncertainty * radius * std::cos(2 * std::numbers::pi * unit());
}

double Draw::rectangular(double limit) { return uniform(-limit, limit); }

double Draw::uniform(double low, double high) { return low + (high - low) * unit(); }

int Draw::whole(int low, int high) {
    const double count = static_cast<double>(high) - low + 1;
    return static_cast<int>(low + std::floor(count * unit()));
}

bool Draw::chance(double probability) { return unit() < probability; }

Eigen::VectorXd Draw::jointly(const Eigen::MatrixXd& covariance) {
    // Of correlations, so that a small unit is not lost beside a large one.
    const Eigen::VectorXd u = covariance.diagonal().cwiseMax(0).cwiseSqrt();
    const Eigen::VectorXd inverse_u = u.unaryExpr([](double x) { return x > 0 ? 1 / x : 0.0; });
    const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(
        inverse_u.asDiagonal() * covariance * inverse_u.asDiagonal());
    Eigen::VectorXd independent(covariance.rows());
    for (double& value : independent) {
        value = normal(1);
    }
    const Eigen::VectorXd lengths = solver.eigenvalues().cwiseMax(0).cwiseSqrt();
    return u.asDiagonal() * (solver.eigenvectors() * (lengths.asDiagonal() * independent));
}

Spread spread_of(std::vector<double> values, double coverage) {
    const std::size_t span = span_of(values.size(), coverage);
    values = sorted(std::move(values));
    return spread_from(values, (values.size() - span) / 2, span);
}

Spread shortest_spread_of(std::vector<double> values, double coverage) {
    const std::size_t span = span_of(values.size(), coverage);
    values = sorted(std::move(values));
    std::size_t best = 0;
    for (std::size_t first = 1; first + span < values.size(); ++first) {
        if (values[first + span] - values[first] < values[best + span] - values[best]) {
            best = first;
        }
    }
    return spread_from(values, best, span);
}

}  // namespace squaresight

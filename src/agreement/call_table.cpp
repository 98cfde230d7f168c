#include "agreement/call_table.h"

#include <algorithm>
#include <cmath>

namespace squaresight {
namespace {

constexpr std::size_t calls = 3;

std::size_t index(Call call) { return static_cast<std::size_t>(call); }

double square(double value) { return value * value; }

}  // namespace

void CallTable::add(Call vision, Call tape) { ++counts_[index(vision)][index(tape)]; }

std::size_t CallTable::count(Call vision, Call tape) const {
    return counts_[index(vision)][index(tape)];
}

std::size_t CallTable::total() const {
    std::size_t sum = 0;
    for (const auto& row : counts_) {
        for (const std::size_t count : row) {
            sum += count;
        }
    }
    return sum;
}

std::size_t CallTable::same() const { return counts_[0][0] + counts_[1][1] + counts_[2][2]; }

std::size_t CallTable::contradicting() const {
    return count(Call::in_tolerance, Call::out_of_tolerance) +
           count(Call::out_of_tolerance, Call::in_tolerance);
}

std::optional<Estimated> CallTable::kappa() const {
    const auto all = static_cast<double>(total());
    if (all == 0) {
        return std::nullopt;
    }
    std::array<std::array<double, calls>, calls> share{};
    std::array<double, calls> of_vision{}, of_tape{};
    for (std::size_t v = 0; v < calls; ++v) {
        for (std::size_t t = 0; t < calls; ++t) {
            share[v][t] = static_cast<double>(counts_[v][t]) / all;
            of_vision[v] += share[v][t];
            of_tape[t] += share[v][t];
        }
    }
    double observed = 0, chance = 0;
    for (std::size_t k = 0; k < calls; ++k) {
        observed += share[k][k];
        chance += of_vision[k] * of_tape[k];
    }
    if (chance >= 1) {
        return std::nullopt;
    }
    const double kappa = (observed - chance) / (1 - chance);
    double terms = -square(kappa - chance * (1 - kappa));
    for (std::size_t v = 0; v < calls; ++v) {
        for (std::size_t t = 0; t < calls; ++t) {
            const double margins = of_tape[v] + of_vision[t];
            terms += share[v][t] * square((v == t ? 1 : 0) - margins * (1 - kappa));
        }
    }
    const double error = std::sqrt(std::max(0.0, terms) / all) / (1 - chance);
    const double half = normal_quantile(0.975) * error;
    return Estimated{kappa, error, {kappa - half, std::min(1.0, kappa + half)}};
}

}  // namespace squaresight

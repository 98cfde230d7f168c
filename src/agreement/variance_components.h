#pragma once
#include <cstddef>
#include <optional>

#include "agreement/en_calibration.h"

namespace squaresight {

/// Readings of one kind, of many adjustments, summed up. What they state of themselves is tested:
/// of adjustments as stated, v / sigma squared is on average the reading's redundancy r.
struct ScatterSums {
    std::size_t readings = 0;
    double squares = 0;     ///< sum of (v / sigma)^2 = sum of w^2 r; v residual, sigma as stated
    double redundancy = 0;  ///< sum of r, 0 to 1 each: the degrees of freedom

    /// `w` = v / (sigma sqrt(r)). A reading that nothing checks (r up to
    /// `least_counted_redundancy`) says nothing of its scatter, and is left out.
    void add(double w, double r);
    void add(const ScatterSums& more);
};

/// What is not checked by more has no w in a result (adjust).
constexpr double least_counted_redundancy = 0.01;

/// With fewer degrees of freedom the factor is uncertain by more than a quarter: too early to call.
constexpr double fewest_scatter_freedom = 10;

/// The factor by which readings of a kind scatter as they state, sqrt(sum of squares / sum of r),
/// with its 95 % interval and call: the first step of estimating variance components group by group
/// (Helmert 1924, "Die Ausgleichungsrechnung nach der Methode der kleinsten Quadrate", 3rd edition;
/// Foerstner 1979, "Ein Verfahren zur Schaetzung von Varianz- und Kovarianzkomponenten", Allgemeine
/// Vermessungs-Nachrichten 86: 446-453; redundancy numbers: Baarda 1968, "A testing procedure for
/// use in geodetic networks"; all from memory). It is 1 where all kinds state their limits rightly.
/// Else kinds that check each other share the excess, and the factor lies between the true one and
/// those of the others: with new limits in use the next review takes the next step. Readings of one
/// adjustment are not independent. Each counts by its redundancy only, so that the expectation is
/// right; and since a part of a projection has no eigenvalue above 1, the variance of the sum is at
/// most that of chi-square: where all is as stated the call is not made too easily.
/// Nothing with fewer than `fewest_scatter_freedom`.
std::optional<ScatterTest> variance_component(const ScatterSums& sums);

}  // namespace squaresight

#include "agreement/variance_components.h"

namespace squaresight {

void ScatterSums::add(double w, double r) {
    if (r > least_counted_redundancy) {
        ++readings;
        squares += w * w * r;
        redundancy += r;
    }
}

void ScatterSums::add(const ScatterSums& more) {
    readings += more.readings;
    squares += more.squares;
    redundancy += more.redundancy;
}

std::optional<ScatterTest> variance_component(const ScatterSums& sums) {
    return sums.redundancy < fewest_scatter_freedom
               ? std::nullopt
               : std::optional(scatter_test(sums.squares, sums.redundancy));
}

}  // namespace squaresight

#pragma once
#include <algorithm>
#include <vector>

namespace squaresight {

/// The upper of the two middle values where the count is even; the list must not be empty.
inline double median(std::vector<double> values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

/// Median of a value of each entry of a map; the map must not be empty.
template <class Map, class Value>
double median_of(const Map& entries, Value&& value) {
    std::vector<double> values;
    for (const auto& [key, entry] : entries) {
        values.push_back(value(entry));
    }
    return median(values);
}

}  // namespace squaresight

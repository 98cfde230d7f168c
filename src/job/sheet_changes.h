#pragma once
#include <string>
#include <vector>

namespace squaresight {

/// A value of a job sheet that was edited. Empty where it was not there.
struct SheetChange {
    std::string key;  ///< "sightings 1 setup.distance", lists counted from 1
    std::string before;
    std::string after;
};

/// What differs between two versions of a job sheet's text, in the order of the newer one, keys
/// that are gone last. Comments and layout are no difference. A text that is no YAML has one value.
std::vector<SheetChange> sheet_changes(const std::string& before, const std::string& after);

}  // namespace squaresight

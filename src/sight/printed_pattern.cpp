#include "sight/printed_pattern.h"

namespace squaresight {

PrintedPattern printed_pattern(const Target& target) {
    PrintedPattern print;
    print.pattern = target.pattern;
    print.dictionary = marker_dictionary(target.pattern.dictionary, target.name);
    print.ids.assign(static_cast<std::size_t>(target.pattern.across * target.pattern.down), -1);
    for (const auto& marker : marker_places(target.pattern)) {
        print.ids[static_cast<std::size_t>(marker.row * target.pattern.across + marker.column)] =
            marker.id;
    }
    return print;
}

}  // namespace squaresight

#include "sight/printed_pattern.h"

#include <fmt/format.h>

#include "units/error.h"

namespace squaresight {

PrintedPattern printed_pattern(const Target& target) {
    PrintedPattern print;
    print.pattern = target.pattern;
    print.dictionary = marker_dictionary(target.pattern.dictionary, target.name);
    print.ids.assign(static_cast<std::size_t>(target.pattern.across * target.pattern.down), -1);
    const int known = static_cast<int>(print.dictionary.bits.size());
    for (const auto& marker : marker_places(target.pattern)) {
        if (marker.id < 0 || marker.id >= known) {
            throw InputError(target.name,
                             fmt::format("needs marker {} but {} ends at {}", marker.id,
                                         target.pattern.dictionary, known - 1),
                             "take a larger dictionary or a smaller first_id");
        }
        print.ids[static_cast<std::size_t>(marker.row * target.pattern.across + marker.column)] =
            marker.id;
    }
    return print;
}

}  // namespace squaresight

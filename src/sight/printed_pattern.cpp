#include "sight/printed_pattern.h"

#include <fmt/format.h>

#include "units/error.h"

namespace squaresight {

PrintedPattern plain_print(const Pattern& pattern) {
    PrintedPattern print;
    print.pattern = pattern;
    const int squares = pattern.across * pattern.down;
    print.ids.assign(static_cast<std::size_t>(squares), -1);
    return print;
}

PrintedPattern printed_pattern(const Target& target) {
    PrintedPattern print = plain_print(target.pattern);
    print.dictionary = marker_dictionary(target.pattern.dictionary, target.name);
    const int known = static_cast<int>(print.dictionary.bits.size());
    for (const auto& marker : marker_places(target.pattern)) {
        if (marker.id < 0 || marker.id >= known) {
            throw InputError(target.name,
                             fmt::format("needs marker {} but {} ends at {}", marker.id,
                                         target.pattern.dictionary, known - 1),
                             "take a larger dictionary or a smaller first_id");
        }
        const int square = marker.row * target.pattern.across + marker.column;
        print.ids[static_cast<std::size_t>(square)] = marker.id;
    }
    return print;
}

}  // namespace squaresight

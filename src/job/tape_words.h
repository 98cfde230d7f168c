#pragma once
#include <array>
#include <string_view>
#include <utility>

#include "tape/tape.h"
#include "units/entry.h"

/// Words of job sheet and bay file for what the laser throws and how the bumper was squared.
namespace squaresight {

template <class Value, std::size_t count>
using Words = std::array<std::pair<std::string_view, Value>, count>;

inline constexpr Words<Laser, 2> laser_words{{{"line", Laser::line}, {"beam", Laser::beam}}};

inline constexpr Words<SquaredBy, 3> squared_by_words{{{"nothing", SquaredBy::nothing},
                                                       {"diagonals", SquaredBy::diagonals},
                                                       {"line", SquaredBy::line}}};

/// The value of one of these words; the first for any other.
template <class Value, std::size_t count>
Value value_of(const Words<Value, count>& words, std::string_view written) {
    for (const auto& [word, value] : words) {
        if (word == written) {
            return value;
        }
    }
    return words.front().second;
}

/// The same of an entry; InputError for any other word.
template <class Value, std::size_t count>
Value read_word(const Entry& entry, const Words<Value, count>& words) {
    std::vector<std::string_view> all;
    for (const auto& [word, value] : words) {
        all.push_back(word);
    }
    return value_of(words, entry.word(all));
}

template <class Value, std::size_t count>
std::string_view word_for(const Words<Value, count>& words, Value value) {
    for (const auto& [word, known] : words) {
        if (known == value) {
            return word;
        }
    }
    return words.front().first;
}

/// Whether `answer_from` says that tape-and-level counts for the photos' answer.
inline bool read_tape_counts(const Entry& root) {
    const auto answer = root.find("answer_from");
    return answer && answer->word({"photos", "both"}) == "both";
}

/// `laser`, `laser_seating` and `squared_by`, where the map has them, into readings or a bay.
template <class Into>
void read_laser(const Entry& map, Into& into) {
    if (const auto laser = map.find("laser")) {
        into.laser = read_word(*laser, laser_words);
    }
    if (const auto squared = map.find("squared_by")) {
        into.squared_by = read_word(*squared, squared_by_words);
    }
    if (const auto seating = map.find("laser_seating")) {
        into.laser_seating_limit_deg = seating->angle_deg(0, 5);
    }
}

}  // namespace squaresight

#pragma once
#include <functional>
#include <string>
#include <vector>

#include "plan/floor.h"

namespace squaresight {

/// An English sentence or label in the reader's language.
using Wording = std::function<std::string(const std::string& english)>;

inline std::string in_english(const std::string& english) { return english; }

enum class FloorItem { line, rectangle, board, tapes, level };

/// One thing to do on the floor of a bay, in English. Its place in the list, from 1, is its number
/// in the drawings.
struct FloorStep {
    FloorItem item = FloorItem::line;
    std::string heading;
    std::vector<std::string> sentences;
};

std::vector<FloorStep> floor_steps(const Floor& floor);

/// Which way the drawing from above is seen, and whose left it shows.
extern const char* const floor_seen_words;
extern const char* const floor_sides_words;
extern const char* const floor_caution_words;

}  // namespace squaresight

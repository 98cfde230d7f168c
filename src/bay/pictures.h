#pragma once
#include <string>

#include "bay/messages.h"

namespace squaresight::bay {

/// A small drawing of truck and board with what a question asks for (bay/sheet_forms.h) drawn
/// heavy, as SVG; empty for a name that has none. From above as someone sees it who faces the truck
/// (the truck's left is at the right hand), from the side with the truck at the right hand.
std::string question_picture(const std::string& name, Language language);

/// A drawing that was made in English (report/figures.h), its words in the page's language as far
/// as the phrase book has them.
std::string with_words_in(const std::string& svg, Language language);

}  // namespace squaresight::bay

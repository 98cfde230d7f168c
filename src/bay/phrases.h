#pragma once
#include <string>
#include <vector>

#include "bay/messages.h"

namespace squaresight::bay {

struct Phrase {
    std::string text;
    Language language = Language::english;
};

/// A text that the program makes in English (findings, answers, advice), in this language: sentence
/// by sentence out of the phrase book, names and numbers put in their places, times and days
/// readable. A text of which one sentence is not in the book comes back whole in English.
Phrase translated(const std::string& english, Language language);

/// A text's times as phones write them (2026:03:04 10:11:12) as people read them (4 Mar 2026,
/// 10:11); with the seconds where two of them lie within a minute.
std::string with_readable_times(const std::string& text, Language language);

/// A text's days as files write them (2026-03-04) as people read them (4 Mar 2026); what is longer
/// is a name (2026-03-04-1, 2026-03-04.jpg) and stays.
std::string with_readable_days(const std::string& text, Language language);

/// A sentence of the book; {} stands for a number or a shorter phrase, in the same order in both;
/// {=} in the Spanish for a name that stays as it is.
struct BookPhrase {
    const char* english;
    const char* spanish;
};

/// Whole sentences, and the shorter phrases that stand inside of them or alone.
const std::vector<BookPhrase>& book_sentences();
const std::vector<BookPhrase>& book_fragments();

}  // namespace squaresight::bay

#include "bay/phrases.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <functional>
#include <map>
#include <optional>
#include <regex>
#include <set>
#include <string_view>

namespace squaresight::bay {
namespace {

constexpr int most_steps = 50000;  ///< of matching, for one text
/// A phrase with less than this behind its place stands behind a number alone ("0.70 deg to the
/// left"): it would be found in many a sentence.
constexpr std::size_t fewest_letters = 25;

struct Pattern {
    std::vector<std::string> pieces;  ///< what stands between the places
    std::string spanish;
    std::size_t letters = 0;
};

Pattern pattern_of(const BookPhrase& phrase) {
    Pattern pattern{{""}, phrase.spanish, 0};
    for (const char* c = phrase.english; *c != '\0'; ++c) {
        if (c[0] == '{' && c[1] == '}') {
            pattern.pieces.emplace_back();
            ++c;
        } else {
            pattern.pieces.back() += *c;
            ++pattern.letters;
        }
    }
    return pattern;
}

/// Those that begin with words before those that begin with a place, those that say most first.
std::vector<Pattern> patterns_of(const std::vector<BookPhrase>& book) {
    std::vector<Pattern> patterns;
    for (const auto& phrase : book) {
        patterns.push_back(pattern_of(phrase));
    }
    std::stable_sort(patterns.begin(), patterns.end(), [](const Pattern& a, const Pattern& b) {
        return std::pair(!a.pieces.front().empty(), a.letters) >
               std::pair(!b.pieces.front().empty(), b.letters);
    });
    return patterns;
}

bool is_digit(char c) { return c >= '0' && c <= '9'; }
bool is_upper(char c) { return std::isupper(static_cast<unsigned char>(c)) != 0; }
char lower(char c) { return static_cast<char>(std::tolower(static_cast<unsigned char>(c))); }

/// Whether text begins with this, its first letter small or large.
bool begins(std::string_view text, const std::string& piece) {
    return piece.empty() || (text.size() >= piece.size() && lower(text[0]) == lower(piece[0]) &&
                             text.substr(1, piece.size() - 1) == piece.substr(1));
}

class Translator {
  public:
    /// The whole of a text made of sentences.
    std::optional<std::string> sentences(std::string_view text) {
        std::string between;
        while (!text.empty() && (text[0] == ' ' || text[0] == '.')) {
            between += text[0];
            text.remove_prefix(1);
        }
        if (text.empty()) {
            return between;
        }
        static const auto patterns = patterns_of(book_sentences());
        for (const auto& pattern : patterns) {
            if (const auto found = apply(pattern, text, false)) {
                return between + *found;
            }
        }
        const auto named = behind_a_name(text);
        return named ? std::optional(between + *named) : std::nullopt;
    }

    /// A phrase that stands inside of a sentence; itself where the book has it not.
    std::string fragment(std::string_view text) {
        if (const auto found = list(text)) {
            return *found;
        }
        for (const auto& [separator, spanish] : separators) {
            const auto at = text.find(separator);
            if (at != std::string_view::npos) {
                return fragment(text.substr(0, at)) + std::string(spanish) +
                       fragment(text.substr(at + separator.size()));
            }
        }
        return std::string(text);
    }

    /// A list of which the book has every part, or a phrase that stands alone.
    std::optional<std::string> list(std::string_view text) {
        const auto at = text.find(", ");
        const auto first = at == std::string_view::npos ? std::nullopt : whole(text.substr(0, at));
        const auto rest = first ? list(text.substr(at + 2)) : std::nullopt;
        return rest ? std::optional(*first + ", " + *rest) : whole(text);
    }

    /// A phrase that stands alone.
    std::optional<std::string> whole(std::string_view text) {
        static const auto patterns = patterns_of(book_fragments());
        for (const auto& pattern : patterns) {
            if (auto found = apply(pattern, text, true)) {
                return found;
            }
        }
        return std::nullopt;
    }

  private:
    using Parts = std::vector<std::string_view>;
    using Done = std::function<bool(std::string_view)>;

    static constexpr std::array<std::pair<std::string_view, std::string_view>, 3> separators{
        {{", then ", ", después "}, {"; ", "; "}, {", ", ", "}}};

    /// Every way to lay the pieces from `next` on over the text, until one is `done`.
    bool lay(const Pattern& pattern, std::size_t next, std::string_view text, Parts& parts,
             const Done& done) {
        if (++steps_ > most_steps) {
            return false;
        }
        if (next == pattern.pieces.size()) {
            return done(text);
        }
        const std::string& piece = pattern.pieces[next];
        if (piece.empty()) {  // the last one: the place takes all that is left
            parts.push_back(text);
            const bool fits = !text.empty() && done("");
            parts.pop_back();
            return fits;
        }
        for (auto at = text.find(piece); at != std::string_view::npos;
             at = text.find(piece, at + 1)) {
            parts.push_back(text.substr(0, at));
            if (at > 0 && lay(pattern, next + 1, text.substr(at + piece.size()), parts, done)) {
                return true;
            }
            parts.pop_back();
        }
        return false;
    }

    std::optional<std::string> apply(const Pattern& pattern, std::string_view text,
                                     bool to_the_end) {
        const std::string& first = pattern.pieces.front();
        const bool is_short = first.empty() && pattern.letters < fewest_letters;
        if (!begins(text, first) || text.empty() || (is_short && !is_digit(text[0]))) {
            return std::nullopt;
        }
        Parts parts;
        std::optional<std::string> result;
        lay(pattern, 1, text.substr(first.size()), parts, [&](std::string_view rest) {
            if (to_the_end && !rest.empty()) {
                return false;
            }
            const auto behind = rest.empty() ? std::optional<std::string>("") : sentences(rest);
            if (!behind) {
                return false;
            }
            result = filled(pattern, parts) + *behind;
            return true;
        });
        if (result && !first.empty() && is_upper(text[0]) && !is_upper(first[0])) {
            (*result)[0] =
                static_cast<char>(std::toupper(static_cast<unsigned char>((*result)[0])));
        }
        return result;
    }

    std::string filled(const Pattern& pattern, const Parts& parts) {
        std::string text;
        std::size_t part = 0;
        for (std::size_t i = 0; i < pattern.spanish.size(); ++i) {
            if (pattern.spanish.compare(i, 2, "{}") == 0 && part < parts.size()) {
                text += fragment(parts[part++]);
                i += 1;
            } else if (pattern.spanish.compare(i, 3, "{=}") == 0 && part < parts.size()) {
                text += parts[part++];
                i += 2;
            } else {
                text += pattern.spanish[i];
            }
        }
        return text;
    }

    /// "photos/1.jpg: the photo is not sharp": a name, then sentences.
    std::optional<std::string> behind_a_name(std::string_view text) {
        const auto colon = text.find(": ");
        if (colon == std::string_view::npos || text.substr(0, colon).find(' ') < colon) {
            return std::nullopt;
        }
        const auto rest = sentences(text.substr(colon + 2));
        return rest ? std::optional(fragment(text.substr(0, colon)) + ": " + *rest) : std::nullopt;
    }

    int steps_ = 0;
};

std::string day_words(const std::string& year, const std::string& month, const std::string& day,
                      Language language) {
    static const char* const months[2][12] = {
        {"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"},
        {"ene", "feb", "mar", "abr", "may", "jun", "jul", "ago", "sep", "oct", "nov", "dic"}};
    return std::to_string(std::stoi(day)) + " " +
           months[language == Language::spanish][std::stoi(month) - 1] + " " + year;
}

/// Where an error of a file stands: "job.yaml:12: sightings[1].setup.distance: ". Empty for all
/// else.
std::string place_in_file(const std::string& text) {
    static const std::regex place(R"(^[^\s:]+:[0-9]+: ([^\s:]+: )?)");
    std::smatch found;
    return std::regex_search(text, found, place) ? found.str() : "";
}

/// By the book alone.
Phrase by_the_book(const std::string& english, Language language) {
    if (language == Language::english || english.empty()) {
        return {english, language};
    }
    Translator translator;
    if (const auto text = translator.sentences(english)) {
        return {*text, language};
    }
    if (const auto alone = translator.list(english)) {
        return {*alone, language};
    }
    return {english, Language::english};
}

}  // namespace

Phrase translated(const std::string& english, Language language) {
    if (const std::string place = place_in_file(english); !place.empty()) {
        // It speaks of what is written there: keys, values and days stay as a file has them.
        const Phrase wrong = by_the_book(english.substr(place.size()), language);
        return {place + wrong.text, wrong.language};
    }
    const Phrase phrase = by_the_book(english, language);
    return {with_readable_days(with_readable_times(phrase.text, phrase.language), phrase.language),
            phrase.language};
}

std::string with_readable_times(const std::string& text, Language language) {
    static const std::regex time(
        "([0-9]{4}):(0[1-9]|1[0-2]):([0-3][0-9]) ([0-2][0-9]:[0-5][0-9])(:[0-6][0-9])");
    const std::sregex_iterator begin(text.begin(), text.end(), time), end;
    std::map<std::string, std::set<std::string>> seconds_of;  // by the minute
    for (auto at = begin; at != end; ++at) {
        const std::string whole = at->str();
        seconds_of[whole.substr(0, whole.size() - 3)].insert(whole);
    }
    std::string readable;
    auto rest = text.begin();
    for (auto at = begin; at != end; ++at) {
        const std::smatch& found = *at;
        const std::string whole = found.str();
        const bool alone = seconds_of[whole.substr(0, whole.size() - 3)].size() == 1;
        readable.append(rest, found[0].first);
        readable += day_words(found[1], found[2], found[3], language) + ", " + found[4].str() +
                    (alone ? "" : found[5].str());
        rest = found[0].second;
    }
    return readable.append(rest, text.end());
}

std::string with_readable_days(const std::string& text, Language language) {
    static const std::regex day(
        R"((^|[ (])([0-9]{4})-(0[1-9]|1[0-2])-([0-3][0-9])(?![-/\w]|\.\w))");
    std::string readable;
    auto rest = text.begin();
    for (std::sregex_iterator at(text.begin(), text.end(), day), end; at != end; ++at) {
        const std::smatch& found = *at;
        readable.append(rest, found[1].second);
        readable += day_words(found[2], found[3], found[4], language);
        rest = found[0].second;
    }
    return readable.append(rest, text.end());
}

}  // namespace squaresight::bay

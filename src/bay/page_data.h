#pragma once
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "bay/pages.h"
#include "bay/phrases.h"
#include "report/page_parts.h"

/// What the pages put into their templates. Internal to the pages.
namespace squaresight::bay {

using Json = nlohmann::json;

// --- of an answer (bay/answer.h, bay/look.h): nothing where it lacks the entry

std::string text_at(const Json& json, const char* key);
bool truth_at(const Json& json, const char* key);
Json list_at(const Json& json, const char* key);
std::vector<std::string> texts_at(const Json& json, const char* key);
bool in_tolerance(const MeasuringState& measuring);

/// A page's data with what every template may show.
PageData begin_page(Language language);
PageData begin_page(const Viewer& viewer, const StoredJob* job);
/// The page whole: its template inside the frame that all have.
std::string framed(PageData page, const char* body, const std::string& title,
                   const Phrase& problem = {});

/// A sentence that was made in English, in the page's language where the phrase book has it.
PageData phrase_data(const std::string& english, Language language);
PageData phrases_data(const std::vector<std::string>& english, Language language);
/// Leaves out what is empty.
void set_phrase(PageData& page, const char* name, const std::string& english, Language language);
void set_phrases(PageData& page, const Json& answer, const char* key, Language language);

/// The sign of a `mark`.
std::string sign_of(const Json& json, Language language);
/// What is to be done first; nothing for a job without an answer.
void set_first(PageData& page, const Json& answer, Language language);
/// The same; where something was turned, locked or moved and nothing measured since, that and what
/// comes next.
void set_headline(PageData& page, const Json& answer, const JobSheet& sheet, Language language);
/// The newest entry, to be undone; nothing without one.
void set_last_entry(PageData& page, const std::optional<JournalEntry>& last, Language language);
/// "as found", "after turning 2".
std::string stage_title(const JobSheet& sheet, std::size_t place, Language language);
PageData findings_data(const Json& answer, Language language);
/// An option of a list to choose from.
PageData option_data(const std::string& value, const std::string& label, bool chosen);
PageData entries_data(const std::vector<Field>& fields, const Form& form, Language language);

}  // namespace squaresight::bay

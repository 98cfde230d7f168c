#include "bay/page_data.h"

#include <fmt/format.h>

#include <algorithm>
#include <regex>

#include "bay/page_templates.h"
#include "bay/phrases.h"
#include "bay/pictures.h"
#include "report/figures.h"

namespace squaresight::bay {
namespace {

/// The catalogue in one language, for the templates.
const PageData& catalogue(Language language) {
    static const auto make = [](Language one) {
        PageData data(PageData::type::object);
        for (const auto& entry : messages()) {
            data.set(entry.key, message(one, entry.key));
        }
        return data;
    };
    static const PageData english = make(Language::english);
    static const PageData spanish = make(Language::spanish);
    return language == Language::spanish ? spanish : english;
}

}  // namespace

std::string text_at(const Json& json, const char* key) {
    const auto found = json.find(key);
    return found != json.end() && found->is_string() ? found->get<std::string>() : "";
}

bool truth_at(const Json& json, const char* key) {
    const auto found = json.find(key);
    return found != json.end() && found->is_boolean() && found->get<bool>();
}

Json list_at(const Json& json, const char* key) {
    const auto found = json.find(key);
    return found != json.end() && found->is_array() ? *found : Json::array();
}

std::vector<std::string> texts_at(const Json& json, const char* key) {
    std::vector<std::string> texts;
    for (const auto& one : list_at(json, key)) {
        texts.push_back(one.is_string() ? one.get<std::string>() : "");
    }
    return texts;
}

PageData begin_page(Language language) {
    PageData page(PageData::type::object);
    for (const auto& [name, text] : templates::parts()) {
        page.set(name, PageData(kainjow::mustache::partial([text] { return text; })));
    }
    page.set("t", catalogue(language));
    page.set("lang", language_tag(language));
    page.set("not_english", language != Language::english);
    return page;
}

PageData begin_page(const Viewer& viewer, const StoredJob* job) {
    PageData page = begin_page(viewer.language);
    page.set("token", viewer.session.form_token);
    page.set("may_work", viewer.session.may_work());
    page.set("may_pair", viewer.session.may_pair());
    page.set("may_review", viewer.session.role != Role::technician);
    if (job != nullptr) {
        page.set("job_id", job->id);
        page.set("job_name", job->sheet.job);
        page.set("version", job->version);
        set_unless_empty(page, "vehicle", job->sheet.vehicle);
    }
    return page;
}

std::string framed(PageData page, const char* body, const std::string& title,
                   const Phrase& problem) {
    const std::string inner = kainjow::mustache::mustache(body).render(page);
    page.set("body", inner);
    page.set("title", title);
    if (!problem.text.empty()) {
        page.set("problem",
                 record({{"text", problem.text}, {"lang", language_tag(problem.language)}}));
    }
    return kainjow::mustache::mustache(templates::frame).render(page);
}

PageData phrase_data(const std::string& english, Language language) {
    const Phrase phrase = translated(without_folders(english), language);
    return record({{"text", unbroken(phrase.text)}, {"lang", language_tag(phrase.language)}});
}

PageData phrases_data(const std::vector<std::string>& english, Language language) {
    PageData list(PageData::type::list);
    for (const auto& one : english) {
        list.push_back(phrase_data(one, language));
    }
    return list;
}

void set_phrase(PageData& page, const char* name, const std::string& english, Language language) {
    if (!english.empty()) {
        page.set(name, phrase_data(english, language));
    }
}

void set_phrases(PageData& page, const Json& answer, const char* key, Language language) {
    const auto texts = texts_at(answer, key);
    page.set(key, phrases_data(texts, language));
    page.set(std::string("has_") + key, !texts.empty());
}

std::string sign_of(const Json& json, Language language) {
    const int last = static_cast<int>(Mark::unsure);
    const int mark = json.value("mark", static_cast<int>(Mark::stop));
    const bool known = mark >= 0 && mark <= last;
    return with_words_in(mark_svg(known ? static_cast<Mark>(mark) : Mark::stop), language);
}

void set_first(PageData& page, const Json& answer, Language language) {
    const auto first = answer.find("first");
    if (first == answer.end()) {
        return;
    }
    page.set("sign", sign_of(*first, language));
    set_phrase(page, "heading", text_at(*first, "heading"), language);
    set_phrase(page, "say", text_at(*first, "text"), language);
    page.set("first", true);
}

void set_headline(PageData& page, const Json& answer, const JobSheet& sheet, Language language) {
    if (!awaits_photos(sheet)) {
        set_first(page, answer, language);
        return;
    }
    const SheetSighting& last = sheet.sightings.back();
    const std::string done = !last.same_setup          ? "moved"
                             : last.stage == "as-left" ? "locked"
                                                       : "turned";
    const auto words = [&](const std::string& key) {
        return record({{"text", message(language, key)}, {"lang", language_tag(language)}});
    };
    page.set("sign", with_words_in(mark_svg(Mark::not_yet), language));
    page.set("heading", words(done + "_heading"));
    page.set("say", words(done + "_say"));
    page.set("first", true);
}

void set_last_entry(PageData& page, const std::optional<JournalEntry>& last, Language language) {
    if (last) {
        page.set("last_entry",
                 record({{"deed", message(language, std::string("deed_") + deed_name(last->deed))},
                         {"at", with_readable_days(last->at, language)}}));
    }
}

std::string stage_title(const JobSheet& sheet, std::size_t place, Language language) {
    const std::string& stage = sheet.sightings[place].stage;
    const auto end = sheet.sightings.begin() + static_cast<std::ptrdiff_t>(place) + 1;
    const auto number = std::count_if(sheet.sightings.begin(), end,
                                      [](const auto& one) { return one.stage == "adjusted"; });
    return message(language, stage) + (stage == "adjusted" ? fmt::format(" {}", number) : "");
}

PageData findings_data(const Json& answer, Language language) {
    PageData list(PageData::type::list);
    for (const auto& finding : list_at(answer, "findings")) {
        const std::string level = text_at(finding, "level");
        PageData data = phrase_data(text_at(finding, "text"), language);
        data.set("level", level);
        data.set("level_word", message(language, "level_" + level));
        data.set("stages", translated(text_at(finding, "stages"), language).text);
        list.push_back(data);
    }
    return list;
}

PageData option_data(const std::string& value, const std::string& label, bool chosen) {
    PageData data = record({{"value", value}, {"label", label}});
    data.set("chosen", chosen);
    return data;
}

PageData entries_data(const std::vector<Field>& fields, const Form& form, Language language) {
    PageData list(PageData::type::list);
    for (const auto& field : fields) {
        list.push_back(record({{"name", label_words(language, field)},
                               {"value", entry_words(field, form, language)}}));
    }
    return list;
}

bool in_tolerance(const MeasuringState& measuring) { return truth_at(measuring.answer, "yes"); }

std::string without_folders(const std::string& text) {
    static const std::regex folders(R"((^|[\s'"(=])/(?:[^\s/:;,'"()]+/)+)");
    return std::regex_replace(text, folders, "$1");
}

}  // namespace squaresight::bay

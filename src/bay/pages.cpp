#include "bay/pages.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <iterator>
#include <regex>

#include "bay/page_templates.h"
#include "bay/phrases.h"
#include "bay/pictures.h"
#include "bay/qr.h"
#include "job/words.h"
#include "report/figures.h"
#include "report/page_parts.h"

namespace squaresight::bay {
namespace {

using Json = nlohmann::json;

constexpr int most_eighths = 64;

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

/// A page's data with what every template may show.
PageData begin_page(Language language) {
    PageData page(PageData::type::object);
    for (const auto& [name, text] : templates::parts()) {
        page.set(name, PageData(kainjow::mustache::partial([text] { return text; })));
    }
    page.set("t", catalogue(language));
    page.set("lang", language_tag(language));
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
                   const std::string& problem = "") {
    const std::string inner = kainjow::mustache::mustache(body).render(page);
    page.set("body", inner);
    page.set("title", title);
    set_unless_empty(page, "problem", problem);
    return kainjow::mustache::mustache(templates::frame).render(page);
}

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

/// A sentence that was made in English, in the page's language where the phrase book has it.
PageData phrase_data(const std::string& english, Language language) {
    static const std::regex percent("([0-9]) %");
    const Phrase phrase = translated(without_folders(english), language);
    return record({{"text", std::regex_replace(phrase.text, percent, "$1\u00a0%")},
                   {"lang", language_tag(phrase.language)}});
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

std::string sign_of(const Json& json, Language language) {
    const int mark = json.value("mark", 2);
    return with_words_in(mark_svg(mark == 0   ? Mark::ok
                                  : mark == 1 ? Mark::not_yet
                                              : Mark::stop),
                         language);
}

PageData keyed_list(Language language, const std::vector<std::string>& keys) {
    std::vector<std::string> texts;
    for (const auto& key : keys) {
        texts.push_back(message(language, key));
    }
    return list_of(texts);
}

PageData option_data(const std::string& value, const std::string& label, bool chosen) {
    PageData data = record({{"value", value}, {"label", label}});
    data.set("chosen", chosen);
    return data;
}

PageData sixteenths_data(const std::string& chosen) {
    PageData list(PageData::type::list);
    for (int i = 0; i < 16; ++i) {
        const int divisor = i == 0 ? 1 : std::min(16, i & -i);
        const std::string label = i == 0 ? "0" : fmt::format("{}/{}", i / divisor, 16 / divisor);
        list.push_back(option_data(fmt::format("{}", i), label, chosen == fmt::format("{}", i)));
    }
    return list;
}

PageData options_data(const Field& field, const std::string& chosen) {
    PageData list(PageData::type::list);
    for (const auto& option : field.options) {
        list.push_back(option_data(option.value, option.label, option.value == chosen));
    }
    return list;
}

/// A part of a length or an angle: what it is sent as, its unit, how far the buttons step.
PageData part_data(const Field& field, const Form& form, const char* part, const char* unit,
                   const std::vector<std::string>& steps) {
    PageData data = record({{"part", field.name + "." + part},
                            {"unit", unit},
                            {"value", form.get(field.name + "." + part)}});
    data.set("steps", list_of(steps));
    data.set("whole", std::string(part) == "ft");
    return data;
}

std::string usual_number(double value) { return fmt::format("{:.6g}", value); }

void set_size(PageData& data, const Field& field, const Form& form, LengthUnit unit,
              Language language) {
    const bool in_mm = unit == LengthUnit::mm || form.has(field.name + ".mm");
    const bool is_length = field.kind == FieldKind::length;
    data.set("is_size", is_length || field.kind == FieldKind::angle);
    data.set("kind", !is_length ? "deg" : in_mm ? "mm" : "inch");
    PageData parts(PageData::type::list);
    if (!is_length) {
        parts.push_back(part_data(field, form, "deg", "deg", {"1", "0.1"}));
    } else if (in_mm) {
        parts.push_back(part_data(field, form, "mm", "mm", {"100", "10", "1"}));
    } else {
        parts.push_back(part_data(field, form, "ft", "ft", {"192"}));
        parts.push_back(part_data(field, form, "in", "in", {"16"}));
        PageData sixteenths = part_data(field, form, "16", "in", {"1"});
        sixteenths.set("sixteenths", sixteenths_data(form.get(field.name + ".16")));
        sixteenths.set("is_sixteenths", true);
        parts.push_back(sixteenths);
    }
    data.set("parts", parts);
    if (field.usual) {
        data.set("low", usual_number(field.usual->low));
        data.set("high", usual_number(field.usual->high));
        data.set("doubt", doubt_words(language, field, unit));
    }
}

void set_sides(PageData& data, const Field& field, const Form& form, Language language) {
    const std::string side = form.get(field.name + ".side");
    data.set("sided", !field.plus.empty());
    data.set("plus", field.plus.empty() ? "" : message(language, field.plus));
    data.set("minus", field.minus.empty() ? "" : message(language, field.minus));
    data.set("is_plus", side == "plus");
    data.set("is_minus", side == "minus");
}

PageData picks_data(const Field& field, const std::string& chosen, Language language) {
    PageData list(PageData::type::list);
    for (const auto& option : field.options) {
        const bool is_chosen = !chosen.empty() && option.value == chosen;
        const bool is_first = chosen.empty() && &option == &field.options.front();
        PageData pick = option_data(option.value, message(language, option.label), is_chosen);
        pick.set("quiet", !is_chosen && !is_first);
        list.push_back(pick);
    }
    return list;
}

/// What was typed in place of a pick.
std::string typed(const Field& field, const Form& form) {
    const std::string value = form.get(field.name);
    const bool picked = std::any_of(field.options.begin(), field.options.end(),
                                    [&](const Option& option) { return option.value == value; });
    return picked ? form.get(field.name + ".text") : value;
}

PageData field_data(const Field& field, const Form& form, LengthUnit unit, Language language) {
    const std::string value = form.get(field.name);
    PageData data = record({{"name", field.name},
                            {"label", label_words(language, field)},
                            {"value", value},
                            {"typed", typed(field, form)},
                            {"reason", form.get(field.name + ".reason")}});
    data.set("needed", field.needed);
    data.set("is_text", field.kind == FieldKind::text);
    data.set("is_choice", field.kind == FieldKind::choice);
    data.set("is_answer", field.kind == FieldKind::answer);
    data.set("is_pick", field.kind == FieldKind::pick);
    data.set("is_date", !field.options.empty() && field.options.front().value == "today");
    data.set("is_yes", value == "yes");
    data.set("is_no", value == "no");
    if (field.kind == FieldKind::pick) {
        data.set("picks", picks_data(field, value, language));
    } else {
        data.set("options", options_data(field, value));
    }
    set_size(data, field, form, unit, language);
    set_sides(data, field, form, language);
    return data;
}

PageData fields_data(const std::vector<Field>& fields, const Form& form, LengthUnit unit,
                     Language language) {
    PageData list(PageData::type::list);
    for (const auto& field : fields) {
        list.push_back(field_data(field, form, unit, language));
    }
    return list;
}

template <class Pairs>
PageData pairs_data(const Pairs& pairs) {
    PageData list(PageData::type::list);
    for (const auto& [name, value] : pairs) {
        list.push_back(record({{"name", name}, {"value", value}}));
    }
    return list;
}

PageData entries_data(const std::vector<Field>& fields, const Form& form, Language language) {
    PageData list(PageData::type::list);
    for (const auto& field : fields) {
        list.push_back(record({{"name", label_words(language, field)},
                               {"value", entry_words(field, form, language)}}));
    }
    return list;
}

bool is_ready_answered(const JobSheet& sheet) { return !sheet.ready.empty(); }

bool in_tolerance(const MeasuringState& measuring) { return truth_at(measuring.answer, "yes"); }

bool is_finished(const JobSheet& sheet) { return !sheet.closing.empty(); }

bool is_step_done(const std::string& step, const StoredJob& job, const MeasuringState& measuring) {
    const SheetSighting& last = job.sheet.sightings.back();
    return step == "ready"    ? is_ready_answered(job.sheet)
           : step == "board"  ? is_board_answered(job.sheet)
           : step == "photos" ? !last.photos.empty()
           : step == "tape"   ? last.tape_and_level.has_value()
           : step == "answer" ? in_tolerance(measuring)
                              : is_finished(job.sheet);
}

PageData steps_data(const Viewer& viewer, const StoredJob& job, const MeasuringState& measuring) {
    PageData list(PageData::type::list);
    for (const std::string step : {"ready", "board", "photos", "tape", "answer", "finish"}) {
        list.push_back(record(
            {{"name", message(viewer.language, "step_" + step)},
             {"href", fmt::format("/job/{}/{}", job.id, step)},
             {"state", message(viewer.language,
                               is_step_done(step, job, measuring) ? "done" : "open_step")}}));
    }
    return list;
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

std::string number_words(int eighths, Language language) {
    return eighths_text(eighths) + " " + message(language, eighths <= 8 ? "turn_one" : "turn_many");
}

PageData turn_choices(int chosen) {
    PageData list(PageData::type::list);
    for (int i = 0; i <= most_eighths; ++i) {
        list.push_back(option_data(fmt::format("{}", i), eighths_text(i), i == chosen));
    }
    return list;
}

PageData turn_data(const Json& turn, std::size_t index, Language language) {
    Correction correction;
    correction.screw = text_at(turn, "screw");
    correction.turns = turn.value("turns", 0.0);
    correction.clockwise = truth_at(turn, "clockwise");
    const int eighths =
        std::clamp(static_cast<int>(std::lround(8 * correction.turns)), 0, most_eighths);
    const std::string way = correction.clockwise ? "clockwise" : "counter-clockwise";
    PageData data = record(
        {{"picture", with_words_in(screw_svg(correction), language)},
         {"screw", message(language, "screw") + " " + correction.screw},
         {"words", eighths == 0 ? message(language, "no_turn")
                                : number_words(eighths, language) + " " + message(language, way)},
         {"index", fmt::format("{}", index)},
         {"eighths", fmt::format("{}", eighths)},
         {"way", way}});
    data.set("is_clockwise", correction.clockwise);
    data.set("choices", turn_choices(eighths));
    return data;
}

/// The screws with their turns; an answer in which there is nothing to turn has none.
PageData turns_data(const Json& answer, Language language) {
    PageData list(PageData::type::list);
    const Json turns = list_at(answer, "turns");
    for (std::size_t i = 0; i < turns.size(); ++i) {
        list.push_back(turn_data(turns[i], i, language));
    }
    return list;
}

PageData axes_data(const Json& answer, Language language) {
    PageData list(PageData::type::list);
    for (const auto& axis : list_at(answer, "axes")) {
        const std::string term = text_at(axis, "axis") == "yaw" ? "yaw" : "pitch";
        PageData data = record({{"sign", sign_of(axis, language)},
                                {"title", message(language, term)},
                                {"term", term}});
        for (const auto* key : {"points", "should_point", "give_or_take", "call", "sure"}) {
            set_phrase(data, key, text_at(axis, key), language);
        }
        list.push_back(data);
    }
    return list;
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

void set_phrases(PageData& page, const Json& answer, const char* key, Language language) {
    const auto texts = texts_at(answer, key);
    page.set(key, phrases_data(texts, language));
    page.set(std::string("has_") + key, !texts.empty());
}

void set_answer(PageData& page, const Json& answer, const Mount& mount, const StoredJob& job,
                const Viewer& viewer) {
    const Language language = viewer.language;
    set_first(page, answer, language);
    page.set("answer", true);
    page.set("turns", turns_data(answer, language));
    page.set("has_turns", !list_at(answer, "turns").empty());
    page.set("mount_picture", with_words_in(mount_svg(mount), language));
    const bool locked = job.sheet.sightings.back().stage == "as-left";
    page.set("to_lock", truth_at(answer, "yes") && !locked && viewer.session.may_work());
    page.set("to_finish", truth_at(answer, "yes") && locked);
    page.set("axes", axes_data(answer, language));
    for (const auto* key : {"advice", "agreement", "open", "responses", "service", "unready"}) {
        set_phrases(page, answer, key, language);
    }
    PageData settles(PageData::type::list);
    for (const auto& one : list_at(answer, "settles")) {
        PageData data = phrase_data(text_at(one, "text"), language);
        data.set("title", message(language, text_at(one, "axis") == "yaw" ? "yaw" : "pitch"));
        settles.push_back(data);
    }
    page.set("settles", settles);
    page.set("has_settles", !list_at(answer, "settles").empty());
    page.set("findings", findings_data(answer, language));
    page.set("has_findings", !list_at(answer, "findings").empty());
}

std::string label_key(const SheetPhoto& photo) {
    return !photo.label ? "" : *photo.label == CradleLabel::upright ? "upright" : "inverted";
}

/// "photos/1.jpg: the photo is not sharp" under a heading that names the photo.
std::string without_name(const std::string& text, const std::string& file) {
    if (text.compare(0, file.size() + 2, file + ": ") != 0) {
        return text;
    }
    std::string rest = text.substr(file.size() + 2);
    if (!rest.empty()) {
        rest[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(rest[0])));
    }
    return rest;
}

/// What is wrong with a photo and what to do, worst first.
PageData photo_problems(const Json& look, const std::string& file, Language language) {
    PageData list(PageData::type::list);
    const auto add = [&](const std::string& level, const std::string& text) {
        PageData one = phrase_data(text, language);
        one.set("level", level);
        one.set("level_word", message(language, "level_" + level));
        list.push_back(one);
    };
    if (const std::string problem = text_at(look, "problem"); !problem.empty()) {
        add("STOP", problem);
    }
    for (const auto& finding : list_at(look, "findings")) {
        add(text_at(finding, "level"), without_name(text_at(finding, "text"), file));
    }
    return list;
}

/// Whether a photo that was looked at can be measured with.
bool serves(const Json& look) {
    const Json findings = list_at(look, "findings");
    return truth_at(look, "found") &&
           std::none_of(findings.begin(), findings.end(),
                        [](const Json& one) { return text_at(one, "level") == "STOP"; });
}

PageData photo_data(const SheetPhoto& photo, const Json& look, const std::string& job_id,
                    Language language) {
    const bool found = truth_at(look, "found");
    const std::string said = label_key(photo), stands = text_at(look, "stands");
    const bool wrong_way = !said.empty() && !stands.empty() && said != stands;
    const bool good = truth_at(look, "found") && list_at(look, "findings").empty() && !wrong_way;
    PageData data = record({{"file", photo.file},
                            {"name", photo.path.filename().string()},
                            {"class", look.is_null() ? ""
                                      : good         ? "good"
                                                     : "bad"},
                            {"call", message(language, look.is_null() ? "photo_waits"
                                                       : !found       ? "photo_missing"
                                                       : good         ? "photo_found"
                                                                      : "photo_doubtful")}});
    data.set("looked_at", !look.is_null());
    data.set("bad", !look.is_null() && !good);
    if (!said.empty()) {
        data.set("stands", message(language, said));
    }
    if (wrong_way) {
        data.set("wrong_way", true);
        data.set("really", stands);
        data.set("really_words", message(language, stands));
    }
    data.set("problems", photo_problems(look, photo.file, language));
    const std::string picture = text_at(look, "picture");
    set_unless_empty(data, "picture",
                     picture.empty() ? "" : fmt::format("/job/{}/look/{}.jpg", job_id, picture));
    return data;
}

/// Turns as words: "side 2 1/4 turns clockwise, upper 1/2 turn counter-clockwise".
std::string turned_words(const Json& turned, Language language) {
    std::string words;
    for (const auto& one : turned) {
        const int eighths = static_cast<int>(std::lround(8 * one.value("turns", 0.0)));
        words += (words.empty() ? "" : ", ") + text_at(one, "screw") + " " +
                 number_words(eighths, language) + " " +
                 message(language, truth_at(one, "clockwise") ? "clockwise" : "counter-clockwise");
    }
    return words;
}

PageData stages_data(const Json& answer, Language language) {
    PageData list(PageData::type::list);
    for (const auto& stage : list_at(answer, "stages")) {
        PageData data = record({{"name", translated(text_at(stage, "name"), language).text},
                                {"turned", turned_words(list_at(stage, "turned"), language)}});
        PageData axes(PageData::type::list);
        for (const auto& axis : list_at(stage, "axes")) {
            PageData one = record(
                {{"title", message(language, text_at(axis, "axis") == "yaw" ? "yaw" : "pitch")}});
            for (const auto* key : {"points", "give_or_take", "call"}) {
                set_phrase(one, key, text_at(axis, key), language);
            }
            axes.push_back(one);
        }
        data.set("axes", axes);
        list.push_back(data);
    }
    return list;
}

/// A year after a day as 2026-03-05 (common practice, no source); empty where it is none.
std::string year_after(const std::string& day) {
    const bool plain = day.size() == 10 && std::all_of(day.begin(), day.begin() + 4,
                                                       [](char c) { return c >= '0' && c <= '9'; });
    return plain ? fmt::format("{:04}", std::stoi(day.substr(0, 4)) + 1) + day.substr(4) : "";
}

/// A day as 2026-03-05 that a text ends with; empty where it does not.
std::string day_at_the_end(const std::string& text) {
    static const std::regex day("(^|[^0-9])([0-9]{4}-[0-9]{2}-[0-9]{2})$");
    std::smatch found;
    return std::regex_search(text, found, day) ? found[2].str() : "";
}

/// When it was checked; of a mount, the document that it is from.
std::string item_words(const ShopItem& item, Language language) {
    if (item.source) {
        return item.source->empty() ? message(language, "no_document")
                                    : message(language, "from_document") + " " + *item.source;
    }
    return item.date.empty() ? message(language, "no_date")
                             : message(language, "checked") + " " + item.date;
}

/// All is checked again a year after; of a mount, whether its document is still the newest.
PageData group_data(const std::string& title, const std::vector<ShopItem>& items,
                    const std::string& today, Language language) {
    PageData list(PageData::type::list);
    for (const auto& item : items) {
        const std::string next = year_after(item.source ? day_at_the_end(*item.source) : item.date);
        const bool late = next.empty() || next < today;
        PageData one = record({{"name", item.name}, {"date", item_words(item, language)}});
        one.set("late", late);
        one.set("next",
                late ? message(language, item.source ? "document_now" : "check_now")
                     : message(language, item.source ? "document_by" : "check_by") + " " + next);
        list.push_back(one);
    }
    PageData data = record({{"title", title}});
    data.set("items", list);
    return data;
}

std::string state_words(const ReviewedJob& job, Language language) {
    return message(language, job.decision.empty() ? "review_not_stored" : "review_" + job.decision);
}

}  // namespace

std::string label_words(Language language, const Field& field) {
    std::string words = message(language, field.label);
    if (!field.detail.empty()) {
        words += " " + field.detail;
    }
    if (!field.detail_key.empty()) {
        words += " " + message(language, "tape_to") + " " + message(language, field.detail_key);
    }
    return words;
}

namespace {

/// Nothing for an entry that is no length, in whatever way.
std::optional<double> readable_length_mm(const Field& field, const Form& form) {
    try {
        return field.kind == FieldKind::length ? form.length_mm(field.name) : std::nullopt;
    } catch (const FormError&) {
        return std::nullopt;
    }
}

const char* nothing_key(FieldKind kind) {
    switch (kind) {
        case FieldKind::answer:
            return "not_answered";
        case FieldKind::pick:
            return "not_yet";
        case FieldKind::choice:
            return "as_in_bay";
        case FieldKind::text:
            return "left_out";
        default:
            return "none";
    }
}

}  // namespace

std::string entry_words(const Field& field, const Form& form, Language language) {
    std::string words;
    const auto add = [&](const std::string& part, const std::string& unit) {
        const std::string value = form.get(field.name + part);
        if (!value.empty()) {
            words += (words.empty() ? "" : " ") + value + unit;
        }
    };
    if (field.kind == FieldKind::pick) {
        for (const auto& option : field.options) {
            if (!option.value.empty() && option.value == form.get(field.name)) {
                return message(language, option.label);
            }
        }
    }
    if (field.kind == FieldKind::answer && form.has(field.name)) {
        words = message(language, form.get(field.name) == "yes" ? "yes" : "no");
    } else {
        add("", "");
    }
    add(".text", "");
    add(".reason", "");
    if (form.has(field.name + ".mm")) {
        add(".mm", " mm");
    } else if (const auto length_mm = readable_length_mm(field, form)) {
        words = feet_inches_text(*length_mm);
    }
    add(".deg", " deg");
    const std::string side = form.get(field.name + ".side");
    if (!words.empty() && !field.plus.empty() && !side.empty()) {
        words += " " + message(language, side == "plus" ? field.plus : field.minus);
    }
    return !words.empty() ? words : message(language, nothing_key(field.kind));
}

std::string doubt_words(Language language, const Field& field, LengthUnit unit) {
    const auto words = [&](double value) {
        return field.kind == FieldKind::angle ? fmt::format("{:.3g} deg", value)
                                              : length_words(value, unit);
    };
    return label_words(language, field) + " " + message(language, "usually") + " " +
           words(field.usual->low) + " " + message(language, "usually_to") + " " +
           words(field.usual->high) + ". " + message(language, "usually_check");
}

std::string problem_words(Language language, const FormError& error) {
    return message(language, error.label) + " " + message(language, error.what()) + ".";
}

std::string next_step(const StoredJob& job, const MeasuringState& measuring) {
    const SheetSighting& last = job.sheet.sightings.back();
    if (last.photos.empty() && !last.same_setup) {
        if (job.sheet.sightings.size() == 1 && !is_ready_answered(job.sheet)) {
            return "ready";
        }
        if (!is_board_answered(job.sheet)) {
            return "board";
        }
    }
    if (last.photos.empty() && !last.tape_and_level) {
        return "photos";
    }
    return in_tolerance(measuring) && last.stage == "as-left" ? "finish" : "answer";
}

std::string pair_page(Language language, const std::string& code, const std::string& problem_key) {
    PageData page = begin_page(language);
    page.set("code", code);
    return framed(page, templates::pair, message(language, "pair_title"),
                  problem_key.empty() ? "" : message(language, problem_key));
}

std::string jobs_page(const Viewer& viewer, const std::vector<ListedJob>& jobs) {
    PageData page = begin_page(viewer, nullptr);
    PageData list(PageData::type::list);
    for (const auto& job : jobs) {
        PageData one = record({{"id", job.id}, {"job", job.job}, {"vehicle", job.vehicle}});
        one.set("stage", job.stage.empty() ? "" : message(viewer.language, job.stage));
        set_unless_empty(one, "problem", without_folders(job.problem));
        list.push_back(one);
    }
    page.set("jobs", list);
    return framed(page, templates::jobs, message(viewer.language, "jobs"));
}

std::string question_page(const Viewer& viewer, const QuestionScreen& screen, const Form& form,
                          const StoredJob* job, LengthUnit unit, const std::string& problem) {
    const Language language = viewer.language;
    const Question& question = screen.question;
    PageData page = begin_page(viewer, job);
    page.set("action", screen.action);
    page.set("method", screen.by_address ? "get" : "post");
    page.set("saves", !screen.by_address);
    page.set("question", question.name);
    page.set("step", message(language, screen.step));
    page.set("number", fmt::format("{}", screen.number));
    page.set("count", fmt::format("{}", screen.count));
    set_unless_empty(page, "then", screen.then);
    set_unless_empty(page, "back", screen.back);
    set_unless_empty(page, "all", screen.all);
    page.set("words", keyed_list(language, question.words));
    page.set("has_cautions", !question.cautions.empty());
    page.set("cautions", keyed_list(language, question.cautions));
    page.set("notes", list_of(screen.notes));
    page.set("button", message(language, screen.button));
    page.set("doubted", screen.doubted);
    page.set("may_be_skipped", question.may_be_skipped);
    const std::string picture = question_picture(question.picture, language);
    set_unless_empty(page, "picture", picture);
    page.set("has_seen", !picture.empty() || question.picture == "floor");
    page.set("is_floor", question.picture == "floor");
    const auto& fields = question.fields;
    const bool own_buttons = std::any_of(fields.begin(), fields.end(), [](const Field& field) {
        return field.kind == FieldKind::answer || field.kind == FieldKind::pick;
    });
    page.set("plain", !own_buttons && screen.remembered.empty());
    page.set("own_buttons", own_buttons);
    page.set("fields", fields_data(fields, form, unit, language));
    page.set("single", fields.size() == 1);  // the heading says it
    page.set("folded", question.folded && problem.empty());
    page.set("unfolded", !question.folded || !problem.empty());
    if (question.folded) {
        page.set("entries", entries_data(fields, form, language));
    }
    page.set("has_remembered", !screen.remembered.empty());
    page.set("remembered", pairs_data(screen.remembered));
    page.set("has_lengths", !screen.lengths.empty());
    page.set("lengths", pairs_data(screen.lengths));
    page.set("remembered_from", screen.remembered_from);
    page.set("carried", pairs_data(screen.carried.values()));
    const std::string title = !question.title.empty() ? message(language, question.title)
                              : !fields.empty()       ? label_words(language, fields.front())
                                                      : message(language, screen.step);
    return framed(page, templates::question, title, problem);
}

std::string entries_page(const Viewer& viewer, const EntriesScreen& screen, const Form& form,
                         const StoredJob& job) {
    const Language language = viewer.language;
    PageData page = begin_page(viewer, &job);
    PageData list(PageData::type::list);
    for (const auto& question : screen.questions) {
        for (const auto& field : question.fields) {
            list.push_back(
                record({{"name", label_words(language, field)},
                        {"value", entry_words(field, form, language)},
                        {"href", screen.address + "?then=all&question=" + question.name}}));
        }
    }
    page.set("entries", list);
    page.set("notes", list_of(screen.notes));
    page.set("next", screen.next);
    page.set("first", screen.address + "?question=" + screen.questions.front().name);
    return framed(page, templates::entries, message(language, screen.step));
}

std::string job_page(const Viewer& viewer, const StoredJob& job, const MeasuringState& measuring) {
    PageData page = begin_page(viewer, &job);
    set_first(page, measuring.answer, viewer.language);
    if (viewer.session.may_work()) {
        const std::string next = next_step(job, measuring);
        PageData data = record({{"name", message(viewer.language, "step_" + next)},
                                {"href", fmt::format("/job/{}/{}", job.id, next)}});
        page.set("next", data);
    }
    page.set("steps", steps_data(viewer, job, measuring));
    page.set("stage", message(viewer.language, job.sheet.sightings.back().stage));
    page.set("has_report", measuring.answer.contains("first"));
    return framed(page, templates::job,
                  job.sheet.vehicle.empty() ? message(viewer.language, "job") + " " + job.sheet.job
                                            : job.sheet.vehicle);
}

SheetSighting with_good_photos(SheetSighting sighting, const PhotoLooks& looks) {
    const auto look_of = [&](const SheetPhoto& photo) {
        const auto look = looks.by_file.find(photo.file);
        return look == looks.by_file.end() ? Json() : look->second;
    };
    std::erase_if(sighting.photos, [&](const SheetPhoto& photo) {
        const Json look = look_of(photo);
        return !look.is_null() && !serves(look);
    });
    for (auto& photo : sighting.photos) {
        const std::string stands = text_at(look_of(photo), "stands");
        if (!stands.empty()) {
            photo.label = stands == "upright" ? CradleLabel::upright : CradleLabel::inverted;
        }
    }
    return sighting;
}

std::string photos_page(const Viewer& viewer, const StoredJob& job, const PhotoLooks& looks,
                        const PhotosWanted& wanted, const std::string& problem) {
    PageData page = begin_page(viewer, &job);
    const SheetSighting& last = job.sheet.sightings.back();
    page.set("stage", message(viewer.language, last.stage));
    page.set("taken", fmt::format("{}", wanted.taken));
    page.set("count", fmt::format("{}", std::max(wanted.count, wanted.taken)));
    page.set("same", last.same_setup && last.photos.empty());
    page.set("can_move", last.same_setup && last.photos.empty() && viewer.session.may_work());
    page.set("next_upright", wanted.next == "upright");
    page.set("next_inverted", wanted.next == "inverted");
    page.set("enough", wanted.next.empty());
    page.set("not_enough", !wanted.next.empty());
    page.set("working", looks.working);
    page.set("crowded", looks.crowded);
    PageData newest(PageData::type::list), before(PageData::type::list);
    for (auto photo = last.photos.rbegin(); photo != last.photos.rend(); ++photo) {
        const auto look = looks.by_file.find(photo->file);
        (photo == last.photos.rbegin() ? newest : before)
            .push_back(photo_data(*photo, look == looks.by_file.end() ? Json() : look->second,
                                  job.id, viewer.language));
    }
    page.set("newest", newest);
    page.set("before", before);
    page.set("has_before", last.photos.size() > 1);
    return framed(page, templates::photos, message(viewer.language, "step_photos"), problem);
}

std::string answer_page(const Viewer& viewer, const StoredJob& job, const Mount& mount,
                        const MeasuringState& measuring, const std::string& problem) {
    PageData page = begin_page(viewer, &job);
    page.set("working", measuring.working && !measuring.crowded);
    page.set("crowded", measuring.crowded);
    set_phrase(page, "nothing", text_at(measuring.answer, "problem"), viewer.language);
    page.set("nothing_measured", !measuring.working && measuring.answer.is_null());
    if (measuring.answer.contains("first")) {
        set_answer(page, measuring.answer, mount, job, viewer);
    }
    return framed(page, templates::answer, message(viewer.language, "step_answer"), problem);
}

std::string handover_page(const Viewer& viewer, const StoredJob& job,
                          const MeasuringState& measuring, const std::string& shop_name) {
    const Language language = viewer.language;
    PageData page = begin_page(viewer, &job);
    const Json& answer = measuring.answer;
    page.set("working", measuring.working);
    set_phrase(page, "nothing", text_at(answer, "problem"), language);
    page.set("shop", shop_name);
    page.set("technician", job.sheet.technician);
    page.set("date", text_at(answer, "date"));
    page.set("answer", answer.contains("first"));
    set_first(page, answer, language);
    if (!truth_at(answer, "ready")) {
        if (in_tolerance(measuring)) {
            page.set("sign", with_words_in(mark_svg(Mark::not_yet), language));
        }
        page.set("heading", record({{"text", message(language, "not_ready")},
                                    {"lang", language_tag(language)}}));
    }
    page.set("stages", stages_data(answer, language));
    for (const auto* key : {"open", "unready", "sources", "agreement", "service"}) {
        set_phrases(page, answer, key, language);
    }
    Json told = Json::array();
    for (const auto& finding : list_at(answer, "findings")) {
        if (text_at(finding, "level") != "NOTE") {
            told.push_back(finding);
        }
    }
    page.set("findings", findings_data({{"findings", told}}, language));
    page.set("has_findings", !told.empty());
    const Form closing = finish_form(job.sheet);
    page.set("entries", entries_data(fields_of(finish_questions()), closing, language));
    return framed(page, templates::handover, message(language, "handover"));
}

std::string review_list_page(const Viewer& viewer, const std::vector<ReviewedJob>& jobs,
                             const std::string& problem) {
    PageData page = begin_page(viewer, nullptr);
    PageData list(PageData::type::list);
    for (const auto& one : jobs) {
        if (one.job.problem.empty()) {
            PageData data = record({{"id", one.job.id},
                                    {"job", one.job.job},
                                    {"vehicle", one.job.vehicle},
                                    {"state", state_words(one, viewer.language)}});
            data.set("stage", one.job.stage.empty() ? "" : message(viewer.language, one.job.stage));
            list.push_back(data);
        }
    }
    page.set("jobs", list);
    return framed(page, templates::review_list, message(viewer.language, "review_title"), problem);
}

std::string review_page(const Viewer& viewer, const StoredJob& job, const MeasuringState& measuring,
                        const MeasuringState& kept, const std::optional<ReviewedJob>& state,
                        const Form& form, const std::string& problem) {
    const Language language = viewer.language;
    PageData page = begin_page(viewer, &job);
    page.set("working", measuring.working || kept.working);
    set_phrase(page, "nothing", text_at(measuring.answer, "problem"), language);
    set_phrase(page, "not_kept", text_at(kept.answer, "problem"), language);
    const bool stored = kept.answer.contains("jobs") && !kept.answer.at("jobs").empty();
    page.set("may_sign", stored && viewer.session.role == Role::reviewer);
    set_first(page, measuring.answer, language);
    page.set("findings", findings_data(measuring.answer, language));
    page.set("has_findings", !list_at(measuring.answer, "findings").empty());
    page.set("stages", stages_data(measuring.answer, language));
    if (state) {
        page.set("state", state_words(*state, language));
        page.set("reviewer", state->reviewer);
        set_unless_empty(page, "reason", state->reason);
        page.set("signed", !state->reviewer.empty());
    }
    page.set("typed_reviewer", form.get("reviewer"));
    page.set("typed_reason", form.get("reason"));
    return framed(page, templates::review, message(language, "review_title") + ": " + job.sheet.job,
                  problem);
}

std::string shop_page(const Viewer& viewer, const Shop& shop, const std::optional<ShownCode>& code,
                      const std::string& today) {
    PageData page = begin_page(viewer, nullptr);
    const Language language = viewer.language;
    if (code) {
        page.set("code", code->code);
        page.set("role", message(language, std::string(role_name(code->role)) + "_role"));
        page.set("alone", code->address.empty());
        if (!code->address.empty()) {
            page.set("address", code->address);
            page.set("qr",
                     qr_svg(code->address + "?code=" + code->code, message(language, "qr_title")));
        }
    }
    PageData groups(PageData::type::list);
    for (const auto& [key, items] :
         {std::pair{"camera", &shop.cameras}, std::pair{"target", &shop.targets},
          std::pair{"cradle", &shop.cradles}, std::pair{"mount", &shop.mounts}}) {
        groups.push_back(group_data(message(language, key), *items, today, language));
    }
    page.set("groups", groups);
    return framed(page, templates::shop, message(language, "shop_title") + ": " + shop.name);
}

std::string without_folders(const std::string& text) {
    static const std::regex folders(R"((^|[\s'"(=])/(?:[^\s/:;,'"()]+/)+)");
    return std::regex_replace(text, folders, "$1");
}

std::string stale_page(const Viewer& viewer, const StoredJob& job, const std::vector<Field>& fields,
                       const Form& theirs, const Form& yours, const std::string& address) {
    PageData page = begin_page(viewer, &job);
    page.set("theirs", entries_data(fields, theirs, viewer.language));
    page.set("yours", entries_data(fields, yours, viewer.language));
    page.set("href", address);
    return framed(page, templates::stale, message(viewer.language, "stale_title"));
}

std::string notice_page(Language language, const std::string& title_key, const std::string& words,
                        const std::string& address) {
    PageData page = begin_page(language);
    page.set("words", words);
    set_unless_empty(page, "href", address);
    return framed(page, templates::notice, message(language, title_key));
}

}  // namespace squaresight::bay

#include <fmt/format.h>

#include <algorithm>

#include "bay/page_data.h"
#include "bay/page_templates.h"
#include "bay/phrases.h"
#include "bay/pictures.h"
#include "job/words.h"

namespace squaresight::bay {
namespace {

PageData keyed_list(Language language, const std::vector<std::string>& keys) {
    std::vector<std::string> texts;
    for (const auto& key : keys) {
        texts.push_back(message(language, key));
    }
    return list_of(texts);
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

std::string option_words(const Field& field, const Option& option, Language language) {
    return field.kind == FieldKind::pick || option.is_key ? message(language, option.label)
                                                          : option.label;
}

PageData options_data(const Field& field, const std::string& chosen, Language language) {
    PageData list(PageData::type::list);
    for (const auto& option : field.options) {
        list.push_back(option_data(option.value, option_words(field, option, language),
                                   option.value == chosen));
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

bool is_in_mm(const Field& field, const Form& form, LengthUnit unit) {
    return unit == LengthUnit::mm || form.has(field.name + ".mm");
}

void set_size(PageData& data, const Field& field, const Form& form, LengthUnit unit,
              Language language) {
    const bool in_mm = is_in_mm(field, form, unit);
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
        data.set("doubt", doubt_words(language, field, form, unit));
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
        PageData pick = option_data(option.value, option_words(field, option, language), is_chosen);
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
    data.set("may_be_typed", field.may_be_typed);
    data.set("is_yes", value == "yes");
    data.set("is_no", value == "no");
    if (field.kind == FieldKind::pick) {
        data.set("picks", picks_data(field, value, language));
    } else {
        data.set("options", options_data(field, value, language));
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
        case FieldKind::text:
            return "left_out";
        default:
            return "none";
    }
}

PageData floor_steps_data(const QuestionScreen& screen, Language language) {
    PageData list(PageData::type::list);
    for (const auto& step : screen.floor_steps) {
        PageData one = record({});
        one.set("heading", phrase_data(step.heading, language));
        one.set("sentences", phrases_data(step.sentences, language));
        one.set("tapes", step.item == FloorItem::tapes);
        if (step.item == FloorItem::tapes) {
            one.set("entries", pairs_data(screen.floor_tapes));
        }
        list.push_back(one);
    }
    return list;
}

}  // namespace

std::string label_words(Language language, const Field& field) {
    std::string words = message(language, field.label);
    if (!field.detail.empty()) {  // of a tape the name that a file gives to its hook
        words += " " + (field.detail_key.empty()
                            ? field.detail
                            : fmt::format(fmt::runtime(message(language, "named")), field.detail));
    }
    if (!field.detail_key.empty()) {
        words += " " + message(language, "tape_to") + " " + message(language, field.detail_key);
    }
    return words;
}

std::string entry_words(const Field& field, const Form& form, Language language) {
    std::string words;
    const auto add = [&](const std::string& part, const std::string& unit) {
        const std::string value = form.get(field.name + part);
        if (!value.empty()) {
            words += (words.empty() ? "" : " ") + value + unit;
        }
    };
    for (const auto& option : field.options) {
        if (!option.value.empty() && option.value == form.get(field.name)) {
            return option_words(field, option, language);
        }
    }
    if (field.kind == FieldKind::answer && form.has(field.name)) {
        words = message(language, form.get(field.name) == "yes" ? "yes" : "no");
    } else {
        add("", "");
    }
    add(".text", "");
    add(".reason", "");
    if (field.kind == FieldKind::pick) {
        words = with_readable_days(words, language);
    }
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
    return !words.empty() ? unbroken(words) : message(language, nothing_key(field.kind));
}

std::string doubt_words(Language language, const Field& field, const Form& form, LengthUnit unit) {
    const LengthUnit shown = is_in_mm(field, form, unit) ? LengthUnit::mm : unit;
    const auto words = [&](double value) {
        return field.kind == FieldKind::angle ? fmt::format("{:.3g} deg", value)
                                              : length_words(value, shown);
    };
    return label_words(language, field) + " " + message(language, "usually") + " " +
           words(field.usual->low) + " " + message(language, "usually_to") + " " +
           words(field.usual->high) + ". " + message(language, "usually_check");
}

std::string problem_words(Language language, const FormError& error) {
    return message(language, error.label) + " " + message(language, error.what()) + ".";
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
    page.set("leave_out", !screen.leave_out.empty());
    if (!screen.leave_out.empty()) {
        page.set("leave_out_words", message(language, "leave_out_" + screen.leave_out));
    }
    const std::string picture = screen.drawing.empty()
                                    ? question_picture(question.picture, language)
                                    : with_words_in(screen.drawing, language);
    set_unless_empty(page, "drawing_of", screen.drawing_of);
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
    // The heading says it.
    page.set("single", fields.size() == 1 && question.title.empty());
    page.set("folded", question.folded && problem.empty());
    page.set("unfolded", !question.folded || !problem.empty());
    if (question.folded) {
        page.set("entries", entries_data(fields, form, language));
    }
    page.set("has_remembered", !screen.remembered.empty());
    page.set("remembered", pairs_data(screen.remembered));
    page.set("has_lengths", !screen.lengths.empty());
    page.set("lengths", pairs_data(screen.lengths));
    page.set("floor_steps", floor_steps_data(screen, language));
    page.set("floor_caution", phrase_data(floor_caution_words, language));
    page.set("remembered_from", screen.remembered_from);
    page.set("carried", pairs_data(screen.carried.values()));
    const std::string title = !question.title.empty() ? message(language, question.title)
                              : !fields.empty()       ? label_words(language, fields.front())
                                                      : message(language, screen.step);
    return framed(page, templates::question, title, {problem, language});
}

std::string entries_page(const Viewer& viewer, const EntriesScreen& screen, const Form& form,
                         const StoredJob& job) {
    const Language language = viewer.language;
    PageData page = begin_page(viewer, &job);
    PageData list(PageData::type::list);
    const std::string which =
        (screen.stage.empty() ? "" : "stage=" + screen.stage + "&") + "question=";
    const std::string question_of = screen.address + "?then=all&" + which;
    for (const auto& question : screen.questions) {
        const std::string href = question_of + question.name;
        if (!question.more.empty()) {
            list.push_back(record({{"name", message(language, question.more)}, {"href", href}}));
            continue;
        }
        for (const auto& field : question.fields) {
            if (field.instead) {
                continue;
            }
            list.push_back(record({{"name", label_words(language, field)},
                                   {"value", entry_words(field, form, language)},
                                   {"href", href}}));
        }
    }
    page.set("entries", list);
    page.set("notes", list_of(screen.notes));
    page.set("next", screen.next);
    page.set("first", screen.address + "?" + which + screen.questions.front().name);
    page.set("button", message(language, screen.button));
    return framed(page, templates::entries, message(language, screen.step));
}

std::string stale_page(const Viewer& viewer, const StoredJob& job, const std::vector<Field>& fields,
                       const Form& theirs, const Form& yours, const std::string& address) {
    PageData page = begin_page(viewer, &job);
    page.set("theirs", entries_data(fields, theirs, viewer.language));
    page.set("yours", entries_data(fields, yours, viewer.language));
    page.set("href", address);
    return framed(page, templates::stale, message(viewer.language, "stale_title"));
}

}  // namespace squaresight::bay

#include "bay/pages.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>

#include "bay/page_templates.h"
#include "bay/qr.h"
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
    page.set("t", catalogue(language));
    page.set("lang", language_tag(language));
    return page;
}

PageData begin_page(const Viewer& viewer, const StoredJob* job) {
    PageData page = begin_page(viewer.language);
    page.set("token", viewer.session.form_token);
    page.set("may_work", viewer.session.may_work());
    page.set("may_pair", viewer.session.may_pair());
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

std::string sign_of(const Json& json) {
    const int mark = json.value("mark", 2);
    return mark_svg(mark == 0 ? Mark::ok : mark == 1 ? Mark::not_yet : Mark::stop);
}

void set_list(PageData& page, const char* name, const std::vector<std::string>& texts) {
    page.set(name, list_of(texts));
    page.set(std::string("has_") + name, !texts.empty());
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

void set_size(PageData& data, const Field& field, const Form& form, LengthUnit unit) {
    const bool in_mm = unit == LengthUnit::mm || form.has(field.name + ".mm");
    data.set("is_size", field.kind == FieldKind::length || field.kind == FieldKind::angle);
    data.set("is_deg", field.kind == FieldKind::angle);
    data.set("is_mm", field.kind == FieldKind::length && in_mm);
    data.set("is_inch", field.kind == FieldKind::length && !in_mm);
    for (const auto* part : {"mm", "ft", "in", "deg"}) {
        data.set(part, form.get(field.name + "." + part));
    }
    data.set("sixteenths", sixteenths_data(form.get(field.name + ".16")));
}

void set_sides(PageData& data, const Field& field, const Form& form, Language language) {
    const std::string side = form.get(field.name + ".side");
    data.set("sided", !field.plus.empty());
    data.set("plus", field.plus.empty() ? "" : message(language, field.plus));
    data.set("minus", field.minus.empty() ? "" : message(language, field.minus));
    data.set("is_plus", side == "plus");
    data.set("is_minus", side == "minus");
}

PageData field_data(const Field& field, const Form& form, LengthUnit unit, Language language) {
    const std::string value = form.get(field.name);
    PageData data = record({{"name", field.name},
                            {"label", label_words(language, field)},
                            {"value", value},
                            {"reason", form.get(field.name + ".reason")}});
    data.set("needed", field.needed);
    data.set("is_text", field.kind == FieldKind::text);
    data.set("is_choice", field.kind == FieldKind::choice);
    data.set("is_answer", field.kind == FieldKind::answer);
    data.set("is_yes", value == "yes");
    data.set("is_no", value == "no");
    data.set("options", options_data(field, value));
    set_size(data, field, form, unit);
    set_sides(data, field, form, language);
    return data;
}

/// A form's entry as one line of words.
std::string entry_words(const Field& field, const Form& form, Language language) {
    std::string words;
    const auto add = [&](const std::string& part, const std::string& unit) {
        const std::string value = form.get(field.name + part);
        if (!value.empty()) {
            words += (words.empty() ? "" : " ") + value + unit;
        }
    };
    add("", "");
    add(".reason", "");
    add(".mm", " mm");
    add(".ft", " ft");
    add(".in", " in");
    add(".16", "/16 in");
    add(".deg", " deg");
    const std::string side = form.get(field.name + ".side");
    if (!words.empty() && !field.plus.empty() && !side.empty()) {
        words += " " + message(language, side == "plus" ? field.plus : field.minus);
    }
    return words.empty() ? message(language, "none") : words;
}

PageData entries_data(const FormScreen& screen, const Form& form, Language language) {
    PageData list(PageData::type::list);
    for (const auto& field : screen.fields) {
        list.push_back(record({{"name", label_words(language, field)},
                               {"value", entry_words(field, form, language)}}));
    }
    return list;
}

bool is_ready_answered(const JobSheet& sheet) { return !sheet.ready.empty(); }

bool is_board_answered(const JobSheet& sheet) {
    const SheetSetup* setup = current_setup(sheet);
    return setup != nullptr &&
           (setup->line_marks || setup->readings.target_left_mm.measured ||
            setup->readings.target_height_mm.measured || setup->readings.mount_left_mm.measured);
}

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

void set_first(PageData& page, const Json& answer) {
    const auto first = answer.find("first");
    if (first == answer.end()) {
        return;
    }
    page.set("sign", sign_of(*first));
    page.set("heading", text_at(*first, "heading"));
    page.set("text", text_at(*first, "text"));
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
        {{"picture", screw_svg(correction)},
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
        list.push_back(record({{"sign", sign_of(axis)},
                               {"title", message(language, term)},
                               {"term", term},
                               {"points", text_at(axis, "points")},
                               {"should_point", text_at(axis, "should_point")},
                               {"give_or_take", text_at(axis, "give_or_take")},
                               {"call", text_at(axis, "call")},
                               {"sure", text_at(axis, "sure")}}));
    }
    return list;
}

PageData findings_data(const Json& answer) {
    PageData list(PageData::type::list);
    for (const auto& finding : list_at(answer, "findings")) {
        list.push_back(record({{"level", text_at(finding, "level")},
                               {"text", text_at(finding, "text")},
                               {"stages", text_at(finding, "stages")}}));
    }
    return list;
}

void set_answer(PageData& page, const Json& answer, const Mount& mount, const StoredJob& job,
                const Viewer& viewer) {
    set_first(page, answer);
    page.set("answer", true);
    page.set("turns", turns_data(answer, viewer.language));
    page.set("has_turns", !list_at(answer, "turns").empty());
    page.set("mount_picture", mount_svg(mount));
    const bool locked = job.sheet.sightings.back().stage == "as-left";
    page.set("to_lock", truth_at(answer, "yes") && !locked && viewer.session.may_work());
    page.set("to_finish", truth_at(answer, "yes") && locked);
    page.set("axes", axes_data(answer, viewer.language));
    set_list(page, "advice", texts_at(answer, "advice"));
    set_list(page, "agreement", texts_at(answer, "agreement"));
    set_list(page, "open", texts_at(answer, "open"));
    page.set("responses", list_of(texts_at(answer, "responses")));
    page.set("service", list_of(texts_at(answer, "service")));
    page.set("unready", list_of(texts_at(answer, "unready")));
    page.set("findings", findings_data(answer));
    page.set("has_findings", !list_at(answer, "findings").empty());
}

const Json* photo_answer(const Json& photos, const std::string& file) {
    for (const auto& photo : photos) {
        if (text_at(photo, "file") == file) {
            return &photo;
        }
    }
    return nullptr;
}

std::string stands_words(const SheetPhoto& photo, Language language) {
    return !photo.label
               ? ""
               : message(language, photo.label == CradleLabel::upright ? "upright" : "inverted");
}

PageData photo_data(const SheetPhoto& photo, const Json* answer, const std::string& job_id,
                    Language language) {
    const bool found = answer != nullptr && truth_at(*answer, "found");
    PageData data = record({{"file", photo.file},
                            {"name", photo.path.filename().string()},
                            {"class", answer == nullptr ? ""
                                      : found           ? "good"
                                                        : "bad"},
                            {"call", message(language, answer == nullptr ? "photo_waits"
                                                       : found           ? "photo_found"
                                                                         : "photo_missing")}});
    set_unless_empty(data, "stands", stands_words(photo, language));
    if (answer != nullptr) {
        set_unless_empty(data, "words", text_at(*answer, "words"));
        set_unless_empty(data, "advice", text_at(*answer, "advice"));
        const std::string drawn = text_at(*answer, "drawn");
        set_unless_empty(data, "picture",
                         drawn.empty() ? "" : fmt::format("/job/{}/picture/{}", job_id, drawn));
    }
    return data;
}

PageData photos_data(const StoredJob& job, const MeasuringState& measuring, Language language) {
    PageData list(PageData::type::list);
    const Json answers = list_at(measuring.answer, "photos");
    const auto& photos = job.sheet.sightings.back().photos;
    for (auto photo = photos.rbegin(); photo != photos.rend(); ++photo) {
        list.push_back(photo_data(*photo, photo_answer(answers, photo->file), job.id, language));
    }
    return list;
}

/// The cradle's positions take turns: upright first.
bool is_upright_next(const SheetSighting& sighting) {
    return sighting.photos.empty() || sighting.photos.back().label != CradleLabel::upright;
}

PageData group_data(const std::string& title, const std::vector<ShopItem>& items,
                    Language language) {
    PageData list(PageData::type::list);
    for (const auto& item : items) {
        list.push_back(
            record({{"name", item.name},
                    {"date", item.date.empty() ? message(language, "no_date")
                                               : message(language, "checked") + " " + item.date}}));
    }
    PageData data = record({{"title", title}});
    data.set("items", list);
    return data;
}

}  // namespace

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
        set_unless_empty(one, "problem", job.problem);
        list.push_back(one);
    }
    page.set("jobs", list);
    return framed(page, templates::jobs, message(viewer.language, "jobs"));
}

std::string form_page(const Viewer& viewer, const FormScreen& screen, const Form& form,
                      const StoredJob* job, LengthUnit unit, const std::string& problem) {
    PageData page = begin_page(viewer, job);
    page.set("action", screen.action);
    page.set("words", keyed_list(viewer.language, screen.words));
    page.set("has_cautions", !screen.cautions.empty());
    page.set("cautions", keyed_list(viewer.language, screen.cautions));
    page.set("notes", list_of(screen.notes));
    page.set("button", message(viewer.language, screen.button));
    PageData fields(PageData::type::list);
    for (const auto& field : screen.fields) {
        fields.push_back(field_data(field, form, unit, viewer.language));
    }
    page.set("fields", fields);
    return framed(page, templates::form, message(viewer.language, screen.title), problem);
}

std::string job_page(const Viewer& viewer, const StoredJob& job, const MeasuringState& measuring) {
    PageData page = begin_page(viewer, &job);
    set_first(page, measuring.answer);
    if (viewer.session.may_work()) {
        const std::string next = next_step(job, measuring);
        PageData data = record({{"name", message(viewer.language, "step_" + next)},
                                {"href", fmt::format("/job/{}/{}", job.id, next)}});
        page.set("next", data);
    }
    page.set("steps", steps_data(viewer, job, measuring));
    page.set("stage", message(viewer.language, job.sheet.sightings.back().stage));
    page.set("has_report", measuring.answer.contains("first"));
    return framed(page, templates::job, message(viewer.language, "job") + " " + job.sheet.job);
}

std::string photos_page(const Viewer& viewer, const StoredJob& job, const MeasuringState& measuring,
                        const std::string& problem) {
    PageData page = begin_page(viewer, &job);
    const SheetSighting& last = job.sheet.sightings.back();
    page.set("stage", message(viewer.language, last.stage));
    page.set("same", last.same_setup);
    page.set("can_move", last.same_setup && last.photos.empty() && viewer.session.may_work());
    page.set("next_upright", is_upright_next(last));
    page.set("has_photos", !last.photos.empty());
    page.set("working", measuring.working && !last.photos.empty());
    page.set("photos", photos_data(job, measuring, viewer.language));
    return framed(page, templates::photos, message(viewer.language, "step_photos"), problem);
}

std::string answer_page(const Viewer& viewer, const StoredJob& job, const Mount& mount,
                        const MeasuringState& measuring, const std::string& problem) {
    PageData page = begin_page(viewer, &job);
    page.set("working", measuring.working && !measuring.crowded);
    page.set("crowded", measuring.crowded);
    set_unless_empty(page, "nothing", text_at(measuring.answer, "problem"));
    if (measuring.answer.contains("first")) {
        set_answer(page, measuring.answer, mount, job, viewer);
    }
    return framed(page, templates::answer, message(viewer.language, "step_answer"), problem);
}

std::string shop_page(const Viewer& viewer, const Shop& shop,
                      const std::optional<ShownCode>& code) {
    PageData page = begin_page(viewer, nullptr);
    const Language language = viewer.language;
    if (code) {
        page.set("code", code->code);
        page.set("address", code->address);
        page.set("role", message(language, std::string(role_name(code->role)) + "_role"));
        page.set("qr",
                 qr_svg(code->address + "?code=" + code->code, message(language, "qr_title")));
    }
    PageData groups(PageData::type::list);
    for (const auto& [key, items] :
         {std::pair{"mount", &shop.mounts}, std::pair{"camera", &shop.cameras},
          std::pair{"target", &shop.targets}, std::pair{"cradle", &shop.cradles}}) {
        groups.push_back(group_data(message(language, key), *items, language));
    }
    page.set("groups", groups);
    return framed(page, templates::shop, message(language, "shop_title") + ": " + shop.name);
}

std::string stale_page(const Viewer& viewer, const StoredJob& job, const FormScreen& screen,
                       const Form& theirs, const Form& yours, const std::string& address) {
    PageData page = begin_page(viewer, &job);
    page.set("theirs", entries_data(screen, theirs, viewer.language));
    page.set("yours", entries_data(screen, yours, viewer.language));
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

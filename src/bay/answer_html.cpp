#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "bay/page_data.h"
#include "bay/page_templates.h"
#include "bay/phrases.h"
#include "bay/pictures.h"
#include "job/words.h"
#include "report/figures.h"

namespace squaresight::bay {
namespace {

constexpr int most_eighths = 64;

std::string number_words(int eighths, Language language) {
    return unbroken(eighths_text(eighths)) + " " +
           message(language, eighths <= 8 ? "turn_one" : "turn_many");
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
         {"screw", fmt::format(fmt::runtime(message(language, "screw")), correction.screw)},
         {"words", eighths == 0 ? message(language, "no_turn")
                                : number_words(eighths, language) + " " + message(language, way)},
         {"index", fmt::format("{}", index)},
         {"eighths", fmt::format("{}", eighths)},
         {"way", way}});
    data.set("is_clockwise", correction.clockwise);
    data.set("choices", turn_choices(eighths));
    return data;
}

/// The screws with their turns, as the first line names them; an answer in which there is nothing
/// to turn has none. A form knows each by its place in the mount's profile.
PageData turns_data(const Json& answer, const Mount& mount, Language language) {
    PageData list(PageData::type::list);
    for (const auto& turn : list_at(answer, "turns")) {
        const auto screw =
            std::find_if(mount.screws.begin(), mount.screws.end(),
                         [&](const Screw& one) { return one.name == text_at(turn, "screw"); });
        if (screw != mount.screws.end()) {
            const auto place = std::distance(mount.screws.begin(), screw);
            list.push_back(turn_data(turn, static_cast<std::size_t>(place), language));
        }
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

/// Where it goes on after something was turned, locked or moved.
void set_what_awaits(PageData& page, const JobSheet& sheet, bool awaits, Language language) {
    const bool board = !sheet.sightings.back().same_setup && !is_board_answered(sheet);
    page.set("awaits", awaits);
    page.set("next", board ? "board" : "photos");
    page.set("next_words", message(language, board ? "step_board" : "step_photos"));
}

/// The stages at which tape and level was left out knowingly.
void set_left_out(PageData& page, const JobSheet& sheet, Language language) {
    std::vector<std::string> stages;
    for (std::size_t i = 0; i < sheet.sightings.size(); ++i) {
        if (sheet.sightings[i].tape_left_out) {
            stages.push_back(stage_title(sheet, i, language));
        }
    }
    page.set("left_out", list_of(stages));
}

void set_answer(PageData& page, const Json& answer, const Mount& mount, const StoredJob& job,
                const Viewer& viewer) {
    const Language language = viewer.language;
    const bool awaits = awaits_photos(job.sheet);
    set_headline(page, answer, job.sheet, language);
    page.set("answer", true);
    page.set("turns", turns_data(answer, mount, language));
    page.set("has_turns", !awaits && !list_at(answer, "turns").empty());
    set_what_awaits(page, job.sheet, awaits && viewer.session.may_work(), language);
    set_left_out(page, job.sheet, language);
    page.set("mount_picture", with_words_in(mount_svg(mount), language));
    const bool locked = job.sheet.sightings.back().stage == "as-left";
    const bool right = truth_at(answer, "yes") && !awaits;
    page.set("to_lock", right && !locked && viewer.session.may_work());
    page.set("to_finish", right && locked);
    page.set("axes", axes_data(answer, language));
    for (const auto* key :
         {"advice", "agreement", "open", "responses", "sensor", "service", "unready"}) {
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
    page.set("set_aside", list_of(texts_at(answer, "set_aside")));
    page.set("has_set_aside", !list_at(answer, "set_aside").empty());
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

/// What was turned after a stage, as the answer has it.
Json turned_json(const SheetSighting& stage) {
    Json list = Json::array();
    for (const auto& [screw, turns] : stage.turned_clockwise) {
        list.push_back({{"screw", screw}, {"turns", std::abs(turns)}, {"clockwise", turns > 0}});
    }
    return list;
}

}  // namespace

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

std::string answer_page(const Viewer& viewer, const StoredJob& job, const Mount& mount,
                        const MeasuringState& measuring, const std::optional<JournalEntry>& last) {
    PageData page = begin_page(viewer, &job);
    set_last_entry(page, last, viewer.language);
    page.set("working", measuring.working && !measuring.crowded);
    page.set("crowded", measuring.crowded);
    set_phrase(page, "nothing", text_at(measuring.answer, "problem"), viewer.language);
    page.set("is_nothing_measured", !measuring.working && measuring.answer.is_null());
    if (measuring.answer.contains("first")) {
        set_answer(page, measuring.answer, mount, job, viewer);
    }
    return framed(page, templates::answer, message(viewer.language, "step_answer"));
}

std::string stage_page(const Viewer& viewer, const StoredJob& job, std::size_t place,
                       const Mount& mount) {
    const Language language = viewer.language;
    PageData page = begin_page(viewer, &job);
    const SheetSighting& stage = job.sheet.sightings[place];
    const std::string number = fmt::format("{}", place + 1);
    page.set("number", number);
    PageData parts(PageData::type::list);
    const auto add = [&](const char* step, const char* state) {
        parts.push_back(
            record({{"name", message(language, std::string("step_") + step)},
                    {"href", fmt::format("/job/{}/{}?stage={}&question=all", job.id, step, number)},
                    {"state", message(language, state)}}));
    };
    if (stage.setup) {
        add("board", is_board_answered(up_to_stage(job.sheet, place)) ? "done" : "open_step");
    }
    add("tape", stage.tape_and_level  ? "done"
                : stage.tape_left_out ? "tape_left_out"
                                      : "open_step");
    page.set("parts", parts);
    const Json turned = turned_json(stage);
    page.set("has_turned", !turned.empty());
    page.set("turned", turned_words(turned, language));
    page.set("turns", turns_data({{"turns", turned}}, mount, language));
    PageData photos(PageData::type::list);
    for (const auto& photo : stage.photos) {
        PageData one = record({{"name", photo.path.filename().string()}, {"file", photo.file}});
        one.set("stands", photo.label ? message(language, cradle_label_text(*photo.label)) : "");
        photos.push_back(one);
    }
    page.set("photos", photos);
    return framed(page, templates::stage,
                  message(language, "correct") + ": " + stage_title(job.sheet, place, language));
}

std::string handover_page(const Viewer& viewer, const StoredJob& job,
                          const MeasuringState& measuring, const std::string& shop_name) {
    const Language language = viewer.language;
    PageData page = begin_page(viewer, &job);
    const Json& answer = measuring.answer;
    page.set("working", measuring.working);
    set_phrase(page, "nothing", text_at(answer, "problem"), language);
    page.set("is_nothing_measured", !measuring.working && answer.is_null());
    page.set("shop", shop_name);
    page.set("technician", job.sheet.technician);
    page.set("date", with_readable_days(text_at(answer, "date"), language));
    page.set("answer", answer.contains("first"));
    set_headline(page, answer, job.sheet, language);
    if (!truth_at(answer, "ready") || awaits_photos(job.sheet)) {
        set_phrase(page, "heading", "NOT READY", language);
    }
    page.set("stages", stages_data(answer, language));
    set_left_out(page, job.sheet, language);
    page.set("notes", list_of(job.sheet.notes));
    page.set("has_notes", !job.sheet.notes.empty());
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

}  // namespace squaresight::bay

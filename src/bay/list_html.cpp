#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <filesystem>
#include <regex>
#include <utility>

#include "bay/page_data.h"
#include "bay/page_templates.h"
#include "bay/phrases.h"
#include "bay/qr.h"

namespace squaresight::bay {
namespace {

constexpr std::size_t longest_search = 60;

/// How far a step is; nothing where it has no parts that are counted.
std::optional<Answered> counted(const std::string& step, const StoredJob& job,
                                const PhotosWanted& wanted) {
    const auto count = [](int number) { return static_cast<std::size_t>(std::max(number, 0)); };
    if (step == "photos") {
        return Answered{count(wanted.next.empty() ? wanted.count : wanted.taken),
                        count(wanted.count)};
    }
    return step == "ready"    ? std::optional(ready_answered(job.sheet))
           : step == "finish" ? std::optional(closing_answered(job.sheet))
                              : std::nullopt;
}

bool is_step_done(const std::string& step, const StoredJob& job, const MeasuringState& measuring) {
    return step == "board"  ? is_board_answered(job.sheet)
           : step == "tape" ? job.sheet.sightings.back().tape_and_level.has_value()
                            : in_tolerance(measuring) && !awaits_photos(job.sheet);
}

std::string step_state(const std::string& step, const StoredJob& job,
                       const MeasuringState& measuring, const PhotosWanted& wanted,
                       Language language) {
    const auto count = counted(step, job, wanted);
    if (count ? count->all() : is_step_done(step, job, measuring)) {
        return message(language, "done");
    }
    if (step == "tape" && job.sheet.sightings.back().tape_left_out) {
        return message(language, "tape_left_out");
    }
    return count && count->given > 0
               ? fmt::format("{} {} {}", count->given, message(language, "of"), count->asked)
               : message(language, "open_step");
}

PageData steps_data(const Viewer& viewer, const StoredJob& job, const MeasuringState& measuring,
                    const PhotosWanted& wanted) {
    PageData list(PageData::type::list);
    for (const std::string step : {"ready", "board", "photos", "tape", "answer", "finish"}) {
        list.push_back(
            record({{"name", message(viewer.language, "step_" + step)},
                    {"href", fmt::format("/job/{}/{}", job.id, step)},
                    {"state", step_state(step, job, measuring, wanted, viewer.language)}}));
    }
    return list;
}

/// Each measurement with what it holds.
PageData measurements_data(const JobSheet& sheet, Language language) {
    PageData list(PageData::type::list);
    for (std::size_t i = 0; i < sheet.sightings.size(); ++i) {
        const SheetSighting& one = sheet.sightings[i];
        std::string holds =
            fmt::format("{} {}", one.photos.size(),
                        message(language, one.photos.size() == 1 ? "photo_one" : "photo_many"));
        if (one.tape_and_level) {
            holds += ", " + message(language, "step_tape");
        }
        list.push_back(record({{"name", stage_title(sheet, i, language)},
                               {"number", fmt::format("{}", i + 1)},
                               {"holds", holds}}));
    }
    return list;
}

constexpr std::array<std::pair<JobState, const char*>, 3> states{
    {{JobState::open, "open"},
     {JobState::finished, "finished"},
     {JobState::abandoned, "abandoned"}}};

const char* state_name(JobState state) {
    return std::find_if(states.begin(), states.end(),
                        [&](const auto& one) { return one.first == state; })
        ->second;
}

std::string small_letters(std::string text) {
    for (auto& c : text) {
        c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    }
    return text;
}

PageData filters_data(const JobFilter& filter, Language language) {
    PageData list(PageData::type::list);
    const std::string chosen = filter.state ? state_name(*filter.state) : "all";
    for (const std::string show : {"open", "finished", "abandoned", "all"}) {
        PageData one = record({{"name", message(language, "show_" + show)}, {"value", show}});
        one.set("chosen", show == chosen);
        list.push_back(one);
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
        PageData one = record({{"name", item.name},
                               {"date", with_readable_days(item_words(item, language), language)}});
        one.set("late", late);
        one.set("next", late ? message(language, item.source ? "document_now" : "check_now")
                             : message(language, item.source ? "document_by" : "check_by") + " " +
                                   with_readable_days(next, language));
        list.push_back(one);
    }
    PageData data = record({{"title", title}});
    data.set("items", list);
    return data;
}

}  // namespace

std::string next_step(const StoredJob& job, const MeasuringState& measuring,
                      const PhotosWanted& wanted) {
    const JobSheet& sheet = job.sheet;
    const SheetSighting& last = sheet.sightings.back();
    if (last.stage == "as-left" && !awaits_photos(sheet) && !sheet.closing.empty() &&
        in_tolerance(measuring)) {
        return "finish";
    }
    if (last.photos.empty() && !last.same_setup) {
        if (sheet.sightings.size() == 1 && !ready_answered(sheet).all()) {
            return "ready";
        }
        if (!is_board_answered(sheet)) {
            return "board";
        }
    }
    if (!wanted.next.empty() && !last.tape_and_level) {
        return "photos";
    }
    return is_tape_due(sheet)                                   ? "tape"
           : last.stage == "as-left" && in_tolerance(measuring) ? "finish"
                                                                : "answer";
}

bool fits(const JobFilter& filter, const ListedJob& job) {
    if (!job.problem.empty()) {
        return true;
    }
    const std::string wanted = small_letters(filter.text);
    bool found = false;
    for (const auto* text : {&job.id, &job.job, &job.vehicle, &job.technician}) {
        found = found || small_letters(*text).find(wanted) != std::string::npos;
    }
    return found && (!filter.state || *filter.state == job.state);
}

JobFilter filter_of(const Form& form) {
    const std::string show = form.get("show");
    const auto named = std::find_if(states.begin(), states.end(),
                                    [&](const auto& one) { return show == one.second; });
    JobFilter filter{form.text("find", longest_search, false), JobState::open};
    if (named != states.end()) {
        filter.state = named->first;
    } else if (show == "all") {
        filter.state.reset();
    }
    return filter;
}

std::string pair_page(Language language, const std::string& code, const std::string& problem_key) {
    PageData page = begin_page(language);
    page.set("code", code);
    return framed(page, templates::pair, message(language, "pair_title"),
                  {problem_key.empty() ? "" : message(language, problem_key), language});
}

std::string jobs_page(const Viewer& viewer, const std::vector<ListedJob>& jobs,
                      const JobFilter& filter, bool any) {
    const Language language = viewer.language;
    PageData page = begin_page(viewer, nullptr);
    PageData list(PageData::type::list);
    for (const auto& job : jobs) {
        PageData one = record({{"id", job.id}, {"job", job.job}, {"vehicle", job.vehicle}});
        one.set("state", job.state != JobState::open
                             ? message(language, std::string("state_") + state_name(job.state))
                         : job.stage.empty() ? ""
                                             : message(language, job.stage));
        set_phrase(one, "problem", job.problem, language);
        list.push_back(one);
    }
    page.set("jobs", list);
    page.set("has_jobs", any);
    page.set("find", filter.text);
    page.set("show", filter.state ? state_name(*filter.state) : "all");
    page.set("filters", filters_data(filter, language));
    return framed(page, templates::jobs, message(language, "jobs"));
}

std::string job_page(const Viewer& viewer, const StoredJob& job, const MeasuringState& measuring,
                     const PhotosWanted& wanted, const std::optional<JournalEntry>& last) {
    const Language language = viewer.language;
    const JobSheet& sheet = job.sheet;
    PageData page = begin_page(viewer, &job);
    set_headline(page, measuring.answer, sheet, language);
    set_last_entry(page, last, language);
    if (!sheet.abandoned.empty()) {
        page.set("abandoned", record({{"reason", sheet.abandoned}}));
    }
    if (viewer.session.may_work()) {
        const std::string next = next_step(job, measuring, wanted);
        PageData data = record({{"name", message(language, "step_" + next)},
                                {"href", fmt::format("/job/{}/{}", job.id, next)}});
        page.set("next", data);
    }
    page.set("steps", steps_data(viewer, job, measuring, wanted));
    page.set("stages", measurements_data(sheet, language));
    if (const std::size_t count = sheet.notes.size() + sheet.pictures.size(); count > 0) {
        page.set("notes_count", fmt::format("{}", count));
    }
    page.set("has_report", measuring.answer.contains("first"));
    return framed(
        page, templates::job,
        sheet.vehicle.empty() ? message(language, "job") + " " + sheet.job : sheet.vehicle);
}

std::string notes_page(const Viewer& viewer, const StoredJob& job) {
    PageData page = begin_page(viewer, &job);
    std::vector<std::string> notes;
    for (const auto& note : job.sheet.notes) {
        notes.push_back(with_readable_days(note, viewer.language));
    }
    page.set("notes", list_of(notes));
    std::vector<std::string> pictures;
    for (const auto& file : job.sheet.pictures) {
        pictures.push_back(std::filesystem::path(file).filename().string());
    }
    page.set("pictures", list_of(pictures));
    page.set("abandoned", !job.sheet.abandoned.empty());
    return framed(page, templates::notes, message(viewer.language, "notes"));
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

std::string notice_page(Language language, const Notice& notice) {
    PageData page = begin_page(language);
    page.set("words", notice.words);
    set_phrase(page, "detail", notice.detail, language);
    set_unless_empty(page, "href", notice.address);
    page.set("link", message(language, notice.address == "/" ? "all_jobs" : "back_to_job"));
    return framed(page, templates::notice, message(language, notice.title));
}

}  // namespace squaresight::bay

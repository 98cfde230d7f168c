#include <fmt/format.h>

#include <algorithm>
#include <regex>

#include "bay/page_data.h"
#include "bay/page_templates.h"
#include "bay/phrases.h"
#include "bay/qr.h"

namespace squaresight::bay {
namespace {

bool is_ready_answered(const JobSheet& sheet) { return !sheet.ready.empty(); }

bool is_finished(const JobSheet& sheet) { return !sheet.closing.empty(); }

bool is_step_done(const std::string& step, const StoredJob& job, const MeasuringState& measuring,
                  const PhotosWanted& wanted) {
    const SheetSighting& last = job.sheet.sightings.back();
    return step == "ready"    ? is_ready_answered(job.sheet)
           : step == "board"  ? is_board_answered(job.sheet)
           : step == "photos" ? wanted.next.empty()
           : step == "tape"   ? last.tape_and_level.has_value()
           : step == "answer" ? in_tolerance(measuring)
                              : is_finished(job.sheet);
}

std::string step_state(const std::string& step, const StoredJob& job,
                       const MeasuringState& measuring, const PhotosWanted& wanted,
                       Language language) {
    if (is_step_done(step, job, measuring, wanted)) {
        return message(language, "done");
    }
    return step == "photos" && wanted.taken > 0
               ? fmt::format("{} {} {}", wanted.taken, message(language, "of"), wanted.count)
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
    const SheetSighting& last = job.sheet.sightings.back();
    if (in_tolerance(measuring) && last.stage == "as-left") {
        return "finish";
    }
    if (last.photos.empty() && !last.same_setup) {
        if (job.sheet.sightings.size() == 1 && !is_ready_answered(job.sheet)) {
            return "ready";
        }
        if (!is_board_answered(job.sheet)) {
            return "board";
        }
    }
    return !wanted.next.empty() && !last.tape_and_level ? "photos" : "answer";
}

std::string pair_page(Language language, const std::string& code, const std::string& problem_key) {
    PageData page = begin_page(language);
    page.set("code", code);
    return framed(page, templates::pair, message(language, "pair_title"),
                  {problem_key.empty() ? "" : message(language, problem_key), language});
}

std::string jobs_page(const Viewer& viewer, const std::vector<ReviewedJob>& jobs) {
    PageData page = begin_page(viewer, nullptr);
    PageData list(PageData::type::list);
    for (const auto& [job, review, folders] : jobs) {
        PageData one = record({{"id", job.id}, {"job", job.job}, {"vehicle", job.vehicle}});
        if (review.is_returned()) {
            one.set("returned",
                    record({{"reviewer", review.state.reviewer}, {"reason", review.state.reason}}));
        }
        one.set("stage", job.stage.empty() ? "" : message(viewer.language, job.stage));
        set_phrase(one, "problem", job.problem, viewer.language);
        list.push_back(one);
    }
    page.set("jobs", list);
    return framed(page, templates::jobs, message(viewer.language, "jobs"));
}

std::string job_page(const Viewer& viewer, const StoredJob& job, const MeasuringState& measuring,
                     const PhotosWanted& wanted) {
    PageData page = begin_page(viewer, &job);
    set_first(page, measuring.answer, viewer.language);
    if (viewer.session.may_work()) {
        const std::string next = next_step(job, measuring, wanted);
        PageData data = record({{"name", message(viewer.language, "step_" + next)},
                                {"href", fmt::format("/job/{}/{}", job.id, next)}});
        page.set("next", data);
    }
    page.set("steps", steps_data(viewer, job, measuring, wanted));
    page.set("stage", message(viewer.language, job.sheet.sightings.back().stage));
    page.set("has_report", measuring.answer.contains("first"));
    return framed(page, templates::job,
                  job.sheet.vehicle.empty() ? message(viewer.language, "job") + " " + job.sheet.job
                                            : job.sheet.vehicle);
}

std::string shop_page(const Viewer& viewer, const Shop& shop, const std::optional<ShownCode>& code,
                      const std::string& today, const std::string& problem) {
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
    set_phrase(page, "shop_problem", without_folders(problem), language);
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

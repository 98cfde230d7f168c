#include <fmt/format.h>

#include "bay/page_data.h"
#include "bay/page_templates.h"
#include "bay/pictures.h"
#include "job/headline.h"
#include "report/figures.h"

namespace squaresight::bay {
namespace {

std::string state_words(const JobReview& review, Language language) {
    if (review.state.decision.empty()) {
        return message(language, "review_not_stored");
    }
    const std::string words = message(language, "review_" + review.state.decision);
    return review.changed ? words + "; " + message(language, "review_changed") : words;
}

bool is_done(const Json& answer) {
    return text_at(answer, "headline") == headline_text(Headline::done);
}

/// Why a job that lies in several folders is not signed: "1042, 1042-2".
std::string folders_words(const ReviewedJob& job) {
    return fmt::format("{}", fmt::join(job.folders, ", "));
}

bool is_kept(const MeasuringState& kept) { return !text_at(kept.answer, "hash").empty(); }

void set_signing(PageData& page, const MeasuringState& measuring, const MeasuringState& kept,
                 const std::optional<ReviewedJob>& state, const Viewer& viewer) {
    const bool alone = state && state->folders.size() < 2;
    const bool measured = measuring.answer.contains("first") && !measuring.working;
    page.set("may_sign", alone && measured && is_kept(kept) && !kept.working &&
                             viewer.session.role == Role::reviewer);
    page.set("entry", text_at(kept.answer, "hash"));
    page.set("needs_reason", !is_done(measuring.answer));
    if (state && !alone) {
        page.set("folders", folders_words(*state));
    }
}

}  // namespace

std::string review_list_page(const Viewer& viewer, const std::vector<ReviewedJob>& jobs) {
    PageData page = begin_page(viewer, nullptr);
    PageData list(PageData::type::list);
    for (const auto& one : jobs) {
        if (one.job.problem.empty()) {
            PageData data = record({{"id", one.job.id},
                                    {"job", one.job.job},
                                    {"vehicle", one.job.vehicle},
                                    {"state", state_words(one.review, viewer.language)}});
            data.set("stage", one.job.stage.empty() ? "" : message(viewer.language, one.job.stage));
            if (one.folders.size() > 1) {
                data.set("folders", folders_words(one));
            }
            list.push_back(data);
        }
    }
    page.set("jobs", list);
    return framed(page, templates::review_list, message(viewer.language, "review_title"));
}

std::string review_page(const Viewer& viewer, const StoredJob& job, const MeasuringState& measuring,
                        const MeasuringState& kept, const std::optional<ReviewedJob>& state,
                        const Form& form, const Phrase& problem) {
    const Language language = viewer.language;
    PageData page = begin_page(viewer, &job);
    page.set("working", measuring.working || kept.working);
    set_phrase(page, "nothing", text_at(measuring.answer, "problem"), language);
    set_phrase(page, "not_kept", text_at(kept.answer, "problem"), language);
    set_signing(page, measuring, kept, state, viewer);
    set_first(page, measuring.answer, language);
    page.set("findings", findings_data(measuring.answer, language));
    page.set("has_findings", !list_at(measuring.answer, "findings").empty());
    page.set("stages", stages_data(measuring.answer, language));
    if (state) {
        page.set("state", state_words(state->review, language));
        page.set("reviewer", state->review.state.reviewer);
        set_unless_empty(page, "reason", state->review.state.reason);
        page.set("signed", !state->review.state.reviewer.empty());
    }
    page.set("typed_reviewer", form.get("reviewer"));
    page.set("typed_reason", form.get("reason"));
    return framed(page, templates::review, message(language, "review_title") + ": " + job.sheet.job,
                  problem);
}

void set_returned(PageData& page, const JobReview& review, const StoredJob& job,
                  Language language) {
    PageData data = record({{"reviewer", review.state.reviewer},
                            {"reason", review.state.reason},
                            {"send", "/job/" + job.id + "/send"}});
    data.set("sign", with_words_in(mark_svg(Mark::not_yet), language));
    page.set("returned", data);
}

std::string sent_page(const Viewer& viewer, const StoredJob& job, const MeasuringState& kept,
                      const ReviewedJob& state) {
    const JobReview& review = state.review;
    PageData page = begin_page(viewer, &job);
    page.set("working", kept.working);
    set_phrase(page, "not_kept", text_at(kept.answer, "problem"), viewer.language);
    page.set("unchanged", !review.changed && review.is_returned());
    page.set("sent", !kept.working && !review.changed && !review.state.decision.empty() &&
                         !review.is_returned());
    if (state.folders.size() > 1) {
        page.set("folders", folders_words(state));
    }
    return framed(page, templates::sent, message(viewer.language, "send_again"));
}

}  // namespace squaresight::bay

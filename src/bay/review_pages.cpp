#include <algorithm>
#include <map>

#include "bay/site.h"
#include "records/store.h"

namespace squaresight::bay {
namespace {

std::vector<ReviewedJob> reviewed(const Site& site, const std::vector<ListedJob>& jobs) {
    Reviews reviews(site.records());
    std::map<std::string, std::vector<std::string>> folders;
    for (const auto& job : jobs) {
        folders[job.job].push_back(job.id);
    }
    for (auto& [order, ids] : folders) {
        std::sort(ids.begin(), ids.end());
    }
    std::vector<ReviewedJob> all;
    for (const auto& job : jobs) {
        all.push_back({job, reviews.of(job.job, job.version), folders[job.job]});
    }
    return all;
}

void show_review(Site& site, Call& call, int status, const Phrase& problem) {
    const StoredJob job = site.store.open(call.job);
    const auto measuring = site.measuring_of(job);
    const auto stored = measuring.working || call.viewer.session.role != Role::reviewer
                            ? MeasuringState{measuring.working, false, nullptr}
                            : site.kept(job);
    std::optional<ReviewedJob> state;
    if (!stored.working) {
        state = site.reviewed(job);
    }
    send_page(call.response, status,
              review_page(call.viewer, job, measuring, stored, state, call.form, problem));
}

/// Whether what lies in the store now is what the form showed, and the job still is that.
bool is_as_shown(Site& site, const Call& call, const StoredJob& job) {
    const std::string shown = call.form.get("entry");
    const auto stored = site.kept(job, Asked::by_poll);
    return !shown.empty() && !stored.working && stored.answer.is_object() &&
           stored.answer.value("hash", "") == shown;
}

void sign(Site& site, Call& call) {
    const StoredJob job = site.store.open(call.job);
    const Language language = call.viewer.language;
    if (call.form.get("version") != job.version || !is_as_shown(site, call, job)) {
        show_review(site, call, 409, {message(language, "review_other"), language});
        return;
    }
    try {
        Store(parse_store_address(site.records().string()), usual_shop, Access::change)
            .sign({job.sheet.job, call.form.get("decision"), call.form.get("reviewer"),
                   call.form.get("reason"), call.form.get("entry")});
        go_to(call.response, "/job/" + call.job + "/review");
    } catch (const InputError& error) {
        show_review(site, call, 422, told(error, language));
    }
}

void show_sent(Site& site, Call& call, const StoredJob& job) {
    send_page(call.response, 200,
              sent_page(call.viewer, job, site.kept(job, Asked::in_passing), site.reviewed(job)));
}

}  // namespace

void add_review_pages(Site& site) {
    site.get("/review", [&site](Call& call) {
        send_page(call.response, 200,
                  review_list_page(call.viewer, reviewed(site, site.store.list(listed_jobs))));
    });
    site.get(job_pattern("/review"), [&site](Call& call) { show_review(site, call, 200, {}); });
    site.post(job_pattern("/review"), [&site](Call& call) { sign(site, call); });
    site.get(job_pattern("/send"),
             [&site](Call& call) { show_sent(site, call, site.store.open(call.job)); });
    site.post(job_pattern("/send"), [&site](Call& call) {
        const StoredJob job = site.store.open(call.job);
        if (call.form.get("version") != job.version) {
            throw StaleSheet();
        }
        site.kept(job);
        go_to(call.response, "/job/" + call.job + "/send");
    });
}

}  // namespace squaresight::bay

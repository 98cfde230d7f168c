#include "bay/site.h"
#include "records/store.h"

namespace squaresight::bay {
namespace {

/// Where the review of a job stands by the records.
ReviewedJob reviewed(Store* store, const ReviewStates& states, const ListedJob& job) {
    ReviewedJob one{job, "", "", ""};
    try {
        if (store != nullptr) {
            const auto& state = review_state(states, job.job, store->job_entry(job.job).revision);
            one.decision = state.decision;
            one.reviewer = state.reviewer;
            one.reason = state.reason;
        }
    } catch (const InputError&) {  // never stored
    }
    return one;
}

std::vector<ReviewedJob> reviewed(const Site& site, const std::vector<ListedJob>& jobs) {
    std::unique_ptr<Store> store;
    ReviewStates states;
    if (std::filesystem::exists(site.records())) {
        store = std::make_unique<Store>(parse_store_address(site.records().string()), usual_shop,
                                        Access::read);
        states = store->review_states();
    }
    std::vector<ReviewedJob> all;
    for (const auto& job : jobs) {
        all.push_back(reviewed(store.get(), states, job));
    }
    return all;
}

void show_review(Site& site, Call& call, int status, const Phrase& problem) {
    const StoredJob job = site.store.open(call.job);
    const auto measuring = site.measuring_of(job);
    const auto stored =
        measuring.working ? MeasuringState{true, false, nullptr} : site.kept(call, job);
    std::optional<ReviewedJob> state;
    if (!stored.working) {
        ListedJob listed;
        listed.id = job.id;
        listed.job = job.sheet.job;
        state = reviewed(site, {listed}).front();
    }
    send_page(call.response, status,
              review_page(call.viewer, job, measuring, stored, state, call.form, problem));
}

void sign(Site& site, Call& call) {
    const StoredJob job = site.store.open(call.job);
    if (call.form.get("version") != job.version || site.kept(call, job).working) {
        throw StaleSheet();
    }
    try {
        Store(parse_store_address(site.records().string()), usual_shop, Access::write)
            .sign({job.sheet.job, call.form.get("decision"), call.form.get("reviewer"),
                   call.form.get("reason")});
        go_to(call.response, "/job/" + call.job + "/review");
    } catch (const InputError& error) {
        show_review(site, call, 422, told(error, call.viewer.language));
    }
}

}  // namespace

void add_review_pages(Site& site) {
    site.get("/review", [&site](Call& call) {
        send_page(call.response, 200,
                  review_list_page(call.viewer, reviewed(site, site.store.list(listed_jobs))));
    });
    site.get(job_pattern("/review"), [&site](Call& call) { show_review(site, call, 200, {}); });
    site.post(job_pattern("/review"), [&site](Call& call) { sign(site, call); });
}

}  // namespace squaresight::bay

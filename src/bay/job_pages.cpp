#include <fmt/format.h>

#include <algorithm>

#include "bay/floor_picture.h"
#include "bay/site.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

constexpr std::uintmax_t largest_report_bytes = 64 << 20;

void show_jobs(Site& site, Call& call) {
    const JobFilter filter = filter_of(call.form);
    const bool searches = !filter.text.empty() || filter.state != JobState::open;
    auto jobs = site.store.list(searches ? searched_jobs : listed_jobs);
    const bool any = !jobs.empty();
    std::erase_if(jobs, [&](const ListedJob& job) { return !fits(filter, job); });
    jobs.resize(std::min(jobs.size(), listed_jobs));
    send_page(call.response, 200, jobs_page(call.viewer, jobs, filter, any));
}

/// Changes the job and goes on. Where the form is an old one and the job `is_so` already, it was
/// sent twice: it goes on as after the first time.
void do_once(Site& site, Call& call, Deed deed, const JobStore::Change& change,
             const std::function<bool(const JobSheet&)>& is_so, const char* next) {
    try {
        site.change(call, change, deed);
    } catch (const StaleSheet&) {
        if (!is_so(site.store.open(call.job).sheet)) {
            throw;
        }
    }
    go_to(call.response, "/job/" + call.job + next);
}

void take_turns(Site& site, Call& call) {
    const JobSheet sheet = site.store.open(call.job).sheet;
    const Mount mount = load_mount(sheet.mount_file);
    if (call.form.has("stage")) {
        const auto place = stage_of(call, sheet);
        site.change(
            call, [&](JobSheet& now) { correct_turned(now, place, mount, call.form); },
            Deed::turned);
        go_to(call.response, fmt::format("/job/{}/stage?stage={}", call.job, place + 1));
        return;
    }
    do_once(
        site, call, Deed::turned, [&](JobSheet& now) { take_turned(now, mount, call.form); },
        [&](const JobSheet& now) { return is_turned_so(now, mount, call.form); }, "/photos");
}

/// What a button of its own does to a job.
void add_deeds(Site& site) {
    site.post(job_pattern("/turned"), [&site](Call& call) { take_turns(site, call); });
    site.post(job_pattern("/moved"), [&site](Call& call) {
        do_once(
            site, call, Deed::moved, take_moved,
            [](const JobSheet& now) {
                return awaits_photos(now) && !now.sightings.back().same_setup;
            },
            "/board");
    });
    site.post(job_pattern("/lock"), [&site](Call& call) {
        do_once(
            site, call, Deed::locked, [&](JobSheet& now) { take_lock(now, call.form); },
            [](const JobSheet& now) { return now.sightings.back().stage == "as-left"; }, "/photos");
    });
    site.post(job_pattern("/undo"), [&site](Call& call) {
        site.store.undo(call.job, call.form.get("version"));
        go_to(call.response, "/job/" + call.job);
    });
}

}  // namespace

void add_job_pages(Site& site) {
    site.get("/", [&site](Call& call) { show_jobs(site, call); });
    site.get(job_pattern(""), [&site](Call& call) {
        const StoredJob job = site.store.open(call.job);
        send_page(call.response, 200,
                  job_page(call.viewer, job, site.measuring_of(job),
                           site.wanted_of(job, site.looks_of(job)), site.store.last_entry(job)));
    });
    site.get(job_pattern("/state"), [&site](Call& call) {
        const StoredJob job = site.store.open(call.job);
        const std::string of = call.form.get("of");
        const bool working = of == "photos" ? site.looks_of(job).working
                             : of == "review"
                                 ? site.kept(call, job).working || site.measuring_of(job).working
                                 : site.measuring_of(job).working;
        send_json(call.response, 200, {{"working", working}});
    });
    site.get(job_pattern("/answer"), [&site](Call& call) {
        const StoredJob job = site.store.open(call.job);
        const MeasuringState measuring = site.measuring_of(job);
        if (call.viewer.session.may_work() && is_tape_due(job.sheet)) {
            go_to(call.response, "/job/" + call.job + "/tape");  // or it is left out knowingly
            return;
        }
        send_page(call.response, 200,
                  answer_page(call.viewer, job, load_mount(job.sheet.mount_file), measuring,
                              site.store.last_entry(job)));
    });
    site.get(job_pattern("/stage"), [&site](Call& call) {
        const StoredJob job = site.store.open(call.job);
        send_page(call.response, 200,
                  stage_page(call.viewer, job, stage_of(call, job.sheet),
                             load_mount(job.sheet.mount_file)));
    });
    site.get(job_pattern("/floor.svg"), [&site](Call& call) {
        const StoredJob job = site.store.open(call.job);
        const Bay* bay = site.bay_of(job.sheet);
        if (bay == nullptr) {
            throw NoSuchJob();
        }
        call.response.set_header("Content-Security-Policy", report_policy);
        const auto shape =
            call.form.get("of") == "picture" ? FloorShape::picture : FloorShape::sheet;
        call.response.set_content(floor_svg(job_floor(*bay, job.sheet), shape, call.viewer.language,
                                            site.settings.jobs / ".bay" / "floors"),
                                  "image/svg+xml");
    });
    site.get(job_pattern("/handover"), [&site](Call& call) {
        const StoredJob job = site.store.open(call.job);
        send_page(call.response, 200,
                  handover_page(call.viewer, job, site.measuring_of(job), site.shop.name));
    });
    site.get(job_pattern("/report"), [&site](Call& call) {
        const auto file = site.store.folder_of(call.job) / "job.report.html";
        if (!std::filesystem::exists(std::filesystem::symlink_status(file))) {
            go_to(call.response, "/job/" + call.job + "/answer");  // which says why
            return;
        }
        call.response.set_header("Content-Security-Policy", report_policy);
        call.response.set_content(read_file(existing(file), largest_report_bytes),
                                  "text/html; charset=utf-8");
    });
    add_deeds(site);
}

}  // namespace squaresight::bay

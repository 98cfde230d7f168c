#include "bay/floor_picture.h"
#include "bay/site.h"
#include "report/report.h"
#include "units/files.h"

namespace squaresight::bay {
namespace {

constexpr std::uintmax_t largest_report_bytes = 64 << 20;

}  // namespace

void add_job_pages(Site& site) {
    site.get("/", [&site](Call& call) {
        send_page(call.response, 200, jobs_page(call.viewer, site.listed()));
    });
    site.get(job_pattern(""), [&site](Call& call) {
        const StoredJob job = site.store.open(call.job);
        send_page(call.response, 200,
                  job_page(call.viewer, job, site.measuring_of(job),
                           site.wanted_of(job, site.looks_of(job))));
    });
    site.get(job_pattern("/state"), [&site](Call& call) {
        const StoredJob job = site.store.open(call.job);
        const std::string of = call.form.get("of");
        const auto keeps =
            call.viewer.session.role == Role::reviewer ? Asked::by_poll : Asked::in_passing;
        const bool working = of == "photos"   ? site.looks_of(job, Asked::by_poll).working
                             : of == "review" ? site.measuring_of(job, Asked::by_poll).working ||
                                                    site.kept(job, keeps).working
                                              : site.measuring_of(job, Asked::by_poll).working;
        send_json(call.response, 200, {{"working", working}});
    });
    site.get(job_pattern("/answer"), [&site](Call& call) {
        const StoredJob job = site.store.open(call.job);
        send_page(call.response, 200,
                  answer_page(call.viewer, job, load_mount(job.sheet.mount_file),
                              site.measuring_of(job)));
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
                  handover_page(call.viewer, job, site.measuring_of(job), site.shop().name));
    });
    site.get(job_pattern("/report"), [&site](Call& call) {
        const auto file = site.store.folder_of(call.job) / "job.report.html";
        if (!std::filesystem::exists(std::filesystem::symlink_status(file))) {
            go_to(call.response, "/job/" + call.job + "/answer");  // which says why
            return;
        }
        call.response.set_header("Content-Security-Policy", report_policy);
        const StoredJob job = site.store.open(call.job);
        std::string report = read_file(existing(file), largest_report_bytes);
        if (const auto review = site.returned(job)) {
            report =
                returned_report(std::move(report), review->state.reviewer, review->state.reason);
        }
        call.response.set_content(report, "text/html; charset=utf-8");
    });
    site.post(job_pattern("/turned"), [&site](Call& call) {
        site.change(call, [&](JobSheet& sheet) {
            take_turned(sheet, load_mount(sheet.mount_file), call.form);
        });
        go_to(call.response, "/job/" + call.job + "/photos");
    });
    site.post(job_pattern("/moved"), [&site](Call& call) {
        site.change(call, take_moved);
        go_to(call.response, "/job/" + call.job + "/board");
    });
    site.post(job_pattern("/lock"), [&site](Call& call) {
        site.change(call, [&](JobSheet& sheet) { take_lock(sheet, call.form); });
        go_to(call.response, "/job/" + call.job + "/photos");
    });
}

}  // namespace squaresight::bay

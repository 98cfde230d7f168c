#include "bay/site.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "bay/reviews.h"
#include "bay/sheet_forms.h"
#include "records/store.h"
#include "units/error.h"

namespace squaresight::bay {
namespace {

Form form_of(const Request& request) {
    Form form;
    for (const auto& [name, value] : request.params) {
        form.set(name, value);
    }
    return form;
}

/// What a look at one photo depends on, other photos left out.
std::string look_state(const JobSheet& sheet, const SheetPhoto& photo,
                       const std::vector<InputFile>& inputs) {
    std::string state = photo.label ? cradle_label_text(*photo.label) : "?";
    if (const SheetSetup* setup = current_setup(sheet)) {
        state += fmt::format(" {}", setup->readings.distance_mm.value);
    }
    for (const auto& input : inputs) {
        const bool counts = input.role == InputRole::photo ? input.path == photo.path
                                                           : input.role != InputRole::sheet &&
                                                                 input.role != InputRole::history;
        state += counts ? " " + input.sha256 : "";
    }
    return state;
}

}  // namespace

Site::Site(ServerSettings given)
    : settings(std::move(given)),
      live_shop(settings.shop_file),
      store(settings.jobs),
      lock(settings.jobs),
      guard(settings.jobs / ".bay" / "sessions.json", settings.clock),
      uploads(settings.jobs / ".bay" / "incoming"),
      measuring(settings.program, settings.confines, settings.jobs / ".bay" / "seen"),
      front(settings.limits,
            settings.certificate.empty() ? nullptr : load_tls(settings.certificate, settings.key)) {
}

std::filesystem::path Site::records() const {
    return settings.records.empty() ? settings.shop_file.parent_path() / usual_store
                                    : settings.records;
}

void Site::get(const std::string& pattern, const Handler& handler) {
    front.Get(pattern, [this, handler](const Request& request, Response& response) {
        Call call = call_of(request, response);
        handler(call);
    });
}

void Site::post(const std::string& pattern, const Handler& handler) {
    front.Post(pattern, [this, handler](const Request& request, Response& response) {
        Call call = call_of(request, response);
        if (!is_own_form(call.viewer.session, call.form.get("token"))) {
            refuse(request, response, 403, "forged");
            return;
        }
        handler(call);
    });
}

Call Site::call_of(const Request& request, Response& response) const {
    const Session session = guard.session(cookie_of(request, session_cookie)).value_or(Session());
    return {request,
            response,
            {language_of(request), session, [this](const StoredJob& job) { return returned(job); }},
            request.matches.size() > 1 ? request.matches[1].str() : "",
            form_of(request)};
}

void Site::set_cookie(Response& response, const char* name, const std::string& value) const {
    response.set_header(
        "Set-Cookie",
        fmt::format("{}={}; Path=/; Max-Age={}; HttpOnly; SameSite=Strict{}", name, value,
                    std::chrono::seconds(Guard::session_life).count(), is_tls() ? "; Secure" : ""));
}

const Bay* Site::bay_of(const JobSheet& sheet) { return find_bay(shop(), sheet.bay); }

LengthUnit Site::unit_of(const JobSheet& sheet) {
    const Bay* bay = bay_of(sheet);
    return bay != nullptr ? bay->unit : first_unit(shop());
}

std::size_t stage_of(const Call& call, const JobSheet& sheet) {
    const std::string text = call.form.get("stage");
    const bool plain = !text.empty() && text.size() < 4 &&
                       text.find_first_not_of("0123456789") == std::string::npos;
    const std::size_t count = sheet.sightings.size();
    const std::size_t number = plain ? std::stoul(text) : count;
    return std::clamp<std::size_t>(number, 1, count) - 1;
}

StoredJob Site::change(const Call& call, const JobStore::Change& change, Deed deed) {
    const std::string version = call.form.get("version");
    if (version.empty()) {
        throw StaleSheet();
    }
    return store.change(call.job, version, unit_of(store.open(call.job).sheet), change, deed);
}

MeasuringState Site::measuring_of(const StoredJob& job, Asked asked) {
    const bool begun = job.sheet.sightings.size() == 1 &&
                       job.sheet.sightings.back().photos.empty() &&
                       !job.sheet.sightings.back().tape_and_level;
    return begun ? MeasuringState()
                 : measuring.job(job.id, job.sheet.file, digests.of(job.sheet), asked);
}

PhotoLooks Site::looks_of(const StoredJob& job, Asked asked) {
    PhotoLooks looks;
    const auto inputs = digests.of(job.sheet);
    for (const auto& photo : job.sheet.sightings.back().photos) {
        const auto look = measuring.photo(job.sheet.file, photo.file, photo.path,
                                          look_state(job.sheet, photo, inputs), asked);
        looks.working = looks.working || (look.working && !look.crowded);
        looks.crowded = looks.crowded || look.crowded;
        looks.by_file[photo.file] = look.answer;
    }
    return looks;
}

PhotosWanted Site::wanted_of(const StoredJob& job, const PhotoLooks& looks) {
    return photos_wanted(with_good_photos(job.sheet.sightings.back(), looks), bay_of(job.sheet));
}

MeasuringState Site::kept(const StoredJob& job, Asked asked) {
    const ReviewedJob now = reviewed(job);
    return now.folders.size() > 1 ? MeasuringState()
                                  : measuring.keep(job.id, job.sheet.file, digests.of(job.sheet),
                                                   records(), now.review.hash, asked);
}

ReviewedJob Site::reviewed(const StoredJob& job) {
    ReviewedJob one;
    one.job.id = job.id;
    one.job.job = job.sheet.job;
    one.review = Reviews(records()).of(job.sheet.job, job.version);
    one.review.changed =
        !one.review.identity.empty() && one.review.identity != identity_of(digests.of(job.sheet));
    one.folders = store.folders_of(job.sheet.job);
    return one;
}

std::vector<ReviewedJob> Site::listed(std::size_t most) const {
    std::vector<ReviewedJob> jobs;
    for (const auto& job : store.list(most)) {
        jobs.push_back({job, {}});
    }
    for_technician([&](Reviews& reviews) {
        for (auto& [job, review, folders] : jobs) {
            review = reviews.returned(job.job, job.version).value_or(JobReview{});
        }
    });
    std::stable_partition(jobs.begin(), jobs.end(),
                          [](const ReviewedJob& one) { return one.review.is_returned(); });
    return jobs;
}

std::optional<JobReview> Site::returned(const StoredJob& job) const {
    std::optional<JobReview> review;
    for_technician(
        [&](Reviews& reviews) { review = reviews.returned(job.sheet.job, job.version); });
    return review;
}

void Site::for_technician(const std::function<void(Reviews&)>& read) const {
    try {
        Reviews reviews(records());
        read(reviews);
    } catch (const InputError& error) {
        settings.log(log_line("records:", "", error.what(), 0));
    }
}

}  // namespace squaresight::bay

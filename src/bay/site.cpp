#include "bay/site.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "records/store.h"

namespace squaresight::bay {
namespace {

Form form_of(const Request& request) {
    Form form;
    for (const auto& [name, value] : request.params) {
        form.set(name, value);
    }
    return form;
}

}  // namespace

Site::Site(ServerSettings given)
    : settings(std::move(given)),
      shop(load_shop(settings.shop_file)),
      store(settings.jobs),
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
            {language_of(request), session},
            request.matches.size() > 1 ? request.matches[1].str() : "",
            form_of(request)};
}

void Site::set_cookie(Response& response, const char* name, const std::string& value) const {
    response.set_header(
        "Set-Cookie",
        fmt::format("{}={}; Path=/; Max-Age={}; HttpOnly; SameSite=Strict{}", name, value,
                    std::chrono::seconds(Guard::session_life).count(), is_tls() ? "; Secure" : ""));
}

const Bay* Site::bay_of(const JobSheet& sheet) const { return find_bay(shop, sheet.bay); }

LengthUnit Site::unit_of(const JobSheet& sheet) const {
    const Bay* bay = bay_of(sheet);
    return bay != nullptr ? bay->unit : shop.bays.front().unit;
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

MeasuringState Site::measuring_of(const StoredJob& job) {
    const bool begun = job.sheet.sightings.size() == 1 &&
                       job.sheet.sightings.back().photos.empty() &&
                       !job.sheet.sightings.back().tape_and_level;
    return begun ? MeasuringState() : measuring.job(job.id, job.sheet.file, job.version);
}

PhotoLooks Site::looks_of(const StoredJob& job) {
    PhotoLooks looks;
    for (const auto& photo : job.sheet.sightings.back().photos) {
        const std::string cradle = !photo.label                           ? ""
                                   : *photo.label == CradleLabel::upright ? "upright"
                                                                          : "inverted";
        const auto look = measuring.photo(job.sheet.file, photo.file, photo.path, cradle);
        looks.working = looks.working || (look.working && !look.crowded);
        looks.crowded = looks.crowded || look.crowded;
        looks.by_file[photo.file] = look.answer;
    }
    return looks;
}

PhotosWanted Site::wanted_of(const StoredJob& job, const PhotoLooks& looks) const {
    return photos_wanted(with_good_photos(job.sheet.sightings.back(), looks), bay_of(job.sheet));
}

MeasuringState Site::kept(const Call& call, const StoredJob& job) {
    return call.viewer.session.role == Role::reviewer
               ? measuring.keep(job.id, job.sheet.file, job.version, records())
               : MeasuringState();
}

}  // namespace squaresight::bay

#pragma once
#include <filesystem>
#include <mutex>
#include <string>

#include "bay/exchange.h"
#include "bay/front.h"
#include "bay/guard.h"
#include "bay/job_store.h"
#include "bay/measuring.h"
#include "bay/server.h"
#include "bay/shop.h"
#include "bay/uploads.h"

/// What all pages work on. Internal to the server.
namespace squaresight::bay {

struct Site {
    /// InputError for settings that cannot be used.
    explicit Site(ServerSettings given);

    ServerSettings settings;
    Shop shop;
    JobStore store;
    Guard guard;
    Uploads uploads;
    std::mutex uploads_mutex;  ///< one photo in memory at a time
    Measuring measuring;
    Front front;
    int port = -1;

    bool is_tls() const { return !settings.certificate.empty(); }
    std::string scheme() const { return is_tls() ? "https://" : "http://"; }
    std::filesystem::path records() const;

    /// Answers at addresses of a pattern for those who may ask; a post's form must be of their
    /// session.
    void get(const std::string& pattern, const Handler& handler);
    void post(const std::string& pattern, const Handler& handler);
    Call call_of(const Request& request, Response& response) const;
    void set_cookie(Response& response, const char* name, const std::string& value) const;

    /// Null for a sheet that names none of the shop's.
    const Bay* bay_of(const JobSheet& sheet) const;
    LengthUnit unit_of(const JobSheet& sheet) const;
    /// Changes the sheet that the form was made for; a form without its version changes nothing.
    StoredJob change(const Call& call, const JobStore::Change& change, Deed deed = Deed::entry);

    MeasuringState measuring_of(const StoredJob& job);
    /// What the photos of the last stage say, each as far as it was looked at.
    PhotoLooks looks_of(const StoredJob& job);
    /// Those that serve count.
    PhotosWanted wanted_of(const StoredJob& job, const PhotoLooks& looks) const;
    /// The job, stored with the records where a reviewer looks at it.
    MeasuringState kept(const Call& call, const StoredJob& job);
};

/// Which stage of a job a call is about, from 0: `stage` counts from 1; the last one where it names
/// none of them.
std::size_t stage_of(const Call& call, const JobSheet& sheet);

/// Who gets in, what every answer carries, what is said when something fails.
void set_up_door(Site& site);

/// Under which address another device reaches the page, where a browser asked for `host`; empty
/// where none does.
std::string reachable_address(const Site& site, const std::string& host);

void add_pairing_pages(Site& site);
void add_job_pages(Site& site);
void add_notes_pages(Site& site);
void add_new_job_pages(Site& site);
void add_step_pages(Site& site);
void add_photo_pages(Site& site);
void add_review_pages(Site& site);

}  // namespace squaresight::bay

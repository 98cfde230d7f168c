#include "job/photo_times.h"

#include <fmt/format.h>

#include <cmath>
#include <cstdio>
#include <map>

namespace squaresight {
namespace {

using namespace std::chrono_literals;
using std::chrono::days;
using std::chrono::seconds;
using std::chrono::sys_seconds;

constexpr auto one_visit = 24h;         ///< photos of one stage are minutes apart
constexpr days calibration_lasts{365};  // common practice, no source
constexpr days calibrated_after{30};
constexpr auto widest_time_zones = 26h;    ///< from UTC-12 to UTC+14
constexpr int first_year_believed = 2005;  ///< clocks that were never set start before

/// A saved copy moves corners by less; two photos never agree so closely, be it for their noise.
constexpr double same_picture_px = 0.01;
constexpr std::size_t enough_corners = 8;

struct Clock {
    sys_seconds local;
    std::optional<std::chrono::minutes> utc_offset;
};

/// The time of "2026-03-04" or "2026:03:04 09:12:00"; nothing where that is none.
std::optional<sys_seconds> time_of(const std::string& text) {
    int year = 0, hour = 0, minute = 0, second = 0;
    unsigned month = 0, day = 0;
    const int read = std::sscanf(text.c_str(), "%4d%*1[-:]%2u%*1[-:]%2u %2d:%2d:%2d", &year, &month,
                                 &day, &hour, &minute, &second);
    const std::chrono::year_month_day date{std::chrono::year(year), std::chrono::month(month),
                                           std::chrono::day(day)};
    if ((read != 3 && read != 6) || !date.ok() || year < first_year_believed) {
        return std::nullopt;
    }
    return std::chrono::sys_days(date) + std::chrono::hours(hour) + std::chrono::minutes(minute) +
           seconds(second);
}

std::optional<Clock> clock_of(const PhotoResult& photo) {
    const auto local = time_of(photo.facts.taken_at);
    if (!local) {
        return std::nullopt;
    }
    Clock clock{*local, {}};
    if (photo.facts.utc_offset_min) {
        clock.utc_offset = std::chrono::minutes(*photo.facts.utc_offset_min);
    }
    return clock;
}

seconds from_to(const Clock& a, const Clock& b) {
    const auto local = b.local - a.local;
    return a.utc_offset && b.utc_offset ? local + *a.utc_offset - *b.utc_offset : local;
}

/// A photo with its place in the job.
struct Placed {
    PhotoResult* photo;
    std::size_t stage;
    std::size_t setup;
    std::optional<Clock> clock;
};

std::vector<Placed> placed_photos(const JobSheet& sheet, std::vector<SightingResult>& sightings) {
    std::vector<Placed> photos;
    std::size_t setup = 0;
    for (std::size_t stage = 0; stage < sightings.size(); ++stage) {
        setup += sheet.sightings[stage].same_setup ? 0 : 1;
        for (auto& photo : sightings[stage].photos) {
            if (!photo.digest.empty()) {
                photos.push_back({&photo, stage, setup, clock_of(photo)});
            }
        }
    }
    return photos;
}

enum class Likeness { different, same, turned };

/// Whether two photos show the same picture, by the corners that were found in both; a picture
/// turned by half included. (By a quarter it has another size, mirrored it shows no board.)
Likeness likeness(const PhotoResult& a, const PhotoResult& b) {
    std::map<int, Eigen::Vector2d> first;
    for (const auto& corner : a.sight.corners) {
        first[corner.index] = corner.pixel;
    }
    const Eigen::Vector2d far_corner(a.width_px - 1, a.height_px - 1);
    double same = 0, turned = 0;
    std::size_t count = 0;
    for (const auto& corner : b.sight.corners) {
        const auto found = first.find(corner.index);
        if (found != first.end()) {
            same += (corner.pixel - found->second).squaredNorm();
            turned += (far_corner - corner.pixel - found->second).squaredNorm();
            ++count;
        }
    }
    const double limit = static_cast<double>(count) * same_picture_px * same_picture_px;
    if (count < enough_corners) {
        return Likeness::different;
    }
    return same < limit ? Likeness::same : turned < limit ? Likeness::turned : Likeness::different;
}

/// What the pair says against the later of two photos; nothing where it fits.
std::optional<Finding> reused(const Placed& earlier, const Placed& later) {
    const std::string& first = earlier.photo->file;
    const auto stop = [&](const std::string& what) {
        return Finding{
            Level::stop, "photo-reused",
            fmt::format("{} is {}. Take a new photo for each entry.", later.photo->file, what)};
    };
    if (earlier.photo->digest == later.photo->digest) {
        return stop("the same photo as " + first);
    }
    switch (likeness(*earlier.photo, *later.photo)) {
        case Likeness::same:
            return stop("the same picture as " + first + ", saved again");
        case Likeness::turned:
            return stop("the picture of " + first + ", turned by an editor and not taken anew");
        case Likeness::different:
            break;
    }
    return std::nullopt;
}

std::optional<Finding> out_of_order(const Placed& earlier, const Placed& later) {
    if (earlier.stage == later.stage || !earlier.clock || !later.clock ||
        from_to(*earlier.clock, *later.clock) >= 0s) {
        return std::nullopt;
    }
    return Finding{Level::stop, "photo-reused",
                   fmt::format("{} was taken at {}, before {} of an earlier stage ({}). Is it an "
                               "old photo? Take it again at this stage.",
                               later.photo->file, later.photo->facts.taken_at, earlier.photo->file,
                               earlier.photo->facts.taken_at)};
}

std::optional<Finding> far_apart(const Placed& earlier, const Placed& later) {
    if (earlier.setup != later.setup || !earlier.clock || !later.clock ||
        std::chrono::abs(from_to(*earlier.clock, *later.clock)) <= one_visit) {
        return std::nullopt;
    }
    const std::string both =
        fmt::format("{} was taken at {} and {} at {}", earlier.photo->file,
                    earlier.photo->facts.taken_at, later.photo->file, later.photo->facts.taken_at);
    if (earlier.stage == later.stage) {
        return Finding{Level::stop, "photo-time",
                       both +
                           ": photos of one stage belong to one visit. Is one an old photo? Take "
                           "all photos of this stage anew."};
    }
    return Finding{Level::warning, "photo-time",
                   both +
                       ", on a setup that is said to be the same. If truck or board may have "
                       "moved since, measure the setup again."};
}

bool has_finding(const Findings& findings, const std::string& code, Level level) {
    for (const auto& finding : findings) {
        if (finding.code == code && finding.level == level) {
            return true;
        }
    }
    return false;
}

}  // namespace

void check_photos_together(const JobSheet& sheet, std::vector<SightingResult>& sightings) {
    const auto photos = placed_photos(sheet, sightings);
    for (std::size_t later = 0; later < photos.size(); ++later) {
        std::optional<Finding> reuse, order, apart;
        for (std::size_t earlier = 0; earlier < later; ++earlier) {
            if (!photos[earlier].photo->serves) {
                continue;  // it says nothing against another
            }
            if (!reuse) {
                reuse = reused(photos[earlier], photos[later]);
            }
            if (const auto found = out_of_order(photos[earlier], photos[later])) {
                order = found;
            }
            if (const auto found = far_apart(photos[earlier], photos[later]); found && !apart) {
                apart = found;
            }
        }
        Findings& findings = sightings[photos[later].stage].findings;
        PhotoResult& photo = *photos[later].photo;
        photo.serves = photo.serves && !reuse && !order;
        if (reuse) {
            findings.push_back(*reuse);
        }
        if (order) {
            findings.push_back(*order);
        }
        if (apart && photo.serves && !has_finding(findings, apart->code, apart->level)) {
            findings.push_back(*apart);
        }
    }
}

void check_photos_of_job(const JobSheet& sheet, std::vector<SightingResult>& sightings) {
    const auto begun = time_of(sheet.date);
    if (!begun) {
        return;
    }
    for (auto& sighting : sightings) {
        for (auto& photo : sighting.photos) {
            const auto taken = time_of(photo.facts.taken_at);
            if (taken && *begun - *taken > one_visit) {
                photo.serves = false;
                sighting.findings.push_back(
                    {Level::stop, "photo-time",
                     fmt::format("{} was taken at {}, before this job was begun ({}). Is it an old "
                                 "photo? Take it anew. Set the phone's clock first if it is wrong.",
                                 photo.file, photo.facts.taken_at, sheet.date)});
            }
        }
    }
}

Findings check_photo_dates(const Camera& camera, const std::vector<SightingResult>& sightings,
                           sys_seconds now) {
    const auto calibrated = time_of(camera.date);
    std::map<std::string, Finding> first_of;  // by what is told
    const auto warn = [&](const std::string& what, const char* code, std::string text) {
        first_of.try_emplace(what, Finding{Level::warning, code, std::move(text)});
    };
    for (const auto& sighting : sightings) {
        for (const auto& photo : sighting.photos) {
            const auto taken = time_of(photo.facts.taken_at);
            if (!taken) {
                continue;
            }
            if (calibrated && *taken - *calibrated > calibration_lasts + days(1)) {
                warn("old", "calibration-old",
                     fmt::format("The phone check of '{}' is of {}, more than a year before {}. "
                                 "Calibrate the phone again.",
                                 camera.name, camera.date, photo.file));
            }
            if (calibrated && *calibrated - *taken > calibrated_after) {
                warn("early", "photo-time",
                     fmt::format("{} was taken at {}, more than {} days before the phone check of "
                                 "'{}' ({}). Is it an old photo? A phone that was changed since is "
                                 "another camera.",
                                 photo.file, photo.facts.taken_at, calibrated_after.count(),
                                 camera.name, camera.date));
            }
            if (*taken - now > widest_time_zones) {
                warn("future", "photo-time",
                     fmt::format("{} was taken at {}, by the clock of this computer still to come. "
                                 "Set the clock that is wrong, the phone's or the computer's: the "
                                 "order of photos is read from it.",
                                 photo.file, photo.facts.taken_at));
            }
        }
    }
    Findings findings;
    for (const auto& [what, finding] : first_of) {
        findings.push_back(finding);
    }
    return findings;
}

}  // namespace squaresight

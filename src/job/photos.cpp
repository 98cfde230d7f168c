#include "job/photos.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <map>

#include "job/corners_file.h"
#include "units/error.h"

namespace squaresight {
namespace {

constexpr double same_focal_length_share = 0.02;

void check_size(const PhotoResult& photo, const Camera& camera, Findings& findings) {
    if (photo.width_px != camera.width_px || photo.height_px != camera.height_px) {
        findings.push_back(
            {Level::stop, "camera-mismatch",
             fmt::format(
                 "{}: the photo has {} x {} pixels, the camera file '{}' is for {} x {}. Use "
                 "the phone and the photo size that were calibrated, and the original file.",
                 photo.file, photo.width_px, photo.height_px, camera.name, camera.width_px,
                 camera.height_px)});
    }
}

void check_original(const PhotoResult& photo, Findings& findings) {
    const auto& facts = photo.facts;
    const auto differs = [](const std::optional<int>& stated, int real) {
        return stated && *stated != real;
    };
    const bool same = !differs(facts.stated_width_px, photo.width_px) &&
                      !differs(facts.stated_height_px, photo.height_px);
    const bool turned = !differs(facts.stated_width_px, photo.height_px) &&
                        !differs(facts.stated_height_px, photo.width_px);
    if (!same && !turned) {
        findings.push_back(
            {Level::stop, "photo-not-original",
             fmt::format(
                 "{}: the phone took {} x {} pixels, the file has {} x {}: it was scaled or "
                 "cropped. Bring the original photo.",
                 photo.file, facts.stated_width_px.value_or(0), facts.stated_height_px.value_or(0),
                 photo.width_px, photo.height_px)});
    }
}

/// Which field of the photo's identity speaks against the camera file; empty if none does.
std::string differing_field(const CameraIdentity& photo, const CameraIdentity& camera) {
    const auto differs = [](const std::string& a, const std::string& b) {
        return !a.empty() && !b.empty() && a != b;
    };
    if (differs(photo.make, camera.make)) {
        return fmt::format("make '{}' instead of '{}'", photo.make, camera.make);
    }
    if (differs(photo.model, camera.model)) {
        return fmt::format("model '{}' instead of '{}'", photo.model, camera.model);
    }
    if (differs(photo.lens, camera.lens)) {
        return fmt::format("lens '{}' instead of '{}'", photo.lens, camera.lens);
    }
    if (photo.focal_length_mm && camera.focal_length_mm &&
        std::abs(*photo.focal_length_mm / *camera.focal_length_mm - 1) > same_focal_length_share) {
        return fmt::format("focal length {:g} mm instead of {:g} mm", *photo.focal_length_mm,
                           *camera.focal_length_mm);
    }
    return "";
}

bool is_blank(const CameraIdentity& identity) {
    return identity.make.empty() && identity.model.empty() && identity.lens.empty() &&
           !identity.focal_length_mm;
}

void check_identity(const PhotoResult& photo, const Camera& camera, Findings& findings) {
    if (photo.facts.digital_zoom) {
        findings.push_back(
            {Level::stop, "photo-zoomed",
             fmt::format("{}: taken with a digital zoom of {:.2f}. Take it again without zoom.",
                         photo.file, *photo.facts.digital_zoom)});
    }
    const std::string field = differing_field(photo.facts.identity, camera.identity);
    if (!field.empty()) {
        findings.push_back(
            {Level::stop, "camera-mismatch",
             fmt::format("{}: not taken by the camera of '{}' ({}). Use the calibrated phone and "
                         "lens, or name that phone's camera file on the job sheet.",
                         photo.file, camera.name, field)});
    } else if (is_blank(photo.facts.identity) || is_blank(camera.identity)) {
        findings.push_back(
            {Level::warning, "camera-unverified",
             fmt::format("{}: {}, so nothing shows that this camera took it. {}", photo.file,
                         is_blank(camera.identity) ? "the camera file holds no identity"
                                                   : "the photo carries no camera data",
                         is_blank(camera.identity) ? "Add 'identity' to the camera file."
                                                   : "Bring the original file from the phone.")});
    }
}

void check_sight(const PhotoResult& photo, Findings& findings) {
    const auto add = [&](Level level, const char* code, const char* fallback) {
        findings.push_back(
            {level, code,
             photo.file + ": " + (photo.sight.advice.empty() ? fallback : photo.sight.advice)});
    };
    switch (photo.sight.problem) {
        case SightProblem::none:
            return;
        case SightProblem::not_found:
            return add(
                Level::warning, "target-not-found",
                "the target was not found. Take the photo again with the whole board in view.");
        case SightProblem::few_corners:
            return add(
                Level::warning, "few-corners",
                "only a few corners of the board can be seen. Clear the view and take it again.");
        case SightProblem::blurred:
            return add(
                Level::warning, "photo-blurred",
                "the photo is not sharp. Hold the phone still and let it focus on the board.");
        case SightProblem::dark:
            return add(Level::warning, "photo-dark",
                       "the photo is too dark. Light the board and take it again.");
    }
}

/// A photo that is held against its camera file; `find` looks for the board where the sizes fit.
PhotoResult checked(PhotoResult photo, const Camera& camera, const std::function<Sight()>& find,
                    Findings& findings) {
    check_original(photo, findings);
    check_identity(photo, camera, findings);
    check_size(photo, camera, findings);
    if (photo.width_px == camera.width_px && photo.height_px == camera.height_px) {
        photo.sight = find();
        check_sight(photo, findings);
    }
    return photo;
}

PhotoResult look_at(const SheetPhoto& sheet, const Camera& camera, const Target& target,
                    Findings& findings) {
    if (is_corners_file(sheet.path)) {
        const ReducedPhoto photo = load_corners(sheet.path, target.pattern);
        return checked(
            {sheet.file,
             sheet.path,
             photo.facts,
             photo.digest,
             photo.width_px,
             photo.height_px,
             {}},
            camera, [&] { return sight_of_corners(photo.corners, target.pattern); }, findings);
    }
    const Photo photo = load_photo(sheet.path);
    return checked(
        {sheet.file, sheet.path, photo.facts, photo.digest, photo.grey.cols, photo.grey.rows, {}},
        camera, [&] { return find_target(photo.grey, target, camera.lens); }, findings);
}

}  // namespace

std::vector<PhotoResult> look_at_photos(const SheetSighting& sheet, const Camera& camera,
                                        const Target& target, Findings& findings,
                                        const std::function<void(const std::string&)>& begin) {
    std::vector<PhotoResult> results;
    for (const auto& photo : sheet.photos) {
        begin(photo.file);
        try {
            results.push_back(look_at(photo, camera, target, findings));
        } catch (const InputError& error) {
            PhotoResult unread;
            unread.file = photo.file;
            unread.path = photo.path;
            results.push_back(unread);
            findings.push_back({Level::warning, "photo-unreadable", error.what()});
        }
    }
    return results;
}

namespace {

constexpr std::chrono::days calibration_lasts{365};  // common practice, no source

/// The day of "2026-03-04" or "2026:03:04 09:12:00"; nothing where that is no day.
std::optional<std::chrono::sys_days> day_of(const std::string& text) {
    int year = 0;
    unsigned month = 0;
    unsigned day = 0;
    if (std::sscanf(text.c_str(), "%4d%*1[-:]%2u%*1[-:]%2u", &year, &month, &day) != 3) {
        return std::nullopt;
    }
    const std::chrono::year_month_day date{std::chrono::year(year), std::chrono::month(month),
                                           std::chrono::day(day)};
    return date.ok() ? std::optional(std::chrono::sys_days(date)) : std::nullopt;
}

}  // namespace

Findings check_calibration_age(const Camera& camera, const std::vector<SightingResult>& sightings) {
    const auto calibrated = day_of(camera.date);
    for (const auto& sighting : sightings) {
        for (const auto& photo : sighting.photos) {
            const auto taken = day_of(photo.facts.taken_at);
            if (calibrated && taken && *taken - *calibrated > calibration_lasts) {
                return {
                    {Level::warning, "calibration-old",
                     fmt::format("The phone check of '{}' is of {}, more than a year before {}. "
                                 "Calibrate the phone again.",
                                 camera.name, camera.date, photo.file)}};
            }
        }
    }
    return {};
}

void check_photo_order(std::vector<SightingResult>& sightings) {
    std::map<std::string, std::string> first_use;
    std::string latest;
    std::string latest_file;
    for (auto& sighting : sightings) {
        const std::string before = latest;
        const std::string before_file = latest_file;
        for (const auto& photo : sighting.photos) {
            if (photo.digest.empty()) {
                continue;
            }
            const auto [use, is_new] = first_use.try_emplace(photo.digest, photo.file);
            if (!is_new) {
                sighting.findings.push_back(
                    {Level::stop, "photo-reused",
                     fmt::format("{} is the same photo as {}. Take a new photo for each entry.",
                                 photo.file, use->second)});
            }
            const std::string& taken = photo.facts.taken_at;
            if (!taken.empty() && !before.empty() && taken < before) {
                sighting.findings.push_back(
                    {Level::stop, "photo-reused",
                     fmt::format("{} was taken at {}, before {} of an earlier stage ({}). Is it an "
                                 "old photo? Take it again at this stage.",
                                 photo.file, taken, before_file, before)});
            }
            if (taken > latest) {
                latest = taken;
                latest_file = photo.file;
            }
        }
    }
}

}  // namespace squaresight

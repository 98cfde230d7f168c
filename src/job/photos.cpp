#include "job/photos.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "job/corners_file.h"
#include "job/photo_identity.h"
#include "units/error.h"

namespace squaresight {
namespace {

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

/// The corners of a file that stands in a photo's place.
PhotoResult read_corners(const SheetPhoto& sheet, const Pattern& pattern) {
    ReducedPhoto photo = load_corners(sheet.path, pattern);
    return {sheet.file,
            sheet.path,
            photo.facts,
            photo.digest,
            photo.width_px,
            photo.height_px,
            sight_of_corners(std::move(photo.corners), pattern)};
}

bool has_size_of(const PhotoResult& photo, const Camera& camera) {
    return photo.width_px == camera.width_px && photo.height_px == camera.height_px;
}

/// Whether the answer can rest on a photo.
bool answers(const PhotoResult& photo) { return photo.serves && !photo.sight.corners.empty(); }

}  // namespace

PhotoResult read_photo(const SheetPhoto& sheet, const Camera& camera, const Target& target) {
    if (is_corners_file(sheet.path)) {
        PhotoResult photo = read_corners(sheet, target.pattern);
        if (!has_size_of(photo, camera)) {
            photo.sight = {};
        }
        return photo;
    }
    const Photo photo = load_photo(sheet.path);
    PhotoResult read{sheet.file,      sheet.path,      photo.facts, photo.digest,
                     photo.grey.cols, photo.grey.rows, {}};
    if (has_size_of(read, camera)) {
        read.sight = find_target(photo.grey, target, camera.lens);
    }
    return read;
}

std::vector<PhotoResult> look_at_photos(const SheetSighting& sheet, bool originals_only,
                                        const Camera& camera, const Target& target,
                                        const PhotoReader& reader, Findings& findings,
                                        const std::function<void(const std::string&)>& begin) {
    std::vector<PhotoResult> results;
    std::vector<Findings> told;  // of each photo
    for (const auto& photo : sheet.photos) {
        begin(photo.file);
        try {
            results.push_back(reader(photo, camera, target));
            PhotoResult& read = results.back();
            told.push_back(check_identity(read, camera));
            if (originals_only) {
                refuse_copy(read, camera, told.back());
            }
            read.serves = !has_stop(told.back());
            if (has_size_of(read, camera)) {
                check_sight(read, told.back());
            }
        } catch (const InputError& error) {
            PhotoResult unread;
            unread.file = photo.file;
            unread.path = photo.path;
            results.push_back(unread);
            told.push_back({{Level::warning, "photo-unreadable", error.what()}});
        }
    }
    const bool others = std::any_of(results.begin(), results.end(), answers);
    for (std::size_t i = 0; i < results.size(); ++i) {
        for (auto& finding : told[i]) {
            if (!results[i].serves && others && finding.level == Level::stop) {
                finding.level = Level::warning;  // nothing rests on this photo
            }
            findings.push_back(std::move(finding));
        }
    }
    return results;
}

void tell_set_aside(SightingResult& sighting) {
    std::vector<std::string> names;
    for (const auto& photo : sighting.photos) {
        if (!photo.serves) {
            names.push_back(photo.file);
        }
    }
    if (names.empty()) {
        return;
    }
    const bool others = std::any_of(sighting.photos.begin(), sighting.photos.end(), answers);
    const std::string all = fmt::format("{}", fmt::join(names, ", "));
    if (others) {
        sighting.findings.push_back(
            {Level::note, "photo-set-aside",
             fmt::format("Set aside, the answer does not use them: {}.", all)});
    } else {
        sighting.findings.push_back(
            {Level::stop, "photo-set-aside",
             fmt::format("Set aside: {}. No photo of this stage is left: take them again, as said "
                         "of each.",
                         all)});
    }
}

}  // namespace squaresight
